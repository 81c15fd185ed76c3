"""The search for the cheapest design on paper and as data."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

from evenground._caution import CAUTION
from evenground.deliver._figure import figure_bytes
from evenground.deliver._plot_thrift import front_figure, layouts_figure
from evenground.deliver.sitetest_sheets import sheet_data, sheets_pdf
from evenground.model._serial import to_plain
from evenground.model.sitetest import FieldSheet, SheetTable

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.search import Thrift

__all__ = ["front_csv", "outcome_words", "thrift_json", "thrift_pdf", "thrift_plots"]


def front_csv(found: Thrift) -> str:
    """The designs that no other beats in both cost and margin."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = list(found.front[0].chosen) if found.front else []
    writer.writerow(
        [f"cost_{found.currency}", "smallest_margin", "resistance_ohm", "judged_by", *heads, "lines left out"]
    )
    for r in found.front:
        words = [r.chosen[h] for h in heads]
        judged = "full study" if r.studied else "estimate"
        left = r.chosen.get("lines left out", "") if "lines left out" not in heads else ""
        writer.writerow([f"{r.cost:.2f}", f"{r.margin:.4f}", f"{r.resistance_ohm:.5g}", judged, *words, left])
    return out.getvalue()


def thrift_json(found: Thrift, project: Project) -> str:
    """Everything found, without the project itself."""
    data = {
        "format": "evenground-thrift/1",
        "caution": CAUTION,
        "input_sha256": project.input_hash,
        **{k: getattr(found, k) for k in found.__dataclass_fields__ if k not in ("made", "draft")},
    }
    return json.dumps(to_plain(data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def thrift_plots(found: Thrift, project: Project, kind: str = "svg") -> dict[str, bytes]:
    """Plots by file name; ``kind`` is ``"svg"`` or ``"png"``."""
    plots = {f"front.{kind}": figure_bytes(front_figure(found), kind)}
    if found.made is not None:
        plots[f"layouts.{kind}"] = figure_bytes(layouts_figure(project, found.made), kind)
    return plots


def thrift_pdf(found: Thrift, project: Project) -> bytes:
    """A short report: cost and margins, both layouts, why each element is there, the front."""
    sheets = [sheet_data(s, sign=False) for s in (_outcome(found), _reasons(found), _front(found))]
    plots = thrift_plots(found, project)
    sheets[0]["picture"] = "layouts.svg" if "layouts.svg" in plots else None
    sheets[2]["picture"] = "front.svg"
    mark = f"{project.identity.document_number or 'no number'}, input {project.input_hash[:12]}"
    return sheets_pdf(f"Cheapest design: {project.identity.title}", mark, sheets, plots)


def outcome_words(found: Thrift) -> str:
    """The outcome in one sentence."""
    if found.best_cost is None:
        return "no design within the rules of construction was found that keeps what is asked"
    saving = 1.0 - found.best_cost / found.start_cost
    word = "less" if saving >= 0 else "more"
    return (
        f"the cheapest design found costs {found.best_cost:,.0f} {found.currency}, {abs(saving):.1%} {word} "
        f"than as drawn ({found.start_cost:,.0f} {found.currency}); {found.estimates} designs estimated, "
        f"{found.studies} studied in full"
    )


def _outcome(found: Thrift) -> FieldSheet:
    kinds = sorted({*found.start_parts, *found.parts}, key=lambda k: -found.start_parts.get(k, 0.0))
    cost: list[tuple[str | float | None, ...]] = [
        (k, f"{found.start_parts.get(k, 0.0):,.0f}", f"{found.parts.get(k, 0.0):,.0f}") for k in kinds
    ]
    best = "–" if found.best_cost is None else f"{found.best_cost:,.0f}"
    cost.append(("all", f"{found.start_cost:,.0f}", best))
    tables = [
        SheetTable(f"Cost by kind of work, {found.currency}", ("work", "as drawn", "found"), tuple(cost))
    ]
    chosen: tuple[tuple[str | float | None, ...], ...] = tuple(found.chosen.items())
    if chosen:
        tables.append(SheetTable("What was chosen", ("choice", "taken"), chosen))
    tables.append(_margins(found))
    refused = tuple(f"Refused by the full study at a cost of {r}" for r in found.refused)
    return FieldSheet("Outcome", outcome_words(found), found.notes, tuple(tables), refused)


def _margins(found: Thrift) -> SheetTable:
    best = found.best.ratios if found.best else {}
    rows = tuple(
        (
            found.start.titles[key],
            f"{1 - found.start.ratios[key]:.1%}",
            f"{1 - best[key]:.1%}" if key in best else "–",
        )
        for key in found.start.volts
    )
    return SheetTable("Margins by full study, the same checks", ("check", "as drawn", "found"), rows)


def _reasons(found: Thrift) -> FieldSheet:
    rows = tuple((r.element, r.instead, f"{r.saving:,.0f}", r.words) for r in found.reasons)
    table = SheetTable("Elements", ("element", "instead", f"saves, {found.currency}", "what is lost"), rows)
    purpose = "Each element taken away on its own; estimates that agree with the full study of the whole"
    return FieldSheet("Why each element is there", purpose, (), (table,) if rows else ())


def _front(found: Thrift) -> FieldSheet:
    rows = tuple(
        (
            f"{r.cost:,.0f}",
            f"{r.margin:.1%}",
            f"{r.resistance_ohm:.3g}",
            "full study" if r.studied else "estimate",
            "; ".join(f"{k}: {v}" for k, v in r.chosen.items()),
        )
        for r in found.front
    )
    heads = (f"cost, {found.currency}", "margin", "R, ohm", "judged by", "chosen")
    purpose = (
        "Designs that no other design looked at beats in both cost and smallest margin of touch and step"
    )
    return FieldSheet(
        "Front of cost and margin", purpose, (), (SheetTable("Designs", heads, rows),) if rows else ()
    )
