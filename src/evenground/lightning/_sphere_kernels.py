"""Compiled loops of the rolling sphere; imported only when a sphere rolls.

All compiled functions live in this file because the on-disk cache watches only the file of the outermost
function.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator, misc"
from __future__ import annotations

import numba as nb
import numpy as np

ACTIVE = 10
MERGED = 1e-3  # part of the radius below which two centres count as one hollow's

_inner = nb.njit(error_model="numpy")
_outer = nb.njit(error_model="numpy", cache=True, nogil=True)


@_inner
def _gap(at, piece, tail, way, square, boxes, reach, near):
    """Distance from a point to a piece less its reach; ``near`` receives the nearest place."""
    lines = tail.shape[0]
    if piece < lines:
        share = 0.0
        for k in range(3):
            share += (at[k] - tail[piece, k]) * way[piece, k]
        share = min(max(share / square[piece], 0.0), 1.0)
        for k in range(3):
            near[k] = tail[piece, k] + share * way[piece, k]
    else:
        box = boxes[piece - lines]
        x, y = at[0] - box[0], at[1] - box[1]
        u = min(max(x * box[2] + y * box[3], -box[4]), box[4])
        v = min(max(-x * box[3] + y * box[2], -box[5]), box[5])
        near[0] = box[0] + u * box[2] - v * box[3]
        near[1] = box[1] + u * box[3] + v * box[2]
        near[2] = min(max(at[2], 0.0), box[6])
    away = 0.0
    for k in range(3):
        away += (at[k] - near[k]) ** 2
    return np.sqrt(away) - reach[piece]


@_inner
def _planes(at, tail, way, square, boxes, reach, normal, offset, best, near):
    """Tangent planes of the nearest pieces, in rows 1...; returns the number of rows."""
    pieces = reach.shape[0]
    best[:] = np.inf
    held = 0
    for piece in range(pieces):
        gap = _gap(at, piece, tail, way, square, boxes, reach, near)
        if held == ACTIVE and gap >= best[ACTIVE - 1]:
            continue
        place = min(held, ACTIVE - 1)
        while place > 0 and best[place - 1] > gap:
            best[place] = best[place - 1]
            normal[place + 1] = normal[place]
            offset[place + 1] = offset[place]
            place -= 1
        best[place] = gap
        total = 0.0
        for k in range(3):
            normal[place + 1, k] = (at[k] - near[k]) / (gap + reach[piece])
            total += normal[place + 1, k] * at[k]
        offset[place + 1] = total - gap
        held = min(held + 1, ACTIVE)
    return held + 1


@_inner
def _project(target, normal, offset, rows, slack, aim, line, spot):
    """Nearest place to the target with normal x >= offset: plane after plane, as long as one is broken.

    In space at most three planes hold a nearest place: one plane, the line of two, a corner of three. A
    plane that is broken holds the new nearest place, among those planes looked at before it.
    """
    for k in range(3):
        aim[k] = target[k]
    for row in range(rows):
        if _over(aim, normal[row], offset[row]) >= -slack:
            continue
        short = _over(target, normal[row], offset[row])
        for k in range(3):
            aim[k] = target[k] - short * normal[row, k]
        for other in range(row):
            if _over(aim, normal[other], offset[other]) < -slack:
                _on_line(target, normal, offset, row, other, slack, aim, line, spot)


@_inner
def _over(at, normal, offset):
    """How far a place lies on the permitted side of a plane."""
    return at[0] * normal[0] + at[1] * normal[1] + at[2] * normal[2] - offset


@_inner
def _on_line(target, normal, offset, one, two, slack, aim, line, spot):
    """Nearest place to the target on the line of two planes, inside all planes before the second."""
    a, b = normal[one], normal[two]
    line[0] = a[1] * b[2] - a[2] * b[1]
    line[1] = a[2] * b[0] - a[0] * b[2]
    line[2] = a[0] * b[1] - a[1] * b[0]
    square = line[0] ** 2 + line[1] ** 2 + line[2] ** 2
    if square < 1e-18:  # parallel: the first plane alone
        return
    cosine = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    short_a, short_b = _over(target, a, offset[one]), _over(target, b, offset[two])
    u = (short_a - cosine * short_b) / square
    v = (short_b - cosine * short_a) / square
    for k in range(3):
        spot[k] = target[k] - u * a[k] - v * b[k]
    low, high = -np.inf, np.inf
    for row in range(two):
        slope = line[0] * normal[row, 0] + line[1] * normal[row, 1] + line[2] * normal[row, 2]
        over = _over(spot, normal[row], offset[row])
        if slope > 1e-12:
            low = max(low, -over / slope)
        elif slope < -1e-12:
            high = min(high, -over / slope)
    along = max(low, min(0.0, high))
    for k in range(3):
        aim[k] = spot[k] + along * line[k]


@_inner
def _permitted(at, tail, way, square, boxes, reach, ground, slack, near):
    if at[2] < ground - slack:
        return False
    for piece in range(reach.shape[0]):
        if _gap(at, piece, tail, way, square, boxes, reach, near) < -slack:
            return False
    return True


@_inner
def _away(a, b):
    return np.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2)


@_inner
def _polish(at, target, enough, known, tail, way, square, boxes, reach, ground, normal, offset, best, work):
    """Move a permitted centre towards its target, inside the permitted space, until nothing moves.

    It ends early where it is near enough, or where it comes to the place ``known`` that another start found.
    """
    aim, trial, near, line, spot = work[0], work[1], work[2], work[3], work[4]
    for _ in range(80):
        rows = _planes(at, tail, way, square, boxes, reach, normal, offset, best, near)
        _project(target, normal, offset, rows, 1e-9 * ground, aim, line, spot)
        share, moved = 1.0, 0.0
        for _ in range(6):
            for k in range(3):
                trial[k] = at[k] + share * (aim[k] - at[k])
            if _permitted(trial, tail, way, square, boxes, reach, ground, 1e-6 * ground, near):
                for k in range(3):
                    moved += (trial[k] - at[k]) ** 2
                    at[k] = trial[k]
                break
            share *= 0.4
        if moved < (1e-5 * ground) ** 2 or _away(at, target) <= enough or _away(at, known) < MERGED * ground:
            break


@_outer
def rest(points, nodes, near, sides, count, cell, enough, tail, way, square, boxes, reach, ground):
    """Nearest permitted centre of every point and its distance; stops early below the distance ``enough``.

    The search starts in ``count`` of the near raster places that keep away from each other, then in those
    to the sides.
    """
    centre = np.zeros_like(points)
    distance = np.full(points.shape[0], np.inf)
    normal = np.zeros((ACTIVE + 1, 3))
    offset = np.zeros(ACTIVE + 1)
    normal[0, 2] = 1.0
    offset[0] = ground
    best, work, at = np.zeros(ACTIVE), np.zeros((5, 3)), np.zeros(3)
    apart = np.zeros(near.shape[1])
    for index in range(points.shape[0]):
        apart[:] = np.inf
        for number in range(count + sides.shape[1]):
            if number < count:
                # the nearest one that keeps its distance from those taken; the farthest off when none does
                pick = 0
                for k in range(apart.shape[0]):
                    if apart[k] > 2.5 * cell:
                        pick = k
                        break
                    if apart[k] > apart[pick]:
                        pick = k
                start = nodes[near[index, pick]]
                for k in range(apart.shape[0]):
                    apart[k] = min(apart[k], _away(nodes[near[index, k]], start))
            else:
                start = nodes[sides[index, number - count]]
            at[:] = start
            known = centre[index]  # at first below the ground, where no centre comes near
            shape = (tail, way, square, boxes, reach, ground)
            _polish(at, points[index], enough, known, *shape, normal, offset, best, work)
            away = _away(at, points[index])
            if away < distance[index]:
                distance[index] = away
                centre[index] = at
                if away <= enough:
                    break
    return centre, distance


@_outer
def raster_free(low, cell, count, tail, way, square, boxes, reach, bounds):
    """Which raster places are permitted, shape ``count``; ``bounds`` are (lowest, highest) of each piece."""
    free = np.ones((count[0], count[1], count[2]), dtype=np.bool_)
    at, near = np.zeros(3), np.zeros(3)
    first, last = np.zeros(3, dtype=np.int64), np.zeros(3, dtype=np.int64)
    for piece in range(reach.shape[0]):
        for k in range(3):
            first[k] = max(0, int(np.ceil((bounds[piece, 0, k] - low[k]) / cell)))
            last[k] = min(count[k], int(np.floor((bounds[piece, 1, k] - low[k]) / cell)) + 1)
        for i in range(first[0], last[0]):
            at[0] = low[0] + i * cell
            for j in range(first[1], last[1]):
                at[1] = low[1] + j * cell
                for m in range(first[2], last[2]):
                    at[2] = low[2] + m * cell
                    if free[i, j, m] and _gap(at, piece, tail, way, square, boxes, reach, near) < 0.0:
                        free[i, j, m] = False
    return free
