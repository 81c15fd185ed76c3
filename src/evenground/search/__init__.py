"""Searches above the study: what a broken piece of metal costs, how sure the result is, what is cheapest.

Entry functions: :func:`rank_losses`, :func:`sample_doubts`, :func:`assess_sites`, :func:`find_cheapest`.
"""

from __future__ import annotations

from evenground.search._doubt import Doubts, Range, sample_doubts
from evenground.search._draft import space_of
from evenground.search._drivers import main_effects, proportion_interval
from evenground.search._losses import Loss, Losses, rank_losses
from evenground.search._pool import all_cores
from evenground.search._portfolio import (
    SiteChange,
    SiteCheck,
    SiteResult,
    SiteRow,
    assess_sites,
    project_files,
)
from evenground.search._reasons import Reason
from evenground.search._store import Store
from evenground.search._thrift import find_cheapest
from evenground.search._thrift_result import Effort, FrontRow, Thrift
from evenground.search._totals import Totals, total_effects
from evenground.search._verdicts import CheckConfidence, Confidence, Driver
from evenground.search._written import written

__all__ = [
    "CheckConfidence",
    "Confidence",
    "Doubts",
    "Driver",
    "Effort",
    "FrontRow",
    "Loss",
    "Losses",
    "Range",
    "Reason",
    "SiteChange",
    "SiteCheck",
    "SiteResult",
    "SiteRow",
    "Store",
    "Thrift",
    "Totals",
    "all_cores",
    "assess_sites",
    "find_cheapest",
    "main_effects",
    "project_files",
    "proportion_interval",
    "rank_losses",
    "sample_doubts",
    "space_of",
    "total_effects",
    "written",
]
