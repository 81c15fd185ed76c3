"""What a field solution is: currents of the segments for one volt, and potentials anywhere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import OutOfRangeError
from evenground.field._images import ImageSet
from evenground.field._maps import pays, plane_potential
from evenground.field._segments import Segments
from evenground.field._tables import pack_points
from evenground.model.soil import LayeredSoil

__all__ = ["Solution", "SolverReport", "evaluate_potential"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class SolverReport:
    """How a field solution came about.

    Attributes
    ----------
    method : str
    segments, layers, images : int
        Number of segments, of soil layers, and of images of the most expensive pair of layers.
    kernel_error : float
        Largest deviation of the layered-earth kernel from fresh spectral samples, relative to the surface
        kernel at the same wave number; potentials deviate less.
    residual : float
        Largest deviation of the mean potential of a segment from that of the metal, relative.
    energy_balance : float
        Power fed in against power leaked, with the potentials on the metal computed anew by the
        evaluation used for maps (a sample of the segments); relative difference.
    iterations : int
        0 for a direct solve.
    longest_segment_m, shortest_segment_m : float
    memory_bytes : int
        Estimate made before the solve.
    notes : tuple of str
    node_balance : float, optional
        Largest current lost at a joint over the largest injected; None for equipotential metal.
    """

    method: str
    segments: int
    layers: int
    images: int
    kernel_error: float
    residual: float
    energy_balance: float
    iterations: int
    longest_segment_m: float
    shortest_segment_m: float
    memory_bytes: int
    notes: tuple[str, ...] = ()
    node_balance: float | None = None


@dataclass(frozen=True, eq=False)
class Solution:
    """Field of equipotential metal in layered earth, solved for one volt.

    Attributes
    ----------
    soil : LayeredSoil
    segments : Segments
        Arrays ``start`` and ``end`` (3, n), ``radius_m``, ``length_m``, ``layer``, ``conductor``.
    current_a_per_v : (n,)
        Current that each segment leaks for one volt on the metal.
    resistance_ohm : float
        Earth resistance against far earth.
    resistance_error_ohm : float
        Cautious estimate of the discretisation error of the resistance (the true one is lower), from how
        the potential varies along the segments; see ``_checks.py``. It holds neither the error of the soil
        model nor that of thin-wire theory.
    report : SolverReport
    """

    soil: LayeredSoil
    segments: Segments
    current_a_per_v: FloatArray
    resistance_ohm: float
    resistance_error_ohm: float
    report: SolverReport
    images: ImageSet

    def leakage_a_per_m(self, gpr_v: float = 1.0) -> FloatArray:
        """Current leaked by each segment per metre of its length. [V -> A/m]"""
        return np.asarray(self.current_a_per_v * gpr_v / self.segments.length_m)

    def potential_v(self, points_m: ArrayLike, gpr_v: float = 1.0) -> FloatArray:
        """Potential against far earth at points in the soil or on its surface.

        Parameters
        ----------
        points_m : (n, 3)
            Coordinates, z is depth. [m]
        gpr_v : float
            Potential of the metal. [V]

        Raises
        ------
        OutOfRangeError
            For points above the surface or with coordinates that are not finite.
        """
        return evaluate_potential(
            self.soil, self.segments, self.images, self.current_a_per_v * gpr_v, points_m
        )


def evaluate_potential(
    soil: LayeredSoil, segments: Segments, images: ImageSet, current_a: FloatArray, points_m: ArrayLike
) -> FloatArray:
    """Potential at points (n, 3) of segments that leak the currents given. [A, m -> V]"""
    from evenground.field import _kernels

    points = np.asarray(points_m, dtype=float)
    if points.ndim != 2 or points.shape[1] != 3:
        raise OutOfRangeError(f"points_m: needs shape (n, 3), got {points.shape}")
    if not np.isfinite(points).all():
        raise OutOfRangeError("points_m: coordinates must be finite")
    if points.size and points[:, 2].min() < 0.0:
        raise OutOfRangeError("points_m: z is depth below the surface and can not be negative")
    rows = np.ascontiguousarray(points.T)
    column = np.searchsorted(np.array(soil.interface_depths_m), rows[2], side="left").astype(np.int64)
    column[rows[2] == 0.0] = images.layers
    if pays(rows, len(segments)):
        return plane_potential(segments, images, current_a, rows, column)
    out = np.empty(len(points))
    if len(points) == 0:
        return out
    packed, level = pack_points(segments, images, rows, column)
    _kernels.potential(out, rows, column, level, np.ascontiguousarray(current_a), *packed)
    return out
