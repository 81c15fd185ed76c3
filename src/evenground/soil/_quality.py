"""Is the survey good enough? Repeats, rises no layered soil can give, readings that stand apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log, sqrt

import numpy as np

from evenground.errors import Finding
from evenground.model.soil import ApparentReading, ArrayKind
from evenground.soil._fit import DEFAULT_NOISE

__all__ = [
    "Noise",
    "Repeat",
    "noise_of",
    "repeats_of",
    "segments_of",
    "steep_rises",
    "survey_errors",
]

FAILED_FACTOR = 5.0
"""A reading that stands out from both neighbours by this factor: the survey or the instrument failed."""
LEAST_NOISE = 0.02
"""No field survey repeats better than this (common practice: 2 to 5 %)."""
LEAST_REPEATS = 3
"""Repeated spacings needed to estimate the noise."""
LEAST_FREEDOM = 3
"""Degrees of freedom that the estimate must have left; two traverses need three spacings in common, and five
for a factor and a trend to be taken out."""
DISAGREEMENT = 0.10
"""Traverses that differ more than this at one spacing are reported."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Relative standard deviation of one reading, and where it comes from."""

    value: float
    source: str
    words: str


@dataclass(frozen=True, slots=True)
class Repeat:
    """One spacing read on several traverses."""

    readings: tuple[ApparentReading, ...]

    @property
    def spread(self) -> float:
        """Largest over smallest apparent resistivity, less 1."""
        values = [r.apparent_resistivity_ohm_m for r in self.readings]
        return max(values) / min(values) - 1.0


def repeats_of(readings: Iterable[ApparentReading]) -> tuple[Repeat, ...]:
    """Groups of readings in use with the same arrangement on different traverses."""
    groups: dict[tuple[object, ...], list[ApparentReading]] = {}
    for r in readings:
        if r.used:
            widths = (round(log(r.position_m), 3), round(log(r.half_potential_m or 1.0), 3))
            key = (r.array, *widths, _shape(r))
            groups.setdefault(key, []).append(r)
    return tuple(Repeat(tuple(g)) for g in groups.values() if len({r.traverse for r in g}) > 1)


def _shape(reading: ApparentReading) -> tuple[float, ...]:
    """Distances between neighbouring probes of a general arrangement."""
    if reading.positions_m is None:
        return ()
    return tuple(round(b - a, 3) for a, b in pairwise(reading.positions_m))


def noise_of(readings: Sequence[ApparentReading], stated: float | None) -> Noise:
    """The noise stated, else from spacings repeated on several traverses, else 5 %."""
    if stated is not None:
        return Noise(stated, "given", f"{stated:.1%} (given)")
    groups = repeats_of(readings)
    scatter = _scatter(groups) if len(groups) >= LEAST_REPEATS else None
    if scatter is None:
        return Noise(DEFAULT_NOISE, "assumed", f"{DEFAULT_NOISE:.0%} (assumed; too few repeated spacings)")
    words = f"from {len(groups)} spacings repeated on several traverses"
    if scatter < LEAST_NOISE:
        return Noise(
            LEAST_NOISE, "from repeated traverses", f"{LEAST_NOISE:.0%} (repeats agree to {scatter:.1%})"
        )
    return Noise(scatter, "from repeated traverses", f"{scatter:.1%} ({words})")


def _scatter(groups: Sequence[Repeat]) -> float | None:
    """Standard deviation of a reading over what each spacing and each traverse have in common.

    A traverse may differ from the others by a factor and by a trend with spacing: that is the soil, not the
    noise. Where taking them out does not lower the scatter, they are not there. None with too few degrees of
    freedom left.
    """
    rows = [(k, r) for k, group in enumerate(groups) for r in group.readings]
    names = sorted({r.traverse for _, r in rows})[1:]
    x = np.log([r.position_m for _, r in rows])
    columns = [[float(k == number) for k, _ in rows] for number in range(len(groups))]
    for name in names:
        own = np.array([float(r.traverse == name) for _, r in rows])
        columns += [list(own), list(own * (x - x.mean()))]
    design = np.array(columns).T
    y = np.log([r.apparent_resistivity_ohm_m for _, r in rows])
    found = []
    for matrix in (design[:, : len(groups)], design):
        solution, _, rank, _ = np.linalg.lstsq(matrix, y, rcond=None)
        freedom = len(rows) - int(rank)
        if freedom >= LEAST_FREEDOM:
            found.append(sqrt(float(np.sum((y - matrix @ solution) ** 2)) / freedom))
    return min(found, default=None)


def segments_of(readings: Iterable[ApparentReading]) -> list[list[ApparentReading]]:
    """Readings in use that form one curve, by growing position: per traverse, and per MN."""
    groups: dict[tuple[str, float | None], list[ApparentReading]] = {}
    for r in readings:
        if r.used:
            groups.setdefault((r.traverse, r.half_potential_m), []).append(r)
    return [sorted(g, key=lambda r: r.position_m) for g in groups.values()]


def steep_rises(
    readings: Iterable[ApparentReading], noise: float
) -> list[tuple[ApparentReading, ApparentReading, float]]:
    """Neighbouring readings whose log-log slope exceeds 1 beyond twice the noise, with the slope.

    Over horizontal layers apparent resistivity never rises faster than the spacing (over an insulating
    basement it rises just as fast); a fall can be steeper.
    """
    found = []
    for segment in segments_of(readings):
        for a, b in pairwise(segment):
            width = log(b.position_m / a.position_m)
            if width < 1e-6:
                continue
            rise = log(b.apparent_resistivity_ohm_m / a.apparent_resistivity_ohm_m)
            if rise - width > 2.0 * sqrt(2.0) * noise:
                found.append((a, b, rise / width))
    return found


def survey_errors(readings: Iterable[ApparentReading]) -> list[Finding]:
    """Readings that jump away from both neighbours by more than a factor of five."""
    found = []
    for group in _lines(readings):
        for a, b, c in zip(group, group[1:], group[2:], strict=False):
            x = [log(r.position_m) for r in (a, b, c)]
            y = [log(r.apparent_resistivity_ohm_m) for r in (a, b, c)]
            if x[2] - x[0] < 1e-9:
                continue
            between = y[0] + (y[2] - y[0]) * (x[1] - x[0]) / (x[2] - x[0])
            stands_out = (y[1] - y[0]) * (y[1] - y[2]) > 0
            if stands_out and abs(y[1] - between) > log(FAILED_FACTOR):
                found.append(
                    Finding(
                        "soil-survey-failed",
                        f"{b.place}: {b.apparent_resistivity_ohm_m:.3g} ohm m between "
                        f"{a.apparent_resistivity_ohm_m:.3g} and {c.apparent_resistivity_ohm_m:.3g} ohm m at "
                        f"the spacings beside it",
                        f"about {exp(between):.3g} ohm m would fit between them; no layered soil does this: "
                        "check leads, unit and instrument, repeat the reading or leave it out",
                        path=b.path,
                    )
                )
    return found


def _lines(readings: Iterable[ApparentReading]) -> list[list[ApparentReading]]:
    groups: dict[tuple[str, ArrayKind], list[ApparentReading]] = {}
    for r in readings:
        if r.used:
            groups.setdefault((r.traverse, r.array), []).append(r)
    return [sorted(g, key=lambda r: (r.position_m, r.half_potential_m or 0.0)) for g in groups.values()]
