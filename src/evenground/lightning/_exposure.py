"""Strikes per year: vertical leaders over a plan, met by whatever comes within striking distance first."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, InputError
from evenground.lightning._scene import object_points, wire_points
from evenground.model.lightning import (
    Building,
    ExposureRequest,
    ExposureResult,
    ProtectedObject,
)
from evenground.standards.iec62305 import strikes_per_year
from evenground.standards.ieee998 import share_above

__all__ = ["collection_area", "exposure"]

Floats = NDArray[np.float64]

_LOWEST_KA, _HIGHEST_KA, _BINS = 2.0, 200.0, 28


def exposure(request: ExposureRequest) -> ExposureResult:
    """Expected strikes per year to terminals and to objects, with their distribution over current.

    A leader comes straight down; it strikes what it first comes within striking distance of. The first bin
    holds every smaller current, the last every larger one.

    Raises
    ------
    InputError
        When there is nothing that could be struck, or a number is not above 0.
    """
    _check(request)
    edges = _edges(request.critical_current_ka)
    mass = -np.diff([1.0, *(share_above(float(e), request.median_ka) for e in edges[1:-1]), 0.0])
    currents = np.sqrt(np.maximum(edges[:-1], edges[1] / 4.0) * np.minimum(edges[1:], 2.0 * edges[-2]))
    density = request.flash_density_per_km2_year * 1e-6
    to_terminals = to_critical = 0.0
    each = np.zeros(len(request.objects))
    areas = []
    for current, share, start in zip(currents, mass, edges[:-1], strict=True):
        terminal, by_object = _areas(request, float(current))
        to_terminals += density * share * terminal
        each += density * share * by_object
        areas.append(float(by_object.sum()))
        if request.critical_current_ka is not None and start >= request.critical_current_ka:
            to_critical += density * share * float(by_object.sum())
    area = collection_area(request)
    return ExposureResult(
        terminals_per_year=float(to_terminals),
        objects_per_year=float(each.sum()),
        object_critical_per_year=None if request.critical_current_ka is None else float(to_critical),
        each_object_per_year=tuple((o.name, float(v)) for o, v in zip(request.objects, each, strict=True)),
        currents_ka=tuple(currents.tolist()),
        exposed_area_m2=tuple(areas),
        collection_area_m2=area,
        collection_strikes_per_year=strikes_per_year(request.flash_density_per_km2_year, area),
    )


def _check(request: ExposureRequest) -> None:
    t = request.terminals
    findings = []
    if not (t.masts or t.wires or t.buildings or request.objects):
        findings.append(Finding("exposure-nothing", "no terminal and no object was given"))
    for name in ("flash_density_per_km2_year", "median_ka", "factor", "exponent", "mast_factor", "raster_m"):
        value = getattr(request, name)
        if not (math.isfinite(value) and value > 0):
            findings.append(Finding("exposure-number", f"{name}: {value} is not a finite number above 0"))
    if findings:
        raise InputError(findings)


def _edges(critical: float | None) -> Floats:
    edges = np.geomspace(_LOWEST_KA, _HIGHEST_KA, _BINS)
    if critical is not None and _LOWEST_KA < critical < _HIGHEST_KA:
        edges = np.unique(np.append(edges, critical))
    return np.array([0.0, *edges, math.inf])


def _areas(request: ExposureRequest, current_ka: float) -> tuple[float, Floats]:
    """Plan area from which leaders of one current strike terminals, and each object. [m2]"""
    reach = request.factor * current_ka**request.exponent
    raster = max(request.raster_m, reach / 40.0)
    things = [_tops_of_object(o, reach / 20.0) for o in request.objects]
    points, boxes = _tops_of_terminals(request, reach)
    everything = [p[:, :2] for p, _ in things] + [points[:, :2]]
    everything += [np.array([b.centre_m]) for b in boxes]
    flat = np.vstack([e for e in everything if len(e)])
    spread = max((math.hypot(b.length_m, b.width_m) for b in boxes), default=0.0)
    margin = reach * max(1.0, request.mast_factor) + spread + raster
    x, y = (
        np.arange(a - margin, b + margin, raster)
        for a, b in zip(flat.min(axis=0), flat.max(axis=0), strict=True)
    )
    plan = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    ground = np.full(len(plan), reach)
    terminal = np.maximum(_contact(plan, points), _box_contact(plan, boxes, reach))
    best = np.full(len(plan), -np.inf)
    owner = np.full(len(plan), -1)
    for index, (tops, body) in enumerate(things):
        rows = np.column_stack([tops, np.full(len(tops), reach)])
        level = np.maximum(_contact(plan, rows), _box_contact(plan, body, reach))
        owner = np.where(level > best, index, owner)
        best = np.maximum(best, level)
    cell = raster**2
    struck = (best > terminal) & (best > ground)
    by_object = np.bincount(owner[struck], minlength=len(things)).astype(np.float64) * cell
    return float(np.sum((terminal >= best) & (terminal > ground)) * cell), by_object


def _tops_of_terminals(request: ExposureRequest, reach: float) -> tuple[Floats, tuple[Building, ...]]:
    """Points (x, y, height, reach) that stand for masts and wires, and the buildings."""
    t = request.terminals
    rows = [(*m.at_m, m.height_m, reach * request.mast_factor) for m in t.masts]
    for wire in t.wires:
        rows += [(p[0], p[1], p[2], reach) for p in wire_points(wire, reach / 20.0)]
    return np.array(rows, dtype=np.float64).reshape(-1, 4), t.buildings


def _tops_of_object(thing: ProtectedObject, spacing: float) -> tuple[Floats, tuple[Building, ...]]:
    if thing.box is None:
        return object_points(thing, spacing), ()
    if not thing.points_m:
        return np.zeros((0, 3)), (thing.box,)
    lines = ProtectedObject(thing.name, thing.points_m, thing.joined)
    return object_points(lines, spacing), (thing.box,)


def _contact(plan: Floats, tops: Floats) -> Floats:
    """Height of the leader's tip when it comes within reach of a point, -inf where it never does."""
    level = np.full(len(plan), -np.inf)
    for x, y, z, reach in tops:
        square = reach**2 - (plan[:, 0] - x) ** 2 - (plan[:, 1] - y) ** 2
        near = square > 0.0
        level[near] = np.maximum(level[near], z + np.sqrt(square[near]))
    return level


def _box_contact(plan: Floats, boxes: tuple[Building, ...], reach: float) -> Floats:
    level = np.full(len(plan), -np.inf)
    for box in boxes:
        turn = math.radians(box.angle_deg)
        x, y = plan[:, 0] - box.centre_m[0], plan[:, 1] - box.centre_m[1]
        u = np.abs(x * math.cos(turn) + y * math.sin(turn)) - box.length_m / 2.0
        v = np.abs(-x * math.sin(turn) + y * math.cos(turn)) - box.width_m / 2.0
        away = np.hypot(np.maximum(u, 0.0), np.maximum(v, 0.0))
        near = away < reach
        level[near] = np.maximum(level[near], box.height_m + np.sqrt(reach**2 - away[near] ** 2))
    return level


def collection_area(request: ExposureRequest) -> float:
    """Area within three times the height of any part, overlaps counted once. [m2]"""
    from shapely import LineString, MultiPoint, Point, Polygon
    from shapely.ops import unary_union

    from evenground.lightning._scene import box_edges

    parts = [Point(m.at_m).buffer(3.0 * m.height_m, quad_segs=64) for m in request.terminals.masts]
    for wire in request.terminals.wires:
        top = max(wire.start_m[2], wire.end_m[2])
        parts.append(LineString([wire.start_m[:2], wire.end_m[:2]]).buffer(3.0 * top, quad_segs=64))
    boxes = [*request.terminals.buildings, *(o.box for o in request.objects if o.box is not None)]
    parts += [
        Polygon(box_edges(box, math.inf)[:, :2]).buffer(3.0 * box.height_m, quad_segs=64) for box in boxes
    ]
    for thing in request.objects:
        if thing.points_m:
            plan = [p[:2] for p in thing.points_m]
            shape = LineString(plan) if thing.joined and len(plan) > 1 else MultiPoint(plan)
            parts.append(shape.buffer(3.0 * max(p[2] for p in thing.points_m), quad_segs=64))
    return float(unary_union(parts).area)
