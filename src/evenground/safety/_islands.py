"""How far a voltage reaches from fences and services that carry potential beyond the contours of the mat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from evenground.model.site import Point2
from evenground.model.surroundings import Contour
from evenground.safety._surface import Potential
from evenground.safety._zones import FloatArray

__all__ = ["Island", "islands"]

FIRST_M = 0.3
"""Smallest distance from the metal that is looked at. [m]"""
STRIDE = 1.5
FURTHEST_M = 10_000.0
MOST_PLACES = 240
"""Places on each line at one distance round a piece of metal."""
CLOSEST_M = 0.5
ROUNDS = 7
BESIDE = 0.02
"""The contour of the mat is drawn by rays; places this share of its size beside it belong to it."""


@dataclass(frozen=True)
class Island:
    """Metal in the ground that is no part of the mat: name, its plan, and its share of the rise. [m, -]"""

    name: str
    plan: BaseGeometry
    share: float


def islands(
    potential: Potential,
    metal: Sequence[Island],
    outlines_m: Sequence[Sequence[Point2]],
    lines: Sequence[Contour],
    gpr_v: float,
) -> tuple[Contour, ...]:
    """For every contour of the mat, the metal round which the same voltage is exceeded outside it.

    Parameters
    ----------
    potential : callable
        Surface potential for one volt on the mat, all metal in place. [m -> -]
    metal : sequence of Island
    outlines_m, lines
        Of the mat; a voltage that the mat itself carries beyond the farthest place looked at is left out.

    Returns
    -------
    tuple of Contour
        ``around`` names the metal, ``furthest_m`` is the distance from it beyond which the voltage is
        nowhere exceeded outside the contour of the mat; the points are the line at that distance.
    """
    hull = shapely.union_all([Polygon(o) for o in outlines_m]).convex_hull
    found = []
    for row in lines:
        if row.beyond_m is not None:
            continue
        own = shapely.union_all([hull, _inside(row)])
        for piece in metal:
            level = row.voltage_v / gpr_v
            if piece.share >= level:
                distance = _reach(potential, piece.plan, own, level)
                if distance is not None:
                    found.append(_contour(row, piece, own, distance))
    return tuple(found)


def _inside(row: Contour) -> BaseGeometry:
    points = row.points_m[np.isfinite(row.points_m[:, 0])]
    if len(points) < 3:
        return Polygon()
    ring = Polygon(points).buffer(0.0)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return ring.buffer(BESIDE * max(x1 - x0, y1 - y0))


def _reach(potential: Potential, plan: BaseGeometry, own: BaseGeometry, level: float) -> float | None:
    """Largest distance from a piece at which the level is exceeded outside the mat's own contour. [m]"""

    def exceeded(distance_m: float) -> bool:
        spots = _round(plan, distance_m)
        spots = spots[~shapely.contains_xy(own, spots[:, 0], spots[:, 1])]
        return bool(len(spots)) and bool(np.any(potential(spots[:, 0], spots[:, 1]) >= level))

    low = FIRST_M
    if not exceeded(low):
        return None
    high = low * STRIDE
    while high < FURTHEST_M and exceeded(high):
        low, high = high, high * STRIDE
    for _ in range(ROUNDS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if exceeded(middle) else (low, middle)
    return high


def _round(plan: BaseGeometry, distance_m: float) -> FloatArray:
    """Places at one distance from a piece, all round. [m]"""
    rim = plan.buffer(distance_m, quad_segs=16).boundary
    pitch = max(CLOSEST_M, rim.length / MOST_PLACES)
    places: FloatArray = shapely.get_coordinates(shapely.segmentize(rim, pitch))
    return places


def _contour(row: Contour, piece: Island, own: BaseGeometry, distance_m: float) -> Contour:
    spots = _round(piece.plan, distance_m)
    held = shapely.contains_xy(own, spots[:, 0], spots[:, 1])
    return Contour(
        voltage_v=row.voltage_v,
        scenario=row.scenario,
        nearest_m=0.0,
        furthest_m=distance_m,
        points_m=np.where(held[:, None], np.nan, spots),
        used_for=row.used_for,
        source=row.source,
        evidence=row.evidence,
        around=piece.name,
    )
