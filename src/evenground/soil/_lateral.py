"""Does the soil change across the site? Traverses against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp, expm1, log, sqrt

import numpy as np

from evenground.model.soil import ApparentReading, LayeredSoil
from evenground.soil._fit import distinct_spacings, fit_layers
from evenground.soil._forward import FloatArray

__all__ = ["LateralChange", "lateral_change"]

FEWEST = 4
"""Spacings in common that a comparison of two traverses needs."""
FEWEST_FOR_A_FIT = 6
LEAST_NOISE = 0.02
SMALL = 0.05
"""Differences below 5 % are of no consequence and not reported."""
STRONG = 10.0
"""Drop of the Bayesian criterion at which separate soils are called for (Raftery 1995: very strong)."""


@dataclass(frozen=True, slots=True)
class LateralChange:
    """Comparison of the traverses of one site.

    Attributes
    ----------
    soils : dict
        Traverse -> two-layer (or uniform) soil fitted to it alone; empty when a traverse is too short.
    separate : bool
        True when separate soils describe the readings better than one, very strong evidence.
    criterion_gain : float
        Bayesian criterion of one soil less that of separate soils; nan when not computed.
    words : tuple of str
    """

    soils: dict[str, LayeredSoil]
    separate: bool
    criterion_gain: float
    words: tuple[str, ...]


def lateral_change(readings: Sequence[ApparentReading], *, noise: float) -> LateralChange:
    """Compare traverses at the spacings they share, and one soil for all with one soil for each.

    The scatter between traverses is noise plus change of the soil; so the noise used is the smaller of the
    one stated and the scatter left after a smooth difference between two traverses is taken out.

    Parameters
    ----------
    readings : sequence of ApparentReading
    noise : float
        Relative standard deviation of a reading.
    """
    lines: dict[str, list[ApparentReading]] = {}
    for r in readings:
        if r.used:
            lines.setdefault(r.traverse, []).append(r)
    words: list[str] = []
    scatter = noise
    for (one, first), (two, second) in combinations(lines.items(), 2):
        pairs = _common(first, second)
        if len(pairs) >= FEWEST:
            text, left = _compare(one, two, pairs)
            words += text
            scatter = min(scatter, left)
    soils, gain = _separate(lines, max(scatter, LEAST_NOISE))
    separate = gain > STRONG
    if separate:
        found = "; ".join(f"{name}: {soil.describe()}" for name, soil in soils.items())
        words.append(
            f"The traverses call for different soils ({found}); one soil for all averages over them: study "
            "each as a variant"
        )
    return LateralChange(soils, separate, gain, tuple(words))


def _common(first: Sequence[ApparentReading], second: Sequence[ApparentReading]) -> list[tuple[float, float]]:
    """(ln of the spacing, ln of first over second) where both read the same arrangement, by spacing."""
    found = []
    for a in first:
        for b in second:
            same_mn = (
                a.half_potential_m == b.half_potential_m and a.positions_m is None and b.positions_m is None
            )
            if a.array is b.array and same_mn and abs(log(a.position_m / b.position_m)) < 1e-3:
                found.append(
                    (log(a.position_m), log(a.apparent_resistivity_ohm_m / b.apparent_resistivity_ohm_m))
                )
    return sorted(found)


def _compare(one: str, two: str, pairs: Sequence[tuple[float, float]]) -> tuple[list[str], float]:
    """Words on level and trend of the difference, and the noise of a reading left after both."""
    x, d = (np.array(v) for v in zip(*pairs, strict=True))
    centred = x - x.mean()
    spread = float(centred @ centred)
    level = float(d.mean())
    trend = float(centred @ d) / spread
    rest = d - level - trend * centred
    free = max(len(d) - 2, 1)
    deviation = max(sqrt(float(rest @ rest) / free), sqrt(2.0) * LEAST_NOISE / 2.0)
    critical = _student(free)
    rising = abs(trend) * sqrt(spread) > critical * deviation
    apart = abs(level) * sqrt(len(d)) > critical * deviation
    ends = [level + trend * c for c in (centred[0], centred[-1])]
    words = []
    if rising and max(abs(e) for e in ends) > SMALL:
        near, far = (f"{expm1(e):+.0%} at {exp(s):.3g} m" for e, s in zip(ends, (x[0], x[-1]), strict=True))
        where = "upper" if abs(ends[0]) > abs(ends[1]) else "deeper"
        words.append(
            f"{one} differs from {two} steadily with spacing ({near}, {far}): the {where} ground changes "
            "across the site"
        )
    elif apart and abs(level) > SMALL:
        words.append(
            f"{one} reads {expm1(level):+.0%} against {two} at all spacings: the soil changes across the "
            "site, or one line was measured in another state of the ground"
        )
    return words, deviation / sqrt(2.0)


def _student(free: int) -> float:
    """Two-sided 99 % point of Student's t, a common table."""
    table = (63.66, 9.92, 5.84, 4.60, 4.03, 3.71, 3.50, 3.36, 3.25, 3.17)
    return table[free - 1] if free <= len(table) else 3.0


def _separate(lines: dict[str, list[ApparentReading]], noise: float) -> tuple[dict[str, LayeredSoil], float]:
    """Soils of each traverse by itself, and what they gain over one soil for all."""
    enough = all(distinct_spacings(line) >= FEWEST_FOR_A_FIT for line in lines.values())
    if len(lines) < 2 or not enough:
        return {}, float("nan")
    pooled = [r for line in lines.values() for r in line]
    together, _ = _best(pooled, noise, len(pooled))
    soils, apart = {}, 0.0
    for name, line in lines.items():
        value, soils[name] = _best(line, noise, len(pooled))
        apart += value
    return soils, together - apart


def _best(readings: Sequence[ApparentReading], noise: float, count: int) -> tuple[float, LayeredSoil]:
    """Smallest criterion of a uniform soil and two layers, counted for all readings of the site."""
    fits = [fit_layers(readings, layers=n, noise=noise, starts=2) for n in (1, 2)]
    own = log(len(readings))
    values: FloatArray = np.array([f.bic + f.parameters * (log(count) - own) for f in fits])
    index = int(np.argmin(values))
    return float(values[index]), fits[index].soil
