"""Posterior of two layers on a grid: exact up to its step, nothing random.

The apparent resistivity of two layers is rho_1 times a function of rho_2/rho_1 and a/h alone, so with
residuals of the logarithm ln rho_1 enters linearly: for each ratio and thickness its posterior is a normal
distribution, cut off by the prior box, and only a plane of (ln ratio, ln h) has to be tabulated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log, pi, sqrt

import numpy as np

from evenground.model.soil import ApparentReading, LayeredSoil, SoilPosterior
from evenground.soil._forward import FloatArray
from evenground.soil._least_squares import halton
from evenground.soil._prior import LEVELS, Evidence, Prior, cut_notes, evidence_of, names_of, usual_prior
from evenground.soil._quick import ROUGH

__all__ = ["two_layer_posterior"]

PASSES = ((41, 25.0), (41, 4.0), (41, 1.0), (81, 1.0))
"""Points per axis and factor by which the variances are widened, so that a coarse grid can not miss a
narrow posterior; each pass covers what the one before left probable."""
NEGLIGIBLE_LN = 16.0
"""Cells whose probability is below exp(-16) of the best are outside the fine grid."""
WIDEST_STEP = 1.0 / 3.0
"""Largest step of the grid in standard deviations; wider ones broaden the marginals."""


@dataclass(frozen=True, slots=True)
class _Plane:
    """The table: per cell the weight, and the cut-off normal distribution of ln rho_1."""

    ratio_ln: FloatArray
    h_ln: FloatArray
    weight: FloatArray
    centre: FloatArray
    width: float
    low: FloatArray
    high: FloatArray
    ln_evidence: float


def two_layer_posterior(
    readings: Sequence[ApparentReading],
    *,
    noise: float | Sequence[float],
    prior: Prior | None = None,
    soils: int = 200,
) -> SoilPosterior:
    """What the readings leave open about two layers, for a known noise.

    Parameters
    ----------
    readings : sequence of ApparentReading
    noise : float or sequence of float
        Standard deviation of the logarithm of a reading (relative, for small ones).
    prior : Prior, optional
        Default: the bounds of the fit.
    soils : int
        Number of equally probable soils to draw (evenly, not at random).

    Raises
    ------
    ValueError
        When prior, noise or readings do not allow it.
    """
    box = prior or usual_prior(readings, 2)
    if box.layers != 2:
        raise ValueError(f"prior: two layers, not {box.layers}")
    evidence = evidence_of(readings, noise, name=ROUGH)
    low, high = box.box_ln()
    span = [(float(low[1] - high[0]), float(high[1] - low[0])), (float(low[2]), float(high[2]))]
    for count, widened in PASSES:
        axes = [np.linspace(*pair, count) for pair in span]
        plane = _plane(evidence, axes[0], axes[1], low, high, widened)
        steps = [float(axis[1] - axis[0]) for axis in axes]
        span = [_span(plane, axis) for axis in (0, 1)]
    return _summary(plane, steps, soils, low, high)


def _span(plane: _Plane, axis: int) -> tuple[float, float]:
    """Range of one axis that holds all but negligible probability, one step wider."""
    values = plane.ratio_ln if axis == 0 else plane.h_ln
    marginal = plane.weight.max(axis=1 - axis)
    kept = np.flatnonzero(marginal > marginal.max() * np.exp(-NEGLIGIBLE_LN))
    first, last = max(kept[0] - 1, 0), min(kept[-1] + 1, len(values) - 1)
    return float(values[first]), float(values[last])


def _plane(
    evidence: Evidence,
    ratios: FloatArray,
    thick: FloatArray,
    low: FloatArray,
    high: FloatArray,
    widened: float,
) -> _Plane:
    from scipy.special import log_ndtr

    grid_ratio, grid_h = (g.ravel() for g in np.meshgrid(ratios, thick, indexing="ij"))
    shape = evidence.quick.values(
        np.column_stack([np.ones_like(grid_ratio), np.exp(grid_ratio)]), np.exp(grid_h)[:, None]
    )
    weights = 1.0 / (widened * evidence.sigma**2)
    gap = evidence.measured_ln - np.log(np.maximum(shape, 1e-300))
    centre = gap @ weights / weights.sum()
    width = 1.0 / sqrt(float(weights.sum()))
    chi_square = ((gap - centre[:, None]) ** 2) @ weights
    bottom = np.maximum(low[0], low[1] - grid_ratio)
    top = np.minimum(high[0], high[1] - grid_ratio)
    inside = _ln_difference(log_ndtr, (bottom - centre) / width, (top - centre) / width)
    ln_weight = np.where(top > bottom, -0.5 * chi_square + inside, -inf)
    steps = _trapezoid(ratios)[:, None] * _trapezoid(thick)
    ln_weight = ln_weight.reshape(len(ratios), len(thick)) + np.log(steps)
    best = float(ln_weight.max())
    weight = np.exp(ln_weight - best)
    total = float(weight.sum())
    volume = float(np.sum(np.log(high - low)))
    return _Plane(
        ratio_ln=ratios,
        h_ln=thick,
        weight=weight / total,
        centre=centre.reshape(weight.shape),
        width=width,
        low=bottom.reshape(weight.shape),
        high=top.reshape(weight.shape),
        ln_evidence=best + log(total) + log(width * sqrt(2.0 * pi)) - volume,
    )


def _trapezoid(values: FloatArray) -> FloatArray:
    step = np.full(len(values), (values[-1] - values[0]) / (len(values) - 1))
    step[[0, -1]] *= 0.5
    return step


def _ln_difference(log_ndtr: np.ufunc, a: FloatArray, b: FloatArray) -> FloatArray:
    """ln(Phi(b) - Phi(a)), stable in both tails; -inf when b <= a."""
    flip = a > 0
    a, b = np.where(flip, -b, a), np.where(flip, -a, b)
    upper, lower = log_ndtr(b), log_ndtr(a)
    gap = np.minimum(lower - upper, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(upper + np.log(-np.expm1(gap)), dtype=float)


def _summary(
    plane: _Plane, steps: Sequence[float], count: int, low: FloatArray, high: FloatArray
) -> SoilPosterior:
    x = _draw(plane, 8192)
    mean, std = x.mean(axis=0), x.std(axis=0)
    quantiles = []
    for column in range(3):
        values = np.quantile(x[:, column], LEVELS)
        quantiles.append(tuple(float(v) for v in np.exp(values)))
    spread = (float(np.std(x[:, 1] - x[:, 0])), float(std[2]))
    notes = tuple(
        f"the grid of {name} is coarse: one step is {step / sd:.2f} of its standard deviation"
        for name, step, sd in zip(("rho2/rho1", "h1"), steps, spread, strict=True)
        if step > WIDEST_STEP * sd
    )
    chosen = np.exp(_draw(plane, count))
    return SoilPosterior(
        names=names_of(2),
        quantiles=tuple(quantiles),  # type: ignore[arg-type]
        mean_ln=tuple(float(v) for v in mean),
        std_ln=tuple(float(v) for v in std),
        correlation=tuple(tuple(float(v) for v in row) for row in np.atleast_2d(np.corrcoef(x.T))),
        ln_evidence=plane.ln_evidence,
        soils=tuple(LayeredSoil((r1, r2), (h,)) for r1, r2, h in chosen),
        method="grid",
        effective=inf,
        notes=(*notes, *cut_notes(x, low, high)),
    )


def _draw(plane: _Plane, count: int) -> FloatArray:
    """Evenly spread soils (ln rho_1, ln rho_2, ln h) of equal probability: (count, 3)."""
    from scipy.special import ndtr, ndtri

    points = halton(count, 4)
    by_h = plane.weight.sum(axis=0)
    column = np.minimum(np.searchsorted(np.cumsum(by_h), points[:, 0]), len(by_h) - 1)
    cumulative = np.cumsum(plane.weight, axis=0)
    position = points[:, 1] * cumulative[-1, column]
    row = np.array([np.searchsorted(cumulative[:, c], p) for c, p in zip(column, position, strict=True)])
    row = np.minimum(row, len(plane.ratio_ln) - 1)
    a = ndtr((plane.low[row, column] - plane.centre[row, column]) / plane.width)
    b = ndtr((plane.high[row, column] - plane.centre[row, column]) / plane.width)
    share = np.clip(a + points[:, 2] * (b - a), 1e-15, 1.0 - 1e-15)
    first = plane.centre[row, column] + plane.width * ndtri(share)
    half_h = 0.5 * (plane.h_ln[1] - plane.h_ln[0])
    half_ratio = 0.5 * (plane.ratio_ln[1] - plane.ratio_ln[0])
    thick = plane.h_ln[column] + half_h * (2.0 * points[:, 3] - 1.0)
    ratio = plane.ratio_ln[row] + half_ratio * (2.0 * np.roll(points[:, 3], count // 2) - 1.0)
    thick = np.clip(thick, plane.h_ln[0], plane.h_ln[-1])
    return np.column_stack([first, first + ratio, thick])
