"""What a search for the cheapest design is given, and what it hands back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenground.model.project import Project
from evenground.search._demand import Judged
from evenground.search._draft import Draft
from evenground.search._reasons import Reason

__all__ = ["Effort", "FrontRow", "Thrift"]


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to look: members and number of generations, and the most full studies."""

    population: int = 24
    generations: int = 12
    studies: int = 8
    seed: int = 1


@dataclass(frozen=True, slots=True)
class FrontRow:
    """One design that no other beats in both cost and margin.

    ``studied`` tells a full study from an estimate; ``margin`` is the smallest of touch and step. [currency]
    """

    cost: float
    margin: float
    resistance_ohm: float
    studied: bool
    chosen: Mapping[str, str]
    draft: Draft


@dataclass(frozen=True)
class Thrift:
    """Outcome of a search.

    Attributes
    ----------
    currency, price_status : str
        Of the price list.
    start_cost : float
        Of the project as drawn. [currency]
    start, best : Judged
        Full studies of the project as drawn and of the cheapest design; best None when none was found.
    best_cost : float or None
    parts, start_parts : mapping
        Cost by kind of work.
    draft : Draft or None
    made : Project or None
        The project of the best design.
    chosen : mapping
        What was chosen, in words.
    reasons : tuple of Reason
        What is lost without each element.
    front : tuple of FrontRow
        From cheap to dear.
    estimates, studies : int
        How many designs were looked at, and how many of them by a full study.
    refused : tuple of str
        Why cheaper designs that were studied did not do.
    notes : tuple of str
    """

    currency: str
    price_status: str
    start_cost: float
    start_parts: Mapping[str, float]
    start: Judged
    best: Judged | None
    best_cost: float | None
    parts: Mapping[str, float]
    draft: Draft | None
    made: Project | None
    chosen: Mapping[str, str]
    reasons: tuple[Reason, ...]
    front: tuple[FrontRow, ...]
    estimates: int
    studies: int
    refused: tuple[str, ...]
    notes: tuple[str, ...]
