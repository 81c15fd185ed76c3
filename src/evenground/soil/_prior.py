"""Prior box of a layered soil and the data a posterior needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenground.model.soil import ApparentReading
from evenground.soil._fit import bounds_of, distinct_spacings
from evenground.soil._forward import FINE, FloatArray
from evenground.soil._survey import Curves, survey_of
from evenground.soil._words import plain

__all__ = ["Evidence", "Prior", "cut_notes", "evidence_of", "names_of", "usual_prior"]

LEVELS = (0.025, 0.16, 0.5, 0.84, 0.975)
CUT = 0.25
"""Probability in the outermost twentieth of a prior, over that of its best twentieth, that counts as cut."""


@dataclass(frozen=True, slots=True)
class Prior:
    """Limits of each parameter, flat in the logarithm between them. [ohm m, m]"""

    resistivities_ohm_m: tuple[tuple[float, float], ...]
    thicknesses_m: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.thicknesses_m) != len(self.resistivities_ohm_m) - 1:
            raise ValueError("thicknesses_m: one pair fewer than resistivities_ohm_m")
        for low, high in (*self.resistivities_ohm_m, *self.thicknesses_m):
            if not 0 < low < high < float("inf"):
                raise ValueError(f"limits {low!r} to {high!r}: need 0 < low < high, both finite")

    @property
    def layers(self) -> int:
        """Number of layers."""
        return len(self.resistivities_ohm_m)

    def box_ln(self) -> tuple[FloatArray, FloatArray]:
        """Logarithms of the lower and the upper limits, resistivities first."""
        pairs = np.log(np.array((*self.resistivities_ohm_m, *self.thicknesses_m)))
        return pairs[:, 0], pairs[:, 1]


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings as logarithms with their standard deviations, and the curve that models them."""

    quick: Curves
    measured_ln: FloatArray
    sigma: FloatArray

    def chi_square(self, x: FloatArray, layers: int) -> FloatArray:
        """Of models given as logarithms (M, 2 N - 1): (M,)."""
        values = np.exp(x)
        model = self.quick.values(values[:, :layers], values[:, layers:])
        off = (np.log(np.maximum(model, 1e-300)) - self.measured_ln) / self.sigma
        return np.asarray(np.sum(off * off, axis=1), dtype=float)


def usual_prior(readings: Sequence[ApparentReading], layers: int) -> Prior:
    """The bounds of the fit for every layer."""
    bounds = bounds_of([r for r in readings if r.used])
    return Prior((bounds.resistivity_ohm_m,) * layers, (bounds.thickness_m,) * (layers - 1))


def evidence_of(
    readings: Sequence[ApparentReading], noise: float | Sequence[float], *, name: str = FINE
) -> Evidence:
    """Prepare readings in use for a posterior.

    Raises
    ------
    ValueError
        Without readings at two spacings or with a noise that is not positive.
    """
    used = [r for r in readings if r.used]
    if distinct_spacings(used) < 2:
        raise ValueError("a posterior needs readings at two spacings or more")
    sigma = np.asarray(noise, dtype=float)
    if sigma.ndim:
        sigma = sigma[[i for i, r in enumerate(readings) if r.used]]
    sigma = np.broadcast_to(sigma, (len(used),)).copy()
    if not np.all(np.isfinite(sigma) & (sigma > 0)):
        raise ValueError("noise: must be finite and above 0")
    measured = np.log([r.apparent_resistivity_ohm_m for r in used])
    return Evidence(survey_of(used).quick(name), measured, sigma)


def names_of(layers: int) -> tuple[str, ...]:
    """``"rho1"``, ..., ``"h1"``, ..."""
    return (*(f"rho{k + 1}" for k in range(layers)), *(f"h{k + 1}" for k in range(layers - 1)))


def cut_notes(x: FloatArray, low: FloatArray, high: FloatArray) -> tuple[str, ...]:
    """Parameters whose probability does not fade before it reaches a limit of the prior, in words.

    ``x`` are soils of equal probability (n, 2 N - 1) as logarithms.
    """
    layers = (x.shape[1] + 1) // 2
    notes = []
    for column, name in enumerate(names_of(layers)):
        counts, _ = np.histogram(x[:, column], bins=20, range=(low[column], high[column]))
        unit = "ohm m" if column < layers else "m"
        for share, edge, side in ((counts[0], low[column], "lower"), (counts[-1], high[column], "upper")):
            if share > CUT * counts.max():
                notes.append(
                    f"the readings give no {side} limit for {name}: it is cut off at the assumed "
                    f"{plain(float(np.exp(edge)))} {unit}"
                )
    return tuple(notes)
