"""Connections, fences and services: the pieces that :mod:`evenground.study` joins the rooms with."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from evenground import _study_coverage as cover
from evenground._study_field import MAIN, field_summary, links_of, main_group, with_backfill
from evenground.bonding import check_connections, duty_of, judge_connections, riser_groups
from evenground.conductor import size_conductor
from evenground.electrode import OwnMetal, boundary_metal, fence_pieces, with_potentials
from evenground.errors import Finding, InputError
from evenground.field import Link, solve_groups
from evenground.model.services import NetworkPotential
from evenground.model.study import Check, FieldSummary
from evenground.model.surroundings import Boundary, Connection, RiserDuty, Surroundings
from evenground.provenance import labelled
from evenground.safety import BoundaryCase, assess_boundary, field_doubt

if TYPE_CHECKING:
    from evenground._study_field import SolvedMetal
    from evenground.model.fault import FaultResult
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.network import ScenarioSplit
    from evenground.model.project import Project
    from evenground.model.services import Service
    from evenground.model.soil import LayeredSoil
    from evenground.model.study import ZoneLimit

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Field = Callable[[FloatArray, FloatArray], ComplexArray]


@dataclass(frozen=True)
class Second:
    """The field of mat, fences and services together, judged as the first solution is.

    ``held_error`` is the estimated relative error of the conductance of metal with a stated potential,
    ``own_error`` that of every piece of other metal. [-, ohm]
    """

    field: Field
    potentials: dict[str, complex]
    own_ohm: dict[str, float]
    summary: FieldSummary
    doubt: str
    held_error: float
    own_error: dict[str, float]


@dataclass(frozen=True)
class Connections:
    """Equipment against the rules, leads at full current, and what follows."""

    rows: tuple[Connection, ...]
    duties: tuple[RiserDuty, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


def connections(project: Project, faults: Sequence[FaultResult], layout: ElectrodeLayout) -> Connections:
    """The equipment list against the rules for its connections."""
    built = project.installation
    rows = check_connections(
        built.equipment, built.practice, layout.electrode, layout.outlines_m, project.assessment
    )
    groups = riser_groups(built.equipment, project.conductors, faults)
    duties = tuple(
        duty_of(g, labelled(f"lead {g.request.role}, full current", size_conductor, g.request, g.faults))
        for g in groups
    )
    checks, findings = judge_connections(rows, duties)
    return Connections(rows, duties, checks, findings)


def boundary(
    project: Project,
    layout: ElectrodeLayout,
    layers: LayeredSoil,
    solved: SolvedMetal,
    limits: Sequence[ZoneLimit],
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
    error: float,
    doubt: str,
    split: Sequence[ScenarioSplit] = (),
) -> Boundary:
    """Fences, gates, services and contours for one soil.

    Metal with a potential of its own is solved together with the mat; the mat is held at the potential
    rise found for it alone, which leaves out the little that bonded metal outside takes off it.
    """
    built = project.installation
    pieces = fence_pieces(built.fences)
    own = boundary_metal(built, pieces)
    potentials: dict[str, complex] = {}

    field = _alone(solved)
    second: Second | None = None
    if len(own.electrode):
        second = _together(project, layout, layers, own)
        field, potentials, resistances = second.field, second.potentials, second.own_ohm
        doubt = doubt or second.doubt
        error = max(error, second.held_error)
        floating = {k: abs(v) for k, v in potentials.items()}
        pieces = with_potentials(pieces, floating, resistances)
    return assess_boundary(
        BoundaryCase(
            field=field,
            potentials=potentials,
            pieces=pieces,
            installation=built,
            outlines_m=layout.outlines_m,
            metal_m=[(c.start_m[:2], c.end_m[:2]) for c in layout.electrode],
            zones=project.surface,
            limits=limits,
            faults=faults,
            gpr_v=gpr_v,
            assessment=project.assessment,
            error=error,
            touch=solved.surface.touch,
            doubt=doubt,
            solution=second.summary if second else None,
            own_error=second.own_error if second else {},
            from_network=_from_network(built.services, split, faults),
        )
    )


def _from_network(
    services: Sequence[Service], split: Sequence[ScenarioSplit], faults: Sequence[FaultResult]
) -> dict[tuple[str, str], NetworkPotential]:
    """What the network puts on the metal of each service that belongs to one of its earths."""
    offset = {f.scenario.name: f.decrement_shock for f in faults}
    found = {}
    for row in split:
        times = offset[row.scenario]
        earths = {w.name: w for w in row.watched}
        for service in services:
            if service.network_earth in earths:
                w = earths[service.network_earth]
                found[service.name, row.scenario] = NetworkPotential(
                    times * w.potential_v, w.place, times * w.apart_v, w.apart_place
                )
    return found


def _alone(solved: SolvedMetal) -> Field:
    """Surface potential of the metal that the study has solved."""

    def field(x_m: FloatArray, y_m: FloatArray) -> ComplexArray:
        points = np.column_stack([x_m, y_m, np.zeros(len(x_m))])
        return np.asarray((solved.phasor or solved.unit_v)(points), dtype=np.complex128)

    return field


def _together(project: Project, layout: ElectrodeLayout, layers: LayeredSoil, own: OwnMetal) -> Second:
    """Mat and other metal together, and how well that solution is known."""
    stated = {MAIN, *(item.name for item in project.separate)}
    clash = stated & set(own.electrode.groups)
    if clash:
        text = f"“{min(clash)}” is the name of other metal in the ground; give each its own"
        raise InputError([Finding("name-twice", text, path=("fences",))])
    electrode, backfill = with_backfill(main_group(layout.electrode) + layout.separate + own.electrode)
    try:
        groups = solve_groups(electrode, layers, segment_m=project.assessment.segment_m, backfill=backfill)
    except InputError as error:
        text = f"a separate fence or a service touches other metal: {error}"
        advice = "move it, or write bonding: bonded, disposal: bonded"
        raise InputError([Finding("metal-touches", text, advice, path=("fences",))]) from error
    links = links_of(project)
    links += [Link(MAIN, name, impedance) for name, impedance in own.links]
    state = groups.energise(potential_v=dict.fromkeys((MAIN, *own.held), 1.0 + 0j), links=links)
    index = {name: k for k, name in enumerate(groups.groups)}
    names = own.electrode.groups
    potentials = {name: state.potential_v[name] for name in names}
    resistances = {name: float(groups.resistance_ohm[index[name], index[name]]) for name in names}

    def field(x_m: FloatArray, y_m: FloatArray) -> ComplexArray:
        return state.field_v(np.column_stack([x_m, y_m, np.zeros(len(x_m))]))

    errors = dict(zip(groups.groups, map(float, groups.relative_error), strict=True))
    held = {MAIN, *own.held, *(name for name, _ in own.links)}
    resistance = float(groups.resistance_ohm[index[MAIN], index[MAIN]])
    worst = max(errors[name] for name in held)
    summary = field_summary(groups.report, layers, resistance, worst * resistance)
    reason = field_doubt(summary)
    return Second(
        field,
        potentials,
        resistances,
        summary,
        f"fences and services solved with the mat: {reason}" if reason else "",
        worst,
        {name: errors[name] for name in names},
    )


def without_a_place(project: Project, found: Boundary) -> tuple[str, ...]:
    """Metal at the boundary that people may touch where no touch voltage was found, each with the reason."""
    judged = {name for name, _ in found.swings}
    rows = [
        f"gate {g.name}, in no fence of metal" for g in project.installation.gates if g.name not in judged
    ]
    words = {
        "bonded": "its far end has no place in plan",
        "isolated": "metal outside its isolation has no place in plan",
        "open": "not disposed of",
    }
    for s in project.installation.services:
        drawn = bool(s.route_m or s.remote_rods_m)
        if s.disposal in words and not drawn:
            rows.append(f"service {s.name}, {words[s.disposal]}")
    rows += [f"fence {f.name}, insulating" for f in project.installation.fences if f.bonding == "insulating"]
    return tuple(rows)


def surroundings(project: Project, metalwork: Connections, found: Boundary) -> Surroundings:
    """Everything together, with the completeness page."""
    return Surroundings(
        boundary=found,
        connections=metalwork.rows,
        duties=metalwork.duties,
        coverage=cover.coverage(project, found),
    )
