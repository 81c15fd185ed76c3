"""Lines of equal surface potential round the site, by rays from the edge of the mat."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from evenground.errors import Finding, Severity
from evenground.model.site import Point2
from evenground.model.surroundings import Contour
from evenground.safety._fence_rules import contour_limits
from evenground.safety._surface import Potential
from evenground.safety._zones import FloatArray

__all__ = ["contours", "far_contours", "ray_distances"]

RAYS = 72
STRIDE = 1.5
"""Each place on a ray lies this many times further out than the one before."""
FURTHEST_M = 10_000.0
"""Rays end here at the latest. Some km away the field of a direct current no longer stands for that at power
frequency: the skin depth, 503 sqrt(rho/f) m, is 5 km at 5000 ohm m and 50 Hz."""
FURTHEST = 10.0
"""Rays of a very large mat go on to this many times its size at least."""
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
    end = max(FURTHEST_M, FURTHEST * float(start.max()))
    distances = _distances(potential, middle, angles, start, end, [v.voltage_v / gpr_v for v in limits])
    for limit, r in zip(limits, distances, strict=True):
        nearest, furthest, beyond, points = _measured(base, middle, angles, r, end)
        found.append(
            Contour(
                voltage_v=limit.voltage_v,
                scenario=scenario,
                nearest_m=nearest,
                furthest_m=furthest,
                points_m=points,
                used_for=limit.text,
                source=limit.source,
                evidence=limit.evidence,
                beyond_m=beyond,
            )
        )
    return tuple(found)


def far_contours(rows: Sequence[Contour]) -> tuple[Finding, ...]:
    """A warning for the contours that reach beyond the farthest place looked at."""
    far = [c for c in rows if c.beyond_m is not None]
    if not far:
        return ()
    levels = ", ".join(f"{c.voltage_v:.0f}" for c in far)
    distance = min(c.beyond_m for c in far if c.beyond_m is not None)
    text = f"surface potential of {levels} V reaches further than {distance:.0f} m from the mat"
    advice = (
        "check the soil model at depth by soundings with long spacings, and every service, house and station "
        "within that distance"
    )
    return (Finding("contour-beyond", text, advice, Severity.WARNING),)


def _measured(
    base: BaseGeometry, middle: Point2, angles: FloatArray, r: FloatArray, end_m: float
) -> tuple[float | None, float | None, float | None, FloatArray]:
    """Nearest and furthest distance from the mat, distance looked at if the line is beyond it, places. [m]"""
    inside, beyond, met = np.isnan(r), np.isposinf(r), np.isfinite(r)

    def places(distance: FloatArray) -> FloatArray:
        return np.column_stack([middle[0] + distance * np.cos(angles), middle[1] + distance * np.sin(angles)])

    points = places(np.where(met, r, np.nan))
    gaps = shapely.distance(base, shapely.points(points[met]))
    nearest = furthest = looked = None
    if not inside.all():
        # where the edge itself is below the voltage, the line runs inside the mat
        nearest = 0.0 if inside.any() else float(gaps.min()) if met.any() else None
    if beyond.any():
        ends = places(np.full(len(r), end_m))[beyond]
        looked = float(shapely.distance(base, shapely.points(ends)).min())
    elif met.any():
        furthest = float(gaps.max())
    return nearest, furthest, looked, points


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
    potential: Potential,
    middle: Point2,
    angles: FloatArray,
    start: FloatArray,
    end_m: float,
    levels: Sequence[float],
) -> list[FloatArray]:
    """Distance from the middle at which each ray meets each level.

    nan where the ray is below it from the rim, inf where it is still above it at the end of the ray.
    A few places on every ray bracket all levels at once, further out until all are bracketed; within its
    bracket a level is found by false position on the reciprocal of the potential, which grows nearly in
    proportion to distance.
    """
    directions = np.cos(angles), np.sin(angles)

    def at(r: FloatArray, rows: NDArray[np.int64]) -> FloatArray:
        values: FloatArray = potential(
            middle[0] + r * directions[0][rows], middle[1] + r * directions[1][rows]
        )
        return values

    every = np.arange(len(angles))
    radii, values = [start], [at(start, every)]
    while (values[-1] >= min(levels)).any() and (radii[-1] < end_m).any():
        radii.append(np.minimum(radii[-1] * STRIDE, end_m))
        values.append(at(radii[-1], every))
    way, grid = np.stack(radii), np.stack(values)
    found = []
    for level in levels:
        # nothing on the surface exceeds the rise of the mat itself, but for rounding
        above = (grid[0] >= level) & (level < 1.0)
        out = np.where(above, np.inf, np.nan)
        rows = every[above & (grid[-1] < level)]
        if len(rows):
            below = np.argmax(grid[:, rows] < level, axis=0)
            low, high = way[below - 1, rows], way[below, rows]
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
