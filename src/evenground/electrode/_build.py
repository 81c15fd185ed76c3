"""The entry function of the room: layout in, electrode with its measures out."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import dist, hypot

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from evenground.electrode._mat import mesh_lines, perimeter_points, polygon_mat, rods_at
from evenground.model.electrode import Conductor, Electrode, Embedding
from evenground.model.layout import ElectrodeLayout, MatMeasures
from evenground.model.site import (
    BackfillLayout,
    ExtraRun,
    MatLayout,
    Point2,
    RodList,
    SeparateElectrode,
)

__all__ = ["build_electrode", "without_stretches"]

TOUCHING_M = 0.05
"""Metal nearer than this counts as meeting (a rod's top and the conductor it is joined to)."""

GONE_M = 0.25
"""Metal this near to a stretch or place that was not built is the metal meant."""
ALONG = 0.087
"""Sine of 5 degrees."""


def build_electrode(
    mats: Sequence[MatLayout],
    rods: Sequence[RodList],
    runs: Sequence[ExtraRun],
    radius_m: Mapping[str, float],
    separate: Sequence[SeparateElectrode] = (),
) -> ElectrodeLayout:
    """Turn the layout as drawn into straight conductors in 3-D, all bonded to one group.

    Parameters
    ----------
    mats, rods, runs : sequences
        The layout.
    radius_m : mapping
        Radius of each conductor key used by mats and runs. [m]
    separate : sequence of SeparateElectrode
        Metal that is not bonded to the rest; each becomes a group of its own name.

    Returns
    -------
    ElectrodeLayout

    Raises
    ------
    ValueError
        When an outline is not a simple polygon; KeyError when a conductor key is unknown. Both are
        refused earlier, by the project file's checks.
    """
    horizontal: list[Conductor] = []
    rod_list: list[Conductor] = []
    for mat in mats:
        horizontal += _mat_conductors(mat, radius_m[mat.conductor])
        rod_list += _rule_rods(mat)
    for run in runs:
        horizontal += _run_conductors(run, radius_m[run.conductor])
    for entry in rods:
        rod_list += _listed_rods(entry, mats)
    rod_list, doubled = _without_doubles(rod_list)
    electrode = Electrode([*horizontal, *rod_list])
    notes = [f"{doubled} rods asked for twice at the same place were taken once"] if doubled else []
    outlines = _outlines(mats, electrode)
    return ElectrodeLayout(
        electrode=electrode,
        outlines_m=outlines,
        measures=_measures(mats, runs, horizontal, rod_list, radius_m) if mats else None,
        joints=_joints(horizontal),
        warnings=tuple(_loose_metal(horizontal, rod_list)),
        notes=tuple(notes),
        separate=_separate_metal(separate, radius_m),
    )


def _separate_metal(separate: Sequence[SeparateElectrode], radius_m: Mapping[str, float]) -> Electrode:
    """Conductors of the separate electrodes, each in a group of its name."""
    found: list[Conductor] = []
    for item in separate:
        own = [c for run in item.runs for c in _run_conductors(run, radius_m[run.conductor])]
        own += [c for entry in item.rods for c in _listed_rods(entry, ())]
        found += [replace(c, group=item.name, tag=f"{item.name} {i}") for i, c in enumerate(own, 1)]
    return Electrode(found)


def _embedding(backfill: BackfillLayout | None) -> Embedding | None:
    if backfill is None:
        return None
    return Embedding(backfill.outer_diameter_mm / 2000, backfill.resistivity_ohm_m, backfill.material)


def _mat_conductors(mat: MatLayout, radius_m: float) -> list[Conductor]:
    electrode = polygon_mat(
        mat.outline_m,
        spacing_x_m=mat.spacing_x_m,
        spacing_y_m=mat.spacing_y_m,
        lines_x_m=mat.lines_x_m,
        lines_y_m=mat.lines_y_m,
        depth_m=mat.depth_m,
        radius_m=radius_m,
    )
    around = _embedding(mat.backfill)
    return [
        replace(c, kind="mat", tag=f"{mat.name} {i}", key=mat.conductor, embedding=around)
        for i, c in enumerate(without_stretches(electrode.conductors, mat.not_laid_m), 1)
    ]


def without_stretches(
    conductors: Sequence[Conductor], gone_m: Sequence[tuple[Point2, Point2]]
) -> list[Conductor]:
    """Horizontal conductors less the stretches named, which lie along them within 0.25 m in plan. [m]"""
    found = []
    for c in conductors:
        own = [pair for pair in gone_m if _parallel(c, pair)]
        if not own:
            found.append(c)
            continue
        holes = unary_union([LineString(pair).buffer(GONE_M, cap_style="flat") for pair in own])
        for part in shapely.get_parts(LineString([c.start_m[:2], c.end_m[:2]]).difference(holes)):
            if part.length > TOUCHING_M:
                (x0, y0), (x1, y1) = part.coords[0], part.coords[-1]
                found.append(replace(c, start_m=(x0, y0, c.start_m[2]), end_m=(x1, y1, c.start_m[2])))
    return found


def _parallel(c: Conductor, pair: tuple[Point2, Point2]) -> bool:
    """Whether a conductor runs along a stretch, within 5 degrees."""
    ux, uy = c.end_m[0] - c.start_m[0], c.end_m[1] - c.start_m[1]
    vx, vy = pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]
    return abs(ux * vy - uy * vx) < ALONG * hypot(ux, uy) * hypot(vx, vy)


def _rule_rods(mat: MatLayout) -> list[Conductor]:
    found: list[Conductor] = []
    for rule in mat.rods:
        places = (
            mat.outline_m
            if rule.where == "corners"
            else perimeter_points(mat.outline_m, spacing_m=rule.spacing_m, count=rule.count)
        )
        rods = rods_at(
            places, length_m=rule.length_m, radius_m=rule.diameter_mm / 2000, top_depth_m=mat.depth_m
        )
        found += [replace(c, key="rod", embedding=_embedding(rule.backfill)) for c in rods]
    return [c for c in found if all(dist(c.start_m[:2], p) > GONE_M for p in mat.no_rods_m)]


def _run_conductors(run: ExtraRun, radius_m: float) -> list[Conductor]:
    return [
        Conductor(
            (*a, run.depth_m),
            (*b, run.depth_m),
            radius_m,
            kind="run",
            key=run.conductor,
            embedding=_embedding(run.backfill),
        )
        for a, b in zip(run.points_m, run.points_m[1:], strict=False)
    ]


def _listed_rods(entry: RodList, mats: Sequence[MatLayout]) -> list[Conductor]:
    found: list[Conductor] = []
    for place in entry.at_m:
        top = entry.top_depth_m
        if top is None:
            around = [m.depth_m for m in mats if Polygon(m.outline_m).buffer(1e-6).covers(Point(place))]
            top = around[0] if around else 0.0
        rods = rods_at([place], length_m=entry.length_m, radius_m=entry.diameter_mm / 2000, top_depth_m=top)
        found += [replace(c, key="rod", embedding=_embedding(entry.backfill)) for c in rods]
    return found


def _without_doubles(rods: Sequence[Conductor]) -> tuple[list[Conductor], int]:
    """Rods asked for twice at one place (a corner rule and a perimeter rule) count once: the longer."""
    kept: dict[tuple[int, int], Conductor] = {}
    for rod in rods:
        key = (round(rod.start_m[0] * 20), round(rod.start_m[1] * 20))
        if key not in kept or rod.length_m > kept[key].length_m:
            kept[key] = rod
    tagged = [replace(rod, tag=f"rod {i}") for i, rod in enumerate(kept.values(), 1)]
    return tagged, len(rods) - len(tagged)


def _loose_metal(horizontal: Sequence[Conductor], rods: Sequence[Conductor]) -> list[str]:
    """Words about rods and runs that no drawn conductor meets."""
    if not horizontal:
        return []
    lines = _plan_lines(horizontal)
    tree = shapely.STRtree(lines)
    depth = np.array([c.start_m[2] for c in horizontal])
    warnings = []
    if rods:
        spots = shapely.points(np.array([rod.start_m[:2] for rod in rods]))
        rod, line = tree.query(spots, predicate="dwithin", distance=TOUCHING_M)
        top, bottom = (np.array([getattr(r, end)[2] for r in rods]) for end in ("start_m", "end_m"))
        held = (top[rod] - TOUCHING_M <= depth[line]) & (depth[line] <= bottom[rod])
        met = np.bincount(rod[held], minlength=len(rods))
        warnings += [
            f"rod at ({r.start_m[0]:g}, {r.start_m[1]:g}) m meets no drawn conductor; "
            "the calculation takes it as bonded, so draw the link"
            for r, count in zip(rods, met, strict=True)
            if count == 0
        ]
    runs = np.array([i for i, c in enumerate(horizontal) if c.kind == "run"], dtype=np.int64)
    if len(runs) and len(horizontal) > 1:
        own, line = tree.query(lines[runs], predicate="dwithin", distance=TOUCHING_M)
        held = (line != runs[own]) & (np.abs(depth[line] - depth[runs[own]]) < TOUCHING_M)
        met = np.bincount(own[held], minlength=len(runs))
        warnings += [
            f"run from ({horizontal[i].start_m[0]:g}, {horizontal[i].start_m[1]:g}) m meets no other "
            "conductor; the calculation takes it as bonded, so draw the link"
            for i in runs[met == 0].tolist()
        ]
    return warnings


def _plan_lines(conductors: Sequence[Conductor]) -> NDArray[np.object_]:
    """The conductors in plan, as lines."""
    ends = np.array([(c.start_m[:2], c.end_m[:2]) for c in conductors])
    return np.asarray(shapely.linestrings(ends), dtype=object)


def _outlines(mats: Sequence[MatLayout], electrode: Electrode) -> tuple[tuple[Point2, ...], ...]:
    if mats:
        union = unary_union([Polygon(m.outline_m) for m in mats])
        return tuple(tuple(_ring(p)) for p in shapely.get_parts(union) if isinstance(p, Polygon))
    ends = np.array([p[:2] for c in electrode for p in (c.start_m, c.end_m)])
    hull = MultiPoint(shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(ends)))).convex_hull
    grown = hull if isinstance(hull, Polygon) and hull.area > 0 else hull.buffer(0.1, cap_style="square")
    return (tuple(_ring(grown)),)


def _ring(polygon: Polygon) -> list[Point2]:
    return [(float(x), float(y)) for x, y in polygon.exterior.coords[:-1]]


def _measures(
    mats: Sequence[MatLayout],
    runs: Sequence[ExtraRun],
    horizontal: Sequence[Conductor],
    rods: Sequence[Conductor],
    radius_m: Mapping[str, float],
) -> MatMeasures:
    union = unary_union([Polygon(m.outline_m) for m in mats])
    limits: list[str] = []
    if len(shapely.get_parts(union)) > 1:
        limits.append("the mats do not adjoin; hand formulas describe a single mat")
    if len({m.depth_m for m in mats}) > 1:
        limits.append("the mats lie at different depths")
    if any(r.depth_m != mats[0].depth_m for r in runs):
        limits.append("extra runs lie at another depth than the mat")
    grown = union.buffer(1e-6)
    if any(not grown.covers(LineString(r.points_m)) for r in runs):
        limits.append("extra runs leave the outline of the mat, whose area the hand formulas use")
    spacing_x, uneven_x = _mean_spacing(mats, 0)
    spacing_y, uneven_y = _mean_spacing(mats, 1)
    if uneven_x or uneven_y:
        limits.append("the meshes are unequal; the mesh-voltage formula is for equal spacing")
    hull = shapely.get_coordinates(union.convex_hull)
    x0, y0, x1, y1 = union.bounds
    return MatMeasures(
        area_m2=union.area,
        perimeter_m=union.length,
        extent_x_m=x1 - x0,
        extent_y_m=y1 - y0,
        diagonal_m=float(max(hypot(*(a - b)) for a in hull for b in hull)),
        conductor_length_m=_length_once(horizontal),
        rod_count=len(rods),
        rod_length_m=sum(r.length_m for r in rods) / len(rods) if rods else 0.0,
        rod_diameter_m=sum(2 * r.radius_m for r in rods) / len(rods) if rods else 0.0,
        rods_on_edge=_in_all_corners(union, rods),
        spacing_m=max(spacing_x, spacing_y),
        spacing_ratio=max(spacing_x, spacing_y) / min(spacing_x, spacing_y),
        depth_m=mats[0].depth_m,
        diameter_m=2 * radius_m[mats[0].conductor],
        limits=tuple(limits),
    )


def _in_all_corners(union: BaseGeometry, rods: Sequence[Conductor]) -> bool:
    """Whether a rod stands in every outward corner; one rod in one corner does not make a ring of rods."""
    hull = MultiPoint(shapely.get_coordinates(union.convex_hull))
    places = MultiPoint([r.start_m[:2] for r in rods]) if rods else None
    return places is not None and all(places.distance(corner) < TOUCHING_M for corner in hull.geoms)


def _length_once(horizontal: Sequence[Conductor]) -> float:
    """Length of the horizontal conductors, an edge that two mats share counted once. [m]"""
    return float(unary_union([LineString([c.start_m[:2], c.end_m[:2]]) for c in horizontal]).length)


def _mean_spacing(mats: Sequence[MatLayout], axis: int) -> tuple[float, bool]:
    """Mean mesh width of all mats along one axis, and whether it varies by more than 15 %."""
    gaps: list[float] = []
    for mat in mats:
        lines = mat.lines_x_m if axis == 0 else mat.lines_y_m
        spacing = mat.spacing_x_m if axis == 0 else mat.spacing_y_m
        places = sorted({*(lines or mesh_lines(mat.outline_m, spacing, axis)), *_limits(mat, axis)})
        gaps += [b - a for a, b in itertools.pairwise(places)]
    mean = sum(gaps) / len(gaps)
    return mean, max(gaps) > 1.15 * mean or min(gaps) < 0.85 * mean


def _limits(mat: MatLayout, axis: int) -> tuple[float, float]:
    values = [p[axis] for p in mat.outline_m]
    return min(values), max(values)


def _joints(horizontal: Sequence[Conductor]) -> int:
    """Number of places where two or more horizontal conductors meet (crossings, tees, corners)."""
    if not horizontal:
        return 0
    lines = _plan_lines(horizontal)
    tree = shapely.STRtree(lines)
    first, second = tree.query(lines, predicate="dwithin", distance=1e-4)
    places: set[tuple[int, int]] = set()
    for i, j in zip(first[first < second].tolist(), second[first < second].tolist(), strict=True):
        if abs(horizontal[i].start_m[2] - horizontal[j].start_m[2]) < TOUCHING_M:
            point = _meeting(horizontal[i], horizontal[j])
            if point is not None:
                places.add((round(point[0] * 100), round(point[1] * 100)))
    return len(places)


def _meeting(a: Conductor, b: Conductor) -> Point2 | None:
    for p in (a.start_m, a.end_m):
        for q in (b.start_m, b.end_m):
            if dist(p[:2], q[:2]) < 1e-3:
                return p[:2]
    la, lb = LineString([a.start_m[:2], a.end_m[:2]]), LineString([b.start_m[:2], b.end_m[:2]])
    cut = la.intersection(lb)
    if isinstance(cut, Point):
        return (cut.x, cut.y)
    for line, ends in ((la, (b.start_m, b.end_m)), (lb, (a.start_m, a.end_m))):
        for p in ends:
            if line.distance(Point(p[:2])) < 1e-3:
                return p[:2]
    return None
