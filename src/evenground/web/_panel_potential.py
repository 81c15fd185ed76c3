"""Panel “Potential”: the surface of the ground in three dimensions, and sections in depth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from evenground.deliver.format import format_quantity
from evenground.project._schema_site import AssessmentFile
from evenground.web._charts import depth_chart, surface_chart
from evenground.web._fields import nested_rows
from evenground.web._panel_result import empty
from evenground.web._panel_sections import nested_part

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_potential"]


def build_potential(window: Window) -> None:
    """3-D surface first, then each section, then the forms of the sections."""
    outcome = window.studio.desk.outcome
    if outcome is None:
        empty(window, "No potential surface yet.", "It appears with the first result.")
    else:
        study = outcome.study
        ui.label(f"Potential of the ground, fault “{study.map.scenario}”").classes("eg-h")
        chart = ui.plotly(surface_chart(study, window.dark)).classes("eg-chart high")
        chart.props('role="img" aria-label="Potential of the ground as a surface over the plan"')
        rise = format_quantity(study.gpr_v[study.map.scenario], "V")
        for section in study.sections:
            ui.label(f"In depth below “{section.name}”; potential rise {rise}").classes("eg-h")
            chart = ui.plotly(depth_chart(study, section, window.dark)).classes("eg-chart section")
            chart.props(
                f'role="img" aria-label="Potential in depth, section {section.name.replace(chr(34), "")}"'
            )
        if not study.sections:
            empty(
                window,
                "No section in depth yet.",
                "Draw a line with the plan tool Section (key 8), or add one here with numbers.",
            )
    row = next(r for r in nested_rows(AssessmentFile) if r.key == "sections")
    nested_part(window, ("assessment",), row, "Sections in depth")
