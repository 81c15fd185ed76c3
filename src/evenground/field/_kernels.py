"""Compiled inner loops. The only module of the program that imports Numba, and only when a solve runs.

All compiled functions live in this one file because the on-disk cache watches only the file of the
outermost function. Logarithm and inverse square root are written out so that whole loops become vector
instructions; their relative errors are below 5e-16 and 4e-11.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator, misc"
from __future__ import annotations

import functools
import threading
from typing import Any

import numba as nb
import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

FLAGS = {"reassoc", "nsz", "contract"}
_fast = nb.njit(fastmath=FLAGS, error_model="numpy", forceinline=True)
_near = nb.njit(fastmath=FLAGS, error_model="numpy")  # called seldom enough not to be inlined
_compiled_loop = nb.njit(fastmath=FLAGS, error_model="numpy", cache=True, parallel=True)
_ONE_AT_A_TIME = threading.Lock()


class _Loop:
    """A compiled parallel loop that one thread of the program runs at a time.

    Numba's own thread pool, the only one where neither OpenMP nor TBB is installed, ends the process when two
    threads enter loops together; and one loop uses all cores anyway.
    """

    def __init__(self, function: Any) -> None:
        self._compiled = _compiled_loop(function)
        functools.update_wrapper(self, function)

    def __call__(self, *arguments: Any) -> Any:
        with _ONE_AT_A_TIME:
            return self._compiled(*arguments)

    @property
    def signatures(self) -> Any:
        """Variants compiled or loaded so far."""
        return self._compiled.signatures


_loop = _Loop

# distance between midpoints in units of the longer segment
FAR = 3.5  # beyond: midpoints with a second-order correction, two Gauss points for inclined segments
MIDDLE = 1.6  # beyond (and not parallel): four Gauss points
MIDDLE_PAIR = 2.0  # the same for two horizontal segments, parallel or not

TILE = 32  # rows and columns of the matrix mirrored together
CHECKED_ROWS = 4  # rows of the rest of a low-rank block that are looked at before it counts as done
CHECK_LOOSER = 25.0  # squared ratio by which such a row may exceed the tolerance

CELL_BITS = 49  # the leading 15 bits of a double: eight cells to the octave
_REST = np.int64((1 << CELL_BITS) - 1)
_ONE = np.int64(0x3FF0000000000000)

_x2 = 0.5 / np.sqrt(3.0)
G2 = np.array([0.5 - _x2, 0.5 + _x2])
_x4, _w4 = np.polynomial.legendre.leggauss(4)
G4, W4 = 0.5 + 0.5 * _x4, 0.5 * _w4
_x10, _w10 = np.polynomial.legendre.leggauss(10)
_t = 0.5 + 0.5 * _x10
# clustered at both ends, where the potential of a touching wire has a logarithmic peak
G10, W10 = _t * _t * (3.0 - 2.0 * _t), 0.5 * _w10 * 6.0 * _t * (1.0 - _t)


def _bitcast_to_integer(context: Any, x: Any) -> Any:
    def build(ctx: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], ir.IntType(64))

    return types.int64(types.float64), build


def _bitcast_to_real(context: Any, x: Any) -> Any:
    def build(ctx: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], ir.DoubleType())

    return types.float64(types.int64), build


_bits: Any = intrinsic(_bitcast_to_integer)
_real: Any = intrinsic(_bitcast_to_real)


@_fast
def log(x):
    """Natural logarithm of a positive normal number."""
    i = _bits(x)
    k = i - np.int64(0x3FE6A09E667F3BCD)
    e = k >> np.int64(52)
    m = _real(i - (e << np.int64(52)))
    f = (m - 1.0) / (m + 1.0)
    s = f * f
    p = 2.0 / 21
    p = p * s + 2.0 / 19
    p = p * s + 2.0 / 17
    p = p * s + 2.0 / 15
    p = p * s + 2.0 / 13
    p = p * s + 2.0 / 11
    p = p * s + 2.0 / 9
    p = p * s + 2.0 / 7
    p = p * s + 2.0 / 5
    p = p * s + 2.0 / 3
    return e * 0.6931471805599453 + (2.0 * f + f * s * p)


@_fast
def rsqrt(x):
    """1/sqrt(x) of a positive normal number."""
    y = _real(np.int64(0x5FE6EB50C7B537A9) - np.int64(np.uint64(_bits(x)) >> np.uint64(1)))
    h = 0.5 * x
    y = y * (1.5 - h * y * y)
    y = y * (1.5 - h * y * y)
    return y * (1.5 - h * y * y)


@_fast
def line(px, py, pz, ax, ay, az, tx, ty, tz, length, a2, least2):
    """Integral of 1/sqrt(distance^2 + a2) over the straight line from a along unit vector t.

    The distance from the axis counts as at least the root of ``least2``.
    """
    wx, wy, wz = px - ax, py - ay, pz - az
    s = wx * tx + wy * ty + wz * tz
    d2 = max(wx * wx + wy * wy + wz * wz - s * s, least2) + a2
    u = length - s
    r0 = np.sqrt(s * s + d2)
    r1 = np.sqrt(u * u + d2)
    # the form without cancellation: which one depends on the side of the line
    if s < 0.0:
        return log((u + r1) / (r0 - s))
    if u < 0.0:
        return log((s + r0) / (r1 - u))
    return log((u + r1) * (s + r0) / d2)


@_fast
def _primitive(x, p):
    y = abs(x)
    r = np.sqrt(y * y + p * p)
    return y * log((y + r) / p) - r


@_fast
def parallel_pair(y0, y1, length, p):
    """Double integral of 1/sqrt((x-y)^2 + p^2) over x in (0, length) and y in (y0, y1)."""
    return _primitive(y1, p) - _primitive(y0, p) - _primitive(y1 - length, p) + _primitive(y0 - length, p)


@_fast
def lookup(table, row, base, x):
    """Piecewise cubic of a table at a positive number x."""
    b = _bits(x)
    cell = (b >> np.int64(CELL_BITS)) - base
    f = _real(((b & _REST) << np.int64(52 - CELL_BITS)) | _ONE) - 1.5
    return table[row, cell, 0] + f * (
        table[row, cell, 1] + f * (table[row, cell, 2] + f * table[row, cell, 3])
    )


@_fast
def lookup_slopes(table, row, base, x):
    """Value, first and second derivative of a table at a positive number x."""
    b = _bits(x)
    cell = (b >> np.int64(CELL_BITS)) - base
    f = _real(((b & _REST) << np.int64(52 - CELL_BITS)) | _ONE) - 1.5
    w = 8.0 / _real(b & np.int64(0x7FF0000000000000))  # one over the width of the cell
    p0, p1, p2, p3 = table[row, cell, 0], table[row, cell, 1], table[row, cell, 2], table[row, cell, 3]
    value = p0 + f * (p1 + f * (p2 + f * p3))
    return value, w * (p1 + f * (2.0 * p2 + 3.0 * f * p3)), w * w * (2.0 * p2 + 6.0 * f * p3)


@_fast
def image_slopes(r2, z, d, lo, hi, image):
    """Potential at depth z and squared horizontal distance r2 of a point source at depth d.

    With its first and second derivative by the squared distance.
    """
    total, first, second = 0.0, 0.0, 0.0
    for m in range(lo, hi):
        dz = z - image[1, m] * d - image[2, m]
        y = rsqrt(r2 + dz * dz)
        y2 = y * y
        c = image[0, m] * y
        total += c
        first += c * y2
        second += c * y2 * y2
    return total, -0.5 * first, 0.75 * second


@_loop
def fill_tables(out, base, z, d, lo, hi, least, height2, image, nodes, inverse):
    """Tabulate kernels: row t for depths z[t], d[t] and the images lo[t]:hi[t] at least ``least`` away."""
    rows, cells, _ = out.shape
    for t in nb.prange(rows):
        value = np.empty(4)
        for cell in range(cells):
            for k in range(4):
                low = _bits(nodes[k] + 1.5) & np.int64(0xFFFFFFFFFFFFF)
                x = _real(((base + cell) << np.int64(CELL_BITS)) | (low >> np.int64(52 - CELL_BITS)))
                total = 0.0
                for m in range(lo[t], hi[t]):
                    dz = z[t] - image[1, m] * d[t] - image[2, m]
                    if abs(dz) >= least:
                        total += image[0, m] * rsqrt(x + (dz * dz - height2[t]))
                value[k] = total
            for k in range(4):
                out[t, cell, k] = (
                    inverse[k, 0] * value[0]
                    + inverse[k, 1] * value[1]
                    + inverse[k, 2] * value[2]
                    + inverse[k, 3] * value[3]
                )


@_near
def _gauss_image(i, j, f, x, a2, seg, points):
    """Mean of 1/R between segment i and one image of segment j by the product rule."""
    total = 0.0
    for p in range(points):
        u = G2[p] if points == 2 else G4[p]
        wu = 0.5 if points == 2 else W4[p]
        px = seg[0, i] + u * seg[3, i] - seg[0, j]
        py = seg[1, i] + u * seg[4, i] - seg[1, j]
        pz = seg[2, i] + u * seg[5, i] - f * seg[2, j] - x
        for q in range(points):
            v = G2[q] if points == 2 else G4[q]
            wv = 0.5 if points == 2 else W4[q]
            dx = px - v * seg[3, j]
            dy = py - v * seg[4, j]
            dz = pz - f * v * seg[5, j]
            total += wu * wv * rsqrt(dx * dx + dy * dy + dz * dz + a2)
    return total


@_near
def _close_image(i, j, f, x, a2, seg):
    """Mean of 1/R between segment i and one image of segment j, inner integral exact."""
    li, lj = seg[6, i], seg[6, j]
    tx, ty, tz = seg[3, j] / lj, seg[4, j] / lj, f * seg[5, j] / lj
    ax, ay, az = seg[0, j], seg[1, j], f * seg[2, j] + x
    cosine = (tx * seg[3, i] + ty * seg[4, i] + tz * seg[5, i]) / li
    if abs(cosine) > 1.0 - 1e-11:
        wx, wy, wz = seg[0, i] - ax, seg[1, i] - ay, seg[2, i] - az
        y0 = wx * tx + wy * ty + wz * tz
        p2 = max(wx * wx + wy * wy + wz * wz - y0 * y0, 0.0) + a2
        y1 = y0 + cosine * li
        return parallel_pair(min(y0, y1), max(y0, y1), lj, np.sqrt(p2)) / (li * lj)
    total = 0.0
    for p in range(10):
        u = G10[p]
        px = seg[0, i] + u * seg[3, i]
        py = seg[1, i] + u * seg[4, i]
        pz = seg[2, i] + u * seg[5, i]
        total += W10[p] * line(px, py, pz, ax, ay, az, tx, ty, tz, lj, a2, 0.0)
    return total / lj


@_near
def _near_images(i, j, seg, lo, hi, image):
    """Images one by one, each with as much care as its distance asks for."""
    longer = max(seg[6, i], seg[6, j])
    a2 = 0.5 * (seg[7, i] ** 2 + seg[7, j] ** 2)
    dx = seg[0, i] - seg[0, j] + 0.5 * (seg[3, i] - seg[3, j])
    dy = seg[1, i] - seg[1, j] + 0.5 * (seg[4, i] - seg[4, j])
    zi = seg[2, i] + 0.5 * seg[5, i]
    zj = seg[2, j] + 0.5 * seg[5, j]
    outer, inner = (i, j) if seg[6, i] <= seg[6, j] else (j, i)
    level = seg[3, i] * seg[3, j] + seg[4, i] * seg[4, j]
    total = 0.0
    for m in range(lo, hi):
        f, x = image[1, m], image[2, m]
        dz = zi - f * zj - x
        apart2 = dx * dx + dy * dy + dz * dz
        if outer != i:  # seen from the other side the same image reads z' = f*z - f*x
            x = -f * x
        if apart2 > (FAR * longer) ** 2:
            mean = _gauss_image(outer, inner, f, x, a2, seg, 2)
        else:
            cosine = (level + f * seg[5, i] * seg[5, j]) / (seg[6, i] * seg[6, j])
            if abs(cosine) < 1.0 - 1e-11 and apart2 > (MIDDLE * longer) ** 2:
                mean = _gauss_image(outer, inner, f, x, a2, seg, 4)
            else:
                mean = _close_image(outer, inner, f, x, a2, seg)
        total += image[0, m] * mean
    return total


@_near
def _rest_pair(i, j, row, h2, seg, rest, base):
    """Two horizontal segments: mean of the images that are not close, from their table."""
    points = 2 if h2 > (FAR * max(seg[6, i], seg[6, j])) ** 2 else 4
    total = 0.0
    for p in range(points):
        u = G2[p] if points == 2 else G4[p]
        wu = 0.5 if points == 2 else W4[p]
        px = seg[0, i] + u * seg[3, i] - seg[0, j]
        py = seg[1, i] + u * seg[4, i] - seg[1, j]
        for q in range(points):
            v = G2[q] if points == 2 else G4[q]
            wv = 0.5 if points == 2 else W4[q]
            dx, dy = px - v * seg[3, j], py - v * seg[4, j]
            total += wu * wv * lookup(rest, row, base[1], dx * dx + dy * dy + h2)
    return total


@_near
def _middle_pair(i, j, row, seg, far, base):
    """Two horizontal segments at a middle distance: four by four Gauss points from the far table."""
    total = 0.0
    for p in range(4):
        px = seg[0, i] + G4[p] * seg[3, i] - seg[0, j]
        py = seg[1, i] + G4[p] * seg[4, i] - seg[1, j]
        for q in range(4):
            dx, dy = px - G4[q] * seg[3, j], py - G4[q] * seg[4, j]
            total += W4[p] * W4[q] * lookup(far, row, base[0], dx * dx + dy * dy)
    return total


@_near
def _near_pair(i, j, r2, seg, tag, slices, image, row_of, far, rest, height2, close, close_image, base):
    if tag[4, i] and tag[4, j]:
        row = row_of[0, tag[2, j], tag[2, i]]
        if row >= 0 and r2 > (MIDDLE_PAIR * max(seg[6, i], seg[6, j])) ** 2:
            return _middle_pair(i, j, row, seg, far, base)
        row = row_of[1, tag[2, j], tag[2, i]]
        if row >= 0:
            lo = close[0, row]
            total = _near_images(i, j, seg, lo, lo + close[1, row], close_image)
            if height2[row] > 0.0:
                total += _rest_pair(i, j, row, height2[row], seg, rest, base)
            return total
    lo = slices[0, tag[3, j], tag[3, i]]
    return _near_images(i, j, seg, lo, lo + slices[1, tag[3, j], tag[3, i]], image)


@_near
def _far_pair(i, j, seg, tag, slices, image, row_of, far, base):
    """Two segments far apart.

    A horizontal one counts by the potential at its midpoint and the second derivative along it, an
    inclined one by two Gauss points.
    """
    n_i, n_j = 2 - tag[4, i], 2 - tag[4, j]
    lo = slices[0, tag[3, j], tag[3, i]]
    hi = lo + slices[1, tag[3, j], tag[3, i]]
    total = 0.0
    for p in range(n_i):
        u = 0.5 if n_i == 1 else G2[p]
        x = seg[0, i] + u * seg[3, i]
        y = seg[1, i] + u * seg[4, i]
        for q in range(n_j):
            v = 0.5 if n_j == 1 else G2[q]
            dx = x - seg[0, j] - v * seg[3, j]
            dy = y - seg[1, j] - v * seg[4, j]
            r2 = dx * dx + dy * dy
            row = row_of[0, tag[2 if n_j == 1 else q, j], tag[2 if n_i == 1 else p, i]]
            if row >= 0:
                value, d1, d2 = lookup_slopes(far, row, base[0], r2)
            else:
                z = seg[2, i] + u * seg[5, i]
                d = seg[2, j] + v * seg[5, j]
                value, d1, d2 = image_slopes(r2, z, d, lo, hi, image)
            if n_i == 1:
                along = dx * seg[3, i] + dy * seg[4, i]
                value += (4.0 * along * along * d2 + 2.0 * seg[6, i] * seg[6, i] * d1) / 24.0
            if n_j == 1:
                along = dx * seg[3, j] + dy * seg[4, j]
                value += (4.0 * along * along * d2 + 2.0 * seg[6, j] * seg[6, j] * d1) / 24.0
            total += value
    return total / (n_i * n_j)


@_near
def pair_row(
    out, i, first, last, seg, tag, slices, image, row_of, far, rest, height2, close, close_image, base
):
    """Mean potential of segment i per ampere leaked evenly by each of the segments first:last. [ohm]"""
    xi, yi, li = seg[0, i] + 0.5 * seg[3, i], seg[1, i] + 0.5 * seg[4, i], seg[6, i]
    vx, vy = seg[3, i], seg[4, i]
    for j in range(first, last):
        dx = xi - seg[0, j] - 0.5 * seg[3, j]
        dy = yi - seg[1, j] - 0.5 * seg[4, j]
        r2 = dx * dx + dy * dy
        lj = seg[6, j]
        longer = max(li, lj)
        if r2 <= FAR * FAR * longer * longer:
            out[j - first] = _near_pair(
                i, j, r2, seg, tag, slices, image, row_of, far, rest, height2, close, close_image, base
            )
            continue
        row = row_of[0, tag[2, j], tag[2, i]]
        if row >= 0 and tag[4, i] and tag[4, j]:
            value, d1, d2 = lookup_slopes(far, row, base[0], r2)
            a, b = dx * vx + dy * vy, dx * seg[3, j] + dy * seg[4, j]
            out[j - first] = value + (4.0 * (a * a + b * b) * d2 + 2.0 * (li * li + lj * lj) * d1) / 24.0
        else:
            out[j - first] = _far_pair(i, j, seg, tag, slices, image, row_of, far, base)


@_loop
def assemble(matrix, seg, tag, slices, image, row_of, far, rest, height2, close, close_image, base):
    """Fill the symmetric matrix of mean potentials per ampere. [ohm]"""
    n = seg.shape[1]
    for row in nb.prange((n + 1) // 2):
        for half in range(2):
            k = np.int64(row)
            i = k if half == 0 else n - 1 - k  # a short and a long row together
            if half == 1 and i == k:
                continue
            pair_row(
                matrix[i],
                i,
                0,
                i + 1,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
    # the upper half in square tiles that fit the cache
    tiles = (n + TILE - 1) // TILE
    for tile in nb.prange(tiles):
        first = np.int64(tile) * TILE
        last = min(first + TILE, n)
        for below in range(first, n, TILE):
            for i in range(below, min(below + TILE, n)):
                for j in range(first, min(last, i)):
                    matrix[j, i] = matrix[i, j]


@_near
def _point_images(px, py, pz, j, seg, lo, hi, image):
    """Potential at a point per ampere of segment j, image by image."""
    le, a2 = seg[6, j], seg[7, j] ** 2
    dx = px - seg[0, j] - 0.5 * seg[3, j]
    dy = py - seg[1, j] - 0.5 * seg[4, j]
    zc = seg[2, j] + 0.5 * seg[5, j]
    tx, ty, tz = seg[3, j] / le, seg[4, j] / le, seg[5, j] / le
    total = 0.0
    for m in range(lo, hi):
        f, x = image[1, m], image[2, m]
        dz = pz - f * zc - x
        if dx * dx + dy * dy + dz * dz > (FAR * le) ** 2:
            mean = 0.0
            for q in range(2):
                ex = px - seg[0, j] - G2[q] * seg[3, j]
                ey = py - seg[1, j] - G2[q] * seg[4, j]
                ez = pz - f * (seg[2, j] + G2[q] * seg[5, j]) - x
                mean += 0.5 * rsqrt(ex * ex + ey * ey + ez * ez)
        else:
            az = f * seg[2, j] + x
            mean = line(px, py, pz, seg[0, j], seg[1, j], az, tx, ty, f * tz, le, 0.0, a2) / le
        total += image[0, m] * mean
    return total


@_near
def _near_point(
    px,
    py,
    pz,
    r2,
    layer,
    level,
    j,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    if tag[4, j] and r2 > (MIDDLE * seg[6, j]) ** 2:
        row = row_of[0, tag[2, j], level]
        if row >= 0:
            total = 0.0
            for q in range(4):
                dx = px - seg[0, j] - G4[q] * seg[3, j]
                dy = py - seg[1, j] - G4[q] * seg[4, j]
                total += W4[q] * lookup(far, row, base[0], dx * dx + dy * dy)
            return total
    row = row_of[1, tag[2, j], level]
    if not tag[4, j] or row < 0:
        lo = slices[0, tag[3, j], layer]
        return _point_images(px, py, pz, j, seg, lo, lo + slices[1, tag[3, j], layer], image)
    lo = close[0, row]
    total = _point_images(px, py, pz, j, seg, lo, lo + close[1, row], close_image)
    h2 = height2[row]
    if h2 > 0.0:
        points = 2 if h2 > (FAR * seg[6, j]) ** 2 else 4
        for q in range(points):
            v = G2[q] if points == 2 else G4[q]
            wv = 0.5 if points == 2 else W4[q]
            dx = px - seg[0, j] - v * seg[3, j]
            dy = py - seg[1, j] - v * seg[4, j]
            total += wv * lookup(rest, row, base[1], dx * dx + dy * dy + h2)
    return total


@_near
def _far_point(px, py, pz, layer, level, j, seg, tag, slices, image, row_of, far, base):
    """Potential at a point per ampere of a distant segment, by the rules of :func:`_far_pair`."""
    n_j = 2 - tag[4, j]
    lo = slices[0, tag[3, j], layer]
    hi = lo + slices[1, tag[3, j], layer]
    total = 0.0
    for q in range(n_j):
        v = 0.5 if n_j == 1 else G2[q]
        dx = px - seg[0, j] - v * seg[3, j]
        dy = py - seg[1, j] - v * seg[4, j]
        r2 = dx * dx + dy * dy
        row = row_of[0, tag[2 if n_j == 1 else q, j], level]
        if row >= 0:
            value, d1, d2 = lookup_slopes(far, row, base[0], r2)
        else:
            value, d1, d2 = image_slopes(r2, pz, seg[2, j] + v * seg[5, j], lo, hi, image)
        if n_j == 1:
            along = dx * seg[3, j] + dy * seg[4, j]
            value += (4.0 * along * along * d2 + 2.0 * seg[6, j] * seg[6, j] * d1) / 24.0
        total += value
    return total / n_j


@_near
def point_sum(
    px,
    py,
    pz,
    layer,
    level,
    first,
    last,
    current,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    """Potential at a point of the segments first:last that leak ``current``. [V]

    ``layer`` is the observer's column of the images, ``level`` its column of the tables.
    """
    total = 0.0
    for j in range(first, last):
        dx = px - seg[0, j] - 0.5 * seg[3, j]
        dy = py - seg[1, j] - 0.5 * seg[4, j]
        r2 = dx * dx + dy * dy
        l2 = seg[6, j] * seg[6, j]
        if r2 <= FAR * FAR * l2:
            value = _near_point(
                px,
                py,
                pz,
                r2,
                layer,
                level,
                j,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
        else:
            row = row_of[0, tag[2, j], level]
            if row >= 0 and tag[4, j]:
                value, d1, d2 = lookup_slopes(far, row, base[0], r2)
                along = dx * seg[3, j] + dy * seg[4, j]
                value += (4.0 * along * along * d2 + 2.0 * l2 * d1) / 24.0
            else:
                value = _far_point(px, py, pz, layer, level, j, seg, tag, slices, image, row_of, far, base)
        total += current[j] * value
    return total


@_loop
def potential(
    out,
    points,
    layer,
    level,
    current,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    """Potential at points (3, n) of segments that leak ``current``."""
    n = seg.shape[1]
    for p in nb.prange(points.shape[1]):
        out[p] = point_sum(
            points[0, p],
            points[1, p],
            points[2, p],
            layer[p],
            level[p],
            0,
            n,
            current,
            seg,
            tag,
            slices,
            image,
            row_of,
            far,
            rest,
            height2,
            close,
            close_image,
            base,
        )


@_loop
def fill_blocks(
    out,
    offset,
    blocks,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    """Fill dense blocks, rows blocks[0]:blocks[1] and columns blocks[2]:blocks[3], one after the other."""
    for b in nb.prange(blocks.shape[1]):
        r0, r1, c0, c1 = blocks[0, b], blocks[1, b], blocks[2, b], blocks[3, b]
        row = np.empty(c1 - c0)
        for i in range(r0, r1):
            first = offset[b] + (i - r0) * (c1 - c0)
            last = min(i + 1, c1) if r0 == c0 else c1
            pair_row(
                row,
                i,
                c0,
                last,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
            for j in range(c0, last):
                out[first + j - c0] = row[j - c0]
                if r0 == c0:
                    out[offset[b] + (j - c0) * (c1 - c0) + i - r0] = row[j - c0]


@_near
def _largest_free(values, used):
    best, where = -1.0, -1
    for j in range(len(values)):
        if not used[j] and abs(values[j]) > best:
            best, where = abs(values[j]), j
    return where


@_loop
def cross_approximate(
    out,
    offset,
    rank,
    blocks,
    most,
    tolerance,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    """Adaptive cross approximation with partial pivoting (Bebendorf, Numer. Math. 86 (2000) 565).

    Block b becomes rank[b] terms u v^T, stored one after the other as u then v. rank[b] = -1: ``most``
    terms were not enough. Before a block is taken as done, rows of what is left of it are looked at.
    """
    for b in nb.prange(blocks.shape[1]):
        r0, c0 = blocks[0, b], blocks[2, b]
        m, n = blocks[1, b] - r0, blocks[3, b] - c0
        u, v = np.empty((most, m)), np.empty((most, n))
        used_row, used_column = np.zeros(m, dtype=np.bool_), np.zeros(n, dtype=np.bool_)
        trial = np.empty(n)
        norm2, k, i = 0.0, 0, m // 2
        done = False
        while k < most and not done:
            used_row[i] = True
            pair_row(
                v[k],
                r0 + i,
                c0,
                c0 + n,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
            for e in range(k):
                f = u[e, i]
                for j in range(n):
                    v[k, j] -= f * v[e, j]
            j = _largest_free(v[k], used_column)
            if j < 0 or abs(v[k, j]) < 1e-300:
                done = True
                break
            used_column[j] = True
            pivot = 1.0 / v[k, j]
            for q in range(n):
                v[k, q] *= pivot
            pair_row(
                u[k],
                c0 + j,
                r0,
                r0 + m,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
            for e in range(k):
                f = v[e, j]
                for q in range(m):
                    u[k, q] -= f * u[e, q]
            uu, vv = 0.0, 0.0
            for q in range(m):
                uu += u[k, q] * u[k, q]
            for q in range(n):
                vv += v[k, q] * v[k, q]
            norm2 += uu * vv
            for e in range(k):
                su, sv = 0.0, 0.0
                for q in range(m):
                    su += u[k, q] * u[e, q]
                for q in range(n):
                    sv += v[k, q] * v[e, q]
                norm2 += 2.0 * su * sv
            i = _largest_free(u[k], used_row)
            k += 1
            done = i < 0
            if uu * vv <= tolerance * tolerance * norm2 and not done:
                # a small cross does not prove a small rest: look at rows of the rest itself
                done = True
                for check in range(CHECKED_ROWS):
                    q = (m * (2 * check + 1)) // (2 * CHECKED_ROWS)
                    if used_row[q]:
                        continue
                    pair_row(
                        trial,
                        r0 + q,
                        c0,
                        c0 + n,
                        seg,
                        tag,
                        slices,
                        image,
                        row_of,
                        far,
                        rest,
                        height2,
                        close,
                        close_image,
                        base,
                    )
                    left2 = 0.0
                    for e in range(k):
                        f = u[e, q]
                        for j in range(n):
                            trial[j] -= f * v[e, j]
                    for j in range(n):
                        left2 += trial[j] * trial[j]
                    if m * left2 > CHECK_LOOSER * tolerance * tolerance * norm2:
                        done, i = False, q
                        break
        rank[b] = k if done else -1
        for e in range(k):
            first = offset[b] + e * (m + n)
            for q in range(m):
                out[first + q] = u[e, q]
            for q in range(n):
                out[first + m + q] = v[e, q]


@_near
def _product(a, x):
    total = 0.0
    for j in range(len(a)):
        total += a[j] * x[j]
    return total


@_near
def _add(y, f, a):
    for j in range(len(a)):
        y[j] += f * a[j]


@_loop
def multiply_blocks(y, x, data, offset, rank, blocks, bounds):
    """Add blocks and, off the diagonal, their transposes times x to y (threads, n).

    ``rank`` -1 marks a dense block. Thread t takes blocks bounds[t]:bounds[t + 1].
    """
    for t in nb.prange(len(bounds) - 1):
        for b in range(bounds[t], bounds[t + 1]):
            r0, r1, c0, c1 = blocks[0, b], blocks[1, b], blocks[2, b], blocks[3, b]
            m, n = r1 - r0, c1 - c0
            x_row, x_column = x[r0:r1], x[c0:c1]
            y_row, y_column = y[t, r0:r1], y[t, c0:c1]
            if rank[b] < 0:
                for i in range(m):
                    first = offset[b] + i * n
                    row = data[first : first + n]
                    y_row[i] += _product(row, x_column)
                    if r0 != c0:
                        _add(y_column, x_row[i], row)
                continue
            for e in range(rank[b]):
                first = offset[b] + e * (m + n)
                u, v = data[first : first + m], data[first + m : first + m + n]
                along, across = _product(v, x_column), _product(u, x_row)
                _add(y_row, along, u)
                _add(y_column, across, v)


@_loop
def multiply_columns(y, x, data, offset, rank, blocks, bounds):
    """:func:`multiply_blocks` for several vectors at once: x (columns, n), y (threads, columns, n)."""
    columns = x.shape[0]
    for t in nb.prange(len(bounds) - 1):
        for b in range(bounds[t], bounds[t + 1]):
            r0, r1, c0, c1 = blocks[0, b], blocks[1, b], blocks[2, b], blocks[3, b]
            m, n = r1 - r0, c1 - c0
            if rank[b] < 0:
                for i in range(m):
                    first = offset[b] + i * n
                    row = data[first : first + n]
                    for c in range(columns):
                        y[t, c, r0 + i] += _product(row, x[c, c0:c1])
                        if r0 != c0:
                            _add(y[t, c, c0:c1], x[c, r0 + i], row)
                continue
            for e in range(rank[b]):
                first = offset[b] + e * (m + n)
                u, v = data[first : first + m], data[first + m : first + m + n]
                for c in range(columns):
                    along, across = _product(v, x[c, c0:c1]), _product(u, x[c, r0:r1])
                    _add(y[t, c, r0:r1], along, u)
                    _add(y[t, c, c0:c1], across, v)


@_near
def _gather(out, index, weight, values):
    """Sum weighted values by index; out is cleared first."""
    for k in range(len(out)):
        out[k] = 0.0
    for k in range(len(values)):
        out[index[k]] += weight[k] * values[k]


@nb.njit(fastmath=FLAGS, error_model="numpy", cache=True)
def coarse_blocks(coarse, group, share, data, offset, rank, blocks):
    """Add blocks and their transposes, summed over groups of segments with the shares given, to ``coarse``.

    Groups are numbered in the order of the segments.
    """
    for b in range(blocks.shape[1]):
        r0, r1, c0, c1 = blocks[0, b], blocks[1, b], blocks[2, b], blocks[3, b]
        m, n = r1 - r0, c1 - c0
        g0, h0 = group[r0], group[c0]
        rows, columns = group[r0:r1] - g0, group[c0:c1] - h0
        p, q = group[r1 - 1] - g0 + 1, group[c1 - 1] - h0 + 1
        left, right = np.empty(p), np.empty(q)
        for e in range(m if rank[b] < 0 else rank[b]):
            if rank[b] < 0:
                first = offset[b] + e * n
                left[:] = 0.0
                left[rows[e]] = share[r0 + e]
            else:
                first = offset[b] + e * (m + n) + m
                _gather(left, rows, share[r0:r1], data[first - m : first])
            _gather(right, columns, share[c0:c1], data[first : first + n])
            for i in range(p):
                if left[i] != 0.0:
                    for j in range(q):
                        coarse[g0 + i, h0 + j] += left[i] * right[j]
                        if r0 != c0:
                            coarse[h0 + j, g0 + i] += left[i] * right[j]


@_near
def _weights(out, x, basis):
    """Lagrange weights of the Chebyshev nodes at x in (-1, 1); basis[m, k] = T_m at node k."""
    n = len(out)
    before, here = 1.0, x
    for k in range(n):
        out[k] = 1.0 / n
    for m in range(1, n):
        for k in range(n):
            out[k] += 2.0 / n * here * basis[m, k]
        before, here = here, 2.0 * x * here - before


@_near
def _interpolate(values, x, y, wx, wy, basis):
    _weights(wx, x, basis)
    _weights(wy, y, basis)
    total, n = 0.0, len(wx)
    for a in range(n):
        part = 0.0
        for b in range(n):
            part += wy[b] * values[a * n + b]
        total += wx[a] * part
    return total


@_loop
def plane_map(
    out,
    node,
    centre,
    half,
    parent,
    leaf,
    far_span,
    far_source,
    near_span,
    near_source,
    basis,
    x,
    y,
    z,
    layer,
    current,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    """Potential at many points of one plane, sorted into a tree of boxes.

    Distant sources of a box, ranges of segments far_source[:, far_span[0]:far_span[1]], are summed on its
    Chebyshev nodes only; what the parent's nodes hold is passed down by interpolation. Near sources of a
    leaf are summed at the points themselves. ``leaf`` (3, k): box, first and last point. Boxes stand behind
    their parents. ``layer`` is the plane's column of the images; its class in the tables is 0.
    """
    n = basis.shape[0]
    boxes = len(parent)
    values = np.zeros((boxes, n * n))
    for item in nb.prange(boxes * n * n):
        b, k = item // (n * n), item % (n * n)
        px = centre[0, b] + half[0, b] * node[k // n]
        py = centre[1, b] + half[1, b] * node[k % n]
        total = 0.0
        for q in range(far_span[0, b], far_span[1, b]):
            total += point_sum(
                px,
                py,
                z,
                layer,
                0,
                far_source[0, q],
                far_source[1, q],
                current,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
        values[b, k] = total
    wx, wy = np.empty(n), np.empty(n)
    for b in range(1, boxes):
        p = parent[b]
        for k in range(n * n):
            u = (centre[0, b] + half[0, b] * node[k // n] - centre[0, p]) / half[0, p]
            v = (centre[1, b] + half[1, b] * node[k % n] - centre[1, p]) / half[1, p]
            values[b, k] += _interpolate(values[p], u, v, wx, wy, basis)
    for item in nb.prange(leaf.shape[1]):
        b = leaf[0, item]
        tx, ty = np.empty(n), np.empty(n)
        for i in range(leaf[1, item], leaf[2, item]):
            u, v = (x[i] - centre[0, b]) / half[0, b], (y[i] - centre[1, b]) / half[1, b]
            total = _interpolate(values[b], u, v, tx, ty, basis)
            for q in range(near_span[0, b], near_span[1, b]):
                total += point_sum(
                    x[i],
                    y[i],
                    z,
                    layer,
                    0,
                    near_source[0, q],
                    near_source[1, q],
                    current,
                    seg,
                    tag,
                    slices,
                    image,
                    row_of,
                    far,
                    rest,
                    height2,
                    close,
                    close_image,
                    base,
                )
            out[i] = total


@_loop
def influence(
    out,
    points,
    layer,
    level,
    seg,
    tag,
    slices,
    image,
    row_of,
    far,
    rest,
    height2,
    close,
    close_image,
    base,
):
    """Potential at points (3, m) per ampere of each segment, ``out`` (m, n)."""
    one = np.ones(seg.shape[1])
    for p in nb.prange(points.shape[1]):
        for j in range(seg.shape[1]):
            out[p, j] = point_sum(
                points[0, p],
                points[1, p],
                points[2, p],
                layer[p],
                level[p],
                j,
                j + 1,
                one,
                seg,
                tag,
                slices,
                image,
                row_of,
                far,
                rest,
                height2,
                close,
                close_image,
                base,
            )
