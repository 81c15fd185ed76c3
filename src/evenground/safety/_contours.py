"""Lines of equal surface potential round the site, by rays from the edge of the mat."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from evenground.model.site import Point2
from evenground.model.surroundings import Contour
from evenground.safety._fence_rules import contour_limits
from evenground.safety._surface import Potential
from evenground.safety._zones import FloatArray

__all__ = ["contours", "ray_distances"]

RAYS = 72
STEPS = 14
FURTHEST = 200.0
"""Rays end at this many times the size of the mat."""
ROUNDS = 12
SETTLED = 1e-3
"""A place counts when its potential is that near to the voltage looked for."""


def contours(
    potential: Potential, outlines_m: Sequence[Sequence[Point2]], gpr_v: float, scenario: str
) -> tuple[Contour, ...]:
    """Contours of the voltages in the data file for one scenario.

    Beyond the hull of the mat the surface potential falls with distance, so each ray from its middle meets
    a voltage once. [V]
    """
    hull = shapely.union_all([Polygon(o) for o in outlines_m]).convex_hull
    if not isinstance(hull, Polygon) or gpr_v == 0.0:  # no rise: every source of the fault is local
        return ()
    base = shapely.union_all([Polygon(o) for o in outlines_m])
    angles = np.arange(RAYS) * 2 * np.pi / RAYS
    middle = (hull.centroid.x, hull.centroid.y)
    start = ray_distances(hull, middle, angles)
    found = []
    limits = contour_limits()
    distances = _distances(potential, middle, angles, start, [v.voltage_v / gpr_v for v in limits])
    for limit, r in zip(limits, distances, strict=True):
        reached = np.isfinite(r)
        points = np.column_stack([middle[0] + r * np.cos(angles), middle[1] + r * np.sin(angles)])
        gaps = shapely.distance(base, shapely.points(points[reached]))
        # where the edge itself is below the voltage, the line runs inside the mat
        nearest = None if not reached.any() else float(gaps.min()) if reached.all() else 0.0
        found.append(
            Contour(
                voltage_v=limit.voltage_v,
                scenario=scenario,
                nearest_m=nearest,
                furthest_m=float(gaps.max()) if reached.any() else None,
                points_m=points,
                used_for=limit.text,
                source=limit.source,
                evidence=limit.evidence,
            )
        )
    return tuple(found)


def ray_distances(hull: Polygon, middle: Point2, angles: FloatArray) -> FloatArray:
    """Distance from the middle to the rim of a convex shape in each direction. [m]"""
    ring = np.asarray(hull.exterior.coords)
    a, way = ring[:-1] - middle, np.diff(ring, axis=0)
    best = np.zeros(len(angles))
    for k, angle in enumerate(angles):
        d = np.array([np.cos(angle), np.sin(angle)])
        cross = d[0] * way[:, 1] - d[1] * way[:, 0]
        skew = np.abs(cross) > 1e-12
        ai, wi, ci = a[skew], way[skew], cross[skew]
        along = (ai[:, 0] * wi[:, 1] - ai[:, 1] * wi[:, 0]) / ci
        share = (ai[:, 0] * d[1] - ai[:, 1] * d[0]) / ci
        hits = along[(share >= -1e-9) & (share <= 1 + 1e-9) & (along > 0)]
        best[k] = hits.max() if len(hits) else 0.0
    return best


def _distances(
    potential: Potential, middle: Point2, angles: FloatArray, start: FloatArray, levels: Sequence[float]
) -> list[FloatArray]:
    """Distance from the middle at which each ray meets each level; nan where it is below it from the rim.

    A few places on every ray bracket all levels at once; within its bracket a level is found by false
    position on the reciprocal of the potential, which grows nearly in proportion to distance.
    """
    directions = np.cos(angles), np.sin(angles)

    def at(r: FloatArray, rows: NDArray[np.int64]) -> FloatArray:
        values: FloatArray = potential(
            middle[0] + r * directions[0][rows], middle[1] + r * directions[1][rows]
        )
        return values

    every = np.arange(len(angles))
    factors = np.geomspace(1.0, FURTHEST, STEPS)
    grid = np.stack([at(start * f, every) for f in factors])
    found = []
    for level in levels:
        out = np.full(len(angles), np.nan)
        rows = every[(grid[0] >= level) & (grid[-1] < level)]
        if level < 1.0 and len(rows):
            below = np.argmax(grid[:, rows] < level, axis=0)
            low, high = start[rows] * factors[below - 1], start[rows] * factors[below]
            a, b = grid[below - 1, rows], grid[below, rows]
            out[rows] = _false_position(at, rows, level, (low, a), (high, b))
        found.append(out)
    return found


def _false_position(
    at: Callable[[FloatArray, NDArray[np.int64]], FloatArray],
    rows: NDArray[np.int64],
    level: float,
    near: tuple[FloatArray, FloatArray],
    far: tuple[FloatArray, FloatArray],
) -> FloatArray:
    (low, a), (high, b) = near, far
    r = low
    for _ in range(ROUNDS):
        share = (1.0 / level - 1.0 / a) / (1.0 / b - 1.0 / a)
        r = low + np.clip(share, 0.0, 1.0) * (high - low)
        v = at(r, rows)
        over = v >= level
        low, a = np.where(over, r, low), np.where(over, v, a)
        high, b = np.where(over, high, r), np.where(over, b, v)
        if float(np.max(np.abs(v / level - 1.0))) < SETTLED:
            break
    return r
