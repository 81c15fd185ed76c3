"""Soil and wire over frequency: the constants that enter the net at one frequency."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import ive

from evenground.errors import OutOfRangeError
from evenground.model.lightning import FrequencySoil
from evenground.standards.impulse import (
    alipio_visacro_conductivity,
    alipio_visacro_permittivity,
    cigre_781_conductivity,
    cigre_781_permittivity,
)

__all__ = ["EPS0", "MU0", "internal_impedance", "soil_admittivity"]

MU0 = 4e-7 * math.pi
EPS0 = 8.8541878128e-12
_LOWEST_HZ = 100.0  # below it the dispersion formulas are not meant to be used; the soil is ohmic there

_ALIPIO: dict[str, tuple[float, float, float]] = {
    "alipio-visacro mean": (1.26, 0.54, 12.0),
    "alipio-visacro relatively conservative": (0.95, 0.58, 8.0),
    "alipio-visacro conservative": (0.70, 0.62, 4.0),
}


def soil_admittivity(soil: FrequencySoil, frequency_hz: float) -> complex:
    """Conductivity plus j omega permittivity of the soil. [S/m]

    Raises
    ------
    OutOfRangeError
        For an unknown dispersion model.
    """
    rho, omega = soil.resistivity_ohm_m, 2.0 * math.pi * frequency_hz
    at = max(frequency_hz, _LOWEST_HZ)
    if soil.dispersion == "none":
        return complex(1.0 / rho, omega * EPS0 * soil.relative_permittivity)
    if soil.dispersion == "cigre 781":
        return complex(cigre_781_conductivity(rho, at), omega * EPS0 * cigre_781_permittivity(rho, at))
    if soil.dispersion in _ALIPIO:
        c, g, high = _ALIPIO[soil.dispersion]
        return complex(
            alipio_visacro_conductivity(rho, at, c, g),
            omega * EPS0 * alipio_visacro_permittivity(rho, at, c, g, high),
        )
    known = ", ".join(["none", "cigre 781", *_ALIPIO])
    raise OutOfRangeError(f"dispersion must be one of {known}; got {soil.dispersion!r}")


def internal_impedance(
    radius_m: NDArray[np.float64],
    frequency_hz: float,
    resistivity_ohm_m: float,
    relative_permeability: float,
) -> NDArray[np.complex128]:
    """Internal impedance of solid round wires with skin effect, per metre. [ohm/m]"""
    k = np.sqrt(2j * math.pi * frequency_hz * MU0 * relative_permeability / resistivity_ohm_m)
    ka = k * radius_m
    result: NDArray[np.complex128] = (
        resistivity_ohm_m * k * ive(0, ka) / (2.0 * math.pi * radius_m * ive(1, ka))
    )
    return result
