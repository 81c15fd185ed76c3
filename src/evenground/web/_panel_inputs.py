"""Panels over single sections of the file: faults, conductors, limits, title page and declarations."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.deliver.format import format_percent, format_quantity
from evenground.project._edit import Drop
from evenground.project._schema import ConductorFile, FaultFile, ProjectFile
from evenground.project._schema_identity import IdentityFile
from evenground.project._schema_site import AssessmentFile
from evenground.web._fields import nested_rows
from evenground.web._panel_forms import form, section_head
from evenground.web._panel_result import empty, show_number
from evenground.web._panel_sections import adder, copier, nested_part, section_form
from evenground.web._tables import table
from evenground.web._words import limit_steps

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.web._page import Window

__all__ = ["build_conductors", "build_faults", "build_limits", "build_project"]

BASICS = ("frequency_hz", "assumptions")
ELSEWHERE = {
    *("project", "declarations", "soil", "faults", "conductors", "mats", "rods", "runs", "site_drawing"),
    *("separate_electrodes", "network", "surface", "equipment", "fences", "gates", "services", "lightning"),
    "assessment",
}
"""Sections of the file that have a panel; any other is shown with the title page."""
FILE_ROWS = {row.key: row for row in nested_rows(ProjectFile)}


def _sections(window: Window, key: str) -> list[Any]:
    rows = window.studio.desk.data.get(key)
    return rows if isinstance(rows, list) else []


def build_faults(window: Window) -> None:
    """Panel “Faults”: one form per earth fault."""
    ui.label(
        "Each fault that the earthing must survive. Shock time and thermal time are kept apart: people "
        "are exposed until the main protection clears, metal must last until the back-up does."
    ).classes("eg-soft")
    rows = _sections(window, "faults")
    section_head(f"Faults ({len(rows)})", ("Add", adder(window, (), FILE_ROWS["faults"], "Fault")))
    for i, fault in enumerate(rows):
        name = str(fault.get("name", f"fault {i + 1}")) if isinstance(fault, dict) else f"fault {i + 1}"
        buttons: list[tuple[str, Any]] = [("Copy", copier(window, ("faults", i)))]
        if len(rows) > 1:
            buttons.append(
                ("Remove", lambda i=i: window.act(lambda d: d.apply([Drop(("faults", i))], "remove a fault")))
            )
        section_head(name, *buttons)
        section_form(window, ("faults", i), FaultFile)


def build_conductors(window: Window) -> None:
    """Panel “Conductors”: one form per kind, with the outcome of sizing beside it."""
    conductors = window.studio.desk.data.get("conductors")
    outcome = window.studio.desk.outcome
    keys = list(conductors) if isinstance(conductors, dict) else []
    add = adder(window, (), FILE_ROWS["conductors"], "Conductor")
    section_head(f"Kinds of conductor ({len(keys)})", ("Add", add))
    for key in keys:
        place = ("conductors", str(key))
        remove = lambda p=place: window.act(lambda d: d.apply([Drop(p)], "remove a conductor"))  # noqa: E731
        section_head(str(key), *((("Remove", remove),) if len(keys) > 1 else ()))
        sized = outcome.study.conductors.get(key) if outcome else None
        if sized is not None:
            metal = sized.remaining_area_mm2 or sized.stock_area_mm2
            ui.label(
                f"needs {sized.required_area_mm2:.1f} mm² new ({sized.governed_by}, “{sized.scenario}”, "
                f"final temperature {sized.final_temperature_c:.0f} °C by {sized.limited_by}); "
                f"left at the end of life {metal:.1f} mm²"
                if metal
                else "no section is large enough"
            ).classes("eg-soft")
            ui.button("Why", on_click=lambda k=key: _sizing(window, str(k))).props(
                f'flat dense no-caps aria-label="Why: section of {key}"'
            )
        section_form(window, place, ConductorFile)


def _sizing(window: Window, key: str) -> None:
    outcome = window.studio.desk.outcome
    if outcome is None:
        return
    study = outcome.study
    sized = study.conductors[key]
    words = [
        f"Governed by {sized.governed_by}, fault “{sized.scenario}”; temperature limited by "
        f"{sized.limited_by}."
    ]
    show_number(window, f"Section of {key}", words, [s for s in study.steps if s.label == key])


def build_limits(window: Window) -> None:
    """Panel “Limits”: how touch and step are judged, the tolerable voltages, other standards beside them."""
    outcome = window.studio.desk.outcome
    if outcome is None:
        empty(window, "No limits yet.", "They follow from body, time and cover with the first result.")
    else:
        _tolerable(window, outcome.study)
    section_head("How it is judged")
    form(window, ("assessment",), "assessment")
    for row in nested_rows(AssessmentFile):
        if row.key in ("person", "exposure", "entry_points"):
            nested_part(window, ("assessment",), row)
    ui.label("Zones of surface cover").classes("eg-h")
    nested_part(window, (), FILE_ROWS["surface"])


def _tolerable(window: Window, study: Study) -> None:
    def why(number: int) -> None:
        x = study.limits[number]
        words = [
            f"Touch {x.touch_v:.0f} V, step {x.step_v:.0f} V, cover factor {x.surface_factor:.3f}.",
            *x.notes,
        ]
        clause = "; ".join(dict.fromkeys(c for c in (x.clause, x.step_clause, x.evidence) if c))
        steps = limit_steps(study, x.zone, x.scenario)
        show_number(window, f"Tolerable voltages: {x.zone}, {x.scenario}", words, steps, clause)

    ui.label("Tolerable voltages").classes("eg-h")
    table(
        ("Zone and fault", "Cover", "Touch, V", "Step, V"),
        [
            (f"{x.zone}, {x.scenario}", f"{x.surface_factor:.3f}", f"{x.touch_v:.0f}", f"{x.step_v:.0f}")
            for x in study.limits
        ],
        label="Tolerable voltages",
        right=1,
        why=why,
    )
    for words in dict.fromkeys(x.clause for x in study.limits if x.clause):
        ui.label(words).classes("eg-soft")
    _risk(study)
    ui.label("Other standards").classes("eg-h")
    if not study.comparison:
        ui.label(
            "Switch on “Compare standards” below: the worst voltages are then set against every standard "
            "that the program knows, with its edition and how well its values are known."
        ).classes("eg-soft")
        return
    table(
        ("Standard", "Zone", "Fault", "Touch", "Step", "Evidence"),
        [
            (
                f"{c.title} {c.edition}".strip(),
                c.zone,
                c.scenario,
                _share(c.touch_v, c.touch_limit_v),
                _share(c.step_v, c.step_limit_v),
                c.evidence + (f"; {c.remark}" if c.remark else ""),
            )
            for c in study.comparison
        ],
        label="The worst voltages against other standards",
    )


def _share(value: float | None, limit: float | None) -> str:
    if value is None or limit is None:
        return "no limit given"
    sign = "✓" if value <= limit else "✕"
    return f"{sign} {format_percent(value / limit)} of {format_quantity(limit, 'V')}"


def _risk(study: Study) -> None:
    if not study.risks:
        return
    ui.label("Risk of a fatal shock").classes("eg-h")
    table(
        ("Zone", "Persons", "Individual, per year", "Band"),
        [
            (
                r.zone,
                str(r.people),
                "not decided" if r.individual_per_year is None else f"{r.individual_per_year:.1e}",
                r.band,
            )
            for r in study.risks
        ],
        label="Risk of a fatal shock",
    )


def build_project(window: Window) -> None:
    """Panel “Project”: title page, declarations, assumptions, and what the study covers."""
    section_form(window, ("project",), IdentityFile)
    nested_part(window, (), FILE_ROWS["declarations"], "Declarations")
    ui.label("Assumptions").classes("eg-h")
    form(window, (), ProjectFile, leave=tuple(k for k in ProjectFile.model_fields if k not in BASICS))
    for key, row in FILE_ROWS.items():
        if key not in ELSEWHERE:
            nested_part(window, (), row)
    outcome = window.studio.desk.outcome
    around = outcome.study.surroundings if outcome else None
    if around is not None and around.coverage:
        ui.label("What the study covers").classes("eg-h")
        table(
            ("Subject", "State", "How", "By"),
            [(c.subject, c.status, c.how, c.by) for c in around.coverage],
            label="What the study covers",
        )
