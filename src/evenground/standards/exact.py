"""Electrodes with an exact solution in uniform (or two-layer) soil, from potential theory."""

from __future__ import annotations

import math

import numpy as np

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive
from evenground.standards._series import image_sum

__all__ = [
    "buried_sphere_resistance",
    "disc_relative_potential",
    "disc_resistance",
    "half_oblate_spheroid_resistance",
    "half_prolate_spheroid_resistance",
    "hemisphere_potential",
    "hemisphere_resistance",
    "hemisphere_two_layer_resistance",
    "rod_surface_potential",
]

_THEORY = "potential theory; e.g. Sunde, Earth Conduction Effects in Transmission Systems (1949)"


@equation("R", "ohm", source=_THEORY, symbols="rho a", form="rho/(2*pi*a)")
def hemisphere_resistance(resistivity_ohm_m: float, radius_m: float) -> float:
    """Hemisphere flush with the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, radius_m=radius_m)
    return resistivity_ohm_m / (2.0 * math.pi * radius_m)


@equation("V", "V", source=_THEORY, symbols="rho I r", form="rho*I/(2*pi*r)")
def hemisphere_potential(resistivity_ohm_m: float, current_a: float, distance_m: float) -> float:
    """Potential at a distance from the centre of a hemisphere, outside of it. [V]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, current_a=current_a, distance_m=distance_m)
    return resistivity_ohm_m * current_a / (2.0 * math.pi * distance_m)


@equation("R", "ohm", source=_THEORY, symbols="rho a", form="rho/(4*a)")
def disc_resistance(resistivity_ohm_m: float, radius_m: float) -> float:
    """Thin disc on the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, radius_m=radius_m)
    return resistivity_ohm_m / (4.0 * radius_m)


@equation("V/V_0", "", source=_THEORY, symbols="a r", form="2/pi*asin(a/r)", valid=("r >= a",))
def disc_relative_potential(radius_m: float, distance_m: float) -> float:
    """Surface potential beside a thin disc as a share of the disc's own. [-]"""
    need_positive(radius_m=radius_m, distance_m=distance_m)
    need(distance_m >= radius_m, f"distance {distance_m!r} m lies on the disc of radius {radius_m!r} m")
    return 2.0 / math.pi * math.asin(radius_m / distance_m)


@equation(
    "R",
    "ohm",
    source="potential theory, first image in the surface",
    symbols="rho r h",
    form="rho/(4*pi*r)*(1 + r/(2*h))",
    valid=("h >= 2*r",),
)
def buried_sphere_resistance(resistivity_ohm_m: float, radius_m: float, depth_m: float) -> float:
    """Deep sphere; ``depth_m`` is that of its centre. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, radius_m=radius_m, depth_m=depth_m)
    return resistivity_ohm_m / (4.0 * math.pi * radius_m) * (1.0 + radius_m / (2.0 * depth_m))


@equation(
    "R",
    "ohm",
    source=_THEORY,
    symbols="rho c b",
    form="rho/(4*pi*sqrt(c**2 - b**2))*log((c + sqrt(c**2 - b**2))/(c - sqrt(c**2 - b**2)))",
    valid=("c > b",),
)
def half_prolate_spheroid_resistance(resistivity_ohm_m: float, depth_m: float, radius_m: float) -> float:
    """Half of a long spheroid that reaches ``depth_m`` down and has ``radius_m`` at the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, depth_m=depth_m, radius_m=radius_m)
    need(depth_m > radius_m, f"depth {depth_m!r} m must be above the radius {radius_m!r} m")
    focus = math.sqrt((depth_m - radius_m) * (depth_m + radius_m))
    return resistivity_ohm_m / (2.0 * math.pi * focus) * math.log((depth_m + focus) / radius_m)


@equation(
    "R",
    "ohm",
    source=_THEORY,
    symbols="rho c b",
    form="rho/(2*pi*sqrt(b**2 - c**2))*atan(sqrt(b**2 - c**2)/c)",
    valid=("c < b",),
)
def half_oblate_spheroid_resistance(resistivity_ohm_m: float, depth_m: float, radius_m: float) -> float:
    """Half of a flat spheroid that reaches ``depth_m`` down and has ``radius_m`` at the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, depth_m=depth_m, radius_m=radius_m)
    need(depth_m < radius_m, f"depth {depth_m!r} m must be below the radius {radius_m!r} m")
    focus = math.sqrt((radius_m - depth_m) * (radius_m + depth_m))
    return resistivity_ohm_m / (2.0 * math.pi * focus) * math.atan2(focus, depth_m)


@equation(
    "R",
    "ohm",
    source=_THEORY,
    symbols="rho_1 rho_2 h a",
    text="rho_1/(2 pi a) times 1 + 2a times the sum over n >= 1 of K^n/sqrt(a^2 + (2nh)^2), "
    "K = (rho_2 - rho_1)/(rho_2 + rho_1)",
    valid=("a <= h/5",),
)
def hemisphere_two_layer_resistance(
    top_resistivity_ohm_m: float, bottom_resistivity_ohm_m: float, thickness_m: float, radius_m: float
) -> float:
    """Small hemisphere on a layer over another soil. [ohm]

    Raises
    ------
    NotConvergedError
        When the contrast is so great that the series is endless.
    """
    need_positive(
        top_resistivity_ohm_m=top_resistivity_ohm_m,
        bottom_resistivity_ohm_m=bottom_resistivity_ohm_m,
        thickness_m=thickness_m,
        radius_m=radius_m,
    )
    top, bottom, a = top_resistivity_ohm_m, bottom_resistivity_ohm_m, radius_m
    total = image_sum((bottom - top) / (bottom + top), lambda n: 1.0 / np.hypot(a, 2.0 * thickness_m * n))
    return top / (2.0 * math.pi * a) * (1.0 + 2.0 * a * total)


@equation(
    "V",
    "V",
    source="potential theory, uniform leakage along the rod",
    symbols="rho I L x",
    form="rho*I/(2*pi*L)*asinh(L/x)",
)
def rod_surface_potential(
    resistivity_ohm_m: float, current_a: float, length_m: float, distance_m: float
) -> float:
    """Surface potential beside a rod driven from the surface. [V]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, current_a=current_a, length_m=length_m, distance_m=distance_m
    )
    return resistivity_ohm_m * current_a / (2.0 * math.pi * length_m) * math.asinh(length_m / distance_m)
