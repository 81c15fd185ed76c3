"""Searches above the study: what a broken piece of metal costs, how sure the result is, what is cheapest.

Entry functions: :func:`rank_losses`.
"""

from __future__ import annotations

from evenground.search._losses import Loss, Losses, rank_losses

__all__ = ["Loss", "Losses", "rank_losses"]
