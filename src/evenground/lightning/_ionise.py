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


def ionised_resistance(
    conductors: Iterable[Conductor],
    resistivity_ohm_m: float,
    current_a: float,
    *,
    gradient_v_per_m: float = 300e3,
    segment_m: float = 0.5,
    tolerance: float = 1e-3,
) -> float:
    """Resistance of an electrode while a current ionises the soil around it. [ohm]

    All metal at one potential, uniform soil; every segment leaks through a cylinder on which the field is
    the critical gradient. Mousa (IEEE Trans. Power Delivery 9 (1994)) recommends 300 kV/m.

    Raises
    ------
    NotConvergedError
        When the radii do not settle.
    """
    metal = Metalwork.from_conductors(conductors, longest_m=segment_m)
    net = Net(metal, FrequencySoil(resistivity_ohm_m, dispersion="none"), WireMetal())
    radius = metal.radius_m
    value, share = net.static_leakage(radius)
    for _ in range(60):
        leakage = np.abs(share) * current_a / metal.length_m
        wanted = np.maximum(metal.radius_m, resistivity_ohm_m * leakage / (2.0 * math.pi * gradient_v_per_m))
        radius = np.sqrt(radius * wanted)
        before = value
        value, share = net.static_leakage(radius)
        if abs(value / before - 1.0) < tolerance and np.max(np.abs(wanted / radius - 1.0)) < 0.05:
            return value
    raise NotConvergedError(
        f"ionised radii did not settle in 60 rounds (last change {value / before - 1.0:.2g})"
    )
