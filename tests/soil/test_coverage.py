"""The intervals of the posterior hold the truth about as often as they say."""

import numpy as np
import pytest

from evenground.model.soil import ApparentReading, ArrayKind, LayeredSoil
from evenground.soil import two_layer_posterior, wenner_apparent_resistivity

SURVEYS = 60
SPACINGS = (1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 30.0, 50.0)


@pytest.mark.slow
def test_95_per_cent_intervals_hold_the_truth_about_95_times_in_100():
    """Simulation-based calibration (Talts et al. 2018): truth drawn from the prior, readings from the truth
    with the noise that is stated. 60 surveys: 57 expected, below 52 or so by chance once in a few hundred."""
    rng = np.random.default_rng(2026)
    held = np.zeros(3, dtype=int)
    for _ in range(SURVEYS):
        upper, lower = np.exp(rng.uniform(np.log(30), np.log(1500), 2))
        thickness = np.exp(rng.uniform(np.log(1.5), np.log(8)))
        exact = wenner_apparent_resistivity(SPACINGS, LayeredSoil((upper, lower), (thickness,)))
        measured = exact * np.exp(0.04 * rng.standard_normal(len(SPACINGS)))
        readings = tuple(
            ApparentReading("T", ArrayKind.WENNER, a, None, r / (2 * np.pi * a), float(r), 0.0, True)
            for a, r in zip(SPACINGS, measured, strict=True)
        )
        posterior = two_layer_posterior(readings, noise=0.04)
        for k, truth in enumerate((upper, lower, thickness)):
            held[k] += posterior.quantiles[k][0] <= truth <= posterior.quantiles[k][4]
    assert held.min() >= 51
    assert held.sum() <= 3 * SURVEYS - 1  # intervals that never miss are too wide
