"""Self and mutual induction of all segments: Neumann's integrals and the change by the earth's return.

``j w mu0/(4 pi) (t_i . t_j) (mean of 1/R + change)``, t the vectors of the segments. The mean of 1/R comes
from the kernels of the earth's matrix; the change is that of :mod:`evenground.field._earth_return` and
applies to the horizontal components. Its sums over all segments are convolutions on a raster, done by
fast Fourier transforms; it is smooth at the scale of the skin depth, the raster is far finer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenground.field._circuit import subset
from evenground.field._clusters import Partition, partition
from evenground.field._compressed import CompressedMatrix, compress_matrix, leaf_groups
from evenground.field._dense import assemble_matrix
from evenground.field._earth_return import EarthReturn
from evenground.field._images import ImageSet
from evenground.field._metal import MU_0
from evenground.field._segments import Segments, reordered

__all__ = ["Induction", "dense_induction", "families", "free_space", "in_one_layer"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]
Tell = Callable[[str, float], None]

RASTER = 256
"""Cells along the longer side of the raster for the earth's return."""
TABLE, ROWS = 20_000, 256
"""For the dense matrix: points of the table of the earth's return, and rows worked on together."""
LEVEL = 1e-9
"""Slope below which a segment counts as horizontal or vertical."""


def free_space() -> ImageSet:
    """Kernel 1/R in the form that the assembly takes."""
    return ImageSet(
        first=np.zeros((1, 2), dtype=np.int64),
        count=np.ones((1, 2), dtype=np.int64),
        coefficient=np.ones(1),
        flip=np.ones(1),
        shift=np.zeros(1),
        error=0.0,
        terms=1,
        layers=1,
    )


def in_one_layer(segments: Segments) -> Segments:
    """The segments with the layers of the soil left out."""
    return replace(segments, layer=np.zeros(len(segments), dtype=np.int64))


def dense_induction(wires: Segments, earth_return: EarthReturn, frequency_hz: float) -> ComplexArray:
    """Impedance matrix of the induction. [ohm]"""
    kernel = assemble_matrix(in_one_layer(wires), free_space())
    t, (x, y, _) = wires.vector, wires.middle
    table = np.linspace(0.0, float(np.hypot(np.ptp(x), np.ptp(y))) + 1.0, TABLE)
    change = earth_return.change(table)
    own = np.hypot(t[0], t[1]) / 3.0  # mean distance within a segment
    factor = 0.5j * frequency_hz * MU_0
    matrix = np.empty(kernel.shape, dtype=complex)
    for first in range(0, len(wires), ROWS):
        k = np.arange(first, min(first + ROWS, len(wires)))
        apart = np.hypot(x[k][:, None] - x, y[k][:, None] - y)
        apart[k - first, k] = own[k]
        level = t[:2, k].T @ t[:2]
        matrix[k] = level * np.interp(apart, table, change)
        matrix[k] += (level + np.outer(t[2, k], t[2])) * kernel[k]
        matrix[k] *= factor
    return matrix


@dataclass(frozen=True, eq=False)
class Family:
    """Segments coupled with each other only: those without a component along another family's axes.

    Attributes
    ----------
    index : (m,)
        Their numbers, in the order of the tree.
    axes : tuple of int
        Axes along which they have components.
    component : (len(axes), m)
        Components of their vectors along these. [m]
    """

    index: IntArray
    axes: tuple[int, ...]
    component: FloatArray
    parts: Partition
    matrix: CompressedMatrix | None = None

    def multiply(self, current: ComplexArray, out: ComplexArray) -> None:
        """Add the sum of 1/R times the scalar products times the current to ``out``."""
        assert self.matrix is not None
        weighted = self.component * current[self.index]
        y = self.matrix.multiply_columns(np.concatenate([weighted.real, weighted.imag]))
        k = len(self.axes)
        out[self.index] += np.sum(self.component * (y[:k] + 1j * y[k:]), axis=0)


def families(wires: Segments) -> list[Family]:
    """Horizontal and vertical segments apart; all together where one is inclined."""
    t = np.abs(wires.vector) / wires.length_m
    level, plumb = t[2] < LEVEL, np.hypot(t[0], t[1]) < LEVEL
    groups = [((0, 1), level), ((2,), plumb)]
    if not (level | plumb).all():
        groups = [((0, 1, 2), np.ones(len(wires), dtype=bool))]
    found = []
    for axes, chosen in groups:
        if chosen.any():
            index = np.flatnonzero(chosen).astype(np.int64)
            parts = partition(subset(wires, index))
            index = index[parts.order]
            found.append(Family(index, axes, wires.vector[list(axes)][:, index], parts))
    return found


@dataclass(frozen=True, eq=False)
class _Raster:
    """Sums of a smooth kernel over many segments: spread to a raster, convolve, gather."""

    spread: Any
    shape: tuple[int, int]
    spectrum: ComplexArray
    component: FloatArray

    def multiply(self, current: ComplexArray, out: ComplexArray) -> None:
        from scipy.fft import fft2, ifft2

        padded = self.spectrum.shape
        for t in self.component:
            cells = (self.spread.T @ (t * current)).reshape(self.shape)
            answer = ifft2(fft2(cells, padded) * self.spectrum)[: self.shape[0], : self.shape[1]]
            out += t * (self.spread @ answer.ravel())


@dataclass(frozen=True, eq=False)
class Induction:
    """The matrix of :func:`dense_induction`, compressed."""

    factor: complex
    families: list[Family]
    raster: _Raster

    def multiply(self, current: ComplexArray) -> ComplexArray:
        """Induced drop of each segment. [A -> V]"""
        total = np.zeros(len(current), dtype=complex)
        for family in self.families:
            family.multiply(current, total)
        self.raster.multiply(current, total)
        return np.asarray(self.factor * total)

    def groups(self, most: int, count: int) -> tuple[Any, FloatArray]:
        """A basis (n, g) of axial currents, one for each axis and group of neighbours, and 1/R between them.

        Each is a current in proportion to the component along the axis. Sparse basis; matrix (g, g) to be
        multiplied by ``factor``; axes and families couple nowhere in it.
        """
        from scipy.linalg import block_diag
        from scipy.sparse import csr_array, hstack

        bases, blocks = [], []
        for family in self.families:
            assert family.matrix is not None
            group = leaf_groups(family.parts, most)
            length = np.sqrt(np.sum(family.component**2, axis=0))
            for t in family.component:
                share = t / length
                used = np.bincount(group, np.abs(share)) > 1e-6
                shape = (count, len(used))
                bases.append(csr_array((share, (family.index, group)), shape=shape)[:, used])
                blocks.append(family.matrix.on_groups(group, share * t)[np.ix_(used, used)])
        return hstack(bases, format="csr"), block_diag(*blocks)


def compress_induction(
    wires: Segments, found: list[Family], earth_return: EarthReturn, frequency_hz: float, tell: Tell
) -> Induction:
    """Compress the induction of the families of segments."""
    plain = in_one_layer(wires)
    filled = [
        replace(f, matrix=compress_matrix(reordered(plain, f.index), free_space(), f.parts, tell))
        for f in found
    ]
    return Induction(0.5j * frequency_hz * MU_0, filled, _raster(wires, earth_return))


def _raster(wires: Segments, earth_return: EarthReturn) -> _Raster:
    """Bilinear spreading of midpoints to a raster, and the spectrum of the kernel on it."""
    from scipy.fft import fft2
    from scipy.sparse import csr_array

    place = wires.middle[:2]
    low = place.min(axis=1)
    extent = place.max(axis=1) - low
    step = max(float(extent.max()) / RASTER, 0.5)
    shape = tuple(ceil(float(e) / step) + 2 for e in extent)
    cell = (place - low[:, None]) / step
    base = np.floor(cell).astype(np.int64)
    f = cell - base
    n = len(wires)
    corners = [
        ((base[0] + a) * shape[1] + base[1] + b, (f[0] if a else 1 - f[0]) * (f[1] if b else 1 - f[1]))
        for a in (0, 1)
        for b in (0, 1)
    ]
    columns = np.concatenate([c for c, _ in corners])
    values = np.concatenate([w for _, w in corners])
    spread = csr_array((values, (np.tile(np.arange(n), 4), columns)), shape=(n, shape[0] * shape[1]))
    lags = [np.minimum(np.arange(2 * m), 2 * m - np.arange(2 * m)) * step for m in shape]
    kernel = earth_return.change(np.hypot(lags[0][:, None], lags[1][None, :]))
    return _Raster(spread, (shape[0], shape[1]), np.asarray(fft2(kernel)), wires.vector[:2])
