"""Dense solution: the symmetric matrix of mean potentials, factorised in place by Cholesky."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._images import ImageSet
from evenground.field._segments import Segments
from evenground.field._tables import pack_matrix

__all__ = ["DenseResult", "assemble_matrix", "pairs_of", "solve_dense"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DenseResult:
    """Currents per volt, resistance with pairs of segments merged, and residual."""

    current: FloatArray
    coarse_resistance: float
    residual: float


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


def _merged(matrix: FloatArray, segments: Segments) -> FloatArray:
    """Galerkin matrix on merged neighbours, exact sums of the fine one. [ohm]"""
    first = pairs_of(segments)
    counts = np.diff(np.append(first, len(segments)))
    whole = np.repeat(np.add.reduceat(segments.length_m, first), counts)
    share = segments.length_m / whole
    rows = np.add.reduceat(matrix * share[:, None], first, axis=0)
    return np.asarray(np.add.reduceat(rows * share, first, axis=1))


def _resistance(matrix: FloatArray) -> float:
    from scipy.linalg import cho_factor, cho_solve

    factor = cho_factor(matrix.T, lower=True, overwrite_a=True, check_finite=False)
    return 1.0 / float(np.sum(cho_solve(factor, np.ones(len(matrix)), check_finite=False)))


def solve_dense(segments: Segments, images: ImageSet) -> DenseResult:
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
    ones = np.ones(len(matrix))
    try:
        coarse = _resistance(_merged(matrix, segments))
        # the lower triangle becomes the factor, the upper one keeps the matrix for the residual
        factor = cho_factor(matrix.T, lower=True, overwrite_a=True, check_finite=False)
    except LinAlgError as error:
        raise NotConvergedError(
            "the matrix of the field solution is not positive definite; are segments shorter than four "
            f"radii, or conductors nearly on top of each other? ({error})"
        ) from error
    current = cho_solve(factor, ones, check_finite=False)
    kept = factor[0]
    back = dsymv(1.0, kept, current, lower=0) + (diagonal - kept.diagonal()) * current
    residual = float(np.max(np.abs(back - 1.0)))
    if not residual < 1e-6:
        raise NotConvergedError(f"the dense solve left a residual of {residual:.1e} (allowed 1e-6)")
    return DenseResult(current, coarse, residual)
