"""Shielding of a station: clearance of every object, zones for drawings, height a mast would need."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import cast

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, InputError
from evenground.lightning._cone import inside_cones
from evenground.lightning._scene import Scene, object_points
from evenground.lightning._sphere import RollingSphere
from evenground.model.lightning import (
    ContourRequest,
    ElevationEnvelope,
    ObjectShielding,
    ProtectedObject,
    ShieldingRequest,
    ShieldingResult,
    SphereRule,
    ZoneContour,
)
from evenground.model.site import Point2
from evenground.model.study import Check, Place, Verdict
from evenground.standards import ieee998
from evenground.standards.iec62305 import protection_level

__all__ = ["assess_shielding", "insulation_rule", "level_rule", "required_mast_height"]

Floats = NDArray[np.float64]
Rings = tuple[list[Floats], list[NDArray[np.uint32]]]

_ERROR_M = 0.02
_OUTSIDE = 1e-4  # clearance that counts as none: on bare ground it is 0


def level_rule(name: str) -> SphereRule:
    """Rolling sphere of protection level ``"I"`` to ``"IV"``."""
    level = protection_level(name)
    return SphereRule(
        level.sphere_radius_m,
        current_ka=level.min_current_ka,
        source=f"level {name}, {level.source}",
        evidence=level.evidence,
    )


def insulation_rule(
    insulation_level_kv: float, surge_impedance_ohm: float, *, mast_factor: float = 1.0
) -> SphereRule:
    """Rolling sphere for the smallest stroke that flashes over a station's insulation. [kV, ohm]"""
    current = ieee998.allowable_stroke_current(insulation_level_kv, surge_impedance_ohm)
    return SphereRule(
        ieee998.striking_distance(current),
        mast_factor=mast_factor,
        current_ka=current,
        source="IEEE Std 998-1996, Eqs. (5-1A) and (5-2A)",
        evidence="from memory",
    )


def assess_shielding(request: ShieldingRequest) -> ShieldingResult:
    """Clearance of every object from the rolling sphere, with zones and sections for drawings.

    Raises
    ------
    InputError
        When there is nothing to shield with and nothing to draw, or a raster is not above 0.
    TooLargeError
        When the site is too wide for the sphere; look at a part of it.
    """
    _check(request)
    scene = Scene(request.terminals, request.rule)
    things = [(thing, object_points(thing, request.sampling_m)) for thing in request.objects]
    objects: list[ObjectShielding] = []
    cell = 0.0
    if things:
        everything = np.vstack([p for _, p in things])
        sphere = _sphere_over(scene, everything)
        cell = sphere.cell_m
        objects = [_assess(thing, points, sphere, request) for thing, points in things]
    contours, elevations = _drawings(request, scene)
    return ShieldingResult(
        rule=request.rule,
        objects=tuple(objects),
        contours=contours,
        elevations=elevations,
        checks=tuple(_check_of(o, request) for o in objects),
        numerical_error_m=2.0 * cell,
    )


def _check(request: ShieldingRequest) -> None:
    findings = []
    if not request.sampling_m > 0 or not request.contours.raster_m > 0:
        findings.append(Finding("shielding-raster", "sampling_m and raster_m must be above 0"))
    if not request.objects and not request.contours.heights_m and not request.contours.sections_m:
        findings.append(Finding("shielding-nothing-asked", "no object, no height and no section was given"))
    low = [t.name for t in request.objects if np.any(object_points(t, math.inf)[:, 2] < 0.0)]
    if low:
        findings.append(
            Finding("shielding-below-ground", f"height below the ground: {', '.join(low)}", "heights are up")
        )
    if findings:
        raise InputError(findings)


def _sphere_over(scene: Scene, points: Floats) -> RollingSphere:
    window = np.array([points[:, :2].min(axis=0), points[:, :2].max(axis=0)])
    return RollingSphere(scene, window, float(points[:, 2].max()))


def _assess(
    thing: ProtectedObject, points: Floats, sphere: RollingSphere, request: ShieldingRequest
) -> ObjectShielding:
    clearance, centre = sphere.clearance(points)
    worst = np.argsort(clearance)[:3]
    fine = object_points(thing, request.sampling_m / 8.0)
    near = (
        np.min(np.linalg.norm(fine[:, None, :] - points[None, worst, :], axis=2), axis=1)
        < 1.5 * request.sampling_m
    )
    if np.any(near):
        extra, extra_centre = sphere.clearance(fine[near])
        points = np.vstack([points, fine[near]])
        clearance = np.concatenate([clearance, extra])
        centre = np.vstack([centre, extra_centre])
    k = int(np.argmin(clearance))
    cone = None
    if request.cone_angle_deg is not None:
        cone = bool(np.all(inside_cones(request.terminals, points, request.cone_angle_deg)))
    return ObjectShielding(
        name=thing.name,
        protected=bool(clearance[k] > request.needed_clearance_m),
        clearance_m=float(clearance[k]),
        worst_point_m=_point(points[k]),
        sphere_centre_m=_point(centre[k]),
        height_allowed_m=float(sphere.height_allowed(points[k : k + 1, :2])[0]),
        resting_on=sphere.resting_on(centre[k]),
        cone_protected=cone,
    )


def _point(row: Floats) -> tuple[float, float, float]:
    return float(row[0]), float(row[1]), float(row[2])


def _check_of(thing: ObjectShielding, request: ShieldingRequest) -> Check:
    gap = thing.clearance_m - request.needed_clearance_m
    verdict = Verdict.PASS if gap > 0.0 else Verdict.FAIL
    reason = f"sphere of {request.rule.radius_m:.3g} m rests on {', '.join(thing.resting_on) or 'nothing'}"
    if abs(gap) < _ERROR_M:
        verdict, reason = Verdict.NOT_DECIDED, f"within {_ERROR_M} m of the limit; {reason}"
    x, y, height = thing.worst_point_m
    return Check(
        identity=f"shielding-{thing.name}",
        title=f"Clearance of {thing.name} from the rolling sphere",
        verdict=verdict,
        value=thing.clearance_m,
        limit=request.needed_clearance_m,
        unit="m",
        sense="min",
        place=Place(x, y, f"{thing.name}, {height:.3g} m above ground"),
        clause=request.rule.source,
        method="rolling sphere in 3-D",
        reason=reason,
    )


def _drawings(
    request: ShieldingRequest, scene: Scene
) -> tuple[tuple[ZoneContour, ...], tuple[ElevationEnvelope, ...]]:
    wanted = request.contours
    if not wanted.heights_m and not wanted.sections_m:
        return (), ()
    window = _window(request, scene)
    ends = np.array([p for section in wanted.sections_m for p in section]).reshape(-1, 2)
    cover = np.vstack([window, ends])
    box = np.array([cover.min(axis=0), cover.max(axis=0)])
    sphere = RollingSphere(scene, box, max(scene.highest_m, *wanted.heights_m, 0.0))
    contours = tuple(_contour(sphere, window, wanted.raster_m, h) for h in wanted.heights_m)
    return contours, tuple(_elevation(sphere, *section, wanted.raster_m) for section in wanted.sections_m)


def _window(request: ShieldingRequest, scene: Scene) -> Floats:
    if request.contours.window_m is not None:
        x0, y0, x1, y1 = request.contours.window_m
        return np.array([[x0, y0], [x1, y1]])
    if not scene.names:
        raise InputError("window_m: without terminals a window is needed")
    corners = np.vstack([b for k in range(len(scene.names)) for b in scene.bounds(k)])
    return np.array([corners[:, :2].min(axis=0), corners[:, :2].max(axis=0)])


def _contour(sphere: RollingSphere, window: Floats, raster: float, height: float) -> ZoneContour:
    from contourpy import FillType, contour_generator

    x, y = (np.linspace(a, b, max(2, math.ceil((b - a) / raster) + 1)) for a, b in window.T)
    plan = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    field = sphere.sign_distance(np.column_stack([plan, np.full(len(plan), height)]))
    generator = contour_generator(x, y, field.reshape(len(y), len(x)), fill_type=FillType.OuterOffset)
    points, offsets = cast(Rings, generator.filled(_OUTSIDE, math.inf))
    polygons = []
    area = 0.0
    for ring_points, ring_ends in zip(points, offsets, strict=True):
        rings = [_sharpen(sphere, ring_points[a:b], (x, y), height) for a, b in pairwise(ring_ends)]
        area += sum(_signed_area(r) for r in rings)
        polygons.append(tuple(tuple((float(p[0]), float(p[1])) for p in r) for r in rings))
    return ZoneContour(height, tuple(polygons), float(area))


def _sharpen(sphere: RollingSphere, ring: Floats, axes: tuple[Floats, Floats], height: float) -> Floats:
    """Move the corners of a ring along the raster's lines to where the clearance really ends.

    The clearance is far from linear near the ground, so that interpolation would draw the zone too wide.
    """
    origin = np.array([a[0] for a in axes])
    step = np.array([a[1] - a[0] for a in axes])
    at = (ring - origin) / step
    loose = np.abs(at - np.round(at)) > 1e-9
    rows = np.flatnonzero(loose.sum(axis=1) == 1)
    if len(rows) == 0:
        return ring
    low, high = np.round(at[rows]), np.round(at[rows])
    low[loose[rows]] = np.floor(at[rows][loose[rows]])
    high[loose[rows]] = np.ceil(at[rows][loose[rows]])

    def clear(place: Floats) -> NDArray[np.bool_]:
        plan = origin + place * step
        return sphere.clear_of(np.column_stack([plan, np.full(len(plan), height)]), _OUTSIDE)

    inside = np.where(clear(low)[:, None], low, high)
    outside = low + high - inside
    for _ in range(8):
        middle = 0.5 * (inside + outside)
        good = clear(middle)[:, None]
        inside, outside = np.where(good, middle, inside), np.where(good, outside, middle)
    result = ring.copy()
    result[rows] = origin + inside * step
    return result


def _signed_area(ring: Floats) -> float:
    """Positive for outer rings, negative for holes, as the contour generator turns them. [m2]"""
    x, y = ring[:, 0], ring[:, 1]
    return float(0.5 * np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))


def _elevation(sphere: RollingSphere, start: Point2, end: Point2, raster: float) -> ElevationEnvelope:
    a, b = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    length = float(np.hypot(*(b - a)))
    share = np.linspace(0.0, 1.0, max(2, math.ceil(length / raster) + 1))
    heights = sphere.height_allowed(a + np.outer(share, b - a))
    return ElevationEnvelope(start, end, tuple((share * length).tolist()), tuple(float(h) for h in heights))


def required_mast_height(
    request: ShieldingRequest, mast: str, *, up_to_m: float = 60.0, tolerance_m: float = 0.05
) -> float | None:
    """Least height of one mast at which every object of a request keeps its clearance. [m]

    None when not even ``up_to_m`` does it. With a mast taller than the sphere's radius more height no
    longer helps.

    Raises
    ------
    InputError
        When there is no mast of that name.
    """
    if mast not in [m.name for m in request.terminals.masts]:
        raise InputError(f"there is no mast called {mast!r}")
    plain = replace(request, contours=ContourRequest(), cone_angle_deg=None)

    def good(height: float) -> bool:
        masts = tuple(replace(m, height_m=height) if m.name == mast else m for m in request.terminals.masts)
        trial = replace(plain, terminals=replace(request.terminals, masts=masts))
        return all(o.protected for o in assess_shielding(trial).objects)

    low, high = 0.0, up_to_m
    if not good(high):
        return None
    while high - low > tolerance_m:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if good(middle) else (middle, high)
    return high
