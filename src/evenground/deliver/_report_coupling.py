"""Part of the chapter on the current split: what the soil couples with the mat, and what that changes."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, heading, table, text
from evenground.deliver.format import format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.coupling import CouplingEffect
    from evenground.model.network import ScenarioSplit

__all__ = ["coupling", "coupling_rows"]

MOST_EARTHS = 12
"""Placed earths in a table, the most strongly coupled first; all of them are in soil-coupling.csv."""


def coupling(splits: Sequence[ScenarioSplit]) -> list[Block | None]:
    """Mutual resistances with the mat, and rise, share and towers with and without them."""
    rows = [(s, s.coupling) for s in splits if s.coupling is not None]
    if not rows:
        return []
    return [
        heading("Coupling through the soil"),
        text(
            "The field solution gives the potential of each placed earth for one ampere from the mat, and "
            "couples the placed earths among each other; the resistances stated for them stay. The same "
            "fault place is solved with this coupling and with every earth standing alone."
        ),
        _changes(rows),
        *(_earths(split, effect) for split, effect in rows),
        text(
            "Touch and step voltages at places are those of the mat by itself at the whole potential rise. "
            "What neighbours of the same sign add to the rise lifts ground and metal alike, which is"
            " cautious; where others lower it, the rise of the mat by itself is used. How unevenly all of "
            "them lift the ground along the mat is bounded in the last column of the first table, and a "
            "check of its own adds that bound to every touch voltage."
        ),
    ]


def _changes(rows: Sequence[tuple[ScenarioSplit, CouplingEffect]]) -> Block | None:
    return table(
        "What the coupling changes for the governing place, before the decrement factor",
        [
            "Fault",
            "Split alone",
            "Split coupled",
            "Rise alone",
            "Rise coupled",
            "By the mat itself",
            "Uneven",
        ],
        [
            [
                split.scenario,
                format_percent(effect.split_without),
                format_percent(effect.split_factor),
                format_quantity(effect.gpr_without_v, "V"),
                format_quantity(effect.gpr_v, "V"),
                format_quantity(effect.mat_alone_v, "V"),
                f"≤ {format_percent(ceil(1000 * effect.uneven) / 1000)}",
            ]
            for split, effect in rows
        ],
        align="lrrrrrr",
        widths=["1fr", *["auto"] * 6],
        small=True,
    )


def _earths(split: ScenarioSplit, effect: CouplingEffect) -> Block | None:
    earths = effect.coupling.earths
    order = sorted(range(len(earths)), key=lambda k: -earths[k].mutual_ohm)
    rest = len(order) - MOST_EARTHS
    more = f"; {rest} more in soil-coupling.csv" if rest > 0 else ""
    return table(
        f"Placed earths, {split.scenario}: potential with and without coupling{more}",
        ["Earth", "Distance", "Stated", "Drawn metal", "Mutual", "Alone", "Coupled", "Into the soil"],
        [
            [
                earths[k].label,
                f"{earths[k].distance_m:.0f} m",
                format_quantity(earths[k].own_ohm, "ohm"),
                format_quantity(earths[k].computed_ohm, "ohm"),
                format_quantity(earths[k].mutual_ohm, "ohm"),
                format_quantity(effect.potential_without_v[k], "V"),
                format_quantity(effect.potential_v[k], "V"),
                format_quantity(effect.current_a[k], "A"),
            ]
            for k in order[:MOST_EARTHS]
        ],
        align="lrrrrrrr",
        widths=["1fr", *["auto"] * 7],
        small=True,
    )


def coupling_rows(splits: Sequence[ScenarioSplit]) -> tuple[list[str], list[list[Any]]]:
    """Columns and rows of every placed earth in every scenario. [m, ohm, V, A]"""
    columns = (
        "scenario fault_place earth x_m y_m distance_m stated_ohm drawn_metal_ohm mutual_ohm "
        "potential_alone_v potential_v earth_current_a"
    )
    rows = []
    for s in splits:
        if s.coupling is None:
            continue
        values = zip(
            s.coupling.coupling.earths,
            s.coupling.potential_without_v,
            s.coupling.potential_v,
            s.coupling.current_a,
            strict=True,
        )
        for e, alone, volts, amperes in values:
            place = (s.scenario, s.result.place.name, e.label, *e.at_m, e.distance_m)
            rows.append([*place, e.own_ohm, e.computed_ohm, e.mutual_ohm, alone, volts, amperes])
    return columns.split(), rows
