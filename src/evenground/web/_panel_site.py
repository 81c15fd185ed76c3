"""Panels “Site” and “Lightning”: equipment, fences, gates, services; masts, arresters; and what was found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from evenground.deliver.format import format_quantity
from evenground.model.study import urgency
from evenground.project._schema import ProjectFile
from evenground.web._fields import nested_rows
from evenground.web._panel_forms import form
from evenground.web._panel_sections import nested_part
from evenground.web._tables import table
from evenground.web._words import STATE, state_words

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.web._page import Window

__all__ = ["build_lightning", "build_site"]

SITE = ("equipment", "fences", "gates", "services", "separate_electrodes")
WORDS = {"kept": "✓ kept", "broken": "✕ not kept", "not kept": "✕ not kept", "not stated": "? not stated"}


def build_site(window: Window) -> None:
    """What stands on the site and crosses its boundary, and how it is joined to the mat."""
    ui.label(
        "What people touch and what carries voltage off the site. A list that is left out counts as not "
        "stated, never as none."
    ).classes("eg-soft")
    form(window, (), ProjectFile, leave=tuple(k for k in ProjectFile.model_fields if k != "practice"))
    rows = {r.key: r for r in nested_rows(ProjectFile)}
    for key in SITE:
        nested_part(window, (), rows[key])
    outcome = window.studio.desk.outcome
    if outcome is not None:
        _found(outcome.study)


def _found(study: Study) -> None:
    around = study.surroundings
    if around is not None and around.connections:
        ui.label("Connections").classes("eg-h")
        table(
            ("Item", "Kind", "Wanted", "Drawn", "Outcome"),
            [(c.tag, c.kind, c.wanted, c.drawn, WORDS.get(c.outcome, c.outcome)) for c in around.connections],
            label="Connections against their rules",
        )
    if around is not None and around.boundary is not None and around.boundary.transfers:
        ui.label("Voltage carried off the site").classes("eg-h")
        table(
            ("Service", "Disposal", "Fault", "Voltage", "Limit"),
            [
                (
                    t.name,
                    t.disposal.replace("_", " "),
                    t.scenario,
                    format_quantity(t.value_v, "V"),
                    format_quantity(t.limit_v, "V"),
                )
                for t in around.boundary.transfers
            ],
            right=3,
        )
    if study.rules:
        ui.label("National practice").classes("eg-h")
        table(
            ("Rule", "Wanted", "Found", "Outcome"),
            [(r.rule, r.wanted, r.found, WORDS.get(r.outcome, r.outcome)) for r in study.rules],
        )


def build_lightning(window: Window) -> None:
    """Masts, wires, what must not be struck, arresters."""
    outcome = window.studio.desk.outcome
    result = outcome.study.lightning if outcome else None
    if result is None:
        ui.label(
            "Lightning is looked at when masts, overhead earth wires or arresters are stated. Give one rule "
            "for the sphere: a protection level, the insulation, or a radius."
        ).classes("eg-soft")
    else:
        table(
            ("Checked", "Value", "Limit", "Outcome"),
            [
                (
                    check.title,
                    format_quantity(check.value, check.unit),
                    format_quantity(check.limit, check.unit),
                    f"{STATE[check.verdict][1]} {state_words(check)}",
                )
                for check in sorted(result.checks, key=lambda c: (urgency(c), c.title))
            ],
            label="Checks of lightning; the panel Result says why",
        )
        if result.impulses:
            table(
                ("Foot of", "Impulse impedance", "At power frequency"),
                [
                    (
                        name,
                        format_quantity(i.impulse_impedance_ohm, "ohm"),
                        format_quantity(i.resistance_ohm, "ohm"),
                    )
                    for name, i in zip(result.impulse_names, result.impulses, strict=False)
                ],
                right=1,
            )
    row = next(r for r in nested_rows(ProjectFile) if r.key == "lightning")
    nested_part(window, (), row)
