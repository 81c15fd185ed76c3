"""Coupling through the soil between the mat and the earths of the network that have a place in plan.

The potential that one ampere from the mat gives to a floating piece of metal is the mat's field averaged
over that metal with the weights of its own leakage (Green's reciprocity): exact but for the little by which
a footing changes how the mat leaks. The earths among themselves are solved together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, LineString

from evenground.electrode import placed_metal
from evenground.errors import Finding, InputError, Severity
from evenground.field import solve_groups, touching_groups
from evenground.model.coupling import CoupledEarth, CouplingEffect, NearbyFault, PlacedEarth, SoilCoupling
from evenground.model.split import HOME, EarthMatrix

if TYPE_CHECKING:
    from evenground._study_field import SolvedMetal
    from evenground.field import GroupSolution
    from evenground.model.electrode import Electrode
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.network import Network, ScenarioSplit
    from evenground.model.project import Project
    from evenground.model.soil import LayeredSoil
    from evenground.model.split import SplitResult

__all__ = [
    "at_resistance",
    "coupling_effect",
    "coupling_findings",
    "fence_places",
    "mat_places",
    "nearby_fault",
    "soil_coupling",
    "soil_coupling_from_far",
]

FloatArray = NDArray[np.float64]
SEGMENT_M = 2.0
"""Largest segment of a placed earth, unless its metal is so thick that a longer one is needed. [m]"""
THICKEST = 4.5
"""Segments of this many radii at least."""
NEAREST_M = 1.0
"""Metal nearer to the mat than this belongs to it. [m]"""
LOWERED = 0.001
"""A rise lowered by less than this share is not worth a word."""
UNEVEN = 0.02
"""Neighbours that lift the ground along the mat more unevenly than this share of the rise are a finding."""
EDGE_PLACES = 48
"""Places along each outline of a mat, and along each fence, where the lift by the neighbours is looked at."""


def soil_coupling(
    network: Network | None, layout: ElectrodeLayout, layers: LayeredSoil, solved: SolvedMetal
) -> SoilCoupling | None:
    """Mutual resistances of the mat and every placed earth in one soil; None when none is placed.

    Parameters
    ----------
    layout : ElectrodeLayout
        The bonded metal, to see how near the earths stand.
    solved : SolvedMetal
        Its field in this soil.

    Raises
    ------
    InputError
        When an earth stands on the mat, touches another, or its stated resistance is lower than what the
        mat alone puts there.
    """
    if network is None or not network.placed:
        return None
    groups = _solve(network.placed, layout, layers)
    at_segments = np.abs((solved.phasor or solved.unit_v)(groups.segments.middle.T))
    leaked = groups.current_a_per_v @ groups.resistance_ohm  # of each segment, one ampere from each group
    mutual = solved.resistance_ohm * (at_segments @ leaked)
    by_name = dict(zip(groups.groups, map(float, mutual), strict=True))
    return _joined(network, layout.electrode, groups, solved.resistance_ohm, by_name)


def soil_coupling_from_far(
    network: Network | None, layout: ElectrodeLayout, layers: LayeredSoil, resistance_ohm: float
) -> SoilCoupling | None:
    """The same without a solution of the mat, for searches: the mat leaks evenly along its metal."""
    if network is None or not network.placed:
        return None
    groups = _solve(network.placed, layout, layers)
    middle = np.array([np.add(c.start_m, c.end_m) / 2 for c in layout.electrode])
    length = np.array([c.length_m for c in layout.electrode])
    mutual = {}
    for earth in network.placed:
        state = groups.energise(current_a={earth.name: 1.0})
        mutual[earth.name] = float(np.average(state.field_v(middle).real, weights=length))
    return _joined(network, layout.electrode, groups, resistance_ohm, mutual)


def _solve(placed: Sequence[PlacedEarth], layout: ElectrodeLayout, layers: LayeredSoil) -> GroupSolution:
    metal = placed_metal(placed)
    _refuse_contact(placed, layout, metal)
    segment_m = max(SEGMENT_M, THICKEST * max(c.radius_m for c in metal))
    return solve_groups(metal, layers, segment_m=segment_m)


def _joined(
    network: Network,
    electrode: Electrode,
    groups: GroupSolution,
    resistance_ohm: float,
    mutual: dict[str, float],
) -> SoilCoupling:
    stated = network.earths_ohm
    names = groups.groups
    size = len(names) + 1
    rows = np.zeros((size, size))
    rows[0, 0] = resistance_ohm
    rows[1:, 1:] = groups.resistance_ohm
    for k, name in enumerate(names, 1):
        rows[k, k] = stated[name].real
        rows[0, k] = rows[k, 0] = mutual[name]
    _refuse_too_low(network.placed, rows)
    matrix = EarthMatrix((HOME, *names), tuple(map(tuple, rows.tolist())), keeps_own=True)
    gaps = _distances_m(network.placed, electrode)
    own = dict(zip(names, np.diag(groups.resistance_ohm).tolist(), strict=True))
    earths = tuple(
        CoupledEarth(e.name, e.label, e.at_m, gaps[e.name], mutual[e.name], stated[e.name].real, own[e.name])
        for e in network.placed
    )
    return SoilCoupling(earths, matrix)


def _refuse_too_low(placed: Sequence[PlacedEarth], rows: FloatArray) -> None:
    """A stated resistance below the coupling would be an earth that gives power."""
    findings = []
    for k, earth in enumerate(placed, 1):
        others = np.delete(rows[k], k)
        bounds = np.sqrt(rows[k, k] * np.delete(np.diag(rows), k))
        worst = int(np.argmax(others / np.maximum(bounds, 1e-300)))
        if others[worst] >= bounds[worst]:
            text = (
                f"{earth.label}: its stated resistance of {rows[k, k]:g} ohm is lower than its place allows, "
                f"where a neighbour or the mat alone gives it {others[worst]:.3g} ohm"
            )
            advice = "state the resistance of this earth by itself, or correct its place"
            findings.append(Finding("earth-place", text, advice, path=earth.path))
    if not findings and float(np.linalg.eigvalsh(rows)[0]) <= 0.0:
        text = "the stated resistances of the placed earths are together lower than their places allow"
        findings.append(Finding("earth-place", text, "correct them, or their places", path=("network",)))
    if findings:
        raise InputError(findings)


def _refuse_contact(placed: Sequence[PlacedEarth], layout: ElectrodeLayout, metal: Electrode) -> None:
    findings = []
    gaps = _distances_m(placed, layout.electrode)
    mats = shapely.union_all([shapely.Polygon(o) for o in layout.outlines_m])
    for earth in placed:
        if gaps[earth.name] < NEAREST_M or mats.contains(shapely.Point(earth.at_m)):
            text = f"{earth.label} stands on the mat of this station or {gaps[earth.name]:.2f} m beside it"
            advice = "metal bonded to the mat is drawn under runs; correct the place, or leave it out"
            findings.append(Finding("earth-place", text, advice, path=earth.path))
    paths = {earth.name: earth for earth in placed}
    for one, other, _ in touching_groups(metal):
        text = f"{paths[one].label} touches {paths[other].label}"
        advice = "correct their places, or describe them as one earth"
        findings.append(Finding("earth-place", text, advice, path=paths[other].path))
    if findings:
        raise InputError(findings)


def _plan(start_m: Sequence[float], end_m: Sequence[float]) -> shapely.Geometry:
    a, b = tuple(start_m[:2]), tuple(end_m[:2])
    return shapely.Point(a) if a == b else shapely.LineString([a, b])


def _distances_m(placed: Sequence[PlacedEarth], electrode: Electrode) -> dict[str, float]:
    """From the metal of each placed earth to the nearest metal of the mat, in plan. [m]"""
    mats = shapely.union_all([_plan(c.start_m, c.end_m) for c in electrode])
    metal = placed_metal(placed)
    return {
        e.name: float(
            shapely.union_all([_plan(c.start_m, c.end_m) for c in metal.of_group(e.name)]).distance(mats)
        )
        for e in placed
    }


def at_resistance(
    coupling: SoilCoupling | None, resistance_ohm: float, *, mutual_factor: float = 1.0
) -> SoilCoupling | None:
    """The coupling for a mat of another resistance; ``mutual_factor`` where all soil changes by a factor.

    Stated resistances stay, since they are stated. [ohm]
    """
    if coupling is None:
        return None
    rows = np.array(coupling.matrix.resistance_ohm)
    own = np.diag(rows).copy()
    own[0] = resistance_ohm
    rows *= mutual_factor
    np.fill_diagonal(rows, own)
    matrix = EarthMatrix(coupling.matrix.groups, tuple(map(tuple, rows.tolist())), keeps_own=True)
    return SoilCoupling(coupling.earths, matrix)


def coupling_effect(
    coupling: SoilCoupling,
    coupled: SplitResult,
    alone: SplitResult,
    places_m: FloatArray,
    fences_m: FloatArray | None = None,
) -> CouplingEffect:
    """The same fault place with and without coupling; ``places_m`` lie along the mat, others along fences."""
    with_v, with_a = _at_earths(coupled)
    without_v, _ = _at_earths(alone)
    names = [e.name for e in coupling.earths]
    gpr = abs(coupled.gpr_v)
    return CouplingEffect(
        coupling=coupling,
        gpr_v=gpr,
        gpr_without_v=abs(alone.gpr_v),
        split_factor=coupled.split_factor,
        split_without=alone.split_factor,
        mat_alone_v=abs(coupled.mat_current_a * coupled.mat_resistance_ohm),
        potential_v=tuple(abs(with_v[n]) for n in names),
        potential_without_v=tuple(abs(without_v[n]) for n in names),
        current_a=tuple(abs(with_a[n]) for n in names),
        uneven=_uneven(coupling, with_a, places_m, places_m) / gpr if gpr else 0.0,
        uneven_fences=(
            _uneven(coupling, with_a, places_m, fences_m) / gpr
            if gpr and fences_m is not None and len(fences_m)
            else 0.0
        ),
    )


def nearby_fault(
    coupling: SoilCoupling, result: SplitResult, places_m: FloatArray, fences_m: FloatArray
) -> NearbyFault:
    """What a fault at a placed tower does beside the mat; places as for :func:`coupling_effect`. [m -> V]"""
    _, with_a = _at_earths(result)
    return NearbyFault(
        place=result.place.name,
        mat_alone_v=abs(result.mat_current_a * result.mat_resistance_ohm),
        uneven_v=_uneven(coupling, with_a, places_m, places_m),
        uneven_fences_v=_uneven(coupling, with_a, places_m, fences_m) if len(fences_m) else 0.0,
    )


def mat_places(project: Project) -> FloatArray:
    """Places all along the outlines of the mats and the runs, and every rod, in plan. [m]"""
    lines: list[LineString] = [LinearRing(m.outline_m) for m in project.mats]
    lines += [LineString(run.points_m) for run in project.runs]
    rods = [p for r in project.rods for p in r.at_m]
    return _along(lines, rods)


def fence_places(project: Project) -> FloatArray:
    """Places all along the fences that are of metal, in plan. [m]"""
    rows = [f for f in project.installation.fences if f.bonding != "insulating"]
    return _along([(LinearRing if f.closed else LineString)(f.points_m) for f in rows], ())


def _along(lines: Sequence[LineString], points_m: Sequence[tuple[float, float]]) -> FloatArray:
    """Points of the lines at equal distances, with their corners, and single points. [m]"""
    rows = [shapely.get_coordinates(shapely.segmentize(x, x.length / EDGE_PLACES)) for x in lines if x.length]
    return np.vstack([*rows, np.reshape(np.asarray(points_m, dtype=float), (-1, 2))])


def _at_earths(result: SplitResult) -> tuple[dict[str, complex], dict[str, complex]]:
    """Potential of every earth, and its current into the soil. [V, A]"""
    volts, amperes = dict(result.potentials_v), dict(result.earth_currents_a)
    for row in result.towers:
        name = f"{row.line}/{row.number}"
        volts[name], amperes[name] = row.potential_v, row.earth_current_a
    return volts, amperes


def _uneven(
    coupling: SoilCoupling, current_a: dict[str, complex], mat_m: FloatArray, places_m: FloatArray
) -> float:
    """How far the lift by the neighbours differs from its mean along the mat, anywhere at the places. [V]

    Each neighbour is a point at its place; its field falls with distance from there, so that it is scaled
    to its mutual resistance. The mat, which evens the field out, is left out: a bound from above.
    """
    lift = np.zeros(len(places_m), dtype=complex)
    for earth in coupling.earths:
        at = np.asarray(earth.at_m)
        # no nearer than the metal itself is wide: its own potential is none of the mat
        near = 1.0 / np.maximum(np.hypot(*(places_m - at).T), NEAREST_M)
        mean = np.mean(1.0 / np.maximum(np.hypot(*(mat_m - at).T), NEAREST_M))
        lift += current_a[earth.name] * earth.mutual_ohm * (near / mean - 1.0)
    return float(np.max(np.abs(lift)))


def coupling_findings(splits: Sequence[ScenarioSplit]) -> tuple[Finding, ...]:
    """Where neighbours stand so near that touch and step along the mat need a closer look."""
    rows = []
    for split in splits:
        effect = split.coupling
        if effect is not None and effect.uneven > UNEVEN:
            near = min(effect.coupling.earths, key=lambda e: e.distance_m)
            text = (
                f"{split.scenario}: {near.label}, {near.distance_m:.0f} m from the mat, and others lift "
                f"the ground along the mat unevenly, by up to {effect.uneven:.1%} of the potential rise"
            )
            advice = "the check of touch beside neighbouring earths adds that much"
            rows.append(Finding("coupling-uneven", text, advice, Severity.NOTE, ("network",)))
        if effect is not None and effect.gpr_v < (1.0 - LOWERED) * effect.mat_alone_v:
            text = (
                f"{split.scenario}: earths of the other sign near by lower the potential rise to "
                f"{effect.gpr_v:.0f} V, the mat by itself gives {effect.mat_alone_v:.0f} V (without the "
                "decrement factor)"
            )
            advice = "the higher one is used: such neighbours do not lower touch and step voltages"
            rows.append(Finding("coupling-lowers", text, advice, Severity.NOTE, ("network",)))
    return tuple(rows)
