"""Dense solution: the symmetric matrix of mean potentials, factorised in place by Cholesky."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._images import ImageSet
from evenground.field._segments import Segments
from evenground.field._tables import pack_matrix

__all__ = ["Result", "assemble_matrix", "dense_bytes", "merged_energy", "solve_dense"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Result:
    """Currents per volt, and how they were found.

    ``merged_resistance`` is what the same currents would give with neighbouring segments merged in
    pairs: an upper bound of the resistance at half the resolution. [ohm]
    """

    current: FloatArray
    merged_resistance: float
    residual: float
    iterations: int
    method: str


def dense_bytes(segments: int) -> int:
    """Memory of the dense solution: the matrix, and room for vectors and tables."""
    return int(8 * segments**2 + 5e7)


def assemble_matrix(segments: Segments, images: ImageSet) -> FloatArray:
    """Mean potential of each segment per ampere leaked evenly by each other. [ohm]"""
    from evenground.field import _kernels

    matrix = np.empty((len(segments), len(segments)))
    _kernels.assemble(matrix, *pack_matrix(segments, images))
    return matrix


def pairs_of(segments: Segments) -> NDArray[np.int64]:
    """First index of each group of at most two neighbours on one conductor in one layer."""
    n = len(segments)
    new = np.ones(n, dtype=bool)
    new[1:] = (np.diff(segments.conductor) != 0) | (np.diff(segments.layer) != 0)
    run_start = np.maximum.accumulate(np.where(new, np.arange(n), 0))
    return np.flatnonzero((np.arange(n) - run_start) % 2 == 0)


def merged_energy(segments: Segments, current: FloatArray, energy: Callable[[FloatArray], float]) -> float:
    """Resistance by the energy of the currents spread evenly over merged neighbours. [ohm]

    By Thomson's principle it bounds the resistance at half the resolution from above.
    """
    first = pairs_of(segments)
    counts = np.diff(np.append(first, len(segments)))
    density = np.add.reduceat(current, first) / np.add.reduceat(segments.length_m, first)
    spread = np.repeat(density, counts) * segments.length_m
    return energy(spread) / float(np.sum(current)) ** 2


def solve_dense(segments: Segments, images: ImageSet) -> Result:
    """Currents of all segments for one volt on the metal.

    Raises
    ------
    NotConvergedError
        When the matrix is not positive definite, which thin-wire theory does not allow.
    """
    from scipy.linalg import LinAlgError, cho_factor, cho_solve
    from scipy.linalg.blas import dsymv

    matrix = assemble_matrix(segments, images)
    if not np.isfinite(matrix).all():
        raise NotConvergedError("the matrix of the field solution has values that are not finite")
    diagonal = matrix.diagonal().copy()
    try:
        # the lower triangle becomes the factor, the upper one keeps the matrix for the residual
        factor = cho_factor(matrix.T, lower=True, overwrite_a=True, check_finite=False)
    except LinAlgError as error:
        raise NotConvergedError(
            "the matrix of the field solution is not positive definite; are segments shorter than four "
            f"radii, or conductors nearly on top of each other? ({error})"
        ) from error
    kept = factor[0]

    def multiply(x: FloatArray) -> FloatArray:
        return np.asarray(dsymv(1.0, kept, x, lower=0) + (diagonal - kept.diagonal()) * x)

    current = cho_solve(factor, np.ones(len(matrix)), check_finite=False)
    residual = float(np.max(np.abs(multiply(current) - 1.0)))
    if not residual < 1e-6:
        raise NotConvergedError(f"the dense solve left a residual of {residual:.1e} (allowed 1e-6)")
    return Result(
        current=current,
        merged_resistance=merged_energy(segments, current, lambda x: float(x @ multiply(x))),
        residual=residual,
        iterations=0,
        method="dense, Cholesky",
    )
