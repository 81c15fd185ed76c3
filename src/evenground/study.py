"""The one place that knows the order of the stages."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from evenground import _study_parts as parts
from evenground._version import __version__
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.fault import fault_currents
from evenground.field import solve
from evenground.model.study import Study
from evenground.provenance import recording
from evenground.safety import assess_shocks, judge
from evenground.soil import interpret_soil

if TYPE_CHECKING:
    from evenground.model.project import Project

__all__ = ["run_study"]

Progress = Callable[[str, float], None]


def run_study(project: Project, progress: Progress | None = None) -> Study:
    """Run the whole job on one project: soil, faults, conductors, electrode, field, safety.

    Parameters
    ----------
    project : Project
    progress : callable, optional
        Called with a text and the fraction done; may raise CancelledError to stop.

    Returns
    -------
    Study

    Raises
    ------
    InputError
        When the data contradict each other in a way that only a stage can see.
    TooLargeError, NotConvergedError
        From the field solution.
    """
    tell = progress or (lambda text, fraction: None)
    with recording() as sheet:
        tell("soil model", 0.02)
        soil = interpret_soil(project.traverses, project.soil_choice, mat_extent_m=parts.extent_m(project))
        faults = tuple(fault_currents(f, frequency_hz=project.frequency_hz) for f in project.faults)
        conductors = {k: size_conductor(r, faults) for k, r in project.conductors.items()}
        layout = build_electrode(
            project.mats, project.rods, project.runs, {k: c.radius_m for k, c in conductors.items()}
        )
        tell("field solution", 0.1)
        solution = solve(
            layout.electrode,
            soil.soil,
            segment_m=project.assessment.segment_m,
            progress=lambda text, fraction: tell(f"field solution: {text}", 0.1 + 0.5 * fraction),
        )
        gpr_v = parts.potential_rise(faults, solution.resistance_ohm)
        field = parts.summarise_field(solution, soil.soil)
        closed_form = parts.closed_form(layout, soil, faults)
        tell("worst touch and step voltage", 0.6)
        native = project.assessment.native_resistivity_ohm_m or soil.soil.resistivities_ohm_m[0]
        safety = assess_shocks(
            parts.surface_potential(solution),
            layout.outlines_m,
            project.surface,
            faults,
            gpr_v,
            project.assessment,
            native,
        )
        checks = judge(
            safety.shocks, safety.limits, field, conductors, faults, gpr_v, closed_form, project.assessment
        )
    tell("study complete", 1.0)
    return Study(
        project=project,
        version=__version__,
        soil=soil,
        faults=faults,
        conductors=conductors,
        electrode=layout.electrode,
        field=field,
        closed_form=closed_form,
        gpr_v=gpr_v,
        limits=safety.limits,
        shocks=safety.shocks,
        checks=checks,
        findings=parts.findings(project, soil, faults, conductors, layout, checks),
        map=safety.map,
        profiles=safety.profiles,
        steps=tuple(sheet.steps),
        not_checked=parts.not_checked(project),
        quantities=parts.quantities(layout),
        comparison=safety.comparison,
    )
