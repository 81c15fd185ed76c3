"""Share of the bare kernel's rate that filling the matrix reaches.

The bare kernel is the far pair alone: one look-up of potential and slopes and the correction for both
lengths, for the same number of pairs, on the same threads, without a test for nearness, without
choosing a table and without storing a matrix.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numba as nb
import numpy as np
from numpy.typing import NDArray

from evenground.electrode import rectangular_mat
from evenground.field import _kernels
from evenground.field._images import fit_images
from evenground.field._segments import cut_conductors
from evenground.field._tables import pack_matrix
from evenground.model.soil import LayeredSoil

FloatArray = NDArray[np.float64]
Row = tuple[str, float, float, str]
LAYERS = LayeredSoil((300.0, 50.0, 1000.0), (2.0, 4.0))


@nb.njit(fastmath=_kernels.FLAGS, error_model="numpy", parallel=True)
def bare(seg: FloatArray, far: FloatArray, row: int, base: int) -> FloatArray:
    """Sum over the lower half of the matrix of far pairs, row by row."""
    n = seg.shape[1]
    out = np.zeros(n)
    for k in nb.prange((n + 1) // 2):
        for half in range(2):
            i = np.int64(k) if half == 0 else n - 1 - np.int64(k)  # a short and a long row together
            xi, yi, li = seg[0, i] + 0.5 * seg[3, i], seg[1, i] + 0.5 * seg[4, i], seg[6, i]
            vx, vy, total = seg[3, i], seg[4, i], 0.0
            for j in range(i + 1):
                dx = xi - seg[0, j] - 0.5 * seg[3, j]
                dy = yi - seg[1, j] - 0.5 * seg[4, j]
                lj = seg[6, j]
                r2 = dx * dx + dy * dy + 1.0  # one metre off, so that no pair leaves the table
                value, d1, d2 = _kernels.lookup_slopes(far, row, base, r2)
                a, b = dx * vx + dy * vy, dx * seg[3, j] + dy * seg[4, j]
                total += value + (4.0 * (a * a + b * b) * d2 + 2.0 * (li * li + lj * lj) * d1) / 24.0
            out[i] = total
    return out


def _best(job: Callable[[], object], times: int) -> float:
    job()
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        job()
        spent.append(time.perf_counter() - begin)
    return min(spent)


def rows() -> Iterator[Row]:
    """The ratio is the share of the bare rate."""
    side = 200.0
    mat = rectangular_mat(
        length_x_m=side, length_y_m=side, meshes_x=30, meshes_y=30, depth_m=0.8, radius_m=0.006
    )
    segments = cut_conductors(mat.conductors, LAYERS)
    packed = pack_matrix(segments, fit_images(LAYERS))
    n = len(segments)
    matrix = np.empty((n, n))
    row = int(packed.row_of[0, packed.tag[2, 0], packed.tag[2, 0]])
    kernel = _best(lambda: bare(packed.seg, packed.far, row, int(packed.base[0])), 7)
    filled = _best(lambda: _kernels.assemble(matrix, *packed), 7)
    rate = 0.5 * n * (n + 1) / kernel / 1e6
    yield f"matrix of {n} segments filled", filled, kernel, f"bare far kernel, {rate:.0f} million pairs/s"
