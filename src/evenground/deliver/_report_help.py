"""What would help, when touch, step or a fence fails: report, terminal and CSV say the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, chapter, table, text
from evenground.deliver.format import format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.model.surroundings import Suggestion

__all__ = ["HELP_COLUMNS", "help_chapter", "help_rows", "suggestions_of"]

HELP_COLUMNS = (
    "Change",
    "Touch",
    "Step",
    "Fences",
    "Resistance",
    "Worst falls by",
    "Below limits in this soil",
)


def suggestions_of(study: Study) -> tuple[Suggestion, ...]:
    """Suggestions of a study, best first; empty when none were computed."""
    return study.surroundings.suggestions if study.surroundings else ()


def _share(value: float | None) -> str:
    return "—" if value is None else f"{100 * value:.0f} %"


def _held(row: Suggestion) -> str:
    """Whether touch, step and fences are below their limits, beyond doubt."""
    if row.passes:
        return "yes"
    return "not decided" if max(row.touch, row.step, row.fence or 0.0) <= 1.0 else "no"


def help_rows(study: Study) -> list[list[str]]:
    """One row a change: largest value over limit after it, and by how much the worst of them falls."""
    return [
        [
            row.change + (f" ({row.remark})" if row.remark else ""),
            _share(row.touch),
            _share(row.step),
            _share(row.fence),
            format_quantity(row.resistance_ohm, "ohm", 3),
            format_percent(row.helps),
            _held(row),
        ]
        for row in suggestions_of(study)
    ]


def help_chapter(study: Study) -> Block | None:
    """The chapter; None without suggestions."""
    rows: list[list[Any]] = help_rows(study)
    if not rows:
        return None
    return chapter(
        "What would help",
        [
            text(
                "Each change was made to the project and computed by the field solution in the governing "
                "soil; columns say the largest value over its limit after it. “Fences” are fences and "
                "gates, a neighbour's included. The list ranks by how far the worst of the three falls. "
                "The last column says whether touch, step and fence are below their limits in this soil: yes "
                "only with the error of refined segments, the largest offset where X/R is unknown, and every "
                "limit within its range. It does not ask for other soils, services, arrangement or "
                "conductors: a changed project is to be studied again. "
                "Soil treatment is not computed; costs and what can be built are the designer's to judge."
            ),
            table(
                "Changes, ranked by their computed effect",
                list(HELP_COLUMNS),
                rows,
                align="lrrrrrl",
                widths=["1fr", *["auto"] * 6],
                small=True,
            ),
        ],
        name="help",
    )
