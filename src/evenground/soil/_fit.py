"""Layered models fitted to apparent resistivities by bounded least squares from many starts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np

from evenground.model.soil import ApparentReading, LayeredSoil, SoilCandidate
from evenground.soil._forward import FloatArray
from evenground.soil._least_squares import Minimum, halton, minimise, robust_weights
from evenground.soil._survey import Curves, Survey, survey_of
from evenground.soil._words import plain

__all__ = [
    "DEFAULT_NOISE",
    "STARTS",
    "Bounds",
    "Problem",
    "bounds_of",
    "candidate_of",
    "checked_readings",
    "distinct_spacings",
    "fewest_spacings",
    "fit_layers",
    "fixed_by_readings",
    "limits_of",
    "name_of",
    "residuals_of",
    "starts_of",
]

NORMS = ("log", "relative", "absolute")
LOSSES = ("linear", "huber")
MOST_LAYERS = 5
STARTS = (0, 1, 5, 12, 16, 20)
"""Starting points refined, by the number of layers."""
DEFAULT_NOISE = 0.05
"""Where Huber's loss turns linear when no noise is known. [-]"""
_NUMBERS = ("", "", "two", "three", "four", "five")
_ORDINALS = ("first", "second", "third", "fourth", "fifth")


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits of resistivity and thickness in a fit. [ohm m, m]"""

    resistivity_ohm_m: tuple[float, float]
    thickness_m: tuple[float, float]


def name_of(layers: int) -> str:
    """``"uniform"``, ``"two layers"``, ..."""
    return "uniform" if layers == 1 else f"{_NUMBERS[layers]} layers"


def bounds_of(readings: Sequence[ApparentReading]) -> Bounds:
    """Usual limits: resistivities from a fifth of the smallest reading to five times the largest,
    thicknesses from 0.3 of the shortest spacing to the longest.

    What lies beyond leaves no trace in the readings. [ohm m, m]
    """
    rho = [r.apparent_resistivity_ohm_m for r in readings]
    positions = [r.position_m for r in readings]
    return Bounds((min(rho) / 5.0, 5.0 * max(rho)), (0.3 * min(positions), max(positions)))


def residuals_of(measured: FloatArray, model: FloatArray, norm: str) -> FloatArray:
    """Residuals model against measurement in a norm: log of the ratio, relative, or absolute [ohm m]."""
    if norm == "log":
        return np.log(model / measured)
    return (model - measured) / measured if norm == "relative" else model - measured


def distinct_spacings(readings: Sequence[ApparentReading]) -> int:
    """Number of different arrangements read; a repeated one tells nothing new about depth."""
    return len({(r.array, round(r.position_m, 6), r.half_potential_m, r.positions_m) for r in readings})


def fewest_spacings(layers: int) -> int:
    """Spacings below which a model is refused: one more than its parameters, so that it can be wrong."""
    return 1 if layers == 1 else 2 * layers


@dataclass(frozen=True, slots=True)
class Problem:
    """What is fitted: parameters are ln(resistivities), then ln(thicknesses)."""

    survey: Survey
    quick: Curves
    measured: FloatArray
    sigma: FloatArray
    norm: str
    layers: int

    def split(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Resistivities and thicknesses of parameters. [ohm m, m]"""
        values = np.exp(x)
        return values[:, : self.layers], values[:, self.layers :]

    def __call__(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        model, slopes = self.quick.values_and_slopes(*self.split(x))
        scale = model if self.norm == "log" else self.measured if self.norm == "relative" else 1.0
        residuals = residuals_of(self.measured, model, self.norm) / self.sigma
        jacobian = np.swapaxes(slopes, 1, 2) / (scale * self.sigma * np.ones_like(model))[:, :, None]
        return residuals, jacobian

    def rough_cost(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean square of the log residual after the best common factor, and the log of that factor."""
        model = np.maximum(self.quick.values(*self.split(x)), 1e-300)
        ratio = np.log(self.measured / model)
        shift = ratio.mean(axis=1)
        return np.mean((ratio - shift[:, None]) ** 2, axis=1), shift


def starts_of(
    problem: Problem, positions: FloatArray, low: FloatArray, high: FloatArray, count: int
) -> FloatArray:
    """The best of an even scan of the bounds, kept apart from each other, and one read off the curve."""
    layers = problem.layers
    order = np.argsort(positions, kind="stable")
    at = np.linspace(np.log(positions[order[0]]), np.log(positions[order[-1]]), layers)
    guess_rho = np.interp(at, np.log(positions[order]), np.log(problem.measured[order]))
    if layers == 1:
        return guess_rho[None, :]
    edges = np.exp(0.5 * (at[1:] + at[:-1]))
    guess_h = np.log(np.maximum(np.diff(edges, prepend=0.0), 1e-9))
    guess = np.concatenate([guess_rho, guess_h])
    scan = low + halton((0, 0, 96, 600, 1500, 3000)[layers], len(low)) * (high - low)
    cost, shift = problem.rough_cost(scan)
    scan[:, :layers] += shift[:, None]
    chosen = [np.clip(guess, low, high)]
    for index in np.argsort(cost, kind="stable"):
        point = np.clip(scan[index], low, high)
        if all(np.max(np.abs(point - other)) > 0.5 for other in chosen):
            chosen.append(point)
        if len(chosen) == count:
            break
    return np.array(chosen)


def checked_readings(
    readings: Sequence[ApparentReading],
    layers: int,
    norm: str,
    loss: str,
    noise: float | Sequence[float] | None,
) -> tuple[list[ApparentReading], FloatArray | None]:
    """Readings in use and their noise, or ValueError."""
    if not 1 <= layers <= MOST_LAYERS:
        raise ValueError(f"layers: 1 to {MOST_LAYERS}, not {layers}")
    if norm not in NORMS:
        raise ValueError(f"norm: one of {', '.join(NORMS)}, not {norm!r}")
    if loss not in LOSSES:
        raise ValueError(f"loss: one of {', '.join(LOSSES)}, not {loss!r}")
    used = [r for r in readings if r.used]
    need, there = fewest_spacings(layers), distinct_spacings(used)
    if there < need:
        raise ValueError(f"{name_of(layers)} need readings at {need} spacings or more, there are {there}")
    if noise is None:
        return used, None
    sigma = np.asarray(noise, dtype=float)
    if sigma.ndim:
        sigma = sigma[[i for i, r in enumerate(readings) if r.used]]
    sigma = np.broadcast_to(sigma, (len(used),))
    if not np.all(np.isfinite(sigma) & (sigma > 0)):
        raise ValueError("noise: must be finite and above 0")
    return used, sigma


def fit_layers(
    readings: Sequence[ApparentReading],
    *,
    layers: int,
    norm: str = "log",
    noise: float | Sequence[float] | None = None,
    loss: str = "linear",
    bounds: Bounds | None = None,
    starts: int | None = None,
) -> SoilCandidate:
    """Fit a soil of 1 to 5 layers to apparent resistivities.

    Parameters
    ----------
    readings : sequence of ApparentReading
        Those with ``used`` False are left out. [ohm m]
    layers : int
        Number of layers, the infinite last one included.
    norm : str
        ``"log"`` (ln of the ratio), ``"relative"`` (difference over measurement) or ``"absolute"``.
    noise : float or sequence, optional
        Known relative standard deviation of a reading (one value or one per reading). Gives chi square,
        a Bayesian criterion with known variance, and weights when the values differ.
    loss : str
        ``"linear"`` (least squares) or ``"huber"``, which turns linear beyond one standard deviation
        (5 % when no noise is given).
    bounds : Bounds, optional
        Default: :func:`bounds_of`.
    starts : int, optional
        Number of starting points refined.

    Returns
    -------
    SoilCandidate
        ``rms`` and ``worst`` are in the norm (ohm m for ``"absolute"``), unweighted.

    Raises
    ------
    ValueError
        When there are too few different spacings (one for a uniform soil, else twice the number of
        layers) or an argument is not one of those named.
    """
    used, sigma = checked_readings(readings, layers, norm, loss, noise)
    measured = np.array([r.apparent_resistivity_ohm_m for r in used])
    positions = np.array([r.position_m for r in used])
    limits = bounds or bounds_of(used)
    low, high = limits_of(limits, layers)
    unit = np.ones(len(used)) if sigma is None else sigma
    if norm == "absolute":
        unit = unit * (1.0 if sigma is None else np.mean(measured))
    survey = survey_of(used)
    problem = Problem(survey, survey.quick(), measured, unit, norm, layers)
    limit = None
    if loss == "huber":
        limit = (
            1.0 if sigma is not None else DEFAULT_NOISE * (np.mean(measured) if norm == "absolute" else 1.0)
        )
    count = starts or STARTS[layers]
    best = minimise(problem, starts_of(problem, positions, low, high, count), low, high, limit=limit)
    return candidate_of(problem, best, low, high, limits, sigma, limit)


def limits_of(bounds: Bounds, layers: int) -> tuple[FloatArray, FloatArray]:
    """Logarithms of the lower and the upper bounds, resistivities first."""
    low = [log(bounds.resistivity_ohm_m[0])] * layers + [log(bounds.thickness_m[0])] * (layers - 1)
    high = [log(bounds.resistivity_ohm_m[1])] * layers + [log(bounds.thickness_m[1])] * (layers - 1)
    return np.array(low), np.array(high)


def candidate_of(
    problem: Problem,
    best: Minimum,
    low: FloatArray,
    high: FloatArray,
    bounds: Bounds,
    sigma: FloatArray | None,
    limit: float | None,
) -> SoilCandidate:
    """The best minimum with its quality; see :func:`fit_layers`."""
    x, layers = best.x[0], problem.layers
    rho, h = problem.split(x[None, :])
    model = problem.survey.exact(rho, h)[0]
    residuals = residuals_of(problem.measured, model, problem.norm)
    n, p = len(residuals), len(x)
    same = (np.max(np.abs(best.x - x), axis=1) < 1e-2) & (best.cost <= best.cost[0] * (1 + 1e-4) + 1e-12)
    chi_square = float(np.sum((residuals / problem.sigma) ** 2)) if sigma is not None else None
    mean_square = float(np.mean((residuals if sigma is None else residuals / problem.sigma) ** 2))
    if chi_square is not None:
        bic = chi_square + p * log(n)
    else:
        bic = n * log(max(mean_square, 1e-300)) + p * log(n) if n > p + 1 else float("nan")
    at_bounds = _at_bounds(x, low, high, layers, bounds)
    return SoilCandidate(
        name=name_of(layers),
        soil=LayeredSoil(tuple(rho[0]), tuple(h[0])),
        rms=float(np.sqrt(np.mean(residuals**2))),
        worst=float(np.max(np.abs(residuals))),
        parameters=p,
        at_bounds=at_bounds,
        starts=len(best.x),
        agreeing=int(np.count_nonzero(same)),
        reduced_chi_square=chi_square / (n - p) if chi_square is not None and n > p else None,
        bic=bic,
        std_ln=() if at_bounds else _std_ln(problem, x, sigma, limit),
    )


def _std_ln(
    problem: Problem, x: FloatArray, sigma: FloatArray | None, limit: float | None
) -> tuple[float, ...]:
    """Linearised standard deviations of the logarithms; empty when not defined."""
    residuals, jacobian = problem(x[None, :])
    n, p = jacobian.shape[1:]
    if sigma is None and n <= p:
        return ()
    root = np.sqrt(robust_weights(residuals, limit))[0]
    scaled = jacobian[0] * root[:, None]
    singular = np.linalg.svd(scaled, compute_uv=False)
    if singular[-1] <= 1e-7 * singular[0]:
        return ()
    scale = 1.0 if sigma is not None else sqrt(float(np.sum((residuals[0] * root) ** 2)) / (n - p))
    covariance = np.linalg.inv(scaled.T @ scaled)
    return tuple(float(v) for v in scale * np.sqrt(np.diag(covariance)))


def fixed_by_readings(candidate: SoilCandidate) -> bool:
    """True when no parameter ended on a bound, that of the lowest layer's resistivity apart.

    Readings seldom tell how resistive (or conducting) the ground under a high contrast is; every value beyond
    the bound gives nearly the same curve, and the layers above it are known all the same.
    """
    lowest = _where(candidate.soil.layers - 1, candidate.soil.layers)
    return all(text.startswith(f"{lowest} ") for text in candidate.at_bounds)


def _where(index: int, layers: int) -> str:
    """The parameter in words."""
    quantity, layer = ("resistivity", index) if index < layers else ("thickness", index - layers)
    return f"the {quantity} of the {_ORDINALS[layer]} layer"


def _at_bounds(
    x: FloatArray, low: FloatArray, high: FloatArray, layers: int, bounds: Bounds
) -> tuple[str, ...]:
    if layers == 1:
        return ()
    words = []
    for index, value in enumerate(x):
        side = "lower" if value - low[index] < 1e-4 else "upper" if high[index] - value < 1e-4 else ""
        if not side:
            continue
        pair, unit = (bounds.resistivity_ohm_m, "ohm m") if index < layers else (bounds.thickness_m, "m")
        edge = pair[0] if side == "lower" else pair[1]
        words.append(f"{_where(index, layers)} ended on its {side} bound of {plain(edge)} {unit}")
    return tuple(words)
