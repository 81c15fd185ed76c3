"""A solved matrix kept whole, so that metal can be taken away or set afloat without solving again.

With the matrix A of mean potentials and all metal at one volt the currents are I = G 1, G = inverse of A.
Let the columns of E select what changes: a unit column for each removed segment, a column of ones over each
piece that comes to float. Their own potentials become unknowns z, and their currents must vanish:

    I' = I + G E z,    E^T I' = 0,    so    z = -(E^T G E)^-1 E^T I

(the matrix inversion lemma; Golub and Van Loan, Matrix Computations, 2.1.4). The small system has one row
for each removed segment or floating piece, so the cost does not depend on the rest of the metal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import NotConvergedError, OutOfRangeError, TooLargeError
from evenground.field._backfill import Backfill, embed, series_resistance
from evenground.field._circuit import join_ends
from evenground.field._dense import assemble_matrix
from evenground.field._images import ImageSet, fit_images
from evenground.field._segments import Segments, cut_conductors
from evenground.field._tables import pack_points
from evenground.model.electrode import Electrode
from evenground.model.soil import LayeredSoil

__all__ = ["Changed", "KeptSolution", "keep_solution"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
MOST_KEPT = 4000
"""Segments up to which the whole inverse is kept."""


@dataclass(frozen=True, eq=False)
class Changed:
    """Currents after a change, for one volt on the metal that stays bonded.

    Attributes
    ----------
    current_a_per_v : (n,)
    resistance_ohm : float
    floating_v : (k,)
        Potential of each floating piece as a fraction of that of the bonded metal.
    removed : indices
    floating : tuple of indices
    steps : (removed + floating,)
        Change of the potential that the removed segments, then the floating pieces, are held at. [V]
    """

    current_a_per_v: FloatArray
    resistance_ohm: float
    floating_v: FloatArray
    removed: IntArray
    floating: tuple[IntArray, ...]
    steps: FloatArray

    def added(self, response: FloatArray) -> FloatArray:
        """Change of anything whose ``response`` (m, n) per volt of each segment is known, (m,).

        Quickest with the columns of ``response`` contiguous (Fortran order).
        """
        found = _selected(response, self.removed, self.floating) @ self.steps
        return np.asarray(found, dtype=np.float64)


def _selected(matrix: FloatArray, removed: IntArray, floating: Sequence[IntArray]) -> FloatArray:
    """``matrix @ E`` without the product."""
    sums = [matrix[:, piece].sum(axis=1)[:, None] for piece in floating]
    return np.asarray(np.concatenate([matrix[:, removed], *sums], axis=1), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class KeptSolution:
    """Bonded metal at one volt in layered earth, with the inverse of its matrix.

    Attributes
    ----------
    soil : LayeredSoil
    segments : Segments
    inverse_s : (n, n)
        Current of each segment per volt on each other. [S]
    nodes_m : (k, 3)
        Places where ends of segments meet. [m]
    ends : (2, n)
        Node of start and end of each segment.
    images : ImageSet
    """

    soil: LayeredSoil
    segments: Segments
    inverse_s: FloatArray
    nodes_m: FloatArray
    ends: IntArray
    images: ImageSet

    @cached_property
    def current_a_per_v(self) -> FloatArray:
        """Current of each segment for one volt on all metal."""
        return np.asarray(self.inverse_s.sum(axis=1))

    @property
    def resistance_ohm(self) -> float:
        """Earth resistance of all metal bonded."""
        return 1.0 / float(self.inverse_s.sum())

    def without(self, removed: ArrayLike = (), floating: Sequence[ArrayLike] = ()) -> Changed:
        """Take segments away, and let pieces float.

        Parameters
        ----------
        removed : indices
            Segments that no longer exist.
        floating : sequence of indices
            Each a piece that keeps its segments, is cut off from the rest and takes no current in sum.

        Raises
        ------
        OutOfRangeError
            When nothing bonded is left, or a segment is named twice.
        """
        gone = np.asarray(removed, dtype=np.int64)
        parts = [np.asarray(piece, dtype=np.int64) for piece in floating]
        named = np.concatenate([gone, *parts])
        if len(np.unique(named)) != len(named):
            raise OutOfRangeError("a segment is named twice among those removed and those that float")
        if len(named) >= len(self.segments):
            raise OutOfRangeError("no bonded metal would be left")
        current = self.current_a_per_v
        moved = _selected(self.inverse_s, gone, parts)
        shared = [moved[piece].sum(axis=0)[None] for piece in parts]
        small = np.concatenate([moved[gone], *shared])
        lost = np.concatenate([current[gone], [current[piece].sum() for piece in parts]])
        steps = np.asarray(-np.linalg.solve(small, lost), dtype=np.float64)
        changed = current + moved @ steps
        changed[gone] = 0.0
        resistance = 1.0 / float(changed.sum())
        return Changed(changed, resistance, 1.0 + steps[len(gone) :], gone, tuple(parts), steps)

    def influence(self, points_m: ArrayLike) -> FloatArray:
        """Potential at points (m, 3) per ampere leaked by each segment, (m, n). [V/A]"""
        from evenground.field import _kernels

        points = np.asarray(points_m, dtype=float)
        rows = np.ascontiguousarray(points.T)
        column = np.searchsorted(np.array(self.soil.interface_depths_m), rows[2], side="left").astype(
            np.int64
        )
        column[rows[2] == 0.0] = self.images.layers
        packed, level = pack_points(self.segments, self.images, rows, column)
        found = np.empty((len(points), len(self.segments)))
        _kernels.influence(found, rows, column, level, *packed)
        return found


def keep_solution(
    electrode: Electrode,
    soil: LayeredSoil,
    *,
    segment_m: float | None = None,
    backfill: Mapping[str, Backfill] | None = None,
) -> KeptSolution:
    """Solve bonded metal as :func:`evenground.field.solve` does and keep the inverse of the matrix.

    Raises
    ------
    TooLargeError
        Above ``MOST_KEPT`` segments.
    NotConvergedError
        When the matrix is not positive definite.
    """
    from scipy.linalg.lapack import dpotrf, dpotri

    images = fit_images(soil)
    segments = cut_conductors(embed(electrode.conductors, backfill or {}), soil, segment_m)
    if len(segments) > MOST_KEPT:
        raise TooLargeError(
            f"{len(segments)} segments; the inverse is kept up to {MOST_KEPT}. Give a larger segment_m"
        )
    matrix = assemble_matrix(segments, images)
    matrix[np.diag_indices_from(matrix)] += series_resistance(segments, electrode.conductors, backfill or {})
    factor, failed = dpotrf(matrix.T, lower=1, overwrite_a=1)
    if failed == 0:
        inverse, failed = dpotri(factor, lower=1, overwrite_c=1)
    if failed != 0:
        raise NotConvergedError("the matrix of the field solution is not positive definite")
    whole = np.tril(inverse) + np.tril(inverse, -1).T
    nodes, ends = join_ends(segments, electrode.conductors)
    return KeptSolution(soil, segments, whole, nodes, ends, images)
