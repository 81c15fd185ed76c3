"""Cutting a piece out of a conductor between its crossings; adding and removing mesh lines of a mat."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import shapely
from shapely.geometry import LineString, Point

from evenground.errors import InputError
from evenground.model.site import Point2
from evenground.project._edit import Change, Drop, Insert, Put
from evenground.web._view import entries, mat_geometry, outline_of, points_of

__all__ = ["trim", "with_mesh_line"]

Data = dict[str, Any]
NEAR_M = 1e-3


def trim(data: Data, section: str, index: int, entry: Data, at: Point2) -> list[Change]:
    """Remove the piece of a conductor nearest to a point, or the mesh line of a mat there.

    A conductor is cut at its crossings with other horizontal metal; without a crossing the whole of
    it goes.
    """
    if section == "runs":
        return _trim_run(data, index, entry, at)
    if section == "mats":
        return _trim_mat(entry, index, at)
    raise InputError("only conductors and mesh lines can be trimmed")


def _other_metal(data: Data, index: int) -> list[LineString]:
    lines = [
        LineString(points_of(run.get("points_m")))
        for i, run in entries(data, "runs")
        if i != index and len(points_of(run.get("points_m"))) > 1
    ]
    for _, mat in entries(data, "mats"):
        lines += [LineString([(a, b), (c, d)]) for a, b, c, d in mat_geometry(mat)[0]]
    return lines


def _crossings(line: LineString, others: list[LineString]) -> list[float]:
    """Distances along the line at which other metal meets it."""
    marks: list[float] = []
    for other in others:
        met = line.intersection(other)
        for part in () if met.is_empty else shapely.get_parts(met):
            ends = [part] if part.geom_type == "Point" else [Point(part.coords[0]), Point(part.coords[-1])]
            marks += [float(line.project(p)) for p in ends]
    return sorted(marks)


def _trim_run(data: Data, index: int, run: Data, at: Point2) -> list[Change]:
    points = points_of(run.get("points_m"))
    line = LineString(points)
    length = line.length
    closed = points[0] == points[-1] and len(points) > 3
    inner = [m for m in _crossings(line, _other_metal(data, index)) if NEAR_M < m < length - NEAR_M]
    marks = [0.0, *inner, length]
    place = line.project(Point(at))
    low = max(m for m in marks if m <= place)
    high = min((m for m in marks if m > place), default=length)
    if low >= high:
        low = max(m for m in marks if m < high)
    pieces = [_part(line, 0.0, low), _part(line, high, length)]
    kept = [p for p in pieces if len(p) > 1]
    if closed and len(kept) == 2:
        kept = [kept[1] + kept[0][1:]]
    path = ("runs", index)
    if not kept:
        return [Drop(path)]
    changes: list[Change] = [Put((*path, "points_m"), kept[0])]
    if len(kept) == 2:
        changes.append(Insert(("runs", index + 1), {**run, "points_m": kept[1]}))
    return changes


def _part(line: LineString, start: float, end: float) -> list[list[float]]:
    if end - start < NEAR_M:
        return []
    part = shapely.ops.substring(line, start, end)
    return [[round(x, 4), round(y, 4)] for x, y in part.coords]


def _lines(mat: Data, axis: int) -> list[float]:
    """Positions of the mesh lines, as stated or as they follow from the spacing. [m]"""
    stated = mat.get(("lines_x_m", "lines_y_m")[axis])
    if isinstance(stated, list):
        return sorted(float(v) for v in stated)
    wires, _ = mat_geometry(mat)
    return sorted({round(w[axis], 4) for w in wires if abs(w[axis] - w[axis + 2]) < 1e-6})


def _with_lines(mat: Data, index: int, axis: int, lines: list[float]) -> list[Change]:
    """State the lines of one direction; the spacing of the other direction stays as it is."""
    path, letter, other = ("mats", index), "xy"[axis], "yx"[axis]
    changes: list[Change] = [Put((*path, f"lines_{letter}_m"), [_tidy(v) for v in lines])]
    if f"spacing_{letter}_m" in mat:
        changes.append(Drop((*path, f"spacing_{letter}_m")))
    if "spacing_m" in mat:
        if f"lines_{other}_m" not in mat and f"spacing_{other}_m" not in mat:
            changes.append(Put((*path, f"spacing_{other}_m"), mat["spacing_m"]))
        changes.append(Drop((*path, "spacing_m")))
    return changes


def _tidy(value: float) -> float:
    return int(value) if value == int(value) else value


def with_mesh_line(mat: Data, index: int, axis: str, at: float) -> list[Change]:
    """Add a mesh line x = at (axis ``"x"``) or y = at. [m]"""
    number = "xy".index(axis)
    outline = outline_of(mat)
    lines = _lines(mat, number)
    if not outline or not lines:
        raise InputError("the mat has no mesh yet; give it a spacing first")
    low, high = min(p[number] for p in outline), max(p[number] for p in outline)
    if not low < at < high:
        raise InputError(f"the line must lie between {low:g} m and {high:g} m")
    if any(abs(v - at) < 0.05 for v in lines):
        raise InputError("a mesh line runs there already")
    return _with_lines(mat, index, number, sorted([*lines, at]))


def _trim_mat(mat: Data, index: int, at: Point2) -> list[Change]:
    outline = outline_of(mat)
    rim = LineString([*outline, outline[0]])
    near = [(abs(v - at[k]), k, v) for k in (0, 1) for v in _lines(mat, k)]
    if not near:
        raise InputError("the mat has no mesh lines")
    _, axis, value = min(near)
    on_rim = any(abs(a[axis] - value) < 1e-6 and abs(b[axis] - value) < 1e-6 for a, b in pairwise(rim.coords))
    if on_rim:
        raise InputError("this line is the rim of the mat; move the corners instead")
    lines = [v for v in _lines(mat, axis) if abs(v - value) > 1e-6]
    return _with_lines(mat, index, axis, lines)
