"""Sheets of site tests as PDF, forms as CSV and XLSX, and the result of a test as PDF and JSON."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from importlib import resources
from typing import TYPE_CHECKING, Any

from evenground._caution import CAUTION
from evenground._sitetest_form import COLUMNS, form_rows
from evenground.deliver.format import format_number, format_quantity, format_value
from evenground.model._serial import to_plain
from evenground.model.sitetest import FieldSheet, SheetTable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from evenground._study_sitetest import SiteTests
    from evenground.model.site_test import SiteTestOutcome
    from evenground.model.study import Study

__all__ = ["form_csv", "form_xlsx", "plan_pdf", "result_json", "result_pdf", "sheet_data", "sheets_pdf"]


def plan_pdf(study: Study, tests: SiteTests) -> bytes:
    """Every sheet of the plan, with a list of instruments and of values in use for acceptance."""
    own = [_with_paths(s, tests.paths) if s.title == "Current injection" else s for s in tests.plan.sheets]
    sheets = [_first(study, tests), *own, _instruments(tests)]
    return _pdf(f"Site test plan: {study.project.identity.title}", study, sheets, sign=True)


def form_csv(tests: SiteTests) -> str:
    """The form to be filled in and read back."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in form_rows(tests):
        writer.writerow(["" if v is None else v for v in row])
    return out.getvalue()


def form_xlsx(tests: SiteTests) -> bytes:
    """The same form as a workbook, for printing and typing on site."""
    from evenground.schedules import Column, Table, xlsx_bytes

    wide, places = {"item": 46, "what": 24, "note": 30}, {"item": 1, "angle_deg": 1, "x_m": 3, "y_m": 3}
    columns = tuple(Column(c, c, places=places.get(c, 4), width=wide.get(c, 13)) for c in COLUMNS)
    return xlsx_bytes([Table("form", "Site test form", columns, tuple(form_rows(tests)))], title="Site tests")


def result_json(study: Study, tests: SiteTests, outcome: SiteTestOutcome) -> str:
    """Everything measured against everything predicted."""
    data = {
        "format": "evenground-sitetest/1",
        "caution": CAUTION,
        "input_sha256": study.project.input_hash,
        "verdict": outcome.verdict,
        "why": outcome.why,
        "date": outcome.date,
        "not_tested": outcome.not_tested,
        "predicted_ohm": tests.mat.resistance_ohm,
        "design_ohm": tests.design_resistance_ohm,
        "season_factor": tests.season_factor,
        "fault_current_a": tests.fault_current_a,
        "scenario": tests.scenario,
        "name": outcome.name,
        "parts": outcome.parts,
        "soil_of_the_day": outcome.soil_of_the_day,
        "tested_soil": outcome.tested_soil,
        "coupled": outcome.coupled,
        "coupled_remote_ohm": outcome.coupled_remote_ohm,
        "fall": outcome.fall,
        "injection": outcome.injection,
        "checks": outcome.checks,
        "findings": outcome.findings,
    }
    return json.dumps(to_plain(data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def result_pdf(study: Study, tests: SiteTests, outcome: SiteTestOutcome) -> bytes:
    """Measured against predicted, with the verdict first."""
    sheets = [_verdict_sheet(tests, outcome)]
    if outcome.fall is not None:
        sheets.append(_fall_sheet(outcome))
    if outcome.injection is not None:
        sheets.append(_place_sheet(outcome))
    sheets.append(_check_sheet(outcome))
    title = f"Site test result: {study.project.identity.title}"
    return _pdf(title, study, sheets, sign=False, flow=True)


def _first(study: Study, tests: SiteTests) -> FieldSheet:
    revisions = study.project.identity.revisions
    rows: tuple[tuple[str | float | None, ...], ...] = (
        ("Project file, SHA-256", study.project.input_hash[:16] or "none"),
        ("Revision", revisions[-1].revision if revisions else "none stated"),
        (
            "Resistance expected on a day like that of the survey",
            format_quantity(tests.mat.resistance_ohm, "ohm"),
        ),
        ("Resistance of the design", format_quantity(tests.design_resistance_ohm, "ohm")),
        ("Fault that the voltages are scaled to", tests.scenario),
        ("Current of the mat in that fault", format_quantity(tests.fault_current_a, "A")),
    )
    notes = [
        *tests.notes,
        *(f"{f.message}{f' ({f.advice})' if f.advice else ''}" for f in tests.plan.findings),
    ]
    return FieldSheet(
        "What the tests shall show",
        "Predicted by the study in the soil as surveyed; a reading is judged with its uncertainty",
        (),
        (SheetTable("Prediction", ("what", "value"), rows),),
        tuple(notes),
    )


def _with_paths(sheet: FieldSheet, paths: Sequence[str]) -> FieldSheet:
    """The sheet of the injection with a line for every path that takes a share."""
    if not paths:
        return sheet
    rows = tuple((name, None, None) for name in paths)
    table = SheetTable("Paths that take a share, read with phase", ("path", "read A", "read deg"), rows)
    return replace(sheet, tables=(*sheet.tables, table))


def _instruments(tests: SiteTests) -> FieldSheet:
    plan = tests.plan
    tools = tuple((i.name, i.purpose, i.requirement) for i in plan.instruments)
    values = tuple(
        (
            p.quantity,
            f"{'at most' if p.sense == 'max' else 'at least'} {p.value:g} {p.unit}",
            p.meaning,
            p.source,
        )
        for p in plan.pass_values
    )
    return FieldSheet(
        "Instruments and acceptance",
        "Values in use in the trade; they differ between countries and owners: the client's count",
        (),
        (
            SheetTable("Instruments", ("instrument", "for", "must"), tools),
            SheetTable("Acceptance values", ("quantity", "value", "meaning", "source"), values),
        ),
    )


def _verdict_sheet(tests: SiteTests, outcome: SiteTestOutcome) -> FieldSheet:
    fall = outcome.fall
    rows: list[tuple[str | float | None, ...]] = [
        ("Outcome", outcome.verdict),
        ("Date of the test", outcome.date or "not noted"),
        ("Resistance predicted for that soil", format_quantity(tests.mat.resistance_ohm, "ohm")),
    ]
    if fall is not None:
        rows += [
            ("Resistance measured", format_quantity(fall.resistance_ohm, "ohm")),
            (
                "Bounds of it",
                f"{format_quantity(fall.low_ohm, 'ohm')} to {format_quantity(fall.high_ohm, 'ohm')}",
            ),
            ("Season factor", format_number(tests.season_factor, 4)),
            ("The same for the design season", format_quantity(fall.design_ohm, "ohm")),
        ]
    notes = [f"{f.message}{f' ({f.advice})' if f.advice else ''}" for f in outcome.findings]
    return FieldSheet(
        "Outcome",
        "pass: measured and predicted agree and no limit is broken; re-run with tested soil: they do not "
        "agree; "
        "mitigation: a limit is broken. It speaks of what was read and of nothing else",
        outcome.why,
        (SheetTable("Result", ("what", "value"), tuple(rows)),),
        tuple(notes),
    )


def _fall_sheet(outcome: SiteTestOutcome) -> FieldSheet:
    fall = outcome.fall
    assert fall is not None
    rows = tuple((d, format_value(read, 4), format_value(r, 4)) for d, read, r in fall.each_ohm)
    spread = "none" if fall.spread is None else f"{100 * fall.spread:.1f} %"
    return FieldSheet(
        "Fall of potential",
        "Each reading, corrected for coupling, divided by the simulated ratio of reading to truth there",
        (f"Spread of the results: {spread}; band of agreement {100 * fall.band:.0f} %",),
        (SheetTable("Readings that count", ("distance m", "reading ohm", "stands for ohm"), rows),),
    )


def _place_sheet(outcome: SiteTestOutcome) -> FieldSheet:
    found = outcome.injection
    assert found is not None
    rows = tuple(
        (
            p.name,
            _volts(p.scaled_v),
            f"{_volts(p.low_v)} to {_volts(p.high_v)}",
            _volts(p.predicted_v),
            "—" if p.ratio is None else format_number(p.ratio, 3),
            _volts(p.limit_v),
            p.verdict.value,
            "; ".join(p.flags) or "—",
        )
        for p in found.places
    )
    columns = ("place", "in the fault", "bounds", "predicted", "ratio", "limit", "verdict", "flags")
    share = "not decided" if found.split is None else f"{100 * found.split:.1f} %"
    return FieldSheet(
        "Touch and step",
        "Voltages read during the injection, scaled to the fault",
        (
            f"Current of the mat {format_quantity(found.mat_current_a, 'A')}, {share} of what was injected",
            f"Impedance of the mat {format_quantity(found.mat_impedance_ohm, 'ohm')}",
        ),
        (SheetTable("Places", columns, rows),),
    )


def _volts(value: float | None) -> str:
    return "—" if value is None else format_quantity(value, "V", 3)


def _check_sheet(outcome: SiteTestOutcome) -> FieldSheet:
    rows = tuple(
        (
            c.title,
            format_quantity(c.value, c.unit, 3),
            "—" if c.limit is None else format_quantity(c.limit, c.unit, 3),
            c.verdict.value,
            c.reason or "—",
        )
        for c in outcome.checks
    )
    return FieldSheet(
        "Every check", "", (), (SheetTable("Checks", ("check", "value", "limit", "verdict", "remark"), rows),)
    )


def _pdf(title: str, study: Study, sheets: Sequence[FieldSheet], *, sign: bool, flow: bool = False) -> bytes:
    identity = study.project.identity
    mark = f"{identity.document_number or 'no number'}, input {study.project.input_hash[:12]}"
    rows = [sheet_data(s, sign or (flow and s is sheets[-1])) for s in sheets]
    return sheets_pdf(title, mark, rows, {}, flow=flow)


def sheets_pdf(
    title: str,
    mark: str,
    sheets: Sequence[dict[str, Any]],
    pictures: Mapping[str, bytes],
    *,
    flow: bool = False,
) -> bytes:
    """Typeset sheets made by :func:`sheet_data`; ``pictures`` by the name under ``"picture"``."""
    import typst

    data = {"title": title, "mark": mark, "caution": CAUTION, "flow": flow, "sheets": sheets}
    template = resources.files("evenground.deliver").joinpath("templates", "sheets.typ").read_bytes()
    own = {"main.typ": template, "data.json": json.dumps(data, ensure_ascii=False).encode()}
    sources: Any = {**own, **pictures}
    made: Any = typst.compile(sources, format="pdf", ignore_system_fonts=True)
    return bytes(made)


def sheet_data(sheet: FieldSheet, sign: bool) -> dict[str, Any]:
    """One sheet as the template wants it."""
    return {
        "title": sheet.title,
        "purpose": sheet.purpose,
        "before": list(sheet.before),
        "after": list(sheet.after),
        "sign": sign,
        "tables": [_table(t) for t in sheet.tables],
    }


def _table(table: SheetTable) -> dict[str, Any]:
    count = len(table.columns)
    lengths = [max((len(str(r[i] or "")) for r in table.rows), default=0) for i in range(count)]
    blank = [i for i in range(count) if table.rows and all(r[i] is None for r in table.rows)]
    return {
        "title": table.title,
        "columns": list(table.columns),
        "wide": blank or [lengths.index(max(lengths))],
        "numeric": [any(isinstance(r[i], float) for r in table.rows) for i in range(count)],
        "rows": [[_cell(v) for v in row] for row in table.rows],
    }


def _cell(value: str | float | None) -> str | None:
    return value if value is None or isinstance(value, str) else format_value(value, 4)
