"""Compressed solution for large problems.

The matrix is split into blocks over a cluster tree; blocks of distant clusters become low-rank products
by adaptive cross approximation, the others stay dense. The symmetric positive definite equations are
solved by conjugate gradients, preconditioned by the inverses of the diagonal blocks. Numbers are kept in
single precision (7 digits, the compression keeps 5), sums run in double.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._clusters import Partition
from evenground.field._dense import Result
from evenground.field._images import ImageSet
from evenground.field._segments import Segments, reordered
from evenground.field._tables import pack_matrix

__all__ = ["CompressedMatrix", "compress_matrix", "compressed_bytes", "leaf_groups", "solve_compressed"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Tell = Callable[[str, float], None]

TOLERANCE = 1e-5
MOST_TERMS = 60
TYPICAL_TERMS = 14
BATCH_NUMBERS = 24_000_000
WORKING_BYTES = 16 * BATCH_NUMBERS
"""Room that a batch of blocks takes while it is filled."""
RESIDUAL = 3e-7
MOST_ITERATIONS = 600
MOST_GROUPS = 4200


@dataclass
class _Chunk:
    data: NDArray[np.float32]
    offset: IntArray
    rank: IntArray
    blocks: IntArray
    bounds: IntArray


@dataclass
class _Coarse:
    """Space of one current per group of segments, spread evenly along their length."""

    group: IntArray
    share: FloatArray
    factor: tuple[FloatArray, bool]

    def correct(self, r: FloatArray) -> FloatArray:
        from scipy.linalg import cho_solve

        weighted = np.bincount(self.group, self.share * r)
        return np.asarray(cho_solve(self.factor, weighted, check_finite=False)[self.group] * self.share)


@dataclass
class CompressedMatrix:
    """Blocks of the symmetric matrix in the order of the cluster tree."""

    size: int
    chunks: list[_Chunk] = field(default_factory=list)
    inverse: _Chunk | None = None
    coarse: _Coarse | None = None
    mean_rank: float = 0.0

    def multiply(self, x: FloatArray) -> FloatArray:
        """Matrix times vector."""
        return _multiply(self.chunks, x)

    def precondition(self, x: FloatArray) -> FloatArray:
        """Inverses of the diagonal blocks, and of the coarse space, times vector."""
        assert self.inverse is not None
        assert self.coarse is not None
        return _multiply([self.inverse], x) + self.coarse.correct(x)

    def multiply_columns(self, x: FloatArray) -> FloatArray:
        """Matrix times each row of x (columns, n)."""
        from evenground.field import _kernels

        y = np.zeros((max(len(c.bounds) - 1 for c in self.chunks), *x.shape))
        for c in self.chunks:
            _kernels.multiply_columns(y, x, c.data, c.offset, c.rank, c.blocks, c.bounds)
        return np.asarray(y.sum(axis=0))

    def on_groups(self, group: IntArray, share: FloatArray) -> FloatArray:
        """The matrix between groups of rows, each row with its share; groups go up with the rows."""
        from evenground.field import _kernels

        size = int(group[-1]) + 1
        coarse = np.zeros((size, size))
        for c in self.chunks:
            _kernels.coarse_blocks(coarse, group, share, c.data, c.offset, c.rank, c.blocks)
        return coarse


def _multiply(chunks: list[_Chunk], x: FloatArray) -> FloatArray:
    from evenground.field import _kernels

    y = np.zeros((max(len(c.bounds) - 1 for c in chunks), len(x)))
    for c in chunks:
        _kernels.multiply_blocks(y, x, c.data, c.offset, c.rank, c.blocks, c.bounds)
    return np.asarray(y.sum(axis=0))


def _threads() -> int:
    import numba

    return int(numba.get_num_threads())


def _size(blocks: IntArray) -> tuple[IntArray, IntArray]:
    return blocks[1] - blocks[0], blocks[3] - blocks[2]


def compressed_bytes(parts: Partition) -> int:
    """Estimate of the memory that the compressed solution takes at its peak."""
    m, n = _size(parts.near)
    dense = float(np.sum(m.astype(float) * n))
    m, n = _size(parts.far)
    low_rank = float(TYPICAL_TERMS * np.sum(m + n))
    own = float(np.sum((parts.leaf[1] - parts.leaf[0]) ** 2))
    return int(4 * (dense + low_rank + own) + WORKING_BYTES + 500 * len(parts.order))


def build_matrix(
    segments: Segments,
    images: ImageSet,
    parts: Partition,
    tell: Tell,
    series: FloatArray | None = None,
) -> CompressedMatrix:
    """Assemble near blocks and compress far ones; ``segments`` are in the order of the tree."""
    matrix = compress_matrix(segments, images, parts, tell, series)
    matrix.inverse = _inverses(matrix, parts)
    matrix.coarse = _coarse_space(matrix, segments, parts)
    return matrix


def compress_matrix(
    segments: Segments,
    images: ImageSet,
    parts: Partition,
    tell: Tell,
    series: FloatArray | None = None,
) -> CompressedMatrix:
    """The matrix alone, without what its solution needs.

    Raises
    ------
    NotConvergedError
        When a block can not be compressed.
    """
    from evenground.field import _kernels

    packed = pack_matrix(segments, images)
    matrix = CompressedMatrix(len(segments))
    for k, (batch, total) in enumerate(_batches(parts.near, None)):
        m, n = _size(batch)
        offset = _offsets(m * n)
        data = np.empty(int(np.sum(m * n)), dtype=np.float32)
        _kernels.fill_blocks(data, offset, batch, *packed)
        if series is not None:
            _add_to_diagonal(data, offset, batch, series)
        matrix.chunks.append(_chunk(data, offset, np.full(len(m), -1, dtype=np.int64), batch, m * n))
        tell("near blocks", 0.1 + 0.3 * (k + 1) / total)
    terms = 0
    for k, (batch, total) in enumerate(_batches(parts.far, MOST_TERMS)):
        chunk = _compress(batch, packed)
        terms += int(np.sum(chunk.rank))
        matrix.chunks.append(chunk)
        tell("far blocks", 0.4 + 0.3 * (k + 1) / total)
    matrix.mean_rank = terms / max(1, parts.far.shape[1])
    return matrix


def _add_to_diagonal(
    data: NDArray[np.float32], offset: IntArray, blocks: IntArray, series: FloatArray
) -> None:
    for b in np.flatnonzero(blocks[0] == blocks[2]).tolist():
        first, last = int(blocks[0, b]), int(blocks[1, b])
        size = last - first
        places = int(offset[b]) + np.arange(size) * (size + 1)
        data[places] += series[first:last].astype(np.float32)


def _coarse_space(matrix: CompressedMatrix, segments: Segments, parts: Partition) -> _Coarse:
    """Galerkin matrix on groups of neighbouring leaves, factorised."""
    from scipy.linalg import LinAlgError, cho_factor

    group = leaf_groups(parts, MOST_GROUPS)
    share = segments.length_m / np.bincount(group, segments.length_m)[group]
    coarse = matrix.on_groups(group, share)
    try:
        return _Coarse(group, share, cho_factor(coarse, lower=True, overwrite_a=True))
    except LinAlgError as error:
        raise NotConvergedError(f"the coarse matrix is not positive definite ({error})") from error


def leaf_groups(parts: Partition, most: int) -> IntArray:
    """Group of each row in the order of the tree: neighbouring leaves, at most ``most`` groups."""
    leaf_begin = np.sort(parts.leaf[0])
    begin = leaf_begin[:: -(-len(leaf_begin) // most)]
    group = np.searchsorted(begin, np.arange(len(parts.order)), side="right") - 1
    return np.asarray(group, dtype=np.int64)


def _batches(blocks: IntArray, terms: int | None) -> list[tuple[IntArray, int]]:
    """Blocks in groups whose working memory is bounded, with the number of groups."""
    m, n = _size(blocks)
    need = np.cumsum((m + n) * terms if terms else m * n)
    if len(need) == 0:
        return []
    group = need // BATCH_NUMBERS
    cuts = np.flatnonzero(np.diff(group)) + 1
    groups = np.split(blocks, cuts, axis=1)
    return [(np.ascontiguousarray(g), len(groups)) for g in groups]


def _offsets(sizes: IntArray) -> IntArray:
    return np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)


def _chunk(
    data: NDArray[np.float32], offset: IntArray, rank: IntArray, blocks: IntArray, work: IntArray
) -> _Chunk:
    share = np.cumsum(work) / max(1, int(np.sum(work)))
    inner = np.searchsorted(share, np.arange(1, _threads()) / _threads())
    bounds = np.concatenate([[0], inner, [len(work)]]).astype(np.int64)
    return _Chunk(data, offset, rank, blocks, bounds)


def _compress(blocks: IntArray, packed: tuple[NDArray[np.generic], ...]) -> _Chunk:
    from evenground.field import _kernels

    m, n = _size(blocks)
    offset = _offsets((m + n) * MOST_TERMS)
    room = np.empty(int(np.sum((m + n) * MOST_TERMS)), dtype=np.float32)
    rank = np.zeros(len(m), dtype=np.int64)
    _kernels.cross_approximate(room, offset, rank, blocks, MOST_TERMS, TOLERANCE, *packed)
    if (rank < 0).any():
        raise NotConvergedError(
            f"{int((rank < 0).sum())} blocks of the compressed matrix need more than {MOST_TERMS} terms"
        )
    sizes = rank * (m + n)
    data = np.concatenate([room[o : o + s] for o, s in zip(offset.tolist(), sizes.tolist(), strict=True)])
    return _chunk(data, _offsets(sizes), rank, blocks, sizes)


def _inverses(matrix: CompressedMatrix, parts: Partition) -> _Chunk:
    """Inverses of the diagonal blocks, from the dense blocks already filled."""
    found, blocks = [], []
    for chunk in matrix.chunks:
        on_diagonal = np.flatnonzero((chunk.rank < 0) & (chunk.blocks[0] == chunk.blocks[2]))
        for b in on_diagonal.tolist():
            size = int(chunk.blocks[1, b] - chunk.blocks[0, b])
            first = int(chunk.offset[b])
            block = chunk.data[first : first + size * size].reshape(size, size).astype(float)
            found.append(np.linalg.inv(block).astype(np.float32).ravel())
            blocks.append(chunk.blocks[:, b])
    sizes = np.array([len(f) for f in found], dtype=np.int64)
    table = np.ascontiguousarray(np.stack(blocks, axis=1))
    dense = np.full(len(sizes), -1, dtype=np.int64)
    return _chunk(np.concatenate(found), _offsets(sizes), dense, table, sizes)


def solve_compressed(
    segments: Segments,
    images: ImageSet,
    right: FloatArray,
    parts: Partition,
    tell: Tell,
    series: FloatArray | None = None,
) -> Result:
    """Currents of all segments for potentials ``right`` (n, cases) of the metal. [V -> A]

    Raises
    ------
    NotConvergedError
        When a block can not be compressed or the iteration does not reach its tolerance.
    """
    extra = None if series is None else series[parts.order]
    matrix = build_matrix(reordered(segments, parts.order), images, parts, tell, extra)
    current = np.empty(right.shape)
    iterations, residual = 0, 0.0
    for case in range(right.shape[1]):
        x, steps, left = conjugate_gradients(matrix, right[parts.order, case], tell)
        current[parts.order, case] = x
        iterations, residual = max(iterations, steps), max(residual, left)
    method = f"compressed (mean rank {matrix.mean_rank:.1f}), conjugate gradients"
    return Result(current, residual, iterations, method)


def conjugate_gradients(
    matrix: CompressedMatrix, right: FloatArray, tell: Tell
) -> tuple[FloatArray, int, float]:
    """Preconditioned conjugate gradients: solution, iterations, largest residual relative to one volt."""
    x = np.zeros(len(right))
    r = right.copy()
    z = matrix.precondition(r)
    p, rz = z.copy(), float(r @ z)
    goal = RESIDUAL * float(np.linalg.norm(right))
    for iteration in range(1, MOST_ITERATIONS + 1):
        q = matrix.multiply(p)
        curvature = float(p @ q)
        if not curvature > 0.0:
            raise NotConvergedError("the compressed matrix is not positive definite; segments too short?")
        step = rz / curvature
        x += step * p
        r -= step * q
        if np.linalg.norm(r) <= goal:
            return x, iteration, float(np.max(np.abs(matrix.multiply(x) - right)))
        z = matrix.precondition(r)
        rz, before = float(r @ z), rz
        p = z + (rz / before) * p
        tell(f"iteration {iteration}", 0.7 + 0.2 * (1.0 - 0.9**iteration))
    raise NotConvergedError(
        f"conjugate gradients left a residual of {np.linalg.norm(r) / np.linalg.norm(right):.1e} "
        f"after {MOST_ITERATIONS} iterations"
    )
