"""The field of a study at few places: quick enough for a thousand soils.

The places are those where touch and step of the study were high anywhere, so the worst of another soil is
among them or beside them. Only ratios against the study's own soil are used, in which what the coarser
look leaves out cancels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from evenground._study_cases import plan_of
from evenground._study_field import with_backfill
from evenground.errors import OutOfRangeError
from evenground.field import Backfill, quick_field, solve
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil
from evenground.model.study import Study
from evenground.safety import ZoneIndex, areas_of
from evenground.search._base import Base

__all__ = ["SlimCase", "SlimJob", "SlimResult", "slim_case", "slim_result"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

COARSER = 1.5
"""Longest segment of the samples over that of the study."""
RASTER_M = 1.0
TOUCH_PLACES = 120
STEP_PLACES = 60
"""Places kept of each zone."""
ANGLES = 8
HALF_STEP_M = 0.5
SHALLOWEST_M = 0.05
"""Metal is not lifted above this depth. [m]"""


@dataclass(frozen=True, eq=False)
class SlimCase:
    """Geometry that all samples share.

    ``touch_m`` (m, 2) with the zone number of each place, ``feet_m`` (2, s, 2) with that of each step. [m]
    """

    electrode: Electrode
    backfill: dict[str, Backfill]
    segment_m: float
    touch_m: FloatArray
    touch_zone: IntArray
    feet_m: FloatArray
    step_zone: IntArray
    zones: tuple[str, ...]


@dataclass(frozen=True)
class SlimJob:
    """One sample: soil, change of depth, and the conductor stretch that is missing (ends). [m]"""

    soil: LayeredSoil
    deeper_m: float = 0.0
    missing: tuple[int, float, float] | None = None


@dataclass(frozen=True)
class SlimResult:
    """Resistance, and worst touch and step of each zone for one volt of potential rise. [ohm, -]"""

    resistance_ohm: float
    unit: dict[tuple[str, str], float]


def slim_case(base: Base, study: Study) -> SlimCase:
    """Choose the places from the field of the study."""
    assessment = base.project.assessment
    electrode, backfill = with_backfill(base.layout.electrode)
    layers = study.soil_used or study.soil.soil
    areas = areas_of(base.layout.outlines_m, assessment, plan_of(electrode))
    index = ZoneIndex(base.project.surface)
    solution = solve(electrode, layers, segment_m=assessment.segment_m, backfill=backfill)
    x0, y0, x1, y1 = areas.step.buffer(2.0).bounds
    x, y = np.arange(x0, x1, RASTER_M / 2), np.arange(y0, y1, RASTER_M / 2)
    gx, gy = np.meshgrid(x, y)
    potential = solution.potential_v(np.column_stack([gx.ravel(), gy.ravel(), np.zeros(gx.size)]))
    surface = potential.reshape(gx.shape)
    touch, touch_zone = _touch_places(gx, gy, surface, areas.touch, index, study)
    strictness = np.array([min(r.step_v for r in study.limits if r.zone == z.name) for z in index.zones])
    feet, step_zone = _step_places(x, y, surface, areas.step, index, strictness, study)
    names = tuple(z.name for z in index.zones)
    coarse_m = COARSER * float(solution.segments.length_m.max())
    return SlimCase(electrode, backfill, coarse_m, touch, touch_zone, feet, step_zone, names)


def _touch_places(
    gx: FloatArray,
    gy: FloatArray,
    surface: FloatArray,
    area: shapely.Geometry,
    index: ZoneIndex,
    study: Study,
) -> tuple[FloatArray, IntArray]:
    inside = shapely.contains_xy(area, gx, gy)
    places = np.column_stack([gx[inside], gy[inside]])
    value = 1.0 - surface[inside]
    zone = index.at(*places.T)
    found, zones = [], []
    for k in np.unique(zone):
        own = zone == k
        chosen = places[own][_apart(places[own], value[own], 2.0 * RASTER_M, TOUCH_PLACES)]
        name = index.zones[int(k)].name
        exact = [
            (s.place.x_m, s.place.y_m)
            for s in study.shocks
            if (s.quantity, s.zone, s.metal) == ("touch", name, "")
        ][:1]
        rim = _rim(area, index, int(k))
        found.append(np.concatenate([chosen, rim, np.array(exact).reshape(-1, 2)]))
        zones.append(np.full(len(found[-1]), k))
    return np.concatenate(found), np.concatenate(zones)


def _rim(area: shapely.Geometry, index: ZoneIndex, zone: int) -> FloatArray:
    """Points just inside the edge of the touch area that lie in one zone."""
    edge = shapely.get_coordinates(shapely.segmentize(shapely.boundary(shapely.buffer(area, -1e-4)), 3.0))
    return np.asarray(edge[index.at(*edge.T) == zone])


def _step_places(
    x: FloatArray,
    y: FloatArray,
    surface: FloatArray,
    area: shapely.Geometry,
    index: ZoneIndex,
    strictness: FloatArray,
    study: Study,
) -> tuple[FloatArray, IntArray]:
    gx, gy = (v[shapely.contains_xy(area, *np.meshgrid(x, y))] for v in np.meshgrid(x, y))
    middle, feet, drop = [], [], []
    for angle in np.arange(ANGLES) * np.pi / ANGLES:
        half = HALF_STEP_M * np.array([np.cos(angle), np.sin(angle)])
        centre = np.column_stack([gx, gy])
        both = np.stack([centre - half, centre + half])
        values = [
            map_coordinates(
                surface,
                ((f[:, 1] - y[0]) / (y[1] - y[0]), (f[:, 0] - x[0]) / (x[1] - x[0])),
                order=3,
                mode="nearest",
            )
            for f in both
        ]
        middle.append(centre)
        feet.append(both)
        drop.append(np.abs(values[0] - values[1]))
    centres, pairs, drops = np.concatenate(middle), np.concatenate(feet, axis=1), np.concatenate(drop)
    zone = _stricter(index, strictness, pairs)
    found, zones = [], []
    for k in np.unique(zone):
        own = np.flatnonzero(zone == k)
        chosen = own[_apart(centres[own], drops[own], RASTER_M, STEP_PLACES)]
        exact = _exact_steps(study, index.zones[int(k)].name)
        found.append(np.concatenate([pairs[:, chosen], exact], axis=1))
        zones.append(np.full(found[-1].shape[1], k))
    return np.concatenate(found, axis=1), np.concatenate(zones)


def _exact_steps(study: Study, zone: str) -> FloatArray:
    rows = [s for s in study.shocks if (s.quantity, s.zone, s.metal) == ("step", zone, "")][:1]
    pairs = np.zeros((2, len(rows), 2))
    for k, s in enumerate(rows):
        angle = np.radians(s.direction_deg or 0.0)
        half = HALF_STEP_M * np.array([np.cos(angle), np.sin(angle)])
        centre = np.array([s.place.x_m, s.place.y_m])
        pairs[:, k] = centre - half, centre + half
    return pairs


def _stricter(index: ZoneIndex, strictness: FloatArray, pairs: FloatArray) -> IntArray:
    one, other = (index.at(*f.T) for f in pairs)
    return np.where(strictness[one] <= strictness[other], one, other)


def _apart(places: FloatArray, value: FloatArray, distance_m: float, count: int) -> IntArray:
    """Indices of the highest values that keep a distance from each other."""
    left = np.argsort(-value, kind="stable")
    chosen: list[int] = []
    while len(left) and len(chosen) < count:
        best = int(left[0])
        chosen.append(best)
        gap = np.hypot(*(places[left] - places[best]).T)
        left = left[gap > distance_m]
    return np.array(chosen, dtype=np.int64)


def slim_result(case: SlimCase, job: SlimJob) -> SlimResult:
    """Solve one sample.

    Raises
    ------
    OutOfRangeError
        When the change of depth would lift metal out of the ground.
    """
    electrode = _changed(case.electrode, job)
    plan = np.concatenate([case.touch_m, *case.feet_m])
    resistance, v = quick_field(
        electrode,
        job.soil,
        np.column_stack([plan, np.zeros(len(plan))]),
        segment_m=case.segment_m,
        backfill=case.backfill,
    )
    m, s = len(case.touch_m), case.feet_m.shape[1]
    touch, step = 1.0 - v[:m], np.abs(v[m : m + s] - v[m + s :])
    unit = {}
    for quantity, values, zone in (("touch", touch, case.touch_zone), ("step", step, case.step_zone)):
        for k in np.unique(zone):
            unit[quantity, case.zones[int(k)]] = float(values[zone == k].max())
    return SlimResult(resistance, unit)


def _changed(electrode: Electrode, job: SlimJob) -> Electrode:
    metal = electrode
    if job.missing is not None:
        which, low, high = job.missing
        rows = list(metal)
        rows[which : which + 1] = _without(rows[which], low, high)
        metal = Electrode(rows)
    if job.deeper_m:
        top = min(min(c.start_m[2], c.end_m[2]) for c in metal)
        if top + job.deeper_m < SHALLOWEST_M:
            raise OutOfRangeError(f"a depth smaller by {-job.deeper_m:g} m lifts metal out of the ground")
        metal = metal.translated(0.0, 0.0, job.deeper_m)
    return metal


def _without(c: Conductor, low: float, high: float) -> list[Conductor]:
    """What is left of a conductor when the stretch between two distances from its start is gone."""
    a, b = np.array(c.start_m), np.array(c.end_m)
    unit = (b - a) / c.length_m
    found = []
    if low > 4 * c.radius_m:
        x, y, z = (float(v) for v in a + unit * low)
        found.append(replace(c, end_m=(x, y, z)))
    if c.length_m - high > 4 * c.radius_m:
        x, y, z = (float(v) for v in a + unit * high)
        found.append(replace(c, start_m=(x, y, z)))
    return found
