"""What would help, when touch, step or a fence fails: report, terminal and CSV say the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, chapter, table, text
from evenground.deliver.format import format_number, format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.model.surroundings import Suggestion

__all__ = [
    "HELP_COLUMNS",
    "cheapest_sentence",
    "cost_sentence",
    "help_chapter",
    "help_rows",
    "prospect_sentences",
    "suggestions_of",
]

HELP_COLUMNS = (
    "Change",
    "Touch",
    "Step",
    "Fences",
    "Resistance",
    "Worst falls by",
    "Below limits",
    "Extra cost",
    "Rank per cost",
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
            _cost(row, study),
            "—" if row.rank_per_cost is None else f"{row.rank_per_cost}",
        ]
        for row in suggestions_of(study)
    ]


def _cost(row: Suggestion, study: Study) -> str:
    """Extra cost in the currency of the prices, three figures; a dash when it can not be worked out."""
    basis = study.surroundings.cost_basis if study.surroundings else None
    if row.cost is None or basis is None:
        return "—"
    return f"{format_number(row.cost, 3)} {basis.currency}"


def cost_sentence(study: Study) -> str:
    """What the costs are worked out with, and what has none; empty without suggestions."""
    found = study.surroundings
    if found is None or found.cost_basis is None:
        return ""
    basis = found.cost_basis
    text = f"Cost: difference of the bill of quantities, {basis.currency}, prices of {basis.date}"
    if basis.status != "quoted":
        text += " (PLACEHOLDER PRICES, NOT AN ESTIMATE)"
    reasons = dict.fromkeys(r.cost_remark for r in found.suggestions if r.cost_remark)
    return f"{text}. Without a cost: {'; '.join(reasons)}." if reasons else f"{text}."


def cheapest_sentence(study: Study) -> str:
    """The cheapest change with a cost that brings everything below its limit; empty when there is none."""
    rows = [r for r in suggestions_of(study) if r.passes and r.cost is not None]
    if not rows:
        return ""
    best = min(rows, key=lambda r: r.cost or 0.0)
    return f"Cheapest of those below every limit, {_cost(best, study)}: {best.change}."


def prospect_sentences(study: Study) -> tuple[str, ...]:
    """Whether the site can pass at all inside its plot."""
    return study.surroundings.prospect if study.surroundings else ()


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
                "“Below limits” says whether touch, step and fence are below their limits in this soil: yes "
                "only with the error of refined segments, the largest offset where X/R is unknown, and every "
                "limit within its range. It does not ask for other soils, services, arrangement or "
                "conductors: a changed project is to be studied again. "
                "“Rank per cost” orders by how far the worst falls for its extra cost. What can be built is "
                "the designer's to judge."
            ),
            *(text(s) for s in (cost_sentence(study), cheapest_sentence(study)) if s),
            table(
                "Changes, ranked by their computed effect",
                list(HELP_COLUMNS),
                rows,
                align="lrrrrrlrr",
                widths=["1fr", *["auto"] * 8],
                small=True,
            ),
            *(text(s) for s in prospect_sentences(study)),
        ],
        name="help",
    )
