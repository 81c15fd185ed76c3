"""Soil ionisation without time: the leakage radius grows until the field falls to the critical gradient."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from evenground.errors import NotConvergedError
from evenground.lightning._net import Net
from evenground.model.electrode import Conductor
from evenground.model.lightning import FrequencySoil, WireMetal
from evenground.model.metalwork import Metalwork

__all__ = ["ionised_resistance"]

_ROUNDS = 60


def ionised_resistance(
    conductors: Iterable[Conductor],
    resistivity_ohm_m: float,
    current_a: float,
    *,
    gradient_v_per_m: float = 300e3,
    segment_m: float = 0.5,
    tolerance: float = 1e-4,
) -> float:
    """Resistance of an electrode while a current ionises the soil around it. [ohm]

    All metal at one potential, uniform soil; every conductor leaks through one cylinder on which the mean
    field is the critical gradient. (A radius for every segment runs away at the ends.) Mousa, IEEE Trans.
    Power Delivery 9 (1994), recommends 300 kV/m.

    Raises
    ------
    NotConvergedError
        When the radii do not settle.
    """
    metal = tuple(conductors)
    even = resistivity_ohm_m * current_a / (2.0 * math.pi * gradient_v_per_m)
    even /= sum(c.length_m for c in metal)
    # segments shorter than the ionised zone is wide could not be told apart
    work = Metalwork.from_conductors(metal, longest_m=max(segment_m, 2.0 * even))
    net = Net(work, FrequencySoil(resistivity_ohm_m, dispersion="none"), WireMetal())
    length = np.bincount(work.conductor, work.length_m, len(metal))
    radius, change = work.radius_m, math.inf
    for _ in range(_ROUNDS):
        value, share = net.static_leakage(radius)
        leakage = current_a * np.bincount(work.conductor, share, len(metal)) / length
        cylinder = resistivity_ohm_m * np.maximum(leakage, 0.0) / (2.0 * math.pi * gradient_v_per_m)
        wanted = np.maximum(work.radius_m, cylinder[work.conductor])
        change = float(np.max(np.abs(wanted / radius - 1.0)))
        if change < tolerance:
            return value
        radius = np.sqrt(radius * wanted)
    raise NotConvergedError(f"ionised radii did not settle in {_ROUNDS} rounds (last change {change:.2g})")
