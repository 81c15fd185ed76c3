"""What an input does together with others: total-order indices on a polynomial through the samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.search._polynomial import products, terms_up_to

__all__ = ["UNEXPLAINED", "Totals", "total_effects"]

FloatArray = NDArray[np.float64]

UNEXPLAINED = 0.05
"""Largest share of the variance of samples held back that the polynomial may miss."""
HELD_BACK = 5
"""One of so many samples is held back to choose the degree."""
HIGHEST_DEGREE = 9
PER_TERM = 2.0
"""Samples for each term of the polynomial, at least."""
DRAWS_LOG2 = 12
FEW_LEVELS = 12
"""An input with no more different values than this is drawn as it is, independent of the others."""


@dataclass(frozen=True, slots=True)
class Totals:
    """Total-order indices by input, None when the polynomial does not describe the samples well enough.

    ``unexplained`` is the share of the variance of samples held back that the polynomial misses.
    """

    indices: dict[str, float] | None
    unexplained: float


def total_effects(inputs: Mapping[str, ArrayLike], output: ArrayLike, *, seed: int = 0) -> Totals:
    """Share of the variance of the output that stays open while one input alone is not known.

    A polynomial in the inputs, of the degree that serves samples held back best, stands in for the output.
    On it the estimator of Jansen (Computer Physics Communications 117 (1999) 35) is used. Inputs that depend
    on each other are drawn through the normal copula of their ranks, each one anew given the others
    (Kucherenko, Tarantola and Annoni, Computer Physics Communications 183 (2012) 937); the index is then that
    of what the input has for itself and can be below the first-order one.

    Parameters
    ----------
    inputs : mapping
        Name -> values (n,).
    output : (n,)
    seed : int
        Of the draws.

    Raises
    ------
    ValueError
        With fewer than 50 samples.
    """
    y = np.asarray(output, dtype=float)
    if len(y) < 50:
        raise ValueError(f"total_effects: {len(y)} samples; at least 50 are needed")
    columns = {name: np.asarray(v, dtype=float) for name, v in inputs.items()}
    varying = [name for name, v in columns.items() if len(np.unique(v)) > 1]
    nothing = dict.fromkeys(columns, 0.0)
    if not varying or float(y.var()) <= 1e-18 * float(np.mean(y)) ** 2:
        return Totals(nothing, 0.0)
    places = np.column_stack([_scaled(columns[name]) for name in varying])
    model, unexplained = _model(places, y)
    if unexplained > UNEXPLAINED:
        return Totals(None, unexplained)
    base, changed = _draws(places, seed)
    start = model.at(base)
    variance = float(start.var())
    found = dict(nothing)
    for k, name in enumerate(varying):
        found[name] = float(0.5 * np.mean((model.at(changed[k]) - start) ** 2) / variance)
    return Totals(found, unexplained)


def _scaled(values: FloatArray) -> FloatArray:
    """From -1 to 1; by logarithms where all values are above 0."""
    v = np.log(values) if values.min() > 0.0 else values
    return np.asarray(2.0 * (v - v.min()) / (v.max() - v.min()) - 1.0)


@dataclass(frozen=True, eq=False)
class _Model:
    terms: tuple[tuple[int, ...], ...]
    factors: FloatArray
    logarithm: bool

    def at(self, places: FloatArray) -> FloatArray:
        value = products(places, self.terms) @ self.factors
        with np.errstate(over="ignore"):  # a degree that runs away misses all and is not taken
            return np.asarray(np.exp(value) if self.logarithm else value)


def _model(places: FloatArray, y: FloatArray) -> tuple[_Model, float]:
    """The polynomial of the degree that misses least of the samples held back, and what it misses."""
    mixed = np.random.default_rng(0).permutation(len(y))
    back, rest = mixed[: len(y) // HELD_BACK], mixed[len(y) // HELD_BACK :]
    logarithm = bool(y.min() > 0.0)
    aim = np.log(y) if logarithm else y
    best, least = None, np.inf
    for degree in range(1, HIGHEST_DEGREE + 1):
        terms = terms_up_to(degree, places.shape[1])
        if best is not None and PER_TERM * len(terms) > len(rest):
            break
        matrix = products(places, terms)
        factors: FloatArray = np.asarray(np.linalg.lstsq(matrix[rest], aim[rest], rcond=None)[0], dtype=float)
        model = _Model(terms, factors, logarithm)
        missed = float(np.mean((model.at(places[back]) - y[back]) ** 2) / y.var())
        if missed < least:
            best, least = model, missed
    assert best is not None
    return best, least


def _draws(places: FloatArray, seed: int) -> tuple[FloatArray, list[FloatArray]]:
    """Draws of all variables, and the same with one variable after the other drawn anew given the others."""
    from scipy.special import ndtr, ndtri
    from scipy.stats import qmc

    n, d = places.shape
    unit = qmc.Sobol(2 * d, seed=seed).random_base2(DRAWS_LOG2)
    normal = ndtri(np.clip(unit, 1e-9, 1.0 - 1e-9))
    tied = _correlation(places)
    inverse = np.linalg.inv(tied)
    ranks = (np.arange(n) + 0.5) / n
    ordered = np.sort(places, axis=0)

    def value(k: int, score: FloatArray) -> FloatArray:
        share = ndtr(score)
        if len(np.unique(places[:, k])) <= FEW_LEVELS:
            return np.asarray(ordered[np.minimum((share * n).astype(int), n - 1), k])
        return np.asarray(np.interp(share, ranks, ordered[:, k]))

    scores = normal[:, :d] @ np.linalg.cholesky(tied).T
    base = np.column_stack([value(k, scores[:, k]) for k in range(d)])
    changed = []
    for k in range(d):
        mean = scores[:, k] - scores @ inverse[:, k] / inverse[k, k]
        anew = base.copy()
        anew[:, k] = value(k, mean + normal[:, d + k] / np.sqrt(inverse[k, k]))
        changed.append(anew)
    return base, changed


def _correlation(places: FloatArray) -> FloatArray:
    """Correlation of the normal scores of the ranks; none with an input of few levels or by mere chance."""
    from scipy.special import ndtri
    from scipy.stats import rankdata

    n, d = places.shape
    scores = ndtri((rankdata(places, axis=0) - 0.5) / n)
    found = np.atleast_2d(np.corrcoef(scores, rowvar=False))
    found[np.abs(found) < 3.0 / np.sqrt(n)] = 0.0
    few = [k for k in range(d) if len(np.unique(places[:, k])) <= FEW_LEVELS]
    found[few, :] = found[:, few] = 0.0
    lowest = float(np.linalg.eigvalsh(found - np.diag(np.diag(found)) + np.eye(d)).min())
    weight = max(1e-6, 1e-6 - lowest)  # dropped entries may leave it slightly indefinite
    return np.asarray((found - np.diag(np.diag(found)) + (1.0 + weight) * np.eye(d)) / (1.0 + weight))
