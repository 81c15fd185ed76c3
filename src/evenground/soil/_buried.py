"""Probes at a depth in a layered soil: what the correction for uniform soil leaves wrong.

Source and observer both at depth z in the top layer, of resistivity rho_1 and thickness h_1 (z < h_1)::

    2 pi V/I = rho_1/2 (1/r + 1/sqrt(r^2 + 4 z^2)) + integral of cosh(lambda z)^2 (T - rho_1) J0(lambda r)

with T of the surface kernel; both ends of the integrand are taken out as there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenground.model.soil import ApparentReading, ArrayKind, LayeredSoil
from evenground.soil._arrays import POINT_DEPTH_PER_LENGTH
from evenground.soil._forward import FINE, FloatArray, curve_of_soil, filter_weights, surface_kernel
from evenground.soil._survey import geometry_of

__all__ = ["buried_potential", "probe_depth_bias"]


def buried_potential(distances_m: FloatArray, depth_m: float, soil: LayeredSoil) -> FloatArray:
    """2 pi V/I between two points at one depth in the top layer. [ohm m / m]

    Parameters
    ----------
    distances_m : array, shape (m,)
        Horizontal distances. [m]
    depth_m : float
        Depth of both points, above the first interface. [m]
    soil : LayeredSoil

    Raises
    ------
    ValueError
        When the depth is not inside the top layer.
    """
    r = np.asarray(distances_m, dtype=float)
    first = soil.resistivities_ohm_m[0]
    direct = 0.5 * first * (1.0 / r + 1.0 / np.hypot(r, 2.0 * depth_m))
    if soil.layers == 1:
        return np.asarray(direct, dtype=float)
    top = soil.thicknesses_m[0]
    if not 0.0 <= depth_m < top:
        raise ValueError(f"depth_m: {depth_m!r} m is not above the first interface at {top!r} m")
    base, j0 = filter_weights(FINE)
    lam = (base / r[:, None]).ravel()
    below = surface_kernel(lam, soil.resistivities_ohm_m[1:], soil.thicknesses_m[1:])
    reflection = (below - first) / (below + first)
    up = np.exp(-2.0 * lam * (top - depth_m))
    rest = 1.0 - reflection * np.exp(-2.0 * lam * top)
    integrand = 0.5 * first * reflection * up * (1.0 + np.exp(-2.0 * lam * depth_m)) ** 2 / rest
    step = soil.resistivities_ohm_m[-1] - first
    reach = 2.0 * sum(soil.thicknesses_m)
    integrand -= step * np.exp(-lam * reach)
    filtered = integrand.reshape(r.size, base.size) @ j0 / r
    return np.asarray(direct + filtered + step / np.hypot(r, reach), dtype=float)


def probe_depth_bias(readings: Sequence[ApparentReading], soil: LayeredSoil) -> FloatArray:
    """Relative error of apparent resistivities that comes from the depth of the probes. [-]

    What the probes, as points at 0.575 of their driven length, would show over this soil, taken back with the
    formula for uniform soil, against the value for probes at the surface. 0 without a depth; nan where the
    probes reach the second layer.
    """
    bias = np.zeros(len(readings))
    for k, reading in enumerate(readings):
        depth = POINT_DEPTH_PER_LENGTH * reading.probe_depth_m
        if depth == 0.0 or soil.layers == 1 or reading.array is ArrayKind.DRIVEN_ROD:
            continue
        if depth >= soil.thicknesses_m[0]:
            bias[k] = np.nan
            continue
        geometry = geometry_of([reading])
        r = geometry.distances_m
        uniform = LayeredSoil((1.0,))
        # geometry.weights sums the probe pairs over their sum at the surface: scale to the pairs at depth
        shown = geometry.weights[0] @ buried_potential(r, depth, soil)
        taken_back = shown / (geometry.weights[0] @ buried_potential(r, depth, uniform))
        bias[k] = taken_back / curve_of_soil(geometry, soil)[0] - 1.0
    return bias
