"""The chapter that says how the margins answer to other inputs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, table, text
from evenground.deliver.format import UNDECIDED, format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.sensitivity import SensitivityRow
    from evenground.model.study import Study

__all__ = ["sensitivity_chapter"]

WHAT = (
    "One input is changed at a time, everything else is as designed. The margin is the distance of the "
    "worst touch or step voltage to its limit as a share of the limit, over all zones and scenarios; below "
    "zero the limit is broken. Nothing here enters the verdict."
)
HOW = (
    "Exact: voltages are proportional to the current, and soil changed as a whole changes every resistance "
    "by the same factor. Limits: the voltages are those of the study, the limits are worked out anew; a "
    "decrement factor that depends on the clearing time is taken along. Solved again: the field is solved "
    "anew with the segments of the study, and the voltages are taken at the worst places of the study; the "
    "worst place itself may move a little. Where the network decides the share of the mat, that share is "
    "worked out anew each time."
)


def sensitivity_chapter(study: Study) -> Block | None:
    """Margins for other soil, current, time, cover and depth; None when it was not worked out."""
    if not study.sensitivity:
        return None
    notes = {f"{r.subject}, {r.change}": r.note for r in study.sensitivity if r.note}
    return chapter(
        "Sensitivity",
        [
            text(WHAT),
            text(HOW),
            table(
                "Margins for other inputs",
                [
                    "Input",
                    "Change",
                    "Resistance",
                    "Highest rise",
                    "Margin of touch",
                    "Margin of step",
                    "Method",
                ],
                [_cells(r) for r in study.sensitivity],
                align="llrrrrl",
                widths=["1.6fr", "auto", "auto", "auto", "auto", "auto", "auto"],
                small=True,
            ),
            *(text(f"{what}: {why}", style="small") for what, why in notes.items()),
        ],
    )


def _cells(row: SensitivityRow) -> list[str]:
    return [
        row.subject,
        row.change or "—",
        format_quantity(row.resistance_ohm, "ohm", 3),
        format_quantity(row.gpr_v, "V", 3),
        _margin(row.touch, row.note),
        _margin(row.step, row.note),
        row.method if row.change else "study",
    ]


def _margin(ratio: float | None, note: str) -> str:
    """Margin as a share of the limit; marked when the limit itself is in doubt."""
    if ratio is None:
        return UNDECIDED
    return format_percent(1 - ratio, sign=True) + (" *" if note else "")
