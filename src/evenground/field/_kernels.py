"""Compiled inner loops. The only module of the program that imports Numba, and only when a solve runs.

All compiled functions live in this one file because the on-disk cache watches only the file of the
outermost function. Logarithm and inverse square root are written out so that whole loops become vector
instructions; their relative errors are below 5e-16 and 4e-11.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator, misc"
from __future__ import annotations

from typing import Any

import numba as nb
import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

FLAGS = {"reassoc", "nsz", "contract"}
_fast = nb.njit(fastmath=FLAGS, error_model="numpy", inline="always")
_loop = nb.njit(fastmath=FLAGS, error_model="numpy", cache=True, parallel=True)
_plain = nb.njit(fastmath=FLAGS, error_model="numpy", cache=True)

# distance between midpoints in units of the longer segment
FAR = 3.0  # beyond: two Gauss points
VERY_FAR = 20.0  # beyond: one
MIDDLE = 1.6  # beyond (and not parallel): four

_x2 = 0.5 / np.sqrt(3.0)
G2 = np.array([0.5 - _x2, 0.5 + _x2])
_x4, _w4 = np.polynomial.legendre.leggauss(4)
G4, W4 = 0.5 + 0.5 * _x4, 0.5 * _w4
_x10, _w10 = np.polynomial.legendre.leggauss(10)
_t = 0.5 + 0.5 * _x10
# clustered at both ends, where the potential of a touching wire has a logarithmic peak
G10, W10 = _t * _t * (3.0 - 2.0 * _t), 0.5 * _w10 * 6.0 * _t * (1.0 - _t)


@intrinsic
def _bits(context: Any, x: Any) -> Any:
    def build(ctx: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], ir.IntType(64))

    return types.int64(types.float64), build


@intrinsic
def _real(context: Any, x: Any) -> Any:
    def build(ctx: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], ir.DoubleType())

    return types.float64(types.int64), build


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
    y = _real(np.int64(0x5FE6EB50C7B537A9) - (_bits(x) >> np.int64(1)))
    h = 0.5 * x
    y = y * (1.5 - h * y * y)
    y = y * (1.5 - h * y * y)
    y = y * (1.5 - h * y * y)
    return y


@_fast
def line(px, py, pz, ax, ay, az, tx, ty, tz, length, a2):
    """Integral of 1/sqrt(distance^2 + a2) over the straight line from a along unit vector t."""
    wx, wy, wz = px - ax, py - ay, pz - az
    s = wx * tx + wy * ty + wz * tz
    d2 = max(wx * wx + wy * wy + wz * wz - s * s, 0.0) + a2
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
    return (
        _primitive(y1, p) - _primitive(y0, p) - _primitive(y1 - length, p) + _primitive(y0 - length, p)
    )


@_fast
def image_sum(r2, z, d, first, last, coefficient, flip, shift):
    """Potential at depth z and squared horizontal distance r2 of a point source at depth d."""
    total = 0.0
    for m in range(first, last):
        dz = z - flip[m] * d - shift[m]
        total += coefficient[m] * rsqrt(r2 + dz * dz)
    return total


@_fast
def _far_pair(i, j, n_i, n_j, start, vector, first, last, coefficient, flip, shift):
    total = 0.0
    for p in range(n_i):
        u = 0.5 if n_i == 1 else G2[p]
        x = start[0, i] + u * vector[0, i]
        y = start[1, i] + u * vector[1, i]
        z = start[2, i] + u * vector[2, i]
        for q in range(n_j):
            v = 0.5 if n_j == 1 else G2[q]
            dx = x - start[0, j] - v * vector[0, j]
            dy = y - start[1, j] - v * vector[1, j]
            d = start[2, j] + v * vector[2, j]
            total += image_sum(dx * dx + dy * dy, z, d, first, last, coefficient, flip, shift)
    return total / (n_i * n_j)


@nb.njit(fastmath=FLAGS, error_model="numpy")
def _gauss_image(i, j, f, x, a2, start, vector, points):
    """Mean of 1/R between segment i and one image of segment j by the product rule."""
    total = 0.0
    for p in range(points):
        u = G2[p] if points == 2 else G4[p]
        wu = 0.5 if points == 2 else W4[p]
        px = start[0, i] + u * vector[0, i] - start[0, j]
        py = start[1, i] + u * vector[1, i] - start[1, j]
        pz = start[2, i] + u * vector[2, i] - f * start[2, j] - x
        for q in range(points):
            v = G2[q] if points == 2 else G4[q]
            wv = 0.5 if points == 2 else W4[q]
            dx = px - v * vector[0, j]
            dy = py - v * vector[1, j]
            dz = pz - f * v * vector[2, j]
            total += wu * wv * rsqrt(dx * dx + dy * dy + dz * dz + a2)
    return total


@nb.njit(fastmath=FLAGS, error_model="numpy")
def _close_image(i, j, f, x, a2, start, vector, length):
    """Mean of 1/R between segment i and one image of segment j, inner integral exact."""
    li, lj = length[i], length[j]
    tx, ty, tz = vector[0, j] / lj, vector[1, j] / lj, f * vector[2, j] / lj
    ax, ay, az = start[0, j], start[1, j], f * start[2, j] + x
    cosine = (tx * vector[0, i] + ty * vector[1, i] + tz * vector[2, i]) / li
    if abs(cosine) > 1.0 - 1e-11:
        wx, wy, wz = start[0, i] - ax, start[1, i] - ay, start[2, i] - az
        y0 = wx * tx + wy * ty + wz * tz
        p2 = max(wx * wx + wy * wy + wz * wz - y0 * y0, 0.0) + a2
        y1 = y0 + cosine * li
        return parallel_pair(min(y0, y1), max(y0, y1), lj, np.sqrt(p2)) / (li * lj)
    total = 0.0
    for p in range(10):
        u = G10[p]
        px = start[0, i] + u * vector[0, i]
        py = start[1, i] + u * vector[1, i]
        pz = start[2, i] + u * vector[2, i]
        total += W10[p] * line(px, py, pz, ax, ay, az, tx, ty, tz, lj, a2)
    return total / lj


@nb.njit(fastmath=FLAGS, error_model="numpy")
def _near_pair(i, j, start, vector, length, radius, first, last, coefficient, flip, shift):
    longer = max(length[i], length[j])
    a2 = 0.5 * (radius[i] * radius[i] + radius[j] * radius[j])
    dx = start[0, i] - start[0, j] + 0.5 * (vector[0, i] - vector[0, j])
    dy = start[1, i] - start[1, j] + 0.5 * (vector[1, i] - vector[1, j])
    zi = start[2, i] + 0.5 * vector[2, i]
    zj = start[2, j] + 0.5 * vector[2, j]
    outer, inner = (i, j) if length[i] <= length[j] else (j, i)
    total = 0.0
    for m in range(first, last):
        f, x = flip[m], shift[m]
        dz = zi - f * zj - x
        apart2 = dx * dx + dy * dy + dz * dz
        if outer != i:  # seen from the other side the same image reads z' = f*z - f*x
            x = -f * x
        if apart2 > (FAR * longer) ** 2:
            mean = _gauss_image(outer, inner, f, x, a2, start, vector, 2)
        else:
            cosine = (
                vector[0, i] * vector[0, j] + vector[1, i] * vector[1, j] + f * vector[2, i] * vector[2, j]
            ) / (length[i] * length[j])
            if abs(cosine) < 1.0 - 1e-11 and apart2 > (MIDDLE * longer) ** 2:
                mean = _gauss_image(outer, inner, f, x, a2, start, vector, 4)
            else:
                mean = _close_image(outer, inner, f, x, a2, start, vector, length)
        total += coefficient[m] * mean
    return total


@nb.njit(fastmath=FLAGS, error_model="numpy")
def pair(i, j, start, vector, length, radius, layer, first, count, coefficient, flip, shift):
    """Mean potential of segment i per ampere leaked evenly by segment j. [ohm]"""
    s, o = layer[j], layer[i]
    lo = first[s, o]
    hi = lo + count[s, o]
    dx = start[0, i] - start[0, j] + 0.5 * (vector[0, i] - vector[0, j])
    dy = start[1, i] - start[1, j] + 0.5 * (vector[1, i] - vector[1, j])
    r2 = dx * dx + dy * dy
    longer = max(length[i], length[j])
    if r2 <= (FAR * longer) ** 2:
        return _near_pair(i, j, start, vector, length, radius, lo, hi, coefficient, flip, shift)
    n_i = 1 if r2 > (VERY_FAR * length[i]) ** 2 else 2
    n_j = 1 if r2 > (VERY_FAR * length[j]) ** 2 else 2
    return _far_pair(i, j, n_i, n_j, start, vector, lo, hi, coefficient, flip, shift)


@_loop
def assemble(matrix, start, vector, length, radius, layer, first, count, coefficient, flip, shift):
    """Fill the symmetric matrix of mean potentials per ampere. [ohm]"""
    n = len(length)
    for row in nb.prange((n + 1) // 2):
        k = np.int64(row)
        for half in range(2):
            i = k if half == 0 else n - 1 - k  # a short and a long row together
            if half == 1 and i == k:
                continue
            for j in range(i + 1):
                value = pair(
                    i, j, start, vector, length, radius, layer, first, count, coefficient, flip, shift
                )
                matrix[i, j] = value
                matrix[j, i] = value


@nb.njit(fastmath=FLAGS, error_model="numpy")
def _near_point(px, py, pz, j, start, vector, length, radius, first, last, coefficient, flip, shift):
    """Potential at a point per ampere of segment j, image by image."""
    l, a2 = length[j], radius[j] * radius[j]
    dx = px - start[0, j] - 0.5 * vector[0, j]
    dy = py - start[1, j] - 0.5 * vector[1, j]
    zc = start[2, j] + 0.5 * vector[2, j]
    total = 0.0
    for m in range(first, last):
        f, x = flip[m], shift[m]
        dz = pz - f * zc - x
        if dx * dx + dy * dy + dz * dz > (FAR * l) ** 2:
            mean = 0.0
            for q in range(2):
                ex = px - start[0, j] - G2[q] * vector[0, j]
                ey = py - start[1, j] - G2[q] * vector[1, j]
                ez = pz - f * (start[2, j] + G2[q] * vector[2, j]) - x
                mean += 0.5 * rsqrt(ex * ex + ey * ey + ez * ez + a2)
        else:
            mean = (
                line(
                    px,
                    py,
                    pz,
                    start[0, j],
                    start[1, j],
                    f * start[2, j] + x,
                    vector[0, j] / l,
                    vector[1, j] / l,
                    f * vector[2, j] / l,
                    l,
                    a2,
                )
                / l
            )
        total += coefficient[m] * mean
    return total


@_loop
def potential(
    out, points, observer, current, start, vector, length, radius, layer, first, count, coefficient, flip, shift
):
    """Potential at points (3, n) of segments that leak ``current``; ``observer`` is the pair's column."""
    for p in nb.prange(points.shape[1]):
        px, py, pz, o = points[0, p], points[1, p], points[2, p], observer[p]
        total = 0.0
        for j in range(len(length)):
            s = layer[j]
            lo = first[s, o]
            hi = lo + count[s, o]
            dx = px - start[0, j] - 0.5 * vector[0, j]
            dy = py - start[1, j] - 0.5 * vector[1, j]
            r2 = dx * dx + dy * dy
            l2 = length[j] * length[j]
            if r2 <= FAR * FAR * l2:
                value = _near_point(
                    px, py, pz, j, start, vector, length, radius, lo, hi, coefficient, flip, shift
                )
            elif r2 > VERY_FAR * VERY_FAR * l2:
                d = start[2, j] + 0.5 * vector[2, j]
                value = image_sum(r2, pz, d, lo, hi, coefficient, flip, shift)
            else:
                value = 0.0
                for q in range(2):
                    ex = px - start[0, j] - G2[q] * vector[0, j]
                    ey = py - start[1, j] - G2[q] * vector[1, j]
                    d = start[2, j] + G2[q] * vector[2, j]
                    value += 0.5 * image_sum(ex * ex + ey * ey, pz, d, lo, hi, coefficient, flip, shift)
            total += current[j] * value
        out[p] = total
