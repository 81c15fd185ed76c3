"""Compiled loops of the rolling sphere; imported only when a sphere rolls.

All compiled functions live in this file because the on-disk cache watches only the file of the outermost
function.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator, misc"
from __future__ import annotations

import numba as nb
import numpy as np

ACTIVE = 10

_inner = nb.njit(error_model="numpy")
_outer = nb.njit(error_model="numpy", cache=True)


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
def _project(target, normal, offset, rows, tolerance, aim, dual):
    """Nearest place to the target with normal x >= offset, by dual coordinate ascent."""
    dual[:] = 0.0
    for k in range(3):
        aim[k] = target[k]
    for _ in range(150):
        largest = 0.0
        for row in range(rows):
            short = offset[row]
            for k in range(3):
                short -= normal[row, k] * aim[k]
            step = max(short, -dual[row])
            dual[row] += step
            for k in range(3):
                aim[k] += step * normal[row, k]
            largest = max(largest, abs(step))
        if largest < tolerance:
            return


@_inner
def _permitted(at, tail, way, square, boxes, reach, ground, slack, near):
    if at[2] < ground - slack:
        return False
    for piece in range(reach.shape[0]):
        if _gap(at, piece, tail, way, square, boxes, reach, near) < -slack:
            return False
    return True


@_outer
def polish(start, target, tail, way, square, boxes, reach, ground):
    """Move permitted centres towards their targets, inside the permitted space, until nothing moves."""
    result = start.copy()
    normal = np.zeros((ACTIVE + 1, 3))
    offset = np.zeros(ACTIVE + 1)
    normal[0, 2] = 1.0
    offset[0] = ground
    aim, trial, near = np.zeros(3), np.zeros(3), np.zeros(3)
    best, dual = np.zeros(ACTIVE), np.zeros(ACTIVE + 1)
    for index in range(start.shape[0]):
        at = result[index]
        for _ in range(80):
            rows = _planes(at, tail, way, square, boxes, reach, normal, offset, best, near)
            _project(target[index], normal, offset, rows, 1e-7 * ground, aim, dual)
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
            if moved < (1e-5 * ground) ** 2:
                break
    return result


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
