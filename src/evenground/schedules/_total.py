"""What a design costs by a price list: one sum, and its parts."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.errors import InputError
from evenground.schedules._bill import bill_lines
from evenground.schedules._design import Design
from evenground.schedules._measure import measure
from evenground.schedules._prices import PriceList

__all__ = ["Cost", "total_cost"]


@dataclass(frozen=True, slots=True)
class Cost:
    """Cost of a design.

    ``parts`` are sums by the first word of the item's code: ``"metal"``, ``"joint"``, ``"trench"``,
    ``"rod"``, ``"cover"``, ... [currency of the price list]
    """

    total: float
    parts: tuple[tuple[str, float], ...]


def total_cost(design: Design, prices: PriceList) -> Cost:
    """Sum of the bill of quantities: material with waste, and labour.

    Raises
    ------
    InputError
        When a line has no price or no mass: a sum without it would be wrong.
    """
    parts: dict[str, float] = {}
    missing = set()
    for line in bill_lines(design, measure(design)):
        item = prices.items.get(line.code)
        if item is None or line.conversion is None:
            missing.add(line.code if item is None else f"{line.code} (mass per metre)")
            continue
        kind = line.code.partition(".")[0]
        parts[kind] = parts.get(kind, 0.0) + line.quantity * prices.rate(item, line.conversion)
    if missing:
        raise InputError(f"the price list has nothing for {', '.join(sorted(missing))}; no cost without it")
    return Cost(sum(parts.values()), tuple(parts.items()))
