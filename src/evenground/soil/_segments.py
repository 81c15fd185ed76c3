"""Schlumberger soundings in segments of one MN, which seldom join.

Each time MN is widened the potential probes move to other ground, and the whole following segment is shifted
by a factor. The factors are unknown but near 1: with a normal prior on their logarithms they add a noise
common to all readings of a segment, C = sigma^2 I + s^2 G G^T (G: which reading belongs to which segment),
and the layers follow from generalised least squares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import log

import numpy as np

from evenground.model.soil import ApparentReading, SoilCandidate
from evenground.soil._fit import (
    STARTS,
    Bounds,
    Problem,
    bounds_of,
    candidate_of,
    checked_readings,
    limits_of,
    starts_of,
)
from evenground.soil._forward import FloatArray
from evenground.soil._least_squares import minimise
from evenground.soil._survey import model_values, survey_of

__all__ = [
    "SegmentFit",
    "SegmentOffset",
    "fit_with_segment_factors",
    "segment_offsets",
    "without_factors",
]

USUAL_FACTOR_STD = 0.075
"""Standard deviation of the logarithm of a segment's factor (common practice: 5 to 10 %)."""


@dataclass(frozen=True, slots=True)
class SegmentOffset:
    """One AB/2 read with two MN: the readings, and ln of the wider MN's value over the narrower one's."""

    narrow: ApparentReading
    wide: ApparentReading
    step_ln: float


@dataclass(frozen=True, slots=True)
class SegmentFit:
    """A layered fit in which every segment may be shifted by a factor.

    ``factors`` maps the segment's name to measured over true, the most probable value. The candidate's
    ``rms`` and ``worst`` are of the readings with the factors taken out; its chi square counts the factors as
    noise.
    """

    candidate: SoilCandidate
    factors: dict[str, float]


def segment_offsets(readings: Sequence[ApparentReading]) -> tuple[SegmentOffset, ...]:
    """Where a traverse reads one AB/2 with two MN, by growing AB/2.

    Over layers the two readings differ by the finite MN as well, seldom by more than 2 % for MN below AB/5.
    """
    groups: dict[tuple[str, float], list[ApparentReading]] = {}
    for r in readings:
        if r.used and r.half_potential_m is not None:
            groups.setdefault((r.traverse, r.position_m), []).append(r)
    found = []
    for group in groups.values():
        ordered = sorted(group, key=lambda r: r.half_potential_m or 0.0)
        for narrow, wide in pairwise(ordered):
            if narrow.half_potential_m != wide.half_potential_m:
                step = log(wide.apparent_resistivity_ohm_m / narrow.apparent_resistivity_ohm_m)
                found.append(SegmentOffset(narrow, wide, step))
    return tuple(sorted(found, key=lambda o: (o.narrow.traverse, o.narrow.position_m)))


def _segments(readings: Sequence[ApparentReading]) -> tuple[list[str], FloatArray]:
    """Names of the segments of Schlumberger traverses with more than one MN, and G (n, segments)."""
    widths: dict[str, set[float]] = {}
    for r in readings:
        if r.half_potential_m is not None:
            widths.setdefault(r.traverse, set()).add(r.half_potential_m)
    several = {t for t, found in widths.items() if len(found) > 1}
    labels = [
        f"{r.traverse}, MN/2 = {r.half_potential_m:g} m" if r.traverse in several else "" for r in readings
    ]
    names = list(dict.fromkeys(label for label in labels if label))
    member = np.array([[label == name for name in names] for label in labels], dtype=float)
    return names, member.reshape(len(readings), len(names))


@dataclass(frozen=True, slots=True)
class _Whitened:
    """A problem whose residuals are made independent by a matrix."""

    problem: Problem
    whiten: FloatArray

    def __call__(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        residuals, jacobian = self.problem(x)
        return residuals @ self.whiten.T, np.einsum("mn,snp->smp", self.whiten, jacobian)


def fit_with_segment_factors(
    readings: Sequence[ApparentReading],
    *,
    layers: int,
    noise: float,
    factor_std: float = USUAL_FACTOR_STD,
    bounds: Bounds | None = None,
) -> SegmentFit:
    """Fit layers while each segment of one MN may be off by a factor.

    Parameters
    ----------
    readings : sequence of ApparentReading
    layers : int
    noise : float
        Relative standard deviation of a reading within its segment.
    factor_std : float
        Standard deviation of the logarithm of a segment's factor.
    bounds : Bounds, optional
        Default: those of the plain fit.

    Raises
    ------
    ValueError
        As for the plain fit, or when ``factor_std`` is not positive.
    """
    if not 0.0 < factor_std < 10.0:
        raise ValueError(f"factor_std: {factor_std!r} must be above 0 (0.05 for 5 %)")
    used, sigma = checked_readings(readings, layers, "log", "linear", noise)
    assert sigma is not None
    names, member = _segments(used)
    covariance = np.diag(sigma**2) + factor_std**2 * member @ member.T
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    measured = np.array([r.apparent_resistivity_ohm_m for r in used])
    survey = survey_of(used)
    problem = Problem(survey, survey.quick(), measured, np.ones(len(used)), "log", layers)
    limits = bounds or bounds_of(used)
    low, high = limits_of(limits, layers)
    starts = starts_of(problem, np.array([r.position_m for r in used]), low, high, STARTS[layers])
    best = minimise(_Whitened(problem, whiten), starts, low, high)
    plain = candidate_of(problem, best, low, high, limits, None, None)
    off = np.log(measured / model_values(used, plain.soil))
    shift = factor_std**2 * member.T @ np.linalg.solve(covariance, off)
    left = off - member @ shift
    chi_square = 2.0 * float(best.cost[0])
    count, parameters = len(used), plain.parameters
    candidate = replace(
        plain,
        rms=float(np.sqrt(np.mean(left**2))),
        worst=float(np.max(np.abs(left))),
        reduced_chi_square=chi_square / (count - parameters) if count > parameters else None,
        bic=chi_square
        + parameters * log(count)
        + float(np.linalg.slogdet(covariance)[1])
        - float(np.sum(np.log(sigma**2))),
        std_ln=(),
    )
    return SegmentFit(candidate, {n: float(f) for n, f in zip(names, np.exp(shift), strict=True)})


def without_factors(
    readings: Sequence[ApparentReading], *, most_layers: int, noise: float
) -> tuple[tuple[ApparentReading, ...], dict[str, float]]:
    """The readings with the factor of each segment taken out, and those factors.

    The number of layers that the factors are found with has the smallest Bayesian criterion. Resistances stay
    as read. Without Schlumberger segments nothing changes.
    """
    names, _ = _segments(readings)
    if not names:
        return tuple(readings), {}
    fits = []
    for layers in range(1, most_layers + 1):
        try:
            fits.append(fit_with_segment_factors(readings, layers=layers, noise=noise))
        except ValueError:  # too few spacings for more layers
            break
    factors = min(fits, key=lambda fit: fit.candidate.bic).factors
    shifted = []
    for r in readings:
        factor = factors.get(
            f"{r.traverse}, MN/2 = {r.half_potential_m:g} m" if r.half_potential_m else "", 1.0
        )
        words = (f"segment shifted by {1.0 / factor - 1.0:+.1%}",) if factor != 1.0 else ()
        rho = r.apparent_resistivity_ohm_m / factor
        shifted.append(replace(r, apparent_resistivity_ohm_m=rho, flags=(*r.flags, *words)))
    return tuple(shifted), factors
