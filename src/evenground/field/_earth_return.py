"""What the soil changes in the induction between conductors near its surface.

Between two elements on the surface of uniform soil the static potential and the kernel
``G(r) = 2/(g^2 r^3) (1 - (1 + g r) exp(-g r))``, ``g = sqrt(j w mu0/rho)``, in place of ``1/r`` are the exact
quasi-static field (R. M. Foster, Bell System Tech. J. 10 (1931) 408; E. D. Sunde, Earth Conduction Effects
in Transmission Systems, 1949). In wave numbers it reads ``2 L/(L + u)``, ``u = sqrt(L^2 + g^2)``; layers
replace u by their surface admittance. That spectrum is fitted here by those of uniform soils, which is linear
least squares, so every layered soil keeps the closed form. Integrated over a long straight wire G is
Carson's and Pollaczek's earth-return impedance at the surface.

Only the change ``G(r) - 1/r`` comes from here; it is smooth, so depths may be left out of it while they
are small against the skin depth.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._metal import MU_0
from evenground.model.soil import LayeredSoil

__all__ = ["EarthReturn", "fit_earth_return", "no_earth_return", "skin_depth_m"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

LADDER = 1.8
"""Ratio of neighbouring resistivities of the uniform soils that a layered one is fitted by."""
REFUSED = 1e-2
"""Largest deviation of the fitted spectrum that is let through; the spectrum lies between 0 and 1."""
SERIES_TERMS = 20


@dataclass(frozen=True, eq=False)
class EarthReturn:
    """The change of the induction kernel as a sum over uniform soils.

    Attributes
    ----------
    weight : (k,)
    propagation : (k,)
        ``sqrt(j w mu0/rho)`` of each soil. [1/m]
    error : float
        Largest deviation of the fitted spectrum on fresh wave numbers; 0 for uniform soil.
    """

    weight: ComplexArray
    propagation: ComplexArray
    error: float

    def change(self, distance_m: FloatArray) -> ComplexArray:
        """``G(r) - 1/r`` at horizontal distances. [m -> 1/m]"""
        r = np.asarray(distance_m, dtype=float)
        total = np.zeros(r.shape, dtype=complex)
        for weight, g in zip(self.weight, self.propagation, strict=True):
            total += weight * g * _uniform_change(g * r)
        return total


def no_earth_return() -> EarthReturn:
    """No change: conductors in soil that does not conduct."""
    none = np.zeros(0, dtype=complex)
    return EarthReturn(none, none, 0.0)


def skin_depth_m(resistivity_ohm_m: float, frequency_hz: float) -> float:
    """Skin depth of soil, about 503 sqrt(rho/f). [m]"""
    return sqrt(resistivity_ohm_m / (pi * frequency_hz * MU_0))


def _uniform_change(x: ComplexArray) -> ComplexArray:
    """``2 (1 - (1 + x) exp(-x))/x^3 - 1/x``; its series for small x. Starts as -2/3 + x/4."""
    small = np.abs(x) < 1.0
    y = np.where(small, 1.0, x)
    found = 2.0 * (1.0 - (1.0 + y) * np.exp(-y)) / y**3 - 1.0 / y
    power, factorial = np.ones(int(small.sum()), dtype=complex), 2.0
    series = np.zeros(len(power), dtype=complex)
    for n in range(3, 3 + SERIES_TERMS):
        factorial *= n
        series += (2.0 if n % 2 == 0 else -2.0) * (n - 1) / factorial * power
        power = power * x[small]
    found[small] = series
    return np.asarray(found)


@lru_cache(maxsize=32)
def fit_earth_return(soil: LayeredSoil, frequency_hz: float) -> EarthReturn:
    """Earth-return kernel of a soil.

    Raises
    ------
    NotConvergedError
        When the spectrum of a layered soil is not fitted closely enough.
    """
    rho = np.array(soil.resistivities_ohm_m)
    factor = 2j * pi * frequency_hz * MU_0
    if np.all(rho == rho[0]):
        return EarthReturn(np.ones(1, dtype=complex), np.sqrt(factor / rho[:1]), 0.0)
    low, high = float(rho.min()), float(rho.max())
    count = 4 + int(np.ceil(np.log(high / low) / np.log(LADDER)))
    ladder = np.geomspace(low / LADDER, high * LADDER, count)
    propagation = np.sqrt(factor / ladder)
    thin, least = min(soil.thicknesses_m), float(np.abs(propagation).min())
    greatest = max(30.0 * float(np.abs(propagation).max()), 3.0 / thin)
    fit_at = np.geomspace(1e-2 * least, greatest, 40 * count)
    fresh = np.sqrt(fit_at[1:] * fit_at[:-1])
    matrix = _uniform_spectrum(fit_at, propagation)
    # what weighs in the kernel is the area under the spectrum, hence not only its ordinate
    weight = np.linalg.lstsq(matrix, _layered_spectrum(fit_at, soil, factor), rcond=1e-10)[0]
    error = np.max(
        np.abs(_uniform_spectrum(fresh, propagation) @ weight - _layered_spectrum(fresh, soil, factor))
    )
    if error > REFUSED:
        raise NotConvergedError(
            f"earth return: the fit of the layered soil deviates by {error:.1e} (allowed {REFUSED:.0e}) "
            f"for {soil.describe()}"
        )
    return EarthReturn(weight.astype(complex), propagation, float(error))


def _uniform_spectrum(wave: FloatArray, propagation: ComplexArray) -> ComplexArray:
    u = np.sqrt(wave[:, None] ** 2 + propagation**2)
    return np.asarray((wave[:, None] - u) / (wave[:, None] + u))


def _layered_spectrum(wave: FloatArray, soil: LayeredSoil, factor: complex) -> ComplexArray:
    """``2 L/(L + admittance) - 1``; the admittance by recursion upwards (Sunde 1949; J. R. Wait)."""
    u = [np.sqrt(wave**2 + factor / rho) for rho in soil.resistivities_ohm_m]
    seen = u[-1]
    for above, thickness in zip(reversed(u[:-1]), reversed(soil.thicknesses_m), strict=True):
        fade = np.exp(-2.0 * above * thickness)
        t = (1.0 - fade) / (1.0 + fade)
        seen = above * (seen + above * t) / (above + seen * t)
    return np.asarray((wave - seen) / (wave + seen))
