"""Test points a step away from fences, with the voltages that the study gives there."""

from __future__ import annotations

from itertools import pairwise
from math import atan2, cos, degrees, dist, hypot, isfinite, pi, sin

from evenground.model.installation import Fence
from evenground.model.site import Point2
from evenground.model.surroundings import FenceProfile
from evenground.schedules._design import Design
from evenground.schedules._table import Cell

__all__ = ["fence_points", "outside_corners"]

AWAY_M = 1.0
"""A person who touches the fence stands this far from it. [m]"""
LEAST_TURN_DEG = 15.0
"""Points at which a fence turns less are chords of a curve, not corners. [deg]"""
NEAR_M = 2.0
"""How far a station of the profile may lie from the corner. [m]"""


def fence_points(design: Design) -> list[tuple[Cell, ...]]:
    """Rows of the test-point table: corners of the site's own fences, 1 m outside."""
    surroundings = design.study.surroundings if design.study else None
    boundary = surroundings.boundary if surroundings else None
    profiles = boundary.profiles if boundary else ()
    rows: list[tuple[Cell, ...]] = []
    for fence in design.installation.fences:
        if fence.owner != "own" or fence.bonding == "insulating":
            continue
        for corner, place in outside_corners(fence, design.outlines_m):
            value, limit = _voltage(corner, fence.name, profiles)
            what = "touch voltage at the fence, standing 1 m outside"
            rows.append((*place, what, f"corner of {fence.name}", value, limit))
    return rows


def outside_corners(fence: Fence, outlines_m: tuple[tuple[Point2, ...], ...]) -> list[tuple[Point2, Point2]]:
    """Corners of a fence, each with the place 1 m from it on the outside. [m]

    Outside is off the ring of a closed fence, and away from the mats for an open one.
    """
    points = list(fence.points_m)
    if fence.closed:
        ring = [points[-1], *points, points[0]]
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*points, points[0]]))
        side = -1.0 if area > 0 else 1.0  # the left of a ring run anticlockwise is inside
    else:
        ring = [_beyond(points[1], points[0]), *points, _beyond(points[-2], points[-1])]
        side = _away_from_mats(points, outlines_m)
    found = []
    for before, corner, after in zip(ring, ring[1:], ring[2:], strict=False):
        one = atan2(corner[1] - before[1], corner[0] - before[0])
        two = atan2(after[1] - corner[1], after[0] - corner[0])
        turn = (two - one + pi) % (2 * pi) - pi
        end = not fence.closed and corner in (points[0], points[-1])
        if abs(degrees(turn)) < LEAST_TURN_DEG and not end:
            continue
        middle = one + turn / 2 + side * pi / 2
        found.append((corner, (corner[0] + AWAY_M * cos(middle), corner[1] + AWAY_M * sin(middle))))
    return found


def _beyond(a: Point2, b: Point2) -> Point2:
    return (2 * b[0] - a[0], 2 * b[1] - a[1])


def _away_from_mats(points: list[Point2], outlines_m: tuple[tuple[Point2, ...], ...]) -> float:
    """1 when the mats lie to the right of the line, -1 when to the left."""
    corners = [p for outline in outlines_m for p in outline] or points
    x, y = (sum(p[i] for p in corners) / len(corners) for i in (0, 1))
    (ax, ay), (bx, by) = max(pairwise(points), key=lambda ends: dist(*ends))
    return -1.0 if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0 else 1.0


def _voltage(corner: Point2, name: str, profiles: tuple[FenceProfile, ...]) -> tuple[Cell, Cell]:
    """Touch voltage and limit outside at the station nearest the corner; dashes when there is none."""
    best: tuple[float, float, float] | None = None
    for profile in profiles:
        if not profile.name.startswith(name):
            continue
        rows = zip(profile.x_m, profile.y_m, profile.outside_v, profile.outside_limit_v, strict=True)
        for x, y, value, limit in rows:
            away = hypot(x - corner[0], y - corner[1])
            if isfinite(value) and isfinite(limit) and away <= NEAR_M and (best is None or away < best[0]):
                best = (away, float(value), float(limit))
    return ("–", "–") if best is None else (best[1], best[2])
