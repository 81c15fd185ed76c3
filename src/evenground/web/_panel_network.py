"""Panel “Current”: where the fault current goes, path by path, and the network it follows from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.deliver._report_network import KINDS, angle_deg, own_splits
from evenground.deliver.format import format_percent, format_quantity
from evenground.project._schema import ProjectFile
from evenground.web._charts import rise_chart
from evenground.web._fields import nested_rows
from evenground.web._panel_result import empty, show_number
from evenground.web._panel_sections import nested_part
from evenground.web._sketch import split_sketch, stated_sketch
from evenground.web._tables import table

if TYPE_CHECKING:
    from evenground.model.network import ScenarioSplit
    from evenground.model.study import Study
    from evenground.web._page import Window

__all__ = ["build_current"]

MOST_PLACES = 14


def build_current(window: Window) -> None:
    """The sketch for one fault at a time, then the forms of the network."""
    outcome = window.studio.desk.outcome
    if outcome is None:
        empty(window, "No currents yet.", "They appear with the first result.")
    else:
        _shown(window, outcome.study)
    row = next(r for r in nested_rows(ProjectFile) if r.key == "network")
    nested_part(window, (), row, "Network")


def _shown(window: Window, study: Study) -> None:
    splits = {row.scenario: row for row in own_splits(study)}
    faults = {f.scenario.name: f for f in study.faults if not f.scenario.base}
    if not faults:
        return
    name = window.fault if window.fault in faults else study.map.scenario
    name = name if name in faults else next(iter(faults))
    chosen = ui.select(list(faults), value=name, label="Fault").props("dense outlined").classes("eg-wide")
    box = ui.element("div")

    def show(which: str) -> None:
        window.fault = which
        box.clear()
        with box:
            if which in splits:
                _solved(window, study, splits[which])
            else:
                _stated(window, study, faults[which])

    chosen.on_value_change(lambda e: show(str(e.value)))
    show(name)


def _stated(window: Window, study: Study, fault: Any) -> None:
    ui.html(stated_sketch(fault), sanitize=False)
    ui.label(
        f"The split factor {fault.scenario.split_factor:g} is stated, not computed. State lines, cables, far "
        "stations and neutrals below, and the current in every path follows from them."
    ).classes("eg-soft")
    table(
        ("Current", "Value"),
        (
            ("Earth-fault current 3I0 with growth", format_quantity(fault.earth_fault_current_a, "A")),
            ("Decrement factor, shock", f"{fault.decrement_shock:.3f}"),
            ("Into the soil through the mat", format_quantity(fault.grid_current_a, "A")),
            ("Through one connection, heating", format_quantity(fault.thermal_current_a, "A")),
            ("Potential rise", format_quantity(study.gpr_v.get(fault.scenario.name), "V")),
        ),
        right=1,
    )
    ui.button("Why", on_click=lambda: _why(window, study, fault.scenario.name)).props(
        'flat dense no-caps aria-label="Why: current into the soil and potential rise"'
    )


def _solved(window: Window, study: Study, split: ScenarioSplit) -> None:
    result = split.result
    ui.html(split_sketch(split), sanitize=False)
    ui.label(
        f"Governing place: {result.place.name}. 3I0 {format_quantity(abs(result.fault_current_a), 'A')}, of "
        f"which {format_quantity(abs(result.local_current_a), 'A')} circulates in metal; split factor "
        f"{format_percent(result.split_factor)}; potential rise with decrement "
        f"{format_quantity(study.gpr_v.get(split.scenario), 'V')}. Phasors do not add up by size."
    ).classes("eg-soft")
    ui.label("Every path").classes("eg-h")
    table(
        ("Path", "Kind", "Current", "Angle", "Share"),
        [
            (
                row.name,
                KINDS.get(row.kind, row.kind),
                format_quantity(abs(row.current_a), "A"),
                f"{angle_deg(row.current_a, result.fault_current_a):.0f}°",
                format_percent(row.share),
            )
            for row in sorted(result.paths, key=lambda p: -p.share)
        ],
        label="Current in every path",
        right=2,
    )
    ui.label("Into the soil").classes("eg-h")
    table(
        ("Earth", "Current"),
        [(name, format_quantity(abs(a), "A")) for name, a in result.earth_currents_a.items()],
        right=1,
    )
    ui.button("Why", on_click=lambda: _why(window, study, split.scenario)).props(
        'flat dense no-caps aria-label="Why: current into the soil and potential rise"'
    )
    _places(window, split)
    ui.label(
        f"Kirchhoff's current law is met within {result.worst_residual:.1e} of the fault current, the power "
        f"balance within {result.power_balance:.1e}."
    ).classes("eg-soft")
    for words in (*result.warnings, *result.notes, *split.notes):
        ui.label(words).classes("eg-soft")


def _why(window: Window, study: Study, scenario: str) -> None:
    words = [
        "The network of lines, cables and earths is solved as a circuit of phasors with the mat's own "
        "resistance in it; the formulas below lead from the currents to the potential rise."
    ]
    steps = [s for s in study.steps if s.label == scenario]
    show_number(window, f"Current and potential rise: {scenario}", words, steps)


def _places(window: Window, split: ScenarioSplit) -> None:
    if len(split.places) < 2:
        return
    ui.label(f"Places of the fault ({len(split.places)})").classes("eg-h")
    if any(p.route for p in split.places):
        chart = ui.plotly(rise_chart(split, window.dark)).classes("eg-chart low")
        chart.props('role="img" aria-label="Potential rise of the station against the place of the fault"')
    worst = sorted(split.places, key=lambda p: -p.gpr_v)[:MOST_PLACES]
    table(
        ("Place", "3I0", "Mat", "Split", "Rise"),
        [
            (
                p.place,
                format_quantity(p.fault_current_a, "A"),
                format_quantity(p.mat_current_a, "A"),
                format_percent(p.split_factor),
                format_quantity(p.gpr_v, "V"),
            )
            for p in worst
        ],
        label="Places of the fault, the highest potential rise first",
        marked=[n for n, p in enumerate(worst) if p.governs],
        right=1,
    )
