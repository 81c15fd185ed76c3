"""Soil fits and posteriors against a plain SciPy loop over the same readings."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np
from scipy.optimize import least_squares

from evenground.model.soil import ApparentReading, ArrayKind, LayeredSoil
from evenground.soil import fit_layers, layered_posterior, two_layer_posterior, wenner_apparent_resistivity

SPACINGS = (1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 30.0, 50.0, 80.0)
SAMPLES = 2000


def readings_of(soil: LayeredSoil) -> tuple[ApparentReading, ...]:
    """Readings of a soil with 3 % noise."""
    rng = np.random.default_rng(1)
    values = wenner_apparent_resistivity(SPACINGS, soil) * np.exp(0.03 * rng.standard_normal(len(SPACINGS)))
    return tuple(
        ApparentReading("T", ArrayKind.WENNER, a, None, r / (2 * np.pi * a), float(r), 0.0, True)
        for a, r in zip(SPACINGS, values, strict=True)
    )


def plain(readings: tuple[ApparentReading, ...], layers: int, starts: int) -> None:
    """A loop a user would write: SciPy's least squares with differences, from several starts."""
    measured = np.log([r.apparent_resistivity_ohm_m for r in readings])

    def residual(p: np.ndarray) -> np.ndarray:
        values = np.exp(p)
        soil = LayeredSoil(tuple(values[:layers]), tuple(values[layers:]))
        return np.log(wenner_apparent_resistivity(SPACINGS, soil)) - measured

    rng = np.random.default_rng(2)
    low = np.r_[np.full(layers, 2.0), np.full(layers - 1, -1.5)]
    high = np.r_[np.full(layers, 8.5), np.full(layers - 1, 4.4)]
    for _ in range(starts):
        least_squares(residual, rng.uniform(low, high), bounds=(low, high))


def best(work: Callable[[], object], count: int = 3) -> float:
    """Shortest of several runs. [s]"""
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    two = readings_of(LayeredSoil((300.0, 80.0), (3.0,)))
    five = readings_of(LayeredSoil((300.0, 80.0, 600.0, 60.0, 200.0), (1.0, 3.0, 6.0, 15.0)))
    three = readings_of(LayeredSoil((100.0, 500.0, 50.0), (2.0, 6.0)))
    fit_layers(two, layers=2)
    yield (
        "two-layer fit",
        best(lambda: fit_layers(two, layers=2)),
        best(lambda: plain(two, 2, 3)),
        "SciPy, 3 starts",
    )
    five_s = best(lambda: fit_layers(five, layers=5), 2)
    yield "five-layer fit, several starts", five_s, best(lambda: plain(five, 5, 12), 1), "SciPy, 12 starts"
    grid = best(lambda: two_layer_posterior(two, noise=0.03))

    def single(count: int) -> None:
        for _ in range(count):
            wenner_apparent_resistivity(SPACINGS, LayeredSoil((100.0, 500.0, 50.0), (2.0, 6.0)))

    each = best(lambda: single(SAMPLES), 1) / SAMPLES
    yield "two-layer posterior on a grid", grid, 100_000 * each, "100 000 single curves in a loop"
    particles = best(lambda: layered_posterior(three, layers=3, noise=0.03), 1)
    yield "three-layer posterior, particles", particles, 100_000 * each, "100 000 single curves in a loop"
