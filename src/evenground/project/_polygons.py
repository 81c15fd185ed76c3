"""Whether an outline is a simple polygon, and where it is not."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from evenground.project._explain import Path
from evenground.project._look import Look, Pair

__all__ = ["check_outline", "opened"]

SAME_PLACE_M = 1e-3
"""Corners nearer than this are the same corner."""
SMALLEST_AREA_M2 = 1e-3


def opened(corners: Sequence[Pair]) -> list[Pair]:
    """The corners without a last one that repeats the first."""
    closed = len(corners) > 1 and _same(corners[0], corners[-1])
    return list(corners[:-1] if closed else corners)


def _same(a: Pair, b: Pair) -> bool:
    return abs(a[0] - b[0]) < SAME_PLACE_M and abs(a[1] - b[1]) < SAME_PLACE_M


def check_outline(look: Look, path: Path, corners: Sequence[Pair]) -> bool:
    """Note what is wrong with an outline; True when it is a simple polygon with an area."""
    corners = opened(corners)
    if len(corners) < 3:
        if corners:
            look.error(
                "outline-corners", path, "an outline needs at least 3 different corners", "add corners"
            )
        return False
    first: dict[tuple[int, int], int] = {}
    for i, (x, y) in enumerate(corners):
        place = (round(x / SAME_PLACE_M), round(y / SAME_PLACE_M))
        if place in first:
            message = f"corners {first[place] + 1} and {i + 1} are the same place, [{x:g}, {y:g}]"
            look.error("outline-corner-twice", (*path, i), message, "remove one of them")
            return False
        first[place] = i
    with np.errstate(all="ignore"):
        polygon = Polygon(corners)
        if _flat(corners):
            look.error("outline-area", path, "the outline encloses no area", "its corners lie on one line")
            return False
        if not polygon.is_valid:
            message, advice = _crossing(corners, polygon)
            look.error("outline-crossing", path, message, advice)
            return False
    return True


def _flat(corners: Sequence[Pair]) -> bool:
    return not shapely.convex_hull(shapely.MultiPoint(corners)).area > SMALLEST_AREA_M2


def _crossing(corners: Sequence[Pair], polygon: Polygon) -> tuple[str, str]:
    reason = shapely.is_valid_reason(polygon)
    place = re.search(r"\[([-+0-9.eE]+) ([-+0-9.eE]+)\]", reason)
    message = "the outline crosses or touches itself"
    if place is None:
        return message, "list the corners in order around the area"
    x, y = float(place[1]), float(place[2])
    message += f" at [{x:.6g}, {y:.6g}]"
    edges = _edges_at(corners, (x, y))
    if len(edges) >= 2:
        message += f", between the edges after corners {edges[0]} and {edges[1]}"
    return message, "list the corners in order around the area"


def _edges_at(corners: Sequence[Pair], place: Pair) -> list[int]:
    """Numbers (from 1) of the corners after which an edge through the place starts."""
    ends = [*corners[1:], corners[0]]
    lines = shapely.linestrings([[a, b] for a, b in zip(corners, ends, strict=True)])
    near = shapely.distance(lines, shapely.Point(place)) < SAME_PLACE_M
    return [i + 1 for i, hit in enumerate(near) if hit]
