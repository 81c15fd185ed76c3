"""Which further spacings would tell most, before the survey crew leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np

from evenground.model.soil import ApparentReading, LayeredSoil
from evenground.soil._forward import FloatArray, geometry_of_pairs
from evenground.soil._prior import names_of, usual_prior
from evenground.soil._quick import quick_curve
from evenground.soil._survey import Curves, survey_of

__all__ = ["SpacingAdvice", "recommend_spacings"]

SERIES_M = (0.5, 0.75, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256)
"""Spacings that crews use, roughly evenly in the logarithm (common practice). [m]"""
LOOSE = 0.05
"""Standard deviation of a logarithm up to which a parameter is known well enough."""
NARROWER = 0.8
"""What is left of the standard deviation of the parameter that profits most, for a reading to be worth it."""


@dataclass(frozen=True, slots=True)
class SpacingAdvice:
    """One further Wenner spacing and what it would do.

    Attributes
    ----------
    spacing_m : float
        [m]
    gain : float
        Information in natural units: half the logarithm of the factor by which the volume of possible soils
        shrinks, squared.
    parameter : str
        The one that profits most, ``"rho2"``.
    before, after : float
        Its standard deviation (of the logarithm) before and after.
    words : str
    """

    spacing_m: float
    gain: float
    parameter: str
    before: float
    after: float
    words: str


def recommend_spacings(
    readings: Sequence[ApparentReading],
    soil: LayeredSoil,
    *,
    noise: float,
    most: int = 3,
    longest_m: float | None = None,
) -> tuple[SpacingAdvice, ...]:
    """Further Wenner spacings that would narrow the soil most, best first.

    Linear theory around the soil: each reading adds its slopes to the information; the candidate with the
    largest gain is taken, then the next given that one (D-optimal design, Fedorov 1972). Only spacings not
    yet read are named, and only while one still narrows a loose parameter by a fifth.

    Parameters
    ----------
    readings : sequence of ApparentReading
        What has been measured.
    soil : LayeredSoil
        The model chosen so far.
    noise : float
        Relative standard deviation of a reading.
    most : int
        Number of spacings wanted.
    longest_m : float, optional
        Longest spacing the site allows; default: twice the longest used. [m]

    Raises
    ------
    ValueError
        When the noise is not positive or there is no reading in use.
    """
    used = [r for r in readings if r.used]
    if not used or not 0.0 < noise < 10.0:
        raise ValueError("recommend_spacings: needs readings in use and a noise above 0")
    limit = longest_m or 2.0 * max(r.wenner_spacing_m for r in used)
    read = [r.wenner_spacing_m for r in used]
    new = [a for a in SERIES_M if a <= limit * (1 + 1e-9) and all(abs(log(a / b)) > 0.1 for b in read)]
    if not new:
        return ()
    candidates = np.array(new)
    low, high = usual_prior(used, soil.layers).box_ln()
    information = np.diag(12.0 / (high - low) ** 2)
    information += _information(_slopes_at(used, soil), noise)
    slopes = _slopes(candidates, soil)
    advice: list[SpacingAdvice] = []
    while len(advice) < most and candidates.size:
        covariance = np.asarray(np.linalg.inv(information), dtype=float)
        gains = 0.5 * np.log1p(np.einsum("np,pq,nq->n", slopes, covariance, slopes) / noise**2)
        index = int(np.argmax(gains))
        information = information + _information(slopes[index : index + 1], noise)
        spacing, gain = float(candidates[index]), float(gains[index])
        advice.append(_advice(spacing, gain, covariance, information, soil.layers))
        if advice[-1].before < LOOSE or advice[-1].after > NARROWER * advice[-1].before:
            return tuple(advice[:-1])
        candidates, slopes = np.delete(candidates, index), np.delete(slopes, index, axis=0)
    return tuple(advice)


def _advice(
    spacing: float, gain: float, before: FloatArray, information: FloatArray, layers: int
) -> SpacingAdvice:
    old, new = np.sqrt(np.diag(before)), np.sqrt(np.diag(np.linalg.inv(information)))
    index = int(np.argmax(np.log(old / new)))
    name = names_of(layers)[index]
    kind = "resistivity" if index < layers else "thickness"
    layer = index + 1 if index < layers else index - layers + 1
    words = (
        f"A reading at a = {spacing:g} m would narrow the {kind} of layer {layer} from a factor of "
        f"{_factor(old[index])} to {_factor(new[index])} either way (95 %)"
    )
    return SpacingAdvice(spacing, gain, name, float(old[index]), float(new[index]), words)


def _factor(std_ln: float) -> str:
    return f"{exp(2.0 * std_ln):.2f}" if std_ln < log(10.0) else "100 or more"


def _information(slopes: FloatArray, noise: float) -> FloatArray:
    return np.asarray(slopes.T @ slopes / noise**2, dtype=float)


def _slopes_at(readings: Sequence[ApparentReading], soil: LayeredSoil) -> FloatArray:
    """d ln rho_a / d ln parameters at the readings: (n, 2 N - 1)."""
    return _log_slopes(survey_of(readings).quick(), soil)


def _slopes(spacings: FloatArray, soil: LayeredSoil) -> FloatArray:
    pairs = np.column_stack([spacings, 2.0 * spacings])
    return _log_slopes(quick_curve(geometry_of_pairs(pairs, (2.0, -2.0))), soil)


def _log_slopes(quick: Curves, soil: LayeredSoil) -> FloatArray:
    rho = np.array([soil.resistivities_ohm_m])
    value, slopes = quick.values_and_slopes(rho, np.array([soil.thicknesses_m]).reshape(1, -1))
    return np.asarray((slopes[0] / value[0]).T, dtype=float)
