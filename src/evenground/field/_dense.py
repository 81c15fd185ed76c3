"""Dense solution: the symmetric matrix of mean potentials, factorised in place by Cholesky."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._images import ImageSet
from evenground.field._segments import Segments
from evenground.field._tables import pack_matrix

__all__ = ["Result", "assemble_matrix", "dense_bytes", "solve_dense"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Result:
    """Currents (n, cases) for the potentials asked for, and how they were found."""

    current: FloatArray
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


def solve_dense(
    segments: Segments, images: ImageSet, right: FloatArray, series: FloatArray | None = None
) -> Result:
    """Currents of all segments for potentials ``right`` (n, cases) of the metal. [V -> A]

    ``series`` (n,) is a resistance between the metal of each segment and its surface. [ohm]

    Raises
    ------
    NotConvergedError
        When the matrix is not positive definite, which thin-wire theory does not allow.
    """
    from scipy.linalg import LinAlgError, cho_factor, cho_solve
    from scipy.linalg.blas import dsymm

    matrix = assemble_matrix(segments, images)
    if not np.isfinite(matrix).all():
        raise NotConvergedError("the matrix of the field solution has values that are not finite")
    if series is not None:
        matrix[np.arange(len(matrix)), np.arange(len(matrix))] += series
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
        own = (diagonal - kept.diagonal())[:, None] * x
        return np.asarray(dsymm(1.0, kept, x, lower=0) + own)

    current = cho_solve(factor, right, check_finite=False)
    residual = float(np.max(np.abs(multiply(current) - right)))
    if not residual < 1e-6:
        raise NotConvergedError(f"the dense solve left a residual of {residual:.1e} (allowed 1e-6)")
    return Result(current, residual, 0, "dense, Cholesky")
