"""The chapter that says what changed since an earlier revision and what it did to the margins."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, chapter, heading, pairs, table, text
from evenground.deliver.compare import Change, CheckChange, Comparison, compare_studies, plain, unlike_parts
from evenground.deliver.format import format_percent, format_quantity, format_value
from evenground.model._serial import study_to_dict

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["change_cells", "check_cells", "revision_chapter"]

MOST_INPUTS = 60


def change_cells(change: Change) -> list[str]:
    """What, before, after and relative change as words."""
    relative = change.relative
    before, after = unlike_parts(change.before, change.after)
    return [
        change.what,
        _words(before, change.unit),
        _words(after, change.unit),
        "—" if relative is None else format_percent(relative, sign=True),
    ]


def _words(value: Any, unit: str) -> str:
    if value is None or value == "":
        return "—"
    if isinstance(value, int | float) and not isinstance(value, bool):
        return format_quantity(value, unit) if unit else format_value(value)
    if isinstance(value, list) and value and all(isinstance(v, int | float) for v in value):
        return f"{', '.join(format_value(v, 4) for v in value)} {unit}".strip()
    return str(plain(value))


def check_cells(change: CheckChange) -> list[str]:
    """Check, verdicts and margins before and after as words."""
    return [
        change.title,
        change.verdict_before or "not made",
        change.verdict_after or "not made",
        _margin(change.margin_before),
        _margin(change.margin_after),
    ]


def _margin(value: float | None) -> str:
    return "—" if value is None else format_percent(value, sign=True)


def revision_chapter(study: Study, earlier: Mapping[str, Any] | None) -> Block | None:
    """What changed since an earlier study; None when the project names none."""
    if earlier is None:
        return None
    c = compare_studies(earlier, study_to_dict(study))
    return chapter("Changes since the earlier revision", _blocks(c))


def _blocks(c: Comparison) -> list[Block | None]:
    inputs = [change_cells(x)[:3] for x in c.inputs]
    more = len(inputs) - MOST_INPUTS
    wide = ["1.6fr", "1fr", "1fr"]
    return [
        text(
            "The results are set beside those of an earlier study, input by input and check by check. "
            "A margin is the distance to the limit as a share of the limit; below zero the limit is broken."
        ),
        pairs(
            [
                ("Earlier study", f"revision {c.a['revision'] or 'none'}, {c.a['file']}"),
                ("Its input", c.a["sha256"]),
                ("Its verdict", c.a["verdict"]),
                ("Verdict now", c.b["verdict"]),
            ]
        ),
        text("Both studies were made from the same input." if c.same_input else ""),
        heading("Inputs that changed"),
        text("No input changed." if not inputs else ""),
        table(
            "Inputs before and now", ["Input", "Before", "Now"], inputs[:MOST_INPUTS], widths=wide, small=True
        ),
        text(f"{more} more inputs changed; evenground compare lists them all." if more > 0 else ""),
        heading("What it did to the results"),
        text("No result changed." if not c.results else ""),
        table(
            "Results before and now",
            ["Result", "Before", "Now", "Change"],
            [change_cells(x) for x in c.results],
            align="lrrr",
            widths=["1.6fr", "1fr", "1fr", "auto"],
            small=True,
        ),
        heading("What it did to the margins"),
        text("No check changed." if not c.checks else ""),
        table(
            "Checks before and now",
            ["Check", "Verdict before", "Verdict now", "Margin before", "Margin now"],
            [check_cells(x) for x in c.checks],
            align="lllrr",
            widths=["2fr", "auto", "auto", "auto", "auto"],
            small=True,
        ),
        table(
            "Quantities before and now",
            ["Quantity", "Before", "Now", "Change"],
            [change_cells(x) for x in c.quantities],
            align="lrrr",
            widths=["1.6fr", "1fr", "1fr", "auto"],
            small=True,
        ),
    ]
