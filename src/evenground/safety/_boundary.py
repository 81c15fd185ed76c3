"""What can be touched at the boundary of the site and what leaves it: fences, gates, services, contours."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from evenground.model.fault import FaultResult
from evenground.model.installation import Fence, Gate, Installation
from evenground.model.services import NetworkPotential
from evenground.model.site import Assessment, Point2, SurfaceZone
from evenground.model.study import Check, FieldSummary, ShockResult, ZoneLimit
from evenground.model.surroundings import Boundary, Contour, FencePiece, FenceProfile, Touched
from evenground.safety._contours import contours, far_contours
from evenground.safety._fence_checks import FLOATING_ERROR, arrangement_checks, touch_check, unjudged_gates
from evenground.safety._fences import (
    fence_spots,
    gate_piece,
    inside_of,
    ring_of,
    stations,
    swing_area,
    swing_spots,
    worst_by_zone,
)
from evenground.safety._islands import Island, islands
from evenground.safety._surface import Potential
from evenground.safety._transferred import assess_services
from evenground.safety._zones import FloatArray, ZoneIndex

__all__ = ["BoundaryCase", "Field", "assess_boundary"]

Field = Callable[[FloatArray, FloatArray], NDArray[np.complex128]]
"""Surface potential at (x, y) as a fraction of the potential rise of the mat, phase included."""


@dataclass(frozen=True)
class BoundaryCase:
    """Everything the boundary is judged by, for one soil.

    Attributes
    ----------
    field : callable
        Surface potential for one volt on the mat, floating metal in place.
    potentials : mapping
        Name of a floating piece of fence or of a service with metal -> its potential, a fraction of that
        of the mat.
    pieces : tuple of FencePiece
    installation : Installation
    outlines_m : rings of the mats. [m]
    metal_m : buried conductors of the mat in plan. [m]
    zones, limits, faults, gpr_v, assessment
        As for the search for touch and step.
    error : float
        Relative discretisation error of touch voltages.
    touch : callable or None
        Touch voltage at bonded metal when its own impedance counts; None: it is at one potential.
    doubt : str
        Why nothing can be decided; empty when it can.
    solution : FieldSummary or None
        Of mat and other metal together; None: there is no other metal.
    own_error : mapping
        Floating metal -> relative error of its own conductance, an estimate of that solution.
    from_network : mapping
        Name of a service and of a scenario -> what the solved network puts on its metal.
    """

    field: Field
    potentials: Mapping[str, complex]
    pieces: tuple[FencePiece, ...]
    installation: Installation
    outlines_m: Sequence[Sequence[Point2]]
    metal_m: Sequence[tuple[Point2, Point2]]
    zones: Sequence[SurfaceZone]
    limits: Sequence[ZoneLimit]
    faults: Sequence[FaultResult]
    gpr_v: Mapping[str, float]
    assessment: Assessment
    error: float
    touch: Potential | None = None
    doubt: str = ""
    solution: FieldSummary | None = None
    own_error: Mapping[str, float] = dataclasses.field(default_factory=dict)
    from_network: Mapping[tuple[str, str], NetworkPotential] = dataclasses.field(default_factory=dict)

    @property
    def middle(self) -> Point2:
        """Middle of the mats, or of the metal. [m]"""
        areas = shapely.union_all([Polygon(o) for o in self.outlines_m])
        centre = areas.centroid if self.outlines_m else shapely.MultiLineString(list(self.metal_m)).centroid
        return (float(centre.x), float(centre.y))

    def voltage(self, piece: FencePiece, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """Between a piece of fence and the ground at x, y, as a fraction of the potential rise."""
        if piece.bonding == "bonded" and self.touch is not None:
            return self.touch(x_m, y_m)
        return np.abs(self.of(piece) - self.field(x_m, y_m))

    def of(self, piece: FencePiece) -> complex:
        """Potential of a piece of fence."""
        return self.potentials.get(piece.name, complex(piece.potential))


def assess_boundary(case: BoundaryCase) -> Boundary:
    """Touch voltage along every fence and across every gate, services, contours, and the checks on them.

    Returns
    -------
    Boundary
    """
    index = ZoneIndex(case.zones)
    fences = {f.name: f for f in case.installation.fences}
    rows: list[tuple[str, str, list[ShockResult]]] = []
    profiles = []
    for piece in case.pieces:
        rows += _along(case, piece, fences[piece.fence], index)
        profiles.append(_profile(case, piece, fences[piece.fence], index))
    swings: list[tuple[str, Polygon]] = []
    for gate in case.installation.gates:
        found = _swing(case, gate, fences, index)
        if found is not None:
            rows.append((gate.name, "swing", found[1]))
            swings.append((gate.name, found[0]))
    checks = [touch_check(name, side, shocks, case) for name, side, shocks in rows]
    checks += arrangement_checks(case, dict(swings))
    transfers, transfer_checks, findings, touched = assess_services(case, index)
    shocks = [replace(s, metal=f"{name}, {side}") for name, side, found in (*rows, *touched) for s in found]
    lines = _contours(case)
    return Boundary(
        pieces=case.pieces,
        touched=tuple(_touched(name, side, shocks) for name, side, shocks in rows),
        profiles=tuple(profiles),
        swings=tuple((name, tuple((x, y) for x, y in s.exterior.coords)) for name, s in swings),
        transfers=transfers,
        contours=lines,
        checks=tuple(_unique([*checks, *transfer_checks])),
        findings=(*findings, *far_contours(lines), *unjudged_gates(case)),
        shocks=tuple(shocks),
        solution=case.solution,
        error=max([case.error, *(FLOATING_ERROR for _ in case.potentials), *case.own_error.values()]),
    )


def _contours(case: BoundaryCase) -> tuple[Contour, ...]:
    """Round the mat, with all metal in place, and round what carries a voltage beyond these lines."""
    worst = max(case.gpr_v, key=lambda name: case.gpr_v[name])

    def size(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        return np.abs(case.field(x_m, y_m))

    lines = contours(size, case.outlines_m, case.gpr_v[worst], worst)
    return (*lines, *islands(size, _metal(case), case.outlines_m, lines, case.gpr_v[worst]))


def _metal(case: BoundaryCase) -> list[Island]:
    """Separate fences and services with metal in the ground, and the potential of each."""
    plans: dict[str, BaseGeometry] = {p.name: ring_of(p) for p in case.pieces if p.bonding == "separate"}
    for service in case.installation.services:
        parts: list[BaseGeometry] = [*map(Point, service.remote_rods_m)]
        parts += [LineString(service.route_m)] if service.route_m else []
        plans[service.name] = shapely.union_all(parts)
        if service.far_end is not None and service.far_end.beyond_m:
            plans[service.beyond_name] = LineString(service.far_end.beyond_m)
    return [Island(n, plan, abs(case.potentials[n])) for n, plan in plans.items() if n in case.potentials]


def _unique(checks: Sequence[Check]) -> list[Check]:
    return list({c.identity: c for c in checks}.values())


def _touched(name: str, side: str, shocks: Sequence[ShockResult]) -> Touched:
    worst = max(shocks, key=lambda s: s.value_v / s.limit_v)
    return Touched(name, side, worst.zone, worst.scenario, worst.value_v, worst.limit_v, worst.place)


def _along(
    case: BoundaryCase, piece: FencePiece, fence: Fence, index: ZoneIndex
) -> list[tuple[str, str, list[ShockResult]]]:
    """Worst touch voltage of a piece from inside and from outside."""
    spots = fence_spots(piece, fence, case.middle, case.assessment.reach_m)
    voltage = case.voltage(piece, spots.x_m, spots.y_m)
    places = np.column_stack([spots.x_m, spots.y_m])
    rows = []
    words = ("inside", "outside") if fence.closed else ("near", "far")
    for side, held in zip(words, (spots.inside, ~spots.inside), strict=True):
        if held.any():
            found = worst_by_zone(case, index, voltage[held], places[held], f"{piece.name}, {side}")
            rows.append((piece.name, side, found))
    return rows


def _swing(
    case: BoundaryCase, gate: Gate, fences: Mapping[str, Fence], index: ZoneIndex
) -> tuple[Polygon, list[ShockResult]] | None:
    piece = gate_piece(gate, case.pieces, case.installation.fences)
    if piece is None:
        return None
    area = swing_area(gate, fences[piece.fence], case.middle)
    spots = swing_spots(area, case.assessment.reach_m)
    voltage = case.voltage(piece, spots[:, 0], spots[:, 1])
    return area, worst_by_zone(case, index, voltage, spots, gate.name)


def _profile(case: BoundaryCase, piece: FencePiece, fence: Fence, index: ZoneIndex) -> FenceProfile:
    """Both sides at the reach, for the scenario that is worst over the bare limits."""
    line = ring_of(piece)
    s, places, heading = stations(line)
    off = case.assessment.reach_m * np.column_stack([-np.sin(heading), np.cos(heading)])
    left, right = places + off, places - off
    swap = inside_of(fence, right, case.middle) & ~inside_of(fence, left, case.middle)
    inner = np.where(swap[:, None], right, left)
    outer = np.where(swap[:, None], left, right)
    unit = [case.voltage(piece, p[:, 0], p[:, 1]) for p in (inner, outer)]
    zones = [index.at(p[:, 0], p[:, 1]) for p in (inner, outer)]
    by_key = {(row.zone, row.scenario): row.touch_v for row in case.limits}

    def limit(scenario: str, side: int) -> FloatArray:
        return np.array([by_key[z.name, scenario] for z in index.zones])[zones[side]]

    ratio = {
        name: max(float(np.max(rise * unit[k] / limit(name, k))) for k in (0, 1))
        for name, rise in case.gpr_v.items()
    }
    scenario = max(ratio, key=lambda name: ratio[name])
    rise = case.gpr_v[scenario]
    return FenceProfile(
        name=piece.name,
        scenario=scenario,
        fence_v=rise * abs(case.of(piece)),
        distance_m=s,
        x_m=places[:, 0],
        y_m=places[:, 1],
        inside_v=rise * unit[0],
        outside_v=rise * unit[1],
        inside_limit_v=limit(scenario, 0),
        outside_limit_v=limit(scenario, 1),
        sides=("inside", "outside") if fence.closed else ("side of the mat", "far side"),
    )
