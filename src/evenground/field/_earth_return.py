"""What the soil changes in the induction between conductors near its surface.

Between two elements on the surface of uniform soil the static potential and the kernel
``G(r) = 2/(g^2 r^3) (1 - (1 + g r) exp(-g r))``, ``g = sqrt(j w mu0/rho)``, in place of ``1/r`` are the exact
quasi-static field (R. M. Foster, Bell System Tech. J. 10 (1931) 408; E. D. Sunde, Earth Conduction Effects
in Transmission Systems, 1949). In wave numbers it reads ``2 L/(L + u)``, ``u = sqrt(L^2 + g^2)``; layers
replace u by their surface admittance. That spectrum is the one of the top layer plus a rest fitted by the
uniform soils of the other layers and by exponentials, which are images; the fit is linear least squares.
Integrated over a long straight wire G is Carson's and Pollaczek's earth-return impedance at the surface.

Only the change ``G(r) - 1/r`` comes from here; it is smooth, so depths may be left out of it while they
are small against the skin depth.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._metal import MU_0
from evenground.model.soil import LayeredSoil

__all__ = ["EarthReturn", "fit_earth_return", "no_earth_return", "skin_depth_m"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

RATIO = 1.5
"""Ratio of neighbouring image distances."""
REFUSED = 3e-2
"""Largest relative error of the kernel's change that is let through."""
SERIES_TERMS = 20


@dataclass(frozen=True, eq=False)
class EarthReturn:
    """The change of the induction kernel as a sum over uniform soils and images.

    Attributes
    ----------
    weight : (k,)
    propagation : (k,)
        ``sqrt(j w mu0/rho)`` of each uniform soil. [1/m]
    image : (m,)
    image_distance_m : (m,)
    error : float
        Largest error of the change, relative, by the area between the spectrum and its fit on fresh wave
        numbers; 0 for uniform soil.
    """

    weight: ComplexArray
    propagation: ComplexArray
    image: ComplexArray
    image_distance_m: FloatArray
    error: float

    def change(self, distance_m: FloatArray) -> ComplexArray:
        """``G(r) - 1/r`` at horizontal distances. [m -> 1/m]"""
        r = np.asarray(distance_m, dtype=float)
        total = np.zeros(r.shape, dtype=complex)
        for weight, g in zip(self.weight, self.propagation, strict=True):
            total += weight * g * _uniform_change(g * r)
        for weight, b in zip(self.image, self.image_distance_m, strict=True):
            total += weight / np.hypot(r, b)
        return total


def no_earth_return() -> EarthReturn:
    """No change: conductors in soil that does not conduct."""
    none = np.zeros(0, dtype=complex)
    return EarthReturn(none, none, none, np.zeros(0), 0.0)


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
    propagation = np.sqrt(factor / rho)
    one = np.ones(1, dtype=complex)
    if np.all(rho == rho[0]):
        return EarthReturn(one, propagation[:1], one[:0], np.zeros(0), 0.0)
    others = np.unique(propagation[1:][rho[1:] != rho[0]])
    least, thin = float(np.abs(propagation).min()), min(soil.thicknesses_m)
    farthest = 20.0 * max(1.0 / least, sum(soil.thicknesses_m))
    distance = 0.5 * thin * RATIO ** np.arange(ceil(log(2.0 * farthest / thin, RATIO)) + 1)
    wave = np.geomspace(1e-2 / distance[-1], 30.0 / distance[0], 12 * len(distance))
    fresh = np.sqrt(wave[1:] * wave[:-1])

    def basis(at: FloatArray) -> ComplexArray:
        images = np.exp(-np.outer(at, distance)).astype(complex)
        return np.hstack([_uniform_spectrum(at, others), images])

    def rest(at: FloatArray) -> ComplexArray:
        top = _uniform_spectrum(at, propagation[:1])[:, 0]
        return np.asarray(_layered_spectrum(at, soil, factor) - top)

    # what counts in the kernel is the area under the spectrum: weights grow with the wave number
    weight = np.sqrt(1.0 + wave / least)
    found = np.linalg.lstsq(basis(wave) * weight[:, None], rest(wave) * weight, rcond=1e-12)[0]
    error = _area(basis(fresh) @ found - rest(fresh), fresh) / _area(
        _layered_spectrum(fresh, soil, factor), fresh
    )
    if error > REFUSED:
        raise NotConvergedError(
            f"earth return: the fit of the layered soil deviates by {error:.1e} (allowed {REFUSED:.0e}) "
            f"for {soil.describe()}"
        )
    k = len(others)
    return EarthReturn(
        np.concatenate([one, found[:k]]),
        np.concatenate([propagation[:1], others]),
        np.asarray(found[k:], dtype=np.complex128),
        np.asarray(distance, dtype=np.float64),
        error,
    )


def _area(spectrum: ComplexArray, wave: FloatArray) -> float:
    size = np.abs(spectrum)
    return float(np.sum(0.5 * (size[1:] + size[:-1]) * np.diff(wave)))


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
