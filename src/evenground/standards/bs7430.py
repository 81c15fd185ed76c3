"""BS 7430: rods, groups of rods, plates and strips."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "LAMBDA_HOLLOW_SQUARE",
    "LAMBDA_LINE",
    "STRIP_1998_CONSTANTS",
    "STRIP_2011_SHAPE",
    "parallel_rods_resistance",
    "plate_resistance",
    "rod_resistance",
    "rod_spacing_ratio",
    "strip_resistance_1998",
    "strip_resistance_2011",
]


@equation(
    "R",
    "ohm",
    source="BS 7430, rod electrode",
    symbols="rho L d",
    form="rho/(2*pi*L)*(log(8*L/d) - 1)",
    valid=("d <= L/10",),
    evidence="found",
    name="rod resistance, BS 7430",
)
def rod_resistance(resistivity_ohm_m: float, length_m: float, diameter_m: float) -> float:
    """Vertical rod from the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, diameter_m=diameter_m)
    return resistivity_ohm_m / (2.0 * math.pi * length_m) * (math.log(8.0 * length_m / diameter_m) - 1.0)


@equation(
    "a",
    "",
    source="BS 7430, rods in parallel",
    symbols="rho R s",
    form="rho/(2*pi*R*s)",
    evidence="from memory, cross-checked",
    name="spacing ratio of rods",
)
def rod_spacing_ratio(resistivity_ohm_m: float, single_resistance_ohm: float, spacing_m: float) -> float:
    """Radius of the equivalent hemisphere of one rod over the spacing. [-]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, single_resistance_ohm=single_resistance_ohm, spacing_m=spacing_m
    )
    return resistivity_ohm_m / (2.0 * math.pi * single_resistance_ohm * spacing_m)


@equation(
    "R_n",
    "ohm",
    source="BS 7430, rods in parallel",
    symbols="R n lam a",
    form="R/n*(1 + lam*a)",
    valid=("n >= 2", "a <= 0.5"),
    evidence="from memory, cross-checked",
    name="rods in parallel",
)
def parallel_rods_resistance(
    single_resistance_ohm: float, rod_count: int, group_factor: float, spacing_ratio: float
) -> float:
    """Equal rods at equal spacing, bonded; the factor comes from the tables below. [ohm]"""
    need_positive(
        single_resistance_ohm=single_resistance_ohm,
        rod_count=rod_count,
        group_factor=group_factor,
        spacing_ratio=spacing_ratio,
    )
    return single_resistance_ohm / rod_count * (1.0 + group_factor * spacing_ratio)


LAMBDA_LINE: Mapping[int, float] = MappingProxyType(
    {2: 1.00, 3: 1.66, 4: 2.15, 5: 2.54, 6: 2.87, 7: 3.15, 8: 3.39, 9: 3.61, 10: 3.81}
)
"""Group factor by number of rods in a straight line. BS 7430, Table 2 (found)."""

_SQUARE = {2: 2.71, 3: 4.51, 4: 5.48, 5: 6.14, 6: 6.63, 7: 7.03, 8: 7.36, 9: 7.65, 10: 7.90}
_SQUARE |= {12: 8.32, 14: 8.67, 16: 8.96, 18: 9.22, 20: 9.40}
LAMBDA_HOLLOW_SQUARE: Mapping[int, float] = MappingProxyType(_SQUARE)
"""Group factor by rods along one side n of a hollow square of 4(n-1) rods. BS 7430, Table 3 (found)."""


@equation(
    "R",
    "ohm",
    source="BS 7430, plate electrode",
    symbols="rho A",
    form="rho/4*sqrt(pi/A)",
    evidence="from memory",
    name="plate resistance, BS 7430",
)
def plate_resistance(resistivity_ohm_m: float, both_faces_area_m2: float) -> float:
    """Buried plate; the area is that of both faces. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, both_faces_area_m2=both_faces_area_m2)
    return resistivity_ohm_m / 4.0 * math.sqrt(math.pi / both_faces_area_m2)


STRIP_1998_CONSTANTS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "single": (2.0, -1.0),
        "two at 90 degrees": (4.0, 0.5),
        "three at 120 degrees": (6.0, 1.8),
        "four at 90 degrees": (8.0, 3.6),
    }
)
"""P and Q by arrangement; P = 2, Q = -1 found, the rest from memory."""


@equation(
    "R",
    "ohm",
    source="BS 7430:1998, strip electrodes",
    symbols="rho L w h P Q",
    form="rho/(P*pi*L)*(log(2*L**2/(w*h)) + Q)",
    valid=("w <= L/10", "h <= L/10"),
    evidence="from memory",
    name="strip resistance, BS 7430:1998",
)
def strip_resistance_1998(
    resistivity_ohm_m: float, length_m: float, width_m: float, depth_m: float, p: float, q: float
) -> float:
    """Strips of equal length from one point; ``length_m`` is that of one arm. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, width_m=width_m, depth_m=depth_m, p=p
    )
    argument = 2.0 * length_m**2 / (width_m * depth_m)
    return resistivity_ohm_m / (p * math.pi * length_m) * (math.log(argument) + q)


STRIP_2011_SHAPE: Mapping[str, float] = MappingProxyType({"strip": 1.36, "round": 1.83})
"""Shape constant k by form of the conductor (from memory)."""


@equation(
    "R",
    "ohm",
    source="BS 7430:2011, strip or round conductor",
    symbols="rho L h d k Q",
    form="rho/(2*pi*L)*(log(L**2/(k*h*d)) + Q)",
    valid=("d <= L/10", "h <= L/10"),
    evidence="from memory",
    name="strip resistance, BS 7430:2011",
)
def strip_resistance_2011(
    resistivity_ohm_m: float, length_m: float, depth_m: float, width_m: float, shape: float, q: float = -1.0
) -> float:
    """Single run; ``width_m`` is the width of a strip or the diameter of a round conductor. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, depth_m=depth_m, width_m=width_m, shape=shape
    )
    argument = length_m**2 / (shape * depth_m * width_m)
    need(argument > 1.0, "the run is too short for its depth and width")
    return resistivity_ohm_m / (2.0 * math.pi * length_m) * (math.log(argument) + q)
