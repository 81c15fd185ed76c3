"""Where conductors meet, cross and overlap.

Works on plain arrays with a spatial index, so thousands of conductors cost little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenground.model.electrode import Conductor

__all__ = ["Meetings", "find_meetings"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GAP_M = 1e-3
"""Surfaces nearer than this count as touching. [m]"""
PARALLEL = 1e-10
"""Squared sine below which two conductors are parallel."""


@dataclass
class Meetings:
    """What is left of each conductor and where others touch it.

    Attributes
    ----------
    kept : list of lists of (from, to)
        Stretches of each conductor that no earlier one covers, as distance from its start. [m]
    pairs : list of (i, j)
        Conductors that touch.
    touched : list of lists
        Distances from the start at which another conductor touches. [m]
    notes : list of str
    """

    kept: list[list[tuple[float, float]]]
    touched: list[list[float]]
    pairs: list[tuple[int, int]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def find_meetings(conductors: Sequence[Conductor]) -> Meetings:
    """Find crossings, tees, touching ends and overlaps of straight conductors."""
    start = np.array([c.start_m for c in conductors])
    end = np.array([c.end_m for c in conductors])
    radius = np.array([c.radius_m for c in conductors])
    vector = end - start
    length = np.linalg.norm(vector, axis=1)
    unit = vector / length[:, None]
    found = Meetings([[(0.0, float(v))] for v in length], [[] for _ in conductors])
    i, j = _candidates(start, end, radius)
    if len(i) == 0:
        return found
    reach = radius[i] + radius[j] + GAP_M
    cosine = np.einsum("pk,pk->p", unit[i], unit[j])
    parallel = 1.0 - cosine**2 < PARALLEL
    _note_parallel(found, start, end, unit, length, i[parallel], j[parallel], reach[parallel], radius)
    _note_crossing(found, start, unit, length, i[~parallel], j[~parallel], reach[~parallel])
    return found


def _candidates(start: FloatArray, end: FloatArray, radius: FloatArray) -> tuple[IntArray, IntArray]:
    """Pairs i < j whose bounding boxes meet."""
    import shapely

    low, high = np.minimum(start, end), np.maximum(start, end)
    grow = (radius + GAP_M)[:, None]
    low, high = low - grow, high + grow
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    keep = first < second
    first, second = first[keep], second[keep]
    level = (low[first, 2] <= high[second, 2]) & (low[second, 2] <= high[first, 2])
    order = np.lexsort((second[level], first[level]))
    return first[level][order], second[level][order]


def _note_crossing(
    found: Meetings,
    start: FloatArray,
    unit: FloatArray,
    length: FloatArray,
    i: IntArray,
    j: IntArray,
    reach: FloatArray,
) -> None:
    """Closest points of skew pairs (Eberly, 3D Game Engine Design, 2000: clamp one, solve for the other)."""
    w = start[i] - start[j]
    b = np.einsum("pk,pk->p", unit[i], unit[j])
    d = np.einsum("pk,pk->p", unit[i], w)
    e = np.einsum("pk,pk->p", unit[j], w)
    s = np.clip((b * e - d) / (1.0 - b * b), 0.0, length[i])
    t = np.clip(b * s + e, 0.0, length[j])
    s = np.clip(b * t - d, 0.0, length[i])
    t = np.clip(b * s + e, 0.0, length[j])
    gap = np.linalg.norm(w + s[:, None] * unit[i] - t[:, None] * unit[j], axis=1)
    for k in np.flatnonzero(gap <= reach):
        found.pairs.append((int(i[k]), int(j[k])))
        found.touched[i[k]].append(float(s[k]))
        found.touched[j[k]].append(float(t[k]))


def _note_parallel(
    found: Meetings,
    start: FloatArray,
    end: FloatArray,
    unit: FloatArray,
    length: FloatArray,
    i: IntArray,
    j: IntArray,
    reach: FloatArray,
    radius: FloatArray,
) -> None:
    """Parallel pairs on one axis: overlaps are taken off the later conductor, touching ends noted."""
    removed, whole = 0.0, 0
    for a, b, near in zip(i.tolist(), j.tolist(), reach.tolist(), strict=True):
        w = start[a] - start[b]
        if np.linalg.norm(w - (w @ unit[b]) * unit[b]) > near:
            continue
        places = sorted((float(w @ unit[b]), float((end[a] - start[b]) @ unit[b])))
        low, high = max(places[0], 0.0), min(places[1], float(length[b]))
        if high < low - near:
            continue
        found.pairs.append((a, b))
        # they touch where the later one goes on beyond the overlap, or end to end
        overlap = high - low > near
        for place, goes_on in ((low, low > near), (high, high < length[b] - near)):
            if goes_on or not overlap:
                found.touched[b].append(min(max(place, 0.0), float(length[b])))
                along = float((start[b] + place * unit[b] - start[a]) @ unit[a])
                found.touched[a].append(min(max(along, 0.0), float(length[a])))
        if high - low > 4.0 * radius[b]:
            before = sum(q - p for p, q in found.kept[b])
            found.kept[b] = _without(found.kept[b], low, high, 4.0 * float(radius[b]))
            removed += before - sum(q - p for p, q in found.kept[b])
            whole += not found.kept[b]
    if removed > 0.0:
        found.notes.append(
            f"{removed:.4g} m of conductor lie on top of others and were counted once"
            + (f" ({whole} conductors are covered completely)" if whole else "")
        )


def _without(
    stretches: list[tuple[float, float]], low: float, high: float, shortest: float
) -> list[tuple[float, float]]:
    left = []
    for p, q in stretches:
        if high <= p or low >= q:
            left.append((p, q))
            continue
        left += [(x, y) for x, y in ((p, low), (high, q)) if y - x >= shortest]
    return left
