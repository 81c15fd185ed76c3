"""Rules of practice of a country, held against a design."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["RuleOutcome"]


@dataclass(frozen=True, slots=True)
class RuleOutcome:
    """One rule of practice and what the design does.

    ``outcome`` is ``"kept"``, ``"not kept"``, ``"differs"`` (from what is usual) or ``"not looked at"``. A
    rule decides nothing by itself: it says what is usual there. ``wanted`` and ``found`` are for people.
    """

    country: str
    topic: str
    key: str
    rule: str
    wanted: str
    found: str
    outcome: str
    source: str
    evidence: str
