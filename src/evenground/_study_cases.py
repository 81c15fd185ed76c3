"""One soil after the other through field and safety; the worst one governs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from evenground import _study_parts as parts
from evenground import _study_surroundings as around
from evenground._study_coupling import soil_coupling
from evenground._study_field import depth_sections
from evenground._study_metal import solve_metal
from evenground._study_neighbours import neighbour_checks
from evenground._study_split import share_currents
from evenground._study_split_findings import refuse_beyond_drive
from evenground.errors import Finding, InputError
from evenground.model.metal import DepthSection, MetalDrop, SeparateResult
from evenground.model.study import (
    Check,
    ClosedFormResult,
    FieldSummary,
    SoilCase,
    Verdict,
    joint_verdict,
)
from evenground.model.surroundings import Boundary
from evenground.provenance import Step, recording
from evenground.safety import (
    SafetyResult,
    assess_risks,
    assess_separate,
    assess_shocks,
    field_doubt,
    judge,
    judge_drying,
    with_risks,
)
from evenground.soil import seasonal_soils, with_fill

if TYPE_CHECKING:
    from evenground._study_field import SolvedMetal
    from evenground.model.conductor import ConductorResult
    from evenground.model.electrode import Electrode
    from evenground.model.fault import FaultResult
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.network import ScenarioSplit
    from evenground.model.project import Project
    from evenground.model.risk import ZoneRisk
    from evenground.model.site import Point2
    from evenground.model.soil import LayeredSoil, SoilResult

__all__ = ["CaseResult", "run_cases", "shocks_everywhere", "soil_cases", "summaries"]

Progress = Callable[[str, float], None]
NO_BOUNDARY = Boundary()
NO_RISKS: tuple[ZoneRisk, ...] = ()


@dataclass(frozen=True)
class CaseResult:
    """Everything that depends on the soil, for one soil."""

    name: str
    soil: LayeredSoil
    field: FieldSummary
    gpr_v: dict[str, float]
    closed_form: ClosedFormResult
    safety: SafetyResult
    checks: tuple[Check, ...]
    steps: tuple[Step, ...]
    separate: tuple[SeparateResult, ...] = ()
    metal_drop: MetalDrop | None = None
    sections: tuple[DepthSection, ...] = ()
    boundary: Boundary = NO_BOUNDARY
    risks: tuple[ZoneRisk, ...] = ()
    faults: tuple[FaultResult, ...] = ()
    split: tuple[ScenarioSplit, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """Joint verdict of this case."""
        return joint_verdict(self.checks)

    def utilisation(self, quantity: str) -> float:
        """Largest value over limit of touch or step."""
        return max(s.value_v / s.limit_v for s in self.safety.shocks if s.quantity == quantity)


def soil_cases(soil: LayeredSoil, project: Project) -> dict[str, LayeredSoil]:
    """The soil after earthworks, as surveyed and in each season, by name."""
    works = project.earthworks
    try:
        if works is not None:
            soil = with_fill(
                soil,
                thickness_m=works.fill_m,
                resistivity_ohm_m=works.fill_resistivity_ohm_m or 0.0,
                removed_m=works.removed_m,
            )
        return seasonal_soils(soil, project.seasons)
    except ValueError as error:
        raise InputError([Finding("soil-case", f"{error}", path=("soil",))]) from error


def run_cases(
    project: Project,
    soil: SoilResult,
    faults: Sequence[FaultResult],
    conductors: dict[str, ConductorResult],
    layout: ElectrodeLayout,
    tell: Progress,
    *,
    quick: bool = False,
) -> tuple[CaseResult, ...]:
    """Field and safety for each soil case, the governing one first.

    The governing case is the one with the worst verdict, then with the smallest margin.
    """
    cases = soil_cases(soil.soil, project)
    found = []
    for number, (name, layers) in enumerate(cases.items()):
        low, high = 0.1 + 0.9 * number / len(cases), 0.1 + 0.9 * (number + 1) / len(cases)

        def part(text: str, done: float, low: float = low, high: float = high, name: str = name) -> None:
            label = f"{text} ({name})" if len(cases) > 1 else text
            tell(label, low + (high - low) * done)

        with recording() as sheet:
            result = _one_case(project, soil, faults, conductors, layout, name, layers, part, quick)
        found.append(replace(result, steps=tuple(sheet.steps)))
    order = {Verdict.FAIL: 0, Verdict.NOT_DECIDED: 1, Verdict.PASS: 2}
    worst = min(found, key=lambda c: (order[c.verdict], _smallest_margin(c.checks)))
    return (worst, *(c for c in found if c is not worst))


def _smallest_margin(checks: Sequence[Check]) -> float:
    margins = [c.margin for c in checks if c.governing and c.margin is not None and c.unit == "V"]
    return min(margins, default=0.0)


def _one_case(
    project: Project,
    soil: SoilResult,
    faults: Sequence[FaultResult],
    conductors: dict[str, ConductorResult],
    layout: ElectrodeLayout,
    name: str,
    layers: LayeredSoil,
    tell: Progress,
    quick: bool,
) -> CaseResult:
    tell("field solution", 0.05)
    solved = solve_metal(
        project,
        layout,
        layers,
        conductors,
        segment_m=project.assessment.segment_m,
        tell=lambda text, done: tell(f"field solution: {text}", 0.05 + 0.5 * done),
    )
    field = solved.summary
    tell("where the current goes", 0.55)
    coupling = soil_coupling(project.network, layout, layers, solved)
    faults, split = share_currents(project, faults, soil.soil, field.resistance_ohm, coupling)
    gpr_v = parts.potential_rise(faults, field.resistance_ohm)
    refuse_beyond_drive(faults, split, gpr_v, name)
    closed_form = parts.closed_form(layout, soil, layers, faults)
    tell("worst touch and step voltage", 0.55)
    native = parts.native_resistivity(project, name, layers)
    safety = shocks_everywhere(project, layout, solved, faults, gpr_v, native, quick=quick)
    tell("refinement of the segments", 0.9)
    if quick:
        errors = parts.rough_errors(field)
    else:
        errors = parts.refinement_errors(project, layout, layers, conductors, solved, safety.shocks)
    if solved.drop is not None:  # the field's own estimate knows nothing of the currents along the metal
        error_ohm = max(field.resistance_error_ohm, errors["resistance"] * field.resistance_ohm)
        field = replace(field, resistance_error_ohm=error_ohm)
    doubt = field_doubt(field) or parts.soil_doubt(soil)
    checks = judge(
        safety.shocks,
        safety.limits,
        field,
        conductors,
        faults,
        gpr_v,
        closed_form,
        project.assessment,
        errors,
        parts.soil_doubt(soil),
    )
    boundary = NO_BOUNDARY
    if not quick:
        boundary = around.boundary(
            project, layout, layers, solved, safety.limits, faults, gpr_v, errors["touch"], doubt, split
        )
    checks = (*checks, *boundary.checks)
    checks += neighbour_checks(safety.shocks, boundary.shocks, split, faults, errors["touch"], doubt)
    every, risks = (*safety.shocks, *boundary.shocks), NO_RISKS
    if not quick:
        error, gaps = max(errors["touch"], boundary.error), around.without_a_place(project, boundary)
        risks = assess_risks(project.surface, every, faults, project.assessment, native, error, gaps)
    second = field_doubt(boundary.solution) if boundary.solution else ""
    checks, notes = with_risks(checks, risks, every, field, parts.soil_doubt(soil) or second)
    drying, dry = judge_drying(
        solved.leak,
        layers,
        faults,
        gpr_v,
        [row.standard for row in safety.limits],
        doubt,
    )
    checks = (*checks, *drying)
    safety = replace(safety, findings=(*safety.findings, *notes, *dry))
    return CaseResult(
        name,
        layers,
        field,
        gpr_v,
        closed_form,
        safety,
        checks,
        (),
        separate=solved.separate(project, gpr_v),
        faults=tuple(faults),
        split=split,
        metal_drop=solved.metal_drop(gpr_v),
        sections=depth_sections(solved, project.assessment.sections),
        boundary=boundary,
        risks=risks,
    )


def shocks_everywhere(
    project: Project,
    layout: ElectrodeLayout,
    solved: SolvedMetal,
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
    native_resistivity_ohm_m: float,
    *,
    quick: bool = False,
) -> SafetyResult:
    """Touch and step around the bonded metal, and touch at each separate electrode. [V, ohm m]"""
    safety = assess_shocks(
        solved.surface,
        layout.outlines_m,
        project.surface,
        faults,
        gpr_v,
        project.assessment,
        native_resistivity_ohm_m,
        plan_of(layout.electrode + layout.separate),
        quick=quick,
    )
    separate, near = assess_separate(
        solved.surface.potential,
        solved.touchable(project, layout),
        plan_of(layout.electrode),
        project.surface,
        safety.limits,
        faults,
        gpr_v,
        project.assessment,
    )
    return replace(safety, shocks=(*safety.shocks, *separate), findings=(*safety.findings, *near))


def plan_of(electrode: Electrode) -> list[tuple[Point2, Point2]]:
    """The conductors in plan. [m]"""
    return [(c.start_m[:2], c.end_m[:2]) for c in electrode]


def summaries(cases: Sequence[CaseResult], project: Project) -> tuple[SoilCase, ...]:
    """One row per soil case, in the order they were asked for; the first given governs."""
    reasons = {s.name: s.reason for s in project.seasons}
    rows = [
        SoilCase(
            name=c.name,
            soil=c.soil,
            resistance_ohm=c.field.resistance_ohm,
            gpr_v=max(c.gpr_v.values()),
            worst_touch=c.utilisation("touch"),
            worst_step=c.utilisation("step"),
            verdict=c.verdict,
            governs=c is cases[0],
            note=reasons.get(c.name, ""),
            split_factors={row.scenario: row.result.split_factor for row in c.split},
        )
        for c in cases
    ]
    names = ["as surveyed", *(s.name for s in project.seasons)]
    return tuple(sorted(rows, key=lambda r: names.index(r.name)))
