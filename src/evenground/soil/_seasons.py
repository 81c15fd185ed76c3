"""Seasonal states of a soil, and fill on top of it.

Frost, drought and rain change the ground from the surface down to some depth. The state of another season
can not be read from a survey: a frozen top of 0.5 m hardly shows at spacings above 5 m. So the depth and the
factor are stated by the engineer, and the soil of the season follows from the soil as surveyed.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from evenground.model.soil import LayeredSoil, SeasonalState

__all__ = ["TEMPERATURE_COEFFICIENT_PER_K", "at_temperature", "seasonal_soil", "seasonal_soils", "with_fill"]

TEMPERATURE_COEFFICIENT_PER_K = 0.025
"""Change of conductivity per kelvin above freezing (common practice; within 5 % of the table for
sandy loam in Getting Down to Earth)."""
_SAME = 1e-9


def seasonal_soil(soil: LayeredSoil, state: SeasonalState) -> LayeredSoil:
    """The soil with everything down to a depth multiplied by a factor.

    Layers inside the seasonal depth keep their contrast to each other; the layer that holds the depth is cut
    there.

    Parameters
    ----------
    soil : LayeredSoil
        As surveyed.
    state : SeasonalState
    """
    if state.factor == 1.0:
        return soil
    resistivities: list[float] = []
    thicknesses: list[float] = []
    top = 0.0
    bottoms = [*soil.interface_depths_m, float("inf")]
    for rho, bottom in zip(soil.resistivities_ohm_m, bottoms, strict=True):
        if bottom <= state.depth_m * (1.0 + _SAME):
            pieces = [(rho * state.factor, bottom - top)]
        elif top >= state.depth_m * (1.0 - _SAME):
            pieces = [(rho, bottom - top)]
        else:
            pieces = [(rho * state.factor, state.depth_m - top), (rho, bottom - state.depth_m)]
        for value, thickness in pieces:
            resistivities.append(value)
            thicknesses.append(thickness)
        top = bottom
    return _joined(resistivities, thicknesses[:-1])


def seasonal_soils(soil: LayeredSoil, states: Iterable[SeasonalState]) -> dict[str, LayeredSoil]:
    """The soil as surveyed and in each stated season, by name, for envelopes of results.

    Raises
    ------
    ValueError
        When two states share a name or one is called ``"as surveyed"``.
    """
    soils = {"as surveyed": soil}
    for state in states:
        if state.name in soils:
            raise ValueError(f"seasonal states: the name {state.name!r} is given twice")
        soils[state.name] = seasonal_soil(soil, state)
    return soils


def with_fill(
    soil: LayeredSoil, *, thickness_m: float, resistivity_ohm_m: float, removed_m: float = 0.0
) -> LayeredSoil:
    """The soil after earthworks: a depth of native soil taken off, fill of one resistivity put on.

    Depths of electrodes count from the new surface.

    Parameters
    ----------
    soil : LayeredSoil
        As surveyed before the earthworks.
    thickness_m, resistivity_ohm_m : float
        Of the fill; thickness 0 for a cut only. [m, ohm m]
    removed_m : float
        Depth of native soil taken off. [m]

    Raises
    ------
    ValueError
        When a value is negative or not finite.
    """
    for name, value in (("thickness_m", thickness_m), ("removed_m", removed_m)):
        if not (isfinite(value) and value >= 0):
            raise ValueError(f"{name}: {value} is not a finite number of 0 or above")
    if thickness_m > 0 and not (isfinite(resistivity_ohm_m) and resistivity_ohm_m > 0):
        raise ValueError(f"resistivity_ohm_m: {resistivity_ohm_m} is not a finite number above 0")
    bottoms = [*soil.interface_depths_m, float("inf")]
    left = [
        (rho, min(bottom - removed_m, bottom - top))
        for rho, top, bottom in zip(soil.resistivities_ohm_m, [0.0, *bottoms], bottoms, strict=False)
        if bottom > removed_m * (1.0 + _SAME)
    ]
    if thickness_m > 0:
        left.insert(0, (resistivity_ohm_m, thickness_m))
    return _joined([rho for rho, _ in left], [t for _, t in left[:-1]])


def at_temperature(resistivity_ohm_m: float, measured_c: float, wanted_c: float) -> float:
    """Resistivity at another temperature, both at or above freezing. [ohm m]

    rho(t2) = rho(t1) / (1 + 0.025 (t2 - t1)). Frozen ground is 10 to 30 times as resistive and depends on its
    water: state a factor instead.

    Raises
    ------
    ValueError
        Below freezing, or when the temperatures lie so far apart that the linear rule ends.
    """
    if min(measured_c, wanted_c) < 0.0:
        raise ValueError("temperatures below 0 degC: frozen ground does not follow this rule, state a factor")
    divisor = 1.0 + TEMPERATURE_COEFFICIENT_PER_K * (wanted_c - measured_c)
    if divisor < 0.3:
        raise ValueError(f"from {measured_c:g} to {wanted_c:g} degC is too far for a linear rule")
    return resistivity_ohm_m / divisor


def _joined(resistivities: list[float], thicknesses: list[float]) -> LayeredSoil:
    """Neighbouring layers of equal resistivity made one."""
    rho, h = [resistivities[0]], []
    depth = 0.0
    for value, thickness in zip(resistivities[1:], thicknesses, strict=True):
        depth += thickness
        if abs(value / rho[-1] - 1.0) > _SAME:
            h.append(depth)
            rho.append(value)
            depth = 0.0
    return LayeredSoil(tuple(rho), tuple(h))
