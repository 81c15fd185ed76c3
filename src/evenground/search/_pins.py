"""Places where metal must lie: where down conductors and transformer leads meet the mat."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import shapely
from shapely.geometry import LineString, Point, Polygon

from evenground.model.project import Project
from evenground.model.site import MatLayout, Point2

__all__ = ["missed", "pinned", "places_of"]

NEAR_M = 0.4
"""Metal this near to a place serves it. [m]"""
Lines = tuple[tuple[float, ...], tuple[float, ...]]


def places_of(project: Project) -> tuple[tuple[str, Point2], ...]:
    """Places that need metal, with their names: feet of masts, and transformers named with them. [m]"""
    site = project.lightning
    if site is None:
        return ()
    return (*((f"mast {f.name}", f.at_m) for f in site.feet), *site.transformers)


def pinned(mat: MatLayout, lines: Lines, places: Sequence[tuple[str, Point2]]) -> Lines:
    """Mesh lines moved so that every place inside the mat lies on one; their number stays.

    For each place the line moves that has the shortest way to go and serves no other place yet. [m]
    """
    inside = Polygon(mat.outline_m).buffer(1e-6)
    rows = [list(lines[0]), list(lines[1])]
    fixed: set[tuple[int, float]] = {(axis, row[k]) for axis, row in enumerate(rows) for k in (0, -1)}
    for _, place in places:
        if not inside.contains(Point(place)):
            continue
        ways = sorted(
            (abs(at - place[axis]), axis, k)
            for axis, row in enumerate(rows)
            for k, at in enumerate(row)
            if (axis, at) not in fixed or abs(at - place[axis]) <= NEAR_M
        )
        if not ways:
            continue
        gap, axis, k = ways[0]
        if gap > NEAR_M:
            rows[axis][k] = place[axis]
        fixed.add((axis, rows[axis][k]))
    x, y = (tuple(sorted(set(row))) for row in rows)
    return x, y


def missed(made: Project, places: Sequence[tuple[str, Point2]]) -> str:
    """The first place without metal near it, in words; empty when all are served."""
    if not places:
        return ""
    rows = []
    for mat in made.mats:
        polygon = Polygon(mat.outline_m)
        x0, y0, x1, y1 = polygon.bounds
        lines = [LineString([(x, y0), (x, y1)]) for x in mat.lines_x_m or ()]
        lines += [LineString([(x0, y), (x1, y)]) for y in mat.lines_y_m or ()]
        rows += [polygon.boundary, *(line.intersection(polygon) for line in lines)]
    rows += [LineString(pair) for r in made.runs for pair in pairwise(r.points_m)]
    metal = shapely.union_all(rows)
    return next((f"no metal at {name}" for name, p in places if metal.distance(Point(p)) > NEAR_M), "")
