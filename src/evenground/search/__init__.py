"""Searches above the study: what a broken piece of metal costs, how sure the result is, what is cheapest.

Entry functions: :func:`rank_losses`, :func:`sample_doubts`.
"""

from __future__ import annotations

from evenground.search._doubt import Doubts, Range, sample_doubts
from evenground.search._drivers import main_effects, proportion_interval
from evenground.search._losses import Loss, Losses, rank_losses
from evenground.search._pool import all_cores
from evenground.search._verdicts import CheckConfidence, Confidence, Driver

__all__ = [
    "CheckConfidence",
    "Confidence",
    "Doubts",
    "Driver",
    "Loss",
    "Losses",
    "Range",
    "all_cores",
    "main_effects",
    "proportion_interval",
    "rank_losses",
    "sample_doubts",
]
