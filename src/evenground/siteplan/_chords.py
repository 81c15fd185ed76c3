"""Curves to chords that keep within a stated distance, with a bound on the work."""

from __future__ import annotations

import itertools
from math import acos, atan, ceil, cos, hypot, isfinite, pi, sin, tau
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["NotTakenError", "chord_count", "chords", "polyline"]

Vertex = tuple[float, float, float]


class NotTakenError(Exception):
    """Why an entity is left in the drawing, in words for the preview."""


def chord_count(radius: float, span_rad: float, sagitta: float, limit: int) -> int:
    """Chords that keep within ``sagitta`` of an arc; lengths in one unit.

    The distance between an arc and its chord is r (1 - cos(a/2)) for the angle a of one chord.
    """
    if not radius > 0:
        raise NotTakenError("a curve without radius")
    step = 2 * acos(max(0.0, 1 - sagitta / radius)) if sagitta < radius else pi / 2
    count = span_rad / min(step, pi / 2) if step > 0 else float("inf")
    if not count <= limit:
        raise NotTakenError(f"a curve that needs more than {limit} chords")
    return max(1, ceil(count - 1e-9))


def chords(entity: Any, sagitta: float, limit: int) -> list[Vertex]:
    """Vertices along a LINE, ARC, CIRCLE, ELLIPSE or SPLINE in world coordinates; closed curves return to
    their first vertex. Raises NotTakenError for other types and for curves that need too many."""
    kind = entity.dxftype()
    if kind == "LINE":
        return _vertices([entity.dxf.start, entity.dxf.end])
    if kind == "CIRCLE":
        n = chord_count(abs(entity.dxf.radius), tau, sagitta, limit)
        return _closed(_vertices(entity.vertices([360 * i / n for i in range(n)])))
    if kind == "ARC":
        span = (entity.dxf.end_angle - entity.dxf.start_angle) % 360 or 360.0
        n = chord_count(abs(entity.dxf.radius), span / 360 * tau, sagitta, limit)
        return _vertices(entity.vertices([entity.dxf.start_angle + span * i / n for i in range(n + 1)]))
    if kind == "ELLIPSE":
        return _ellipse(entity, sagitta, limit)
    if kind == "SPLINE":
        return _spline(entity, sagitta, limit)
    raise NotTakenError("a type that is not used for lines")


def _ellipse(entity: Any, sagitta: float, limit: int) -> list[Vertex]:
    """An ellipse is a circle of its major radius squeezed, so the chords of that circle are near enough."""
    start, end = entity.dxf.start_param, entity.dxf.end_param
    span = (end - start) % tau or tau
    n = chord_count(entity.dxf.major_axis.magnitude, span, sagitta, limit)
    closed = abs(span - tau) < 1e-9
    params = [start + span * i / n for i in range(n if closed else n + 1)]
    points = _vertices(entity.vertices(params))
    return _closed(points) if closed else points


def _spline(entity: Any, sagitta: float, limit: int) -> list[Vertex]:
    """Even steps of the parameter, halved until no middle lies further than the sagitta from its chord."""
    curve = entity.construction_tool()
    low, high = float(curve.knots()[curve.order - 1]), float(curve.knots()[curve.count])
    if not high > low:
        raise NotTakenError("a spline without length")
    spans = len({k for k in curve.knots() if low <= k <= high})
    count = 4 * max(1, spans)
    while count <= limit:
        fine = np.array(_vertices(curve.points(np.linspace(low, high, 2 * count + 1))))
        ends, middles = fine[::2], fine[1::2]
        if _farthest(ends, middles) <= sagitta:
            return [(float(x), float(y), float(z)) for x, y, z in ends]
        count *= 2
    raise NotTakenError(f"a curve that needs more than {limit} chords")


def polyline(entity: Any, sagitta: float, limit: int) -> list[Vertex]:
    """Vertices along an LWPOLYLINE or POLYLINE in world coordinates, bulges as chords; a closed one returns
    to its first vertex."""
    if entity.dxftype() == "LWPOLYLINE":
        z = float(entity.dxf.get("elevation", 0.0))
        corners = [((float(x), float(y), z), float(b)) for x, y, b in entity.get_points("xyb")]
        closed = bool(entity.closed)
    elif entity.dxftype() == "POLYLINE":
        corners, closed = _old_corners(entity)
    else:
        raise NotTakenError("a type that is not used for lines")
    if len(corners) < 2:
        raise NotTakenError("a line without length")
    if closed and corners[0][0] != corners[-1][0]:
        corners.append(corners[0])
    path = [corners[0][0]]
    for (a, bulge), (b, _) in itertools.pairwise(corners):
        path += [*_bulge(a, b, bulge, sagitta, limit), b]
        if len(path) > 100 * limit:
            raise NotTakenError(f"a curve that needs more than {100 * limit} chords")
    if entity.dxftype() == "POLYLINE" and entity.is_3d_polyline:
        ends = path
    else:
        ends = [(p.x, p.y, p.z) for p in entity.ocs().points_to_wcs(path)]
    if not np.isfinite(np.array(ends)).all():
        raise NotTakenError("a coordinate that is not a finite number")
    return ends


def _old_corners(entity: Any) -> tuple[list[tuple[Vertex, float]], bool]:
    """Corners and bulges of a POLYLINE; the frame of a fitted curve is passed over."""
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise NotTakenError("a surface, not a line")
    z = 0.0
    if entity.is_2d_polyline and entity.dxf.hasattr("elevation"):
        z = float(entity.dxf.elevation.z)
    corners = []
    for vertex in entity.vertices:
        if vertex.dxf.get("flags", 0) & 16:
            continue
        p = vertex.dxf.location
        depth = z if entity.is_2d_polyline else float(p.z)
        corners.append(((float(p.x), float(p.y), depth), float(vertex.dxf.get("bulge", 0.0))))
    return corners, bool(entity.is_closed)


def _bulge(a: Vertex, b: Vertex, bulge: float, sagitta: float, limit: int) -> list[Vertex]:
    """Vertices between two corners joined by an arc; the bulge is the tangent of a quarter of its angle,
    positive to the left (DXF reference)."""
    chord = hypot(b[0] - a[0], b[1] - a[1])
    if abs(bulge) * chord / 2 <= sagitta or chord == 0:
        return []
    angle = 4 * atan(bulge)
    radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
    count = chord_count(radius, abs(angle), sagitta, limit)
    # the centre lies on the perpendicular through the middle of the chord
    offset = chord * (1 - bulge * bulge) / (4 * bulge)
    cx = (a[0] + b[0]) / 2 - (b[1] - a[1]) / chord * offset
    cy = (a[1] + b[1]) / 2 + (b[0] - a[0]) / chord * offset
    dx, dy = a[0] - cx, a[1] - cy
    turns = [angle * i / count for i in range(1, count)]
    return [(cx + dx * cos(t) - dy * sin(t), cy + dx * sin(t) + dy * cos(t), a[2]) for t in turns]


def _farthest(ends: Any, middles: Any) -> float:
    """Largest distance of the middles from their chords."""
    axis = ends[1:] - ends[:-1]
    length2 = np.maximum((axis**2).sum(axis=1), 1e-300)
    t = np.clip(((middles - ends[:-1]) * axis).sum(axis=1) / length2, 0, 1)
    away = middles - (ends[:-1] + t[:, None] * axis)
    return float(np.sqrt((away**2).sum(axis=1)).max())


def _vertices(points: Iterable[Any]) -> list[Vertex]:
    found = [(float(p.x), float(p.y), float(p.z)) for p in points]
    # a sum is not finite when one of its terms is not
    if not isfinite(sum(sum(p) for p in found)):
        raise NotTakenError("a coordinate that is not a finite number")
    return found


def _closed(points: list[Vertex]) -> list[Vertex]:
    return [*points, points[0]]
