"""Sounding curves of a layered earth: potential of a point electrode at the surface, for N layers.

The potential of a current I that enters a layered earth at a point of its surface is (Stefanesco 1930)::

    V(r) = I/(2 pi) * integral over lambda from 0 to infinity of T(lambda) * J0(lambda r)

with T from the recursion of Koefoed (1970), bottom up, over layers of resistivity rho and thickness h::

    T_N = rho_N,   T_i = (T_(i+1) + rho_i tanh(lambda h_i)) / (1 + T_(i+1) tanh(lambda h_i) / rho_i)

The integral is taken with a digital filter (Key 2009, as published in libdlf). Such filters cut off a
kernel that does not vanish at either end, so both ends are taken out and added again in closed form: rho_1,
the limit at large lambda, gives rho_1/r; what is left at lambda = 0 is removed with
(rho_N - rho_1) exp(-lambda d), d = twice the depth of the last interface, which gives
(rho_N - rho_1)/sqrt(r^2 + d^2). Without this the same filters can be wrong by more than the value itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.model.soil import LayeredSoil

__all__ = [
    "FINE",
    "Geometry",
    "curve",
    "curve_of_soil",
    "filter_weights",
    "four_probe_apparent_resistivity",
    "geometry_of_pairs",
    "remainder",
    "remainder_and_slopes",
    "schlumberger_apparent_resistivity",
    "surface_kernel",
    "surface_potential",
    "wenner_apparent_resistivity",
]

FloatArray = NDArray[np.float64]

FINE = "key_401_2009"
"""Filter used: relative error 1e-12 up to a contrast of 100, 3e-10 up to 1000, 3e-7 up to 10 000."""

_BATCH = 10_000
"""Elements of lambda times models worked on at once, so that the arrays stay in the cache."""


@lru_cache(maxsize=4)
def filter_weights(name: str) -> tuple[FloatArray, FloatArray]:
    """Abscissae and J0 weights of a filter."""
    from libdlf import hankel

    values = getattr(hankel, name)()
    return np.asarray(values[0], dtype=float), np.asarray(values[1], dtype=float)


@dataclass(frozen=True, slots=True)
class Geometry:
    """Readings as a linear map of surface potentials.

    ``distances_m`` (m,) are the distinct distances between current and potential probes; apparent
    resistivities are ``weights`` (n, m) times 2 pi V/I at those distances. [m, m]
    """

    distances_m: FloatArray
    weights: FloatArray


def geometry_of_pairs(distances_m: ArrayLike, signs: ArrayLike) -> Geometry:
    """Geometry of readings from the distances that enter each with their signs.

    Parameters
    ----------
    distances_m : array_like, shape (n, k)
        Distances between current and potential probes of each reading. [m]
    signs : array_like, shape (k,)
        Sign (or count) with which the potential at each distance enters.
    """
    distances = np.atleast_2d(np.asarray(distances_m, dtype=float))
    sign = np.broadcast_to(np.asarray(signs, dtype=float), distances.shape)
    unique, index = np.unique(distances, return_inverse=True)
    index = np.reshape(index, distances.shape)
    weights = np.zeros((distances.shape[0], unique.size))
    scale = 1.0 / np.sum(sign / distances, axis=1)
    for column in range(distances.shape[1]):
        np.add.at(weights, (np.arange(len(weights)), index[:, column]), sign[:, column] * scale)
    return Geometry(unique, weights)


def _kernel(lam: FloatArray, rho: FloatArray, h: FloatArray) -> FloatArray:
    """T(lambda) for rho (M, N), h (M, N - 1), lam (m,) -> (M, m).

    The recursion with exp(-2 lambda h) for tanh, which is the same and three times as fast.
    """
    twice = -2.0 * lam
    value = rho[:, -1:]
    for i in range(rho.shape[1] - 2, -1, -1):
        top = rho[:, i : i + 1]
        plus, minus = value + top, (value - top) * np.exp(twice * h[:, i : i + 1])
        value = top * (plus + minus) / (plus - minus)
    return np.broadcast_to(value, (rho.shape[0], lam.size))


def _kernel_and_slopes(lam: FloatArray, rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
    """T(lambda) and its derivatives by ln rho and ln h: (M, m), (M, 2 N - 1, m)."""
    models, layers = rho.shape
    value = np.broadcast_to(rho[:, -1:], (models, lam.size))
    slopes = np.zeros((models, 2 * layers - 1, lam.size))
    slopes[:, layers - 1] = rho[:, -1:]
    for i in range(layers - 2, -1, -1):
        top = rho[:, i : i + 1]
        x = lam * h[:, i : i + 1]
        decay = np.exp(-2.0 * x)
        th = (1.0 - decay) / (1.0 + decay)
        below = 1.0 + value * th / top
        new = (value + top * th) / below
        flat = (1.0 - th * th) / (below * below)
        slopes[:, i + 1 : layers] *= flat[:, None]
        slopes[:, layers + i + 1 :] *= flat[:, None]
        slopes[:, i] = th * (top + new * value / top) / below
        slopes[:, layers + i] = (top - value * value / top) * x * flat
        value = new
    return value, slopes


def surface_kernel(
    lam: FloatArray, resistivities_ohm_m: tuple[float, ...], thicknesses_m: tuple[float, ...]
) -> FloatArray:
    """T(lambda) of one soil: (m,). [ohm m]"""
    rho = np.array([resistivities_ohm_m])
    return np.asarray(_kernel(lam, rho, np.array([thicknesses_m]).reshape(1, -1))[0], dtype=float)


def _far_depth(rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The step rho_N - rho_1 and the depth d of the term that carries it: (M, 1) each."""
    return rho[:, -1:] - rho[:, :1], 2.0 * h.sum(axis=1, keepdims=True)


def remainder(lam: FloatArray, rho: FloatArray, h: FloatArray) -> FloatArray:
    """T(lambda) - rho_1 - (rho_N - rho_1) exp(-lambda d): (M, m)."""
    step, depth = _far_depth(rho, h)
    return np.asarray(_kernel(lam, rho, h) - rho[:, :1] - step * np.exp(-lam * depth), dtype=float)


def remainder_and_slopes(lam: FloatArray, rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The remainder and its derivatives by ln(rho), then ln(h): (M, m), (M, 2 N - 1, m)."""
    layers = rho.shape[1]
    step, depth = _far_depth(rho, h)
    decay = np.exp(-lam * depth)
    value, slopes = _kernel_and_slopes(lam, rho, h)
    slopes[:, 0] -= rho[:, :1] * (1.0 - decay)
    slopes[:, layers - 1] -= rho[:, -1:] * decay
    slopes[:, layers:] += (step * decay)[:, None] * lam * (2.0 * h[:, :, None])
    return value - rho[:, :1] - step * decay, slopes


def surface_potential(
    distances_m: FloatArray, rho: FloatArray, h: FloatArray, *, name: str = FINE
) -> FloatArray:
    """2 pi V/I at the surface, at distances from a point electrode on the surface. [ohm m / m]

    Parameters
    ----------
    distances_m : array, shape (m,)
    rho : array, shape (M, N)
        Resistivities of M models. [ohm m]
    h : array, shape (M, N - 1)
        Thicknesses. [m]
    name : str
        Filter of libdlf.

    Returns
    -------
    array, shape (M, m)
    """
    if rho.shape[1] == 1:
        return np.asarray(rho / distances_m, dtype=float)
    base, j0 = filter_weights(name)
    lam = (base / distances_m[:, None]).ravel()
    batch = max(1, _BATCH // lam.size)
    parts = [remainder(lam, rho[k : k + batch], h[k : k + batch]) for k in range(0, len(rho), batch)]
    filtered = np.concatenate(parts).reshape(len(rho), distances_m.size, base.size) @ j0 / distances_m
    step, depth = _far_depth(rho, h)
    return np.asarray(
        filtered + rho[:, :1] / distances_m + step / np.sqrt(distances_m**2 + depth**2), dtype=float
    )


def curve(geometry: Geometry, rho: FloatArray, h: FloatArray, *, name: str = FINE) -> FloatArray:
    """Apparent resistivities (M, n) of M models given as rho (M, N) and h (M, N - 1). [ohm m]"""
    return surface_potential(geometry.distances_m, rho, h, name=name) @ geometry.weights.T


def curve_of_soil(geometry: Geometry, soil: LayeredSoil) -> FloatArray:
    """Apparent resistivities (n,) of one soil. [ohm m]"""
    rho = np.array([soil.resistivities_ohm_m])
    h = np.array([soil.thicknesses_m]).reshape(1, -1)
    return np.asarray(curve(geometry, rho, h)[0], dtype=float)


def _positive(**values: FloatArray) -> None:
    for name, array in values.items():
        if not np.all(np.isfinite(array) & (array > 0)):
            raise ValueError(f"{name}: every value must be finite and above 0")


def wenner_apparent_resistivity(spacings_m: ArrayLike, soil: LayeredSoil) -> FloatArray:
    """Apparent resistivity of the Wenner array over a layered soil, probes at the surface. [ohm m]

    Parameters
    ----------
    spacings_m : array_like
        Spacing a between neighbouring probes. [m]
    soil : LayeredSoil

    Returns
    -------
    array of the shape of ``spacings_m``

    Raises
    ------
    ValueError
        When a spacing is not finite and positive.
    """
    a = np.asarray(spacings_m, dtype=float)
    _positive(spacings_m=a)
    flat = a.ravel()
    return curve_of_soil(geometry_of_pairs(np.column_stack([flat, 2 * flat]), (2, -2)), soil).reshape(a.shape)


def schlumberger_apparent_resistivity(
    half_current_m: ArrayLike, half_potential_m: ArrayLike, soil: LayeredSoil
) -> FloatArray:
    """Apparent resistivity of the Schlumberger array, exact for its finite MN. [ohm m]

    Parameters
    ----------
    half_current_m, half_potential_m : array_like
        L = AB/2 and b = MN/2, broadcast against each other; b < L. [m]
    soil : LayeredSoil

    Raises
    ------
    ValueError
        When a length is not finite and positive, or b is not below L.
    """
    outer, inner = np.broadcast_arrays(
        np.asarray(half_current_m, dtype=float), np.asarray(half_potential_m, dtype=float)
    )
    _positive(half_current_m=outer, half_potential_m=inner)
    if np.any(inner >= outer):
        raise ValueError("half_potential_m: must be below half_current_m; are the two exchanged?")
    pairs = np.column_stack([(outer - inner).ravel(), (outer + inner).ravel()])
    return curve_of_soil(geometry_of_pairs(pairs, (2, -2)), soil).reshape(outer.shape)


def four_probe_apparent_resistivity(
    positions_m: Sequence[Sequence[float]] | ArrayLike, soil: LayeredSoil
) -> FloatArray:
    """Apparent resistivity of any four probes in line. [ohm m]

    Parameters
    ----------
    positions_m : array_like, shape (n, 4)
        Abscissae of C1, P1, P2, C2 along the traverse: current enters at C1 and leaves at C2. [m]
    soil : LayeredSoil

    Raises
    ------
    ValueError
        When two probes coincide or the arrangement measures no voltage in uniform soil.
    """
    x = np.atleast_2d(np.asarray(positions_m, dtype=float))
    if x.shape[1] != 4 or not np.all(np.isfinite(x)):
        raise ValueError("positions_m: give four finite abscissae C1, P1, P2, C2 for each reading")
    pairs = np.abs(
        np.column_stack([x[:, 1] - x[:, 0], x[:, 1] - x[:, 3], x[:, 2] - x[:, 0], x[:, 2] - x[:, 3]])
    )
    signs = np.array([1.0, -1.0, -1.0, 1.0])
    if np.any(pairs == 0):
        raise ValueError("positions_m: two probes stand at the same place")
    strength = np.abs((signs / pairs).sum(axis=1))
    if np.any(strength < 1e-9 * (1.0 / pairs).sum(axis=1)):
        raise ValueError("positions_m: this arrangement measures no voltage in uniform soil")
    return curve_of_soil(geometry_of_pairs(pairs, signs), soil)
