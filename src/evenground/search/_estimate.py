"""What a draft costs and how near it comes to the limits: the field of its metal, quickly.

The metal is solved as in the study, in every soil case, with somewhat longer segments, and looked at on a
few hundred places instead of being searched to the worst millimetre. What that leaves out is made
good by :class:`Measure`: the ratio of a full study to this estimate, taken from drafts that were studied.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from evenground._study_cases import soil_cases
from evenground._study_field import with_backfill
from evenground._study_parts import native_resistivity
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.errors import EvengroundError
from evenground.field import quick_field
from evenground.model.conductor import ConductorResult
from evenground.model.layout import ElectrodeLayout
from evenground.model.project import Project
from evenground.model.soil import LayeredSoil
from evenground.model.study import Study
from evenground.safety import ZoneIndex, areas_of, zone_limits
from evenground.schedules import PriceList, design_of_layout, total_cost
from evenground.search._base import Base, exact_rises, prepare
from evenground.search._draft import Draft, Space

__all__ = ["Bench", "Estimate", "bench_of", "estimate", "estimate_project", "price"]

FloatArray = NDArray[np.float64]
STEP_M = 1.0
RIM_M = 2.5
"""Distance of places along a rim. [m]"""
EDGE_M = 10.0
"""Depth of the edge of a mat, in which places of touch stand closer together. [m]"""
RASTER_M = (1.5, 4.0)
"""Distance of places of touch in the edge and inside. [m]"""
COARSE = 2.0
"""Longest segment over that of a study of the project as drawn."""
RISES = np.geomspace(0.2, 6.0, 13)
"""Resistances for which the potential rise is worked out, as multiples of that of the project as drawn."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """One draft.

    ``ratios`` are value over limit by the identity of the check, the highest of all soil cases and faults,
    ``rise_v`` the highest potential rise. ``broken`` names a rule that the draft breaks, or why it can not
    be computed; then there is nothing else. [currency, V, ohm]
    """

    cost: float
    parts: Mapping[str, float]
    ratios: Mapping[str, float]
    rise_v: float
    resistance_ohm: float
    broken: str = ""


@dataclass(frozen=True, eq=False)
class Bench:
    """What all drafts share; goes to the worker processes once.

    ``touch_m`` (n, 2) are places of touch, ``feet_m`` (2, n, 2) the feet of steps. ``rises`` holds ln R,
    then ln V of each scenario, at a few resistances. [m]
    """

    space: Space
    base: Base
    prices: PriceList
    soils: dict[str, LayeredSoil]
    segment_m: float
    touch_m: FloatArray
    feet_m: FloatArray
    rises: dict[str, FloatArray]


def bench_of(space: Space, study: Study, prices: PriceList) -> Bench:
    """Prepare the estimates from the study of the project as drawn."""
    project = space.project
    base = prepare(project, study.soil)
    widest = max(space.rules.ring_distances_m, default=0.0)
    areas = areas_of(base.layout.outlines_m, project.assessment)
    mats = shapely.union_all([Polygon(o) for o in base.layout.outlines_m])
    return Bench(
        space,
        base,
        prices,
        soil_cases(study.soil.soil, project),
        COARSE * study.field.longest_segment_m,
        _touch_places(areas.touch, mats),
        _steps(mats, project.assessment.step_outside_m + widest),
        _rises(base, study),
    )


def _touch_places(area: BaseGeometry, mats: BaseGeometry) -> FloatArray:
    """Places of touch: close together near the edge, wider apart inside, and along the rim. [m]"""
    x0, y0, x1, y1 = area.bounds
    fine_m, wide_m = RASTER_M
    inner = mats.buffer(-EDGE_M)
    rows = []
    for step, part in ((fine_m, area.difference(inner)), (wide_m, inner)):
        gx, gy = np.meshgrid(np.arange(x0, x1 + step, step), np.arange(y0, y1 + step, step))
        own = shapely.contains_xy(part, gx, gy)
        rows.append(np.column_stack([gx[own], gy[own]]))
    rim = shapely.segmentize(shapely.boundary(area.buffer(-1e-4)), RIM_M)
    return np.concatenate([*rows, shapely.get_coordinates(rim)])


def _steps(mats: BaseGeometry, outside_m: float) -> FloatArray:
    """Feet of steps across the edge of the mats, from just inside to the stated distance outside. [m]"""
    pairs = []
    for middle in np.arange(-0.5 * STEP_M, outside_m, 0.5 * STEP_M):
        outer = shapely.segmentize(mats.buffer(middle + 0.5 * STEP_M, quad_segs=2).boundary, RIM_M)
        base = mats.buffer(middle - 0.5 * STEP_M, join_style="mitre").boundary
        for x, y in shapely.get_coordinates(outer):
            foot = nearest_points(base, Point(x, y))[0]
            away = np.array([x - foot.x, y - foot.y])
            if (length := float(np.hypot(*away))) > 0:
                centre = np.array([foot.x, foot.y]) + 0.5 * away
                half = 0.5 * STEP_M * away / length
                pairs.append([centre - half, centre + half])
    return np.array(pairs).transpose(1, 0, 2)


def _rises(base: Base, study: Study) -> dict[str, FloatArray]:
    places = RISES * study.field.resistance_ohm
    rows = [exact_rises(base, study.soil.soil, float(r))[1] for r in places]
    return {"": np.log(places), **{name: np.log([row[name] for row in rows]) for name in rows[0]}}


def estimate(bench: Bench, draft: Draft) -> Estimate:
    """Cost and ratios of one draft."""
    made = bench.space.made(draft)
    return estimate_project(bench, made, bench.space.broken(made))


def estimate_project(bench: Bench, made: Project, broken: str = "") -> Estimate:
    """Cost and ratios of a project that differs in metal and cover only."""
    if broken:
        return _none(broken)
    try:
        conductors, layout = _metal(bench, made)
        cost = total_cost(design_of_layout(made, layout, conductors), bench.prices)
        ratios, rise_v, resistance = _field(bench, made, layout)
    except EvengroundError as error:
        return _none(str(error))
    ratios |= _sections(conductors)
    return Estimate(round(cost.total, 4), dict(cost.parts), _rounded(ratios), rise_v, resistance)


def price(bench: Bench, draft: Draft) -> float:
    """Cost alone; infinite for a draft that breaks a rule of construction. [currency]"""
    made = bench.space.made(draft)
    if bench.space.broken(made):
        return float("inf")
    conductors, layout = _metal(bench, made)
    return round(total_cost(design_of_layout(made, layout, conductors), bench.prices).total, 4)


def _metal(bench: Bench, made: Project) -> tuple[dict[str, ConductorResult], ElectrodeLayout]:
    base, drawn = bench.base, bench.space.project.conductors
    conductors = {
        k: base.conductors[k] if r == drawn[k] else size_conductor(r, base.faults)
        for k, r in made.conductors.items()
    }
    radii_m = {k: c.radius_m for k, c in conductors.items()}
    return conductors, build_electrode(made.mats, made.rods, made.runs, radii_m)


def _none(broken: str) -> Estimate:
    return Estimate(float("inf"), {}, {}, float("inf"), float("inf"), broken)


def _rounded(ratios: Mapping[str, float]) -> dict[str, float]:
    """To eight digits: the last ones depend on the number of threads of the linear algebra."""
    return {k: float(f"{v:.8g}") for k, v in ratios.items()}


def _sections(conductors: Mapping[str, ConductorResult]) -> dict[str, float]:
    """Metal needed over metal there, at the end of life and against the mechanical minimum."""
    found: dict[str, float] = {}
    for key, row in conductors.items():
        metal, needed, new = row.remaining_area_mm2, row.end_of_life_area_mm2, row.installed_area_mm2
        if metal is None and row.stock_area_mm2 is not None:
            metal = new = row.stock_area_mm2
            needed = row.required_area_mm2
        found[f"conductor-{key}"] = needed / metal if metal else float("inf")
        if row.minimum_area_mm2 is not None and new:
            found[f"conductor-{key}-minimum"] = row.minimum_area_mm2 / new
    return found


def _field(bench: Bench, made: Project, layout: ElectrodeLayout) -> tuple[dict[str, float], float, float]:
    """Ratios of touch and step in the worst soil case, highest potential rise, highest resistance."""
    electrode, backfill = with_backfill(layout.electrode)
    plan = np.concatenate([bench.touch_m, *bench.feet_m])
    points = np.column_stack([plan, np.zeros(len(plan))])
    index = ZoneIndex(made.surface)
    ratios: dict[str, float] = {}
    rise, highest = 0.0, 0.0
    for name, soil in bench.soils.items():
        resistance, v = quick_field(electrode, soil, points, segment_m=bench.segment_m, backfill=backfill)
        rises = _rise(bench, soil, resistance)
        native = native_resistivity(made, name, soil)
        limits = zone_limits(index.zones, bench.base.faults, made.assessment, native)
        unit = _worst(
            bench, index, v, {z.name: min(r.step_v for r in limits if r.zone == z.name) for z in index.zones}
        )
        for row in limits:
            for quantity, limit in (("touch", row.touch_v), ("step", row.step_v)):
                if (quantity, row.zone) in unit:
                    key = f"{quantity}-{row.zone}".replace(" ", "-")
                    ratio = unit[quantity, row.zone] * rises[row.scenario] / limit
                    ratios[key] = max(ratios.get(key, 0.0), ratio)
        rise, highest = max(rise, *rises.values()), max(highest, resistance)
    return ratios, rise, highest


def _rise(bench: Bench, soil: LayeredSoil, resistance_ohm: float) -> dict[str, float]:
    from scipy.interpolate import PchipInterpolator

    places = bench.rises[""]
    at = float(np.log(resistance_ohm))
    if not places[0] <= at <= places[-1]:
        return exact_rises(bench.base, soil, resistance_ohm)[1]
    return {k: float(np.exp(PchipInterpolator(places, v)(at))) for k, v in bench.rises.items() if k}


def _worst(
    bench: Bench, index: ZoneIndex, v: FloatArray, strictness: Mapping[str, float]
) -> dict[tuple[str, str], float]:
    """Worst touch and step of each zone for one volt of potential rise."""
    m, n = len(bench.touch_m), bench.feet_m.shape[1]
    strict = np.array([strictness[z.name] for z in index.zones])
    one, other = (index.at(*feet.T) for feet in bench.feet_m)
    zones = {
        "touch": index.at(*bench.touch_m.T),
        "step": np.where(strict[one] <= strict[other], one, other),
    }
    values = {"touch": 1.0 - v[:m], "step": np.abs(v[m : m + n] - v[m + n :])}
    return {
        (quantity, index.zones[int(k)].name): float(values[quantity][zone == k].max())
        for quantity, zone in zones.items()
        for k in np.unique(zone)
    }
