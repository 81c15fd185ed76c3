"""The one place that knows the order of the stages."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from evenground import _study_cases as cases
from evenground import _study_parts as parts
from evenground import _study_surroundings as around
from evenground._study_lightning import study_lightning
from evenground._study_quick import first_look, first_look_note
from evenground._study_rules import rule_outcomes
from evenground._study_sensitivity import with_sensitivity
from evenground._study_soil import soil_of
from evenground._study_split_findings import split_findings
from evenground._study_tests import with_site_tests
from evenground._version import __version__
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.fault import fault_currents
from evenground.model.study import Study
from evenground.provenance import labelled, recording

if TYPE_CHECKING:
    from evenground.model.project import Project

__all__ = ["run_study", "with_sensitivity", "with_site_tests"]

Progress = Callable[[str, float], None]


def run_study(project: Project, progress: Progress | None = None, *, quick: bool = False) -> Study:
    """Run the whole job on one project: soil, faults, conductors, electrode, field, safety.

    Parameters
    ----------
    project : Project
    progress : callable, optional
        Called with a text and the fraction done; may raise CancelledError to stop.
    quick : bool
        Only a first look: touch and step on a wide raster, no fences, services and lightning.

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
    tell = progress or (lambda text, done: None)
    asked, project = project, first_look(project) if quick else project
    with recording() as sheet:
        tell("soil model", 0.02)
        soil = soil_of(project)
        faults = tuple(
            labelled(
                f.name,
                fault_currents,
                f,
                frequency_hz=project.frequency_hz,
                share_later=parts.share_later(project, f),
            )
            for f in project.faults
        )
        conductors = {k: labelled(k, size_conductor, r, faults) for k, r in project.conductors.items()}
    radii_m = {k: c.radius_m for k, c in conductors.items()}
    layout = build_electrode(project.mats, project.rods, project.runs, radii_m, project.separate)
    metalwork = around.connections(project, faults, layout)
    results = cases.run_cases(project, soil, faults, conductors, layout, tell, quick=quick)
    worst = results[0]
    lightning = study_lightning(project, layout, worst.soil, worst.field.resistance_ohm)
    tell("study complete", 1.0)
    return Study(
        project=asked,
        version=__version__,
        soil=soil,
        faults=worst.faults,
        split=worst.split,
        conductors=conductors,
        electrode=layout.electrode,
        field=worst.field,
        closed_form=worst.closed_form,
        gpr_v=worst.gpr_v,
        limits=worst.safety.limits,
        shocks=worst.safety.shocks,
        checks=(*worst.checks, *metalwork.checks, *(lightning.checks if lightning else ())),
        findings=(
            *parts.findings(project, soil, faults, conductors, layout, worst.checks),
            *worst.safety.findings,
            *metalwork.findings,
            *worst.boundary.findings,
            *split_findings(worst.split, worst.faults),
            *(lightning.findings if lightning else ()),
            *([first_look_note()] if quick else []),
        ),
        map=worst.safety.map,
        profiles=worst.safety.profiles,
        steps=(*sheet.steps, *worst.steps),
        not_checked=parts.not_checked(project, computed_split=len(worst.split) == len(faults)),
        quantities=parts.quantities(layout),
        comparison=worst.safety.comparison,
        soil_cases=cases.summaries(results, project),
        soil_used=worst.soil,
        separate=worst.separate,
        separate_metal=layout.separate,
        metal_drop=worst.metal_drop,
        sections=worst.sections,
        surroundings=around.surroundings(project, metalwork, worst.boundary),
        risks=worst.risks,
        lightning=lightning,
        rules=rule_outcomes(
            project,
            worst.safety.limits,
            conductors,
            worst.field.resistance_ohm,
            worst.gpr_v,
            worst.soil,
            {f.scenario.name: f.scenario.exposure_s for f in worst.faults},
        ),
    )
