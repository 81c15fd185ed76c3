"""Meshes inside an outline and rods at places."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from math import ceil, hypot

import shapely
from shapely.geometry import LineString, Polygon

from evenground.model.electrode import Conductor, Electrode
from evenground.model.site import Point2

__all__ = ["mesh_lines", "perimeter_points", "polygon_mat", "rectangular_mat", "rods_at"]

SHORTEST_PIECE_M = 0.05
"""Pieces of mesh lines shorter than this, cut off at a slanting edge, are left out."""


def rectangular_mat(
    *,
    length_x_m: float,
    length_y_m: float,
    meshes_x: int,
    meshes_y: int,
    depth_m: float,
    radius_m: float,
    corner_m: Point2 = (0.0, 0.0),
) -> Electrode:
    """A rectangular mat with equal meshes.

    Parameters
    ----------
    length_x_m, length_y_m : float
        Sides, > 0. [m]
    meshes_x, meshes_y : int
        Number of meshes along each side, >= 1.
    depth_m : float
        Burial depth of the axes. [m]
    radius_m : float
        Conductor radius. [m]
    corner_m : (x, y)
        The corner with the smallest coordinates. [m]

    Raises
    ------
    ValueError
        When a side or a mesh count is not positive.
    """
    if length_x_m <= 0 or length_y_m <= 0 or meshes_x < 1 or meshes_y < 1:
        raise ValueError("rectangular_mat: sides must be above 0 and meshes at least 1")
    x0, y0 = corner_m
    xs = [x0 + length_x_m * i / meshes_x for i in range(meshes_x + 1)]
    ys = [y0 + length_y_m * i / meshes_y for i in range(meshes_y + 1)]
    along_y = [Conductor((x, y0, depth_m), (x, y0 + length_y_m, depth_m), radius_m) for x in xs]
    along_x = [Conductor((x0, y, depth_m), (x0 + length_x_m, y, depth_m), radius_m) for y in ys]
    return Electrode([*along_y, *along_x])


def mesh_lines(outline_m: Sequence[Point2], spacing_m: float, axis: int) -> tuple[float, ...]:
    """Coordinates of the mesh lines across one axis.

    Every straight edge of the outline at right angles to the axis gets a line, and each interval
    between such edges is divided into equal meshes not wider than the spacing.

    Parameters
    ----------
    outline_m : sequence of (x, y)
        Corners. [m]
    spacing_m : float
        Largest mesh width. [m]
    axis : int
        0: positions x of lines that run along y; 1: positions y of lines that run along x.
    """
    if spacing_m <= 0:
        raise ValueError("spacing_m: must be above 0")
    values = [p[axis] for p in outline_m]
    stops = {min(values), max(values)}
    for a, b in zip(outline_m, [*outline_m[1:], outline_m[0]], strict=True):
        if abs(a[axis] - b[axis]) < 1e-9:
            stops.add(a[axis])
    ordered = sorted(stops)
    lines = [ordered[0]]
    for low, high in itertools.pairwise(ordered):
        count = max(1, ceil((high - low) / spacing_m - 1e-6))
        lines += [low + (high - low) * i / count for i in range(1, count + 1)]
    return tuple(lines)


def polygon_mat(
    outline_m: Sequence[Point2],
    *,
    spacing_x_m: float | None = None,
    spacing_y_m: float | None = None,
    lines_x_m: Sequence[float] | None = None,
    lines_y_m: Sequence[float] | None = None,
    depth_m: float,
    radius_m: float,
) -> Electrode:
    """A mat of any outline: conductors along the outline and along mesh lines inside it.

    Parameters
    ----------
    outline_m : sequence of (x, y)
        Corners in order, not closed. [m]
    spacing_x_m, spacing_y_m : float, optional
        Largest distance between lines x = const and between lines y = const. [m]
    lines_x_m, lines_y_m : sequence of float, optional
        Stated positions instead of a spacing. [m]
    depth_m, radius_m : float
        Depth of the axes and conductor radius. [m]

    Raises
    ------
    ValueError
        When the outline crosses itself or has no area, or neither spacing nor lines are given.
    """
    polygon = Polygon(outline_m)
    if not polygon.is_valid or polygon.area <= 0:
        raise ValueError(f"outline_m: {shapely.is_valid_reason(polygon)}")
    conductors = [
        Conductor((*a, depth_m), (*b, depth_m), radius_m)
        for a, b in zip(outline_m, [*outline_m[1:], outline_m[0]], strict=True)
        if hypot(a[0] - b[0], a[1] - b[1]) > 2 * radius_m
    ]
    for axis, spacing, lines in ((0, spacing_x_m, lines_x_m), (1, spacing_y_m, lines_y_m)):
        if lines is None:
            if spacing is None:
                raise ValueError("polygon_mat: give a spacing or lines for x and for y")
            lines = mesh_lines(outline_m, spacing, axis)
        for position in lines:
            conductors += [
                Conductor((*a, depth_m), (*b, depth_m), radius_m) for a, b in _inside(polygon, position, axis)
            ]
    return Electrode(conductors)


def _inside(polygon: Polygon, position: float, axis: int) -> list[tuple[Point2, Point2]]:
    """The pieces of a mesh line that run inside the outline, not on it."""
    x0, y0, x1, y1 = polygon.bounds
    line = (
        LineString([(position, y0 - 1), (position, y1 + 1)])
        if axis == 0
        else LineString([(x0 - 1, position), (x1 + 1, position)])
    )
    cut = line.intersection(polygon).difference(polygon.boundary.buffer(1e-9))
    pieces: list[tuple[Point2, Point2]] = []
    for part in shapely.get_parts(cut):
        if part.geom_type != "LineString" or part.length < SHORTEST_PIECE_M:
            continue
        (ax, ay), (bx, by) = part.coords[0], part.coords[-1]
        # the buffer above takes 1e-9 m off each end; put the end back on the outline
        pieces.append(((round(ax, 7), round(ay, 7)), (round(bx, 7), round(by, 7))))
    return pieces


def perimeter_points(
    outline_m: Sequence[Point2], *, spacing_m: float | None = None, count: int | None = None
) -> tuple[Point2, ...]:
    """Places at equal distances along the outline, the first at its first corner.

    Give the number of places, or the largest distance between them. [m]
    """
    ring = LineString([*outline_m, outline_m[0]])
    if count is None:
        if spacing_m is None or spacing_m <= 0:
            raise ValueError("perimeter_points: give a count or a spacing above 0")
        count = max(1, ceil(ring.length / spacing_m - 1e-6))
    places = [ring.interpolate(ring.length * i / count) for i in range(count)]
    return tuple((round(p.x, 9), round(p.y, 9)) for p in places)


def rods_at(
    places_m: Iterable[Point2], *, length_m: float, radius_m: float, top_depth_m: float = 0.0
) -> Electrode:
    """Vertical rods of one kind at the given places. [m]"""
    return Electrode(
        Conductor((x, y, top_depth_m), (x, y, top_depth_m + length_m), radius_m, kind="rod")
        for x, y in places_m
    )
