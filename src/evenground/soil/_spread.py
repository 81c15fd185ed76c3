"""What a posterior means: bands on the sounding curve, and equivalent layers in words."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, sqrt

import numpy as np

from evenground.model.soil import ArrayKind, SoilPosterior
from evenground.soil._forward import FloatArray, curve, geometry_of_pairs
from evenground.soil._words import plain

__all__ = ["curve_band", "equivalence_words"]

LOOSE = 0.25
"""Standard deviation of a logarithm above which a parameter counts as loose."""
TIGHTER = 1.0 / 3.0
"""A product or ratio counts as known when its deviation is below this share of the parameter's own."""


def curve_band(
    posterior: SoilPosterior,
    positions_m: Sequence[float],
    *,
    array: ArrayKind | str = ArrayKind.WENNER,
    potential_share: float = 0.1,
    levels: Sequence[float] = (0.025, 0.5, 0.975),
) -> FloatArray:
    """Quantiles of the sounding curve over the soils of a posterior. [ohm m]

    Parameters
    ----------
    posterior : SoilPosterior
    positions_m : sequence of float
        Spacings a, or AB/2. [m]
    array : ArrayKind or its name
    potential_share : float
        MN/2 over AB/2 for the Schlumberger array.
    levels : sequence of float
        Probabilities of the quantiles.

    Returns
    -------
    array, shape (levels, positions)
    """
    x = np.asarray(positions_m, dtype=float)
    if ArrayKind(array) is ArrayKind.WENNER:
        pairs = np.column_stack([x, 2.0 * x])
    else:
        pairs = np.column_stack([x * (1.0 - potential_share), x * (1.0 + potential_share)])
    rho = np.array([s.resistivities_ohm_m for s in posterior.soils])
    h = np.array([s.thicknesses_m for s in posterior.soils]).reshape(len(rho), -1)
    values = curve(geometry_of_pairs(pairs, (2.0, -2.0)), rho, h)
    return np.asarray(np.quantile(values, levels, axis=0), dtype=float)


def equivalence_words(posterior: SoilPosterior) -> tuple[str, ...]:
    """What is known and what is not, for people.

    Thin layers act by one number only: a resistive one by resistivity times thickness, a conducting one by
    thickness over resistivity (Maillet 1947). Where the readings fix that number much better than the
    layer's own values, this says so.
    """
    layers = (len(posterior.names) + 1) // 2
    words = []
    for k in range(layers - 1):
        words += _layer(posterior, k, layers)
    last = layers - 1
    if posterior.std_ln[last] > LOOSE:
        low, _, _, _, high = posterior.quantiles[last]
        words.append(
            f"The resistivity below the last interface lies between {plain(low)} and {plain(high)} ohm m "
            "(95 %)"
        )
    return tuple(words)


def _layer(posterior: SoilPosterior, k: int, layers: int) -> list[str]:
    j = layers + k
    rho_sd, h_sd = posterior.std_ln[k], posterior.std_ln[j]
    if max(rho_sd, h_sd) <= LOOSE:
        return []
    cross = 2.0 * posterior.correlation[k][j] * rho_sd * h_sd
    product, ratio = (sqrt(max(rho_sd**2 + h_sd**2 + sign * cross, 0.0)) for sign in (1.0, -1.0))
    rho, h = posterior.quantiles[k], posterior.quantiles[j]
    range_words = f"{plain(rho[0])} to {plain(rho[4])} ohm m, {plain(h[0])} to {plain(h[4])} m"
    known = min(product, ratio)
    if known > TIGHTER * min(rho_sd, h_sd):
        return [f"Layer {k + 1} is loosely known: {range_words} (95 %)"]
    mean = posterior.mean_ln
    if product <= ratio:
        number = f"resistivity times thickness, {plain(exp(mean[k] + mean[j]))} ohm m2"
    else:
        number = f"thickness over resistivity, {plain(exp(mean[j] - mean[k]))} m per ohm m"
    return [
        f"Layer {k + 1} is known by {number} within a factor of {exp(2.0 * known):.2f} (95 %); by themselves "
        f"its values may be {range_words}, always together"
    ]
