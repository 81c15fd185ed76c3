"""Potential on the surface around a current probe on layered soil.

The kernel of a layered earth is smooth in the wave number. It is fitted once per soil by exponentials on a
geometric ladder of depths, each of which is an image below the probe.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.model.soil import LayeredSoil

__all__ = ["surface_kernel", "wave_kernel"]

Floats = NDArray[np.float64]

_RATIO = 1.3
_TOLERANCE = 1e-6


def wave_kernel(soil: LayeredSoil, wave_number: Floats) -> Floats:
    """Resistivity that a surface wave sees, bottom layer first (Stefanescu's kernel). [1/m -> ohm m]"""
    value = np.full_like(wave_number, soil.resistivities_ohm_m[-1])
    for rho, thickness in zip(soil.resistivities_ohm_m[-2::-1], soil.thicknesses_m[::-1], strict=True):
        t = np.tanh(wave_number * thickness)
        value = (value + rho * t) / (1.0 + value * t / rho)
    return value


def surface_kernel(soil: LayeredSoil) -> Callable[[Floats], Floats]:
    """Mutual resistance of two surface probes as a function of their distance. [m -> ohm]

    The function gives inf at distance 0.

    Raises
    ------
    NotConvergedError
        When the images do not reproduce the kernel to 1e-6 (contrasts above about 1000).
    """
    top = soil.resistivities_ohm_m[0]
    if soil.layers == 1:
        depths, weights = np.zeros(0), np.zeros(0)
    else:
        depths, weights = _images(soil)

    def kernel(distance: Floats) -> Floats:
        r = np.asarray(distance, dtype=np.float64)
        with np.errstate(divide="ignore"):
            total = 1.0 / r
        for depth, weight in zip(depths, weights, strict=True):
            total = total + weight / np.hypot(r, depth)
        result: Floats = top / (2.0 * math.pi) * total
        return result

    return kernel


def _images(soil: LayeredSoil) -> tuple[Floats, Floats]:
    top, thickness = soil.resistivities_ohm_m[0], soil.thicknesses_m[0]
    whole = sum(soil.thicknesses_m)
    contrast = max(soil.resistivities_ohm_m) / min(soil.resistivities_ohm_m)
    longest = 2.0 * whole * 20.0 * contrast
    count = math.ceil(math.log(longest / (2.0 * thickness)) / math.log(_RATIO)) + 1
    depths = 2.0 * thickness * _RATIO ** np.arange(count)
    wave = np.concatenate([[0.0], np.geomspace(1e-3 / longest, 12.0 / thickness, 12 * count)])
    target = wave_kernel(soil, wave) / top - 1.0
    basis = np.exp(-np.outer(wave, depths))
    heavy = np.ones(len(wave))
    heavy[0] = 30.0  # the far field hangs on the value at zero
    weights = np.linalg.lstsq(basis * heavy[:, None], target * heavy, rcond=1e-13)[0]
    error = float(np.max(np.abs(basis @ weights - target)))
    if error > _TOLERANCE * max(1.0, float(np.max(np.abs(target)))):
        raise NotConvergedError(f"images reproduce the soil's kernel only to {error:.2g}: {soil.describe()}")
    return np.asarray(depths, dtype=np.float64), np.asarray(weights, dtype=np.float64)
