"""Posterior of any number of layers by particles that are led from the prior to the readings.

Sequential Monte Carlo (Del Moral, Doucet, Jasra 2006): a population drawn from the prior is reweighted as the
readings are switched on in steps that keep half of it effective, resampled, and moved by differences of
other particles (ter Braak 2006), which follow the narrow ridges that equivalent layers leave. It finds
separate modes, and the product of the mean weights is the evidence. The generator has a fixed seed: the same
readings give the same figures.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from evenground.errors import NotConvergedError
from evenground.model.soil import ApparentReading, LayeredSoil, SoilPosterior
from evenground.soil._forward import FloatArray
from evenground.soil._prior import LEVELS, Evidence, Prior, cut_notes, evidence_of, names_of, usual_prior
from evenground.soil._quick import ROUGH

__all__ = ["layered_posterior"]

SEED = 20260302
PARTICLES = 1000
SWEEPS = 8
"""Moves of each particle at each step, and between the sets that are kept."""
SETS = 8
MOST_STEPS = 80
FEW = 400
"""Independent soils below which a note says so."""


@dataclass(slots=True)
class _Population:
    """Particles (n, p) with their chi squares, and the acceptance of the last sweep."""

    x: FloatArray
    chi_square: FloatArray
    accepted: float = 1.0


def layered_posterior(
    readings: Sequence[ApparentReading],
    *,
    layers: int,
    noise: float | Sequence[float],
    prior: Prior | None = None,
    soils: int = 200,
    particles: int = PARTICLES,
    seed: int = SEED,
    progress: Callable[[float], None] | None = None,
) -> SoilPosterior:
    """What the readings leave open about 1 to 5 layers, for a known noise.

    Parameters
    ----------
    readings : sequence of ApparentReading
    layers : int
    noise : float or sequence of float
        Standard deviation of the logarithm of a reading.
    prior : Prior, optional
        Default: the bounds of the fit for every layer.
    soils : int
        Number of equally probable soils to hand on.
    particles, seed : int
        Size of the population and seed of the generator.
    progress : callable, optional
        Called with the fraction done; may raise to stop.

    Raises
    ------
    ValueError
        When prior, noise or readings do not allow it.
    NotConvergedError
        When the readings can not be switched on in 80 steps.
    """
    box = prior or usual_prior(readings, layers)
    if box.layers != layers or not 1 <= layers <= 5:
        raise ValueError(f"layers: {layers} layers with a prior of {box.layers}; 1 to 5 are possible")
    evidence = evidence_of(readings, noise, name=ROUGH)
    low, high = box.box_ln()
    generator = np.random.Generator(np.random.PCG64(seed))
    x = low + (high - low) * generator.random((particles, len(low)))
    population = _Population(x, evidence.chi_square(x, layers))
    ln_evidence, on = 0.0, 0.0
    for _ in range(MOST_STEPS):
        further, weights, gain = _next(population.chi_square, on)
        ln_evidence += gain
        on = further
        _resample(population, weights, generator)
        for _ in range(SWEEPS):
            _sweep(population, evidence, layers, low, high, on, generator)
        if progress is not None:
            progress(min(0.8, 0.8 * on**0.2))
        if on >= 1.0:
            break
    else:
        raise NotConvergedError(f"the readings were switched on to {on:.2g} only in {MOST_STEPS} steps")
    kept = _collect(population, evidence, layers, low, high, generator, progress)
    notes = cut_notes(kept.reshape(-1, len(low)), low, high)
    return _summary(kept, layers, ln_evidence, soils, population.accepted, notes)


def _next(chi_square: FloatArray, on: float) -> tuple[float, FloatArray, float]:
    """The next degree to which readings count, the weights, and ln of the mean weight."""

    def weigh(degree: float) -> FloatArray:
        ln = -0.5 * (degree - on) * (chi_square - chi_square.min())
        return np.asarray(np.exp(ln), dtype=float)

    def effective(w: FloatArray) -> float:
        return float(w.sum() ** 2 / np.sum(w * w))

    low, high = on, 1.0
    if effective(weigh(1.0)) < 0.5 * len(chi_square):
        for _ in range(60):
            middle = 0.5 * (low + high)
            if effective(weigh(middle)) < 0.5 * len(chi_square):
                high = middle
            else:
                low = middle
        high = max(low, on * (1 + 1e-12) + 1e-15)
    weights = weigh(high)
    gain = log(float(weights.mean())) - 0.5 * (high - on) * float(chi_square.min())
    return high, weights / weights.sum(), gain


def _resample(population: _Population, weights: FloatArray, generator: np.random.Generator) -> None:
    count = len(weights)
    places = (np.arange(count) + generator.random()) / count
    index = np.minimum(np.searchsorted(np.cumsum(weights), places), count - 1)
    population.x, population.chi_square = population.x[index], population.chi_square[index]


def _sweep(
    population: _Population,
    evidence: Evidence,
    layers: int,
    low: FloatArray,
    high: FloatArray,
    on: float,
    generator: np.random.Generator,
) -> None:
    """Move each particle once along a difference of two particles of the other half."""
    count, dimensions = population.x.shape
    order = generator.permutation(count)
    accepted = 0
    for own, other in (
        (order[: count // 2], order[count // 2 :]),
        (order[count // 2 :], order[: count // 2]),
    ):
        first = other[generator.integers(len(other), size=len(own))]
        second = other[generator.integers(len(other), size=len(own))]
        usual = 2.38 / np.sqrt(2.0 * dimensions)
        length = np.where(
            generator.random(len(own)) < 0.1, 1.0, usual * generator.uniform(0.3, 1.2, len(own))
        )
        jitter = 1e-3 * generator.standard_normal((len(own), dimensions))
        trial = population.x[own] + length[:, None] * (population.x[first] - population.x[second]) + jitter
        inside = np.all((trial > low) & (trial < high), axis=1)
        chi_square = np.full(len(own), np.inf)
        chi_square[inside] = evidence.chi_square(trial[inside], layers)
        ln_ratio = -0.5 * on * (chi_square - population.chi_square[own])
        take = np.log(generator.random(len(own))) < ln_ratio
        population.x[own[take]], population.chi_square[own[take]] = trial[take], chi_square[take]
        accepted += int(take.sum())
    population.accepted = accepted / count


def _collect(
    population: _Population,
    evidence: Evidence,
    layers: int,
    low: FloatArray,
    high: FloatArray,
    generator: np.random.Generator,
    progress: Callable[[float], None] | None,
) -> FloatArray:
    """Sets of particles after the readings count in full: (sets, n, p)."""
    kept = []
    for k in range(SETS + 1):
        for _ in range(SWEEPS):
            _sweep(population, evidence, layers, low, high, 1.0, generator)
        if progress is not None:
            progress(0.8 + 0.2 * (k + 1) / (SETS + 1))
        kept.append(population.x.copy())
    return np.array(kept[1:])


def _effective(kept: FloatArray) -> float:
    """Independent soils: particles times sets, reduced by the memory a particle keeps from set to set."""
    sets, count, _ = kept.shape
    flat = kept.reshape(sets * count, -1)
    spread = flat.var(axis=0)
    centred = kept - flat.mean(axis=0)
    memory = float(np.max(np.mean(centred[1:] * centred[:-1], axis=(0, 1)) / np.maximum(spread, 1e-300)))
    memory = min(max(memory, 0.0), 0.999)
    return float(count * max(1.0, sets * (1.0 - memory) / (1.0 + memory)))


def _summary(
    kept: FloatArray,
    layers: int,
    ln_evidence: float,
    count: int,
    accepted: float,
    cut: tuple[str, ...],
) -> SoilPosterior:
    x = kept.reshape(-1, kept.shape[2])
    effective = _effective(kept)
    notes = []
    if effective < FEW:
        notes.append(f"the figures rest on about {effective:.0f} independent soils only")
    if accepted < 0.02:
        notes.append(f"only {accepted:.1%} of the moves were accepted: the population may not have spread")
    quantiles = np.exp(np.quantile(x, LEVELS, axis=0)).T
    chosen = np.exp(x[np.linspace(0, len(x) - 1, count).round().astype(int)])
    correlation = np.atleast_2d(np.corrcoef(x.T))
    return SoilPosterior(
        names=names_of(layers),
        quantiles=tuple(tuple(float(v) for v in row) for row in quantiles),  # type: ignore[misc]
        mean_ln=tuple(float(v) for v in x.mean(axis=0)),
        std_ln=tuple(float(v) for v in x.std(axis=0)),
        correlation=tuple(tuple(float(v) for v in row) for row in correlation),
        ln_evidence=ln_evidence,
        soils=tuple(LayeredSoil(tuple(row[:layers]), tuple(row[layers:])) for row in chosen),
        method="particles",
        effective=effective,
        notes=(*notes, *cut),
    )
