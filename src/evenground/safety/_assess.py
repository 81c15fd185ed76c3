"""The entry function of the room: unit field and faults in, limits and worst voltages out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

import numpy as np
import shapely

from evenground.errors import Finding
from evenground.model.fault import FaultResult
from evenground.model.site import Assessment, Point2, ProfileLine, SurfaceZone
from evenground.model.study import Place, Profile, ShockResult, StandardComparison, SurfaceMap, ZoneLimit
from evenground.safety._edges import edge_findings
from evenground.safety._limits import compare_standards, zone_limits
from evenground.safety._search import (
    STEP_M,
    Area,
    Raster,
    UnitWorst,
    make_raster,
    worst_step,
    worst_touch,
)
from evenground.safety._surface import Potential, Surface, surface_of
from evenground.safety._zones import EDGE_M, Areas, FloatArray, ZoneIndex, areas_of

__all__ = ["SafetyResult", "assess_shocks"]


POINTS, QUICK_POINTS = 400, 120
"""Places along a profile, and along one of a first look."""


@dataclass(frozen=True)
class SafetyResult:
    """Limits per zone and scenario, worst voltages, map and profiles for the governing scenario."""

    limits: tuple[ZoneLimit, ...]
    shocks: tuple[ShockResult, ...]
    map: SurfaceMap
    profiles: tuple[Profile, ...]
    comparison: tuple[StandardComparison, ...] = ()
    findings: tuple[Finding, ...] = ()


def assess_shocks(
    potential: Potential | Surface,
    outlines_m: Sequence[Sequence[Point2]],
    zones: Sequence[SurfaceZone],
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
    assessment: Assessment,
    native_resistivity_ohm_m: float,
    metal_m: Sequence[tuple[Point2, Point2]] = (),
    *,
    quick: bool = False,
) -> SafetyResult:
    """Find the worst touch and step voltages and set them against what people bear.

    Parameters
    ----------
    potential : callable or Surface
        Surface potential at arrays x, y for a potential rise of one volt; a :class:`Surface` when the metal
        is not at one potential. [m -> -]
    outlines_m : sequence of rings
        Outer outlines of the bonded metal. [m]
    zones : sequence of SurfaceZone
    faults : sequence of FaultResult
    gpr_v : mapping
        Scenario name -> earth potential rise. [V]
    assessment : Assessment
    native_resistivity_ohm_m : float
        Soil under the feet where no cover lies. [ohm m]
    metal_m : sequence of (start, end)
        Buried conductors in plan; steps are looked at around all of them. [m]
    quick : bool
        Climb from fewer places and less far: for a first look.

    Returns
    -------
    SafetyResult
    """
    surface = surface_of(potential)
    areas = areas_of(outlines_m, assessment, metal_m)
    index = ZoneIndex(zones)
    limits = zone_limits(index.zones, faults, assessment, native_resistivity_ohm_m)
    raster = make_raster(surface, areas.touch, areas.step, assessment.raster_m, quick=quick)
    strictness = np.array([min(lim.step_v for lim in limits if lim.zone == z.name) for z in index.zones])
    touch = worst_touch(surface, raster, areas.touch, index)
    step = worst_step(surface, raster, areas.step, index, strictness)
    shocks = [
        *scaled("touch", touch, index, limits, faults, gpr_v),
        *scaled("step", step, index, limits, faults, gpr_v),
    ]
    governing = max((s for s in shocks if s.quantity == "touch"), key=lambda s: s.value_v / s.limit_v)
    scenario = governing.scenario
    surface_map = _map(surface, raster, index, limits, scenario, gpr_v[scenario])
    profiles = _profiles(
        surface,
        areas,
        shocks,
        index,
        limits,
        scenario,
        gpr_v[scenario],
        assessment.profiles,
        QUICK_POINTS if quick else POINTS,
    )
    comparison = (
        compare_standards(index.zones, shocks, faults, assessment, native_resistivity_ohm_m)
        if assessment.compare_standards
        else ()
    )
    findings = edge_findings(surface, areas, index, limits, gpr_v, profiles, len(assessment.profiles))
    return SafetyResult(limits, tuple(shocks), surface_map, profiles, comparison, findings)


def _limit(limits: Sequence[ZoneLimit], zone: str, scenario: str) -> ZoneLimit:
    return next(row for row in limits if row.zone == zone and row.scenario == scenario)


def scaled(
    quantity: str,
    worst: Mapping[int, UnitWorst],
    index: ZoneIndex,
    limits: Sequence[ZoneLimit],
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
) -> list[ShockResult]:
    """Worst unit values of the zones as voltages of every scenario, with their limits."""
    rows = []
    for number, unit in sorted(worst.items()):
        zone = index.zones[number].name
        for fault in faults:
            scenario = fault.scenario.name
            limit = _limit(limits, zone, scenario)
            rows.append(
                ShockResult(
                    quantity=quantity,
                    zone=zone,
                    scenario=scenario,
                    value_v=unit.value * gpr_v[scenario],
                    limit_v=limit.touch_v if quantity == "touch" else limit.step_v,
                    place=Place(unit.x_m, unit.y_m, zone),
                    direction_deg=unit.direction_deg,
                    change=unit.change,
                    converged=unit.converged,
                )
            )
    return rows


def _zone_values(index: ZoneIndex, limits: Sequence[ZoneLimit], scenario: str, what: str) -> FloatArray:
    return np.array([getattr(_limit(limits, z.name, scenario), what) for z in index.zones])


def _map(
    surface: Surface,
    raster: Raster,
    index: ZoneIndex,
    limits: Sequence[ZoneLimit],
    scenario: str,
    gpr_v: float,
) -> SurfaceMap:
    gx, gy = np.meshgrid(raster.x_m, raster.y_m)
    zone = index.at(gx, gy)
    touch_limit = _zone_values(index, limits, scenario, "touch_v")[zone]
    step_limit = _zone_values(index, limits, scenario, "step_v")[zone]
    own = raster.in_touch
    touch = np.full(gx.shape, np.nan)
    touch[own] = gpr_v * surface.touch_at(gx[own], gy[own], raster.potential[own]) / touch_limit[own]
    largest = np.zeros_like(gx)
    for k in range(12):
        hx, hy = 0.5 * cos(k * np.pi / 12), 0.5 * sin(k * np.pi / 12)
        drop = np.abs(raster.shifted(-hx, -hy) - raster.shifted(hx, hy))
        largest = np.maximum(largest, drop)
    step = np.where(raster.in_step, gpr_v * largest / step_limit, np.nan)
    return SurfaceMap(raster.x_m, raster.y_m, raster.potential, touch, step, zone, scenario)


def _profiles(
    surface: Surface,
    areas: Areas,
    shocks: Sequence[ShockResult],
    index: ZoneIndex,
    limits: Sequence[ZoneLimit],
    scenario: str,
    gpr_v: float,
    stated: Sequence[ProfileLine],
    count: int,
) -> tuple[Profile, ...]:
    """Stated lines, then lines through the worst touch place and through the worst step."""
    own = [s for s in shocks if s.scenario == scenario]
    touch = max((s for s in own if s.quantity == "touch"), key=lambda s: s.value_v / s.limit_v)
    step = max((s for s in own if s.quantity == "step"), key=lambda s: s.value_v / s.limit_v)
    x0, y0, x1, y1 = areas.step.bounds
    reach, angle = 0.5 * hypot(x1 - x0, y1 - y0), radians(step.direction_deg or 0.0)
    (x, y), (sx, sy) = (touch.place.x_m, touch.place.y_m), (step.place.x_m, step.place.y_m)
    dx, dy = reach * cos(angle), reach * sin(angle)
    lines = [(line.name, line.points_m) for line in stated]
    lines += [
        ("through the worst touch place, along x", ((x0 - 2, y), (x1 + 2, y))),
        ("through the worst touch place, along y", ((x, y0 - 2), (x, y1 + 2))),
        ("through the worst step place, in its direction", ((sx - dx, sy - dy), (sx + dx, sy + dy))),
    ]
    return tuple(
        profile_along(surface, name, points, index, limits, scenario, gpr_v, areas.touch, count)
        for name, points in lines
    )


def _walk(points_m: Sequence[Point2], count: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Distance along a polyline, places, and the direction of walking at each. [m, rad]"""
    corners = np.asarray(points_m, dtype=float)
    leg = np.hypot(*np.diff(corners, axis=0).T)
    marks = np.concatenate([[0.0], np.cumsum(leg)])
    s = np.unique(np.concatenate([np.linspace(0.0, marks[-1], count), marks]))
    places = [np.interp(s, marks, corners[:, k]) for k in (0, 1)]
    number = np.clip(np.searchsorted(marks, s, side="right") - 1, 0, len(leg) - 1)
    heading = np.arctan2(*np.diff(corners, axis=0).T[::-1])[number]
    return s, places[0], places[1], heading


def profile_along(
    potential: Potential | Surface,
    name: str,
    points_m: Sequence[Point2],
    index: ZoneIndex,
    limits: Sequence[ZoneLimit],
    scenario: str,
    gpr_v: float,
    touch_area: Area,
    points: int = POINTS,
) -> Profile:
    """Surface potential, touch and step voltage along a polyline for one scenario.

    Outside the touch area the touch voltage is nan: there is no metal within reach. The step
    voltage is taken along the line. [m, V]
    """
    surface = surface_of(potential)
    s, x, y, heading = _walk(points_m, points)
    hx, hy = 0.5 * STEP_M * np.cos(heading), 0.5 * STEP_M * np.sin(heading)
    unit = surface(x, y)
    drop = gpr_v * surface.between(x - hx, y - hy, x + hx, y + hy)
    zone = index.at(x, y)
    touched = shapely.contains_xy(touch_area.buffer(EDGE_M), x, y)
    return Profile(
        name=name,
        start_m=(float(x[0]), float(y[0])),
        end_m=(float(x[-1]), float(y[-1])),
        distance_m=s,
        potential_v=gpr_v * unit,
        touch_v=np.where(touched, gpr_v * surface.touch_at(x, y, unit), np.nan),
        step_v=drop,
        touch_limit_v=np.where(touched, _zone_values(index, limits, scenario, "touch_v")[zone], np.nan),
        step_limit_v=_zone_values(index, limits, scenario, "step_v")[zone],
    )
