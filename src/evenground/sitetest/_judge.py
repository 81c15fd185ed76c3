"""Three-valued judgement of measured values, shared by all readings."""

from __future__ import annotations

import math

from evenground.model.study import Verdict

__all__ = ["agrees", "below", "worst_of"]


def below(low: float | None, high: float | None, limit: float | None) -> Verdict:
    """Pass when even the upper bound keeps the limit, fail when even the lower one breaks it."""
    if low is None or high is None or limit is None or not math.isfinite(high):
        return Verdict.NOT_DECIDED
    if high <= limit:
        return Verdict.PASS
    return Verdict.FAIL if low > limit else Verdict.NOT_DECIDED


def agrees(low: float | None, high: float | None, predicted: float | None, band: float) -> Verdict:
    """Pass when the whole measured range lies in the predicted band, fail when none of it does."""
    if low is None or high is None or predicted is None:
        return Verdict.NOT_DECIDED
    bottom, top = predicted * (1.0 - band), predicted * (1.0 + band)
    if high < bottom or low > top:
        return Verdict.FAIL
    return Verdict.PASS if bottom <= low and high <= top else Verdict.NOT_DECIDED


def worst_of(verdicts: list[Verdict]) -> Verdict:
    """Fail before not decided before pass; nothing at all is not decided."""
    if Verdict.FAIL in verdicts:
        return Verdict.FAIL
    if Verdict.NOT_DECIDED in verdicts or not verdicts:
        return Verdict.NOT_DECIDED
    return Verdict.PASS
