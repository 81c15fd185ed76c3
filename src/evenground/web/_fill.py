"""Filling an outline with a mesh, and rings around it."""

from __future__ import annotations

from math import ceil, isfinite
from typing import Any

from shapely.geometry import Polygon

from evenground.errors import InputError

__all__ = ["graded_lines", "ring_points"]

MOST_LINES = 2000


def graded_lines(low: float, high: float, widest_m: float, edge: float) -> list[float]:
    """Positions of mesh lines from ``low`` to ``high``, the spaces narrower towards both ends.

    Parameters
    ----------
    low, high : float
        First and last line. [m]
    widest_m : float
        No space is wider. [m]
    edge : float
        Width of the outermost space over that of the middle one, above 0 to 1; 1: equal spaces.

    Raises
    ------
    InputError
        When the numbers make no mesh.
    """
    if not (isfinite(low) and isfinite(high) and high > low):
        raise InputError("the outline has no extent in this direction")
    if not (isfinite(widest_m) and widest_m > 0):
        raise InputError("the widest space must be above 0")
    if not 0 < edge <= 1:
        raise InputError("the outermost space over the middle one must be above 0 and at most 1")
    length = high - low
    count = max(1, ceil(length / widest_m - 1e-9))
    while count <= MOST_LINES:
        spaces = _spaces(count, edge)
        widths = [length * s / sum(spaces) for s in spaces]
        if max(widths) <= widest_m * (1 + 1e-9):
            break
        count += 1
    else:
        raise InputError(f"that makes more than {MOST_LINES} lines; take a wider space")
    rows, at = [low], low
    for width in widths[:-1]:
        at += width
        rows.append(round(at, 3))
    return [*rows, high]


def _spaces(count: int, edge: float) -> list[float]:
    """Relative widths: geometric from the edge to the middle, alike from both ends."""
    half = (count - 1) // 2
    if half == 0:
        return [1.0] * count
    return [edge ** ((half - min(k, count - 1 - k)) / half) for k in range(count)]


def ring_points(outline: list[list[float]], away_m: Any) -> list[list[float]]:
    """Corners of a ring at a distance outside an outline (negative: inside), the first repeated at the end.

    Raises
    ------
    InputError
        When nothing is left at that distance.
    """
    if not isinstance(away_m, int | float) or not isfinite(away_m) or abs(away_m) > 1000:
        raise InputError("a ring needs a distance in metres")
    ring = Polygon(outline).buffer(float(away_m), join_style="mitre", mitre_limit=3.0)
    if ring.is_empty or ring.geom_type != "Polygon":
        raise InputError("no single ring is left at that distance")
    return [[round(x, 3), round(y, 3)] for x, y in ring.exterior.coords]
