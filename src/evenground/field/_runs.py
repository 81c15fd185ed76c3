"""Runs of neighbouring segments on one conductor, and small dense blocks between their members."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenground.field._earth_return import EarthReturn
from evenground.field._images import ImageSet
from evenground.field._induction import free_space, in_one_layer
from evenground.field._metal import MU_0
from evenground.field._segments import Segments
from evenground.field._tables import pack_matrix

__all__ = ["add_diagonal", "diagonal", "fill", "fill_axial", "inverse", "runs_of"]

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

LONGEST = 8

Blocks = dict[int, tuple[IntArray, NDArray[Any]]]
"""Size -> first rows of the runs of that size, and their blocks (count, size, size)."""


def runs_of(segments: Segments) -> tuple[IntArray, IntArray]:
    """First segment and number of segments of each run of at most ``LONGEST``."""
    n = len(segments)
    new = np.ones(n, dtype=bool)
    new[1:] = np.diff(segments.conductor) != 0
    start = np.maximum.accumulate(np.where(new, np.arange(n), 0))
    first = np.flatnonzero((np.arange(n) - start) % LONGEST == 0)
    return first.astype(np.int64), np.diff(np.append(first, n)).astype(np.int64)


def fill(segments: Segments, images: ImageSet, runs: tuple[IntArray, IntArray]) -> Blocks:
    """Mean potentials per ampere within each run."""
    from evenground.field import _kernels

    first, count = runs
    table = np.stack([first, first + count, first, first + count])
    offset = np.concatenate([[0], np.cumsum(count**2)[:-1]]).astype(np.int64)
    data = np.empty(int(np.sum(count**2)), dtype=np.float32)
    _kernels.fill_blocks(data, offset, np.ascontiguousarray(table), *pack_matrix(segments, images))
    found: Blocks = {}
    for size in np.unique(count).tolist():
        chosen = np.flatnonzero(count == size)
        places = offset[chosen][:, None] + np.arange(size * size)
        found[size] = (first[chosen], data[places].astype(float).reshape(-1, size, size))
    return found


def fill_axial(
    wires: Segments, runs: tuple[IntArray, IntArray], earth_return: EarthReturn, frequency_hz: float
) -> Blocks:
    """Inductive impedances within each run; the earth's return as at no distance."""
    at_once = complex(earth_return.change(np.zeros(1))[0])
    t = wires.vector
    found: Blocks = {}
    for size, (first, kernel) in fill(in_one_layer(wires), free_space(), runs).items():
        own = t[:, first[:, None] + np.arange(size)]
        level = np.einsum("kbi,kbj->bij", own[:2], own[:2])
        dot = level + own[2][:, :, None] * own[2][:, None, :]
        found[size] = (first, 0.5j * frequency_hz * MU_0 * (dot * kernel + level * at_once))
    return found


def add_diagonal(blocks: Blocks, runs: tuple[IntArray, IntArray], values: NDArray[Any]) -> None:
    """Add one value for each segment to the blocks' diagonals."""
    for size, (first, block) in blocks.items():
        k = np.arange(size)
        block[:, k, k] += values[first[:, None] + k]


def diagonal(blocks: Blocks, runs: tuple[IntArray, IntArray]) -> NDArray[Any]:
    """The blocks' diagonals, one value for each segment."""
    found = np.empty(int(runs[1].sum()), dtype=complex)
    for size, (first, block) in blocks.items():
        k = np.arange(size)
        found[first[:, None] + k] = block[:, k, k]
    return found


def inverse(blocks: Blocks, runs: tuple[IntArray, IntArray]) -> Any:
    """The inverses of all blocks as one sparse matrix."""
    from scipy.sparse import coo_array

    rows, columns, values = [], [], []
    for size, (first, block) in blocks.items():
        place = first[:, None] + np.arange(size)
        rows.append(np.repeat(place, size, axis=1).ravel())
        columns.append(np.tile(place, (1, size)).ravel())
        values.append(np.linalg.inv(block).ravel())
    n = int(runs[1].sum())
    pairs = (np.concatenate(rows), np.concatenate(columns))
    return coo_array((np.concatenate(values), pairs), shape=(n, n)).tocsr()
