"""Searches above the study: what a broken piece of metal costs, how sure the result is, what is cheapest.

Entry functions: :func:`rank_losses`, :func:`sample_doubts`, :func:`assess_sites`.
"""

from __future__ import annotations

from evenground.search._doubt import Doubts, Range, sample_doubts
from evenground.search._drivers import main_effects, proportion_interval
from evenground.search._losses import Loss, Losses, rank_losses
from evenground.search._pool import all_cores
from evenground.search._portfolio import SiteChange, SiteResult, SiteRow, assess_sites, project_files
from evenground.search._store import Store
from evenground.search._verdicts import CheckConfidence, Confidence, Driver

__all__ = [
    "CheckConfidence",
    "Confidence",
    "Doubts",
    "Driver",
    "Loss",
    "Losses",
    "Range",
    "SiteChange",
    "SiteResult",
    "SiteRow",
    "Store",
    "all_cores",
    "assess_sites",
    "main_effects",
    "project_files",
    "proportion_interval",
    "rank_losses",
    "sample_doubts",
]
