"""What the samples say: probability of each check, bands, drivers, and the sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.model.soil import SoilResult
from evenground.search._drivers import left_of_spread, main_effects, proportion_interval
from evenground.search._totals import total_effects
from evenground.soil import recommend_spacings

__all__ = ["CheckConfidence", "Confidence", "Driver", "Spread", "confidence_of"]

FloatArray = NDArray[np.float64]
NOTABLE = 0.05
"""Share of the variance from which an input is named as a driver."""


@dataclass(frozen=True, eq=False)
class Spread:
    """Value over limit of one check, as stated and in every sample."""

    title: str
    nominal: float
    values: FloatArray


@dataclass(frozen=True, slots=True)
class CheckConfidence:
    """One check over all samples; ``over_limit`` at 2.5, 50 and 97.5 %, margins are 1 less that."""

    title: str
    nominal: float
    probability: float
    interval: tuple[float, float]
    over_limit: tuple[float, float, float]
    drivers: tuple[Driver, ...]


@dataclass(frozen=True, slots=True)
class Driver:
    """An input, its share of the variance, and the part of the spread that stays once it is known.

    ``total`` is the share of the variance that stays while this input alone is not known (total-order index);
    None where the samples do not tell.
    """

    name: str
    share: float
    spread_left: float
    total: float | None = None


@dataclass(frozen=True, slots=True)
class Confidence:
    """Result of sampling.

    ``probability`` is that of all checks kept at once with its 95 % interval from the number of samples;
    ``checks`` begin with the one most in doubt.
    """

    probability: float
    interval: tuple[float, float]
    checks: tuple[CheckConfidence, ...]
    samples: int
    seed: int
    sentence: str
    advice: tuple[str, ...]
    notes: tuple[str, ...]


def confidence_of(
    spreads: Sequence[Spread],
    inputs: Mapping[str, FloatArray],
    soil: SoilResult,
    seed: int,
    notes: Sequence[str],
) -> Confidence:
    """Sum up the samples."""
    kept = np.all([s.values <= 1.0 for s in spreads], axis=0)
    count, n = int(kept.sum()), len(kept)
    checks = sorted((_check(s, inputs) for s in spreads), key=lambda c: (c.probability, -c.over_limit[2]))
    return Confidence(
        probability=count / n,
        interval=proportion_interval(count, n),
        checks=tuple(checks),
        samples=n,
        seed=seed,
        sentence=_sentence(count, n, checks[0]),
        advice=_advice(checks[0], soil),
        notes=(
            *notes,
            f"{n} samples, seed {seed}; touch and step over the areas of the study, resistance and "
            "potential rise against the owner's limits; conductors, fences, gates and services were not "
            "sampled",
            "lines and cables keep the earth return of the soil as surveyed",
        ),
    )


def _check(spread: Spread, inputs: Mapping[str, FloatArray]) -> CheckConfidence:
    kept = int((spread.values <= 1.0).sum())
    n = len(spread.values)
    low, middle, high = (float(v) for v in np.quantile(spread.values, (0.025, 0.5, 0.975)))
    shares = main_effects(inputs, spread.values)
    totals = total_effects(inputs, spread.values).indices or {}
    drivers = tuple(
        Driver(name, share, left_of_spread(share), totals.get(name))
        for name, share in sorted(shares.items(), key=lambda item: -item[1])
    )
    interval = proportion_interval(kept, n)
    return CheckConfidence(spread.title, spread.nominal, kept / n, interval, (low, middle, high), drivers)


def _sentence(kept: int, n: int, worst: CheckConfidence) -> str:
    low, high = proportion_interval(kept, n)
    text = (
        f"All sampled checks are kept in {kept} of {n} samples: {kept / n:.1%} "
        f"(95 % interval from the number of samples {low:.1%} to {high:.1%})"
    )
    named = [d for d in worst.drivers if d.share >= NOTABLE][:2]
    if named:
        text += f"; {worst.title} is the most doubtful, driven by the "
        text += " and the ".join(f"{_word(d.name)} ({_shares(d)})" for d in named)
    return text + "."


def _shares(driver: Driver) -> str:
    text = f"{driver.share:.0%} of the variance"
    if driver.total is not None and driver.total > driver.share + NOTABLE:
        text += f", {driver.total:.0%} with what it does together with others"
    return text


def _word(name: str) -> str:
    return WORDS.get(name, name)


WORDS = {
    "resistivity": "resistivity of the whole ground",
    "current": "fault current",
    "share": "share of the mat",
    "time": "clearing time",
    "cover_resistivity": "resistivity of the cover",
    "cover_thickness": "thickness of the cover",
    "depth_m": "burial depth",
}


def _advice(worst: CheckConfidence, soil: SoilResult) -> tuple[str, ...]:
    """What to measure next: the input whose knowledge shrinks the doubt most."""
    if not worst.drivers or worst.drivers[0].share < NOTABLE:
        return ()
    first = worst.drivers[0]
    rows = [
        f"knowing the {_word(first.name)} exactly would narrow the spread of {worst.title} "
        f"by {1.0 - first.spread_left:.0%}; nothing else by more"
    ]
    if "layer" in first.name or first.name == "resistivity of the soil":
        readings = [r for r in soil.readings if r.used]
        further = recommend_spacings(soil.readings, soil.soil, noise=soil.noise or 0.05) if readings else ()
        rows += [f"a further reading: {a.words}" for a in further]
        if readings and not further:
            rows.append("no further spacing of the usual series would tell much more about this soil model")
    return tuple(rows)
