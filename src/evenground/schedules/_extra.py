"""What a changed design costs more than another: the difference of their bills."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import isclose

from evenground.schedules._bill import bill_lines
from evenground.schedules._design import Design
from evenground.schedules._measure import measure
from evenground.schedules._prices import PriceList

__all__ = ["ExtraCost", "extra_cost"]


@dataclass(frozen=True, slots=True)
class ExtraCost:
    """``cost`` in the currency of the prices; None with the reason in ``missing``."""

    cost: float | None
    missing: tuple[str, ...] = ()


def extra_cost(before: Design, after: Design, prices: PriceList) -> ExtraCost:
    """Cost of the bill of one design less that of another.

    Lines are compared item by item, so an item without a price matters only where its quantity changes.
    Material is counted with its waste, work at the labour rate. What no bill measures (fences, covers without
    an outline) leaves the cost open when it changes.

    Parameters
    ----------
    before, after : Design
    prices : PriceList

    Returns
    -------
    ExtraCost
    """
    old, new = _quantities(before), _quantities(after)
    missing = _unmeasured(before, after)
    total = 0.0
    for key in sorted(old.keys() | new.keys(), key=str):
        quantity = new.get(key, 0.0) - old.get(key, 0.0)
        if isclose(new.get(key, 0.0), old.get(key, 0.0), rel_tol=1e-9, abs_tol=1e-9):
            continue
        code, conversion = key
        item = prices.items.get(code)
        if item is None:
            missing.append(f"no price for {code}")
        elif conversion is None:
            missing.append(f"no mass per metre for {code}")
        else:
            total += quantity * prices.rate(item, conversion)
    return ExtraCost(None, tuple(dict.fromkeys(missing))) if missing else ExtraCost(total)


def _quantities(design: Design) -> dict[tuple[str, float | None], float]:
    """Quantity of each item of the price list, by its price units per unit."""
    found: dict[tuple[str, float | None], float] = defaultdict(float)
    for line in bill_lines(design, measure(design)):
        found[line.code, line.conversion] += line.quantity
    return found


def _unmeasured(before: Design, after: Design) -> list[str]:
    """Changes of what no bill measures."""
    rows = []
    if before.installation.fences != after.installation.fences:
        rows.append("fences are not in the bill")
    bare = [
        {z.name: z for z in d.surface if z.outline_m is None and z.thickness_m > 0} for d in (before, after)
    ]
    rows += [
        f"cover “{name}” has no outline, so its area is not known"
        for name in sorted(bare[0].keys() | bare[1].keys())
        if bare[0].get(name) != bare[1].get(name)
    ]
    return rows
