"""IS 3043 and Indian utility practice: electrodes, current density, conductor section, corrosion."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "CONDUCTOR_K",
    "CORROSION_CLASSES",
    "K_METALS",
    "STEEL_RULES",
    "STEEL_RULE_INITIAL_C",
    "CorrosionClass",
    "SteelRule",
    "conductor_area_k",
    "conductor_k",
    "corrosion_class",
    "mat_resistance",
    "pipe_resistance",
    "plate_resistance",
    "steel_area_rule",
    "strip_resistance",
    "surface_current_density",
    "surface_current_duration",
]


@equation(
    "R",
    "ohm",
    source="IS 3043:1987 with Amendment 1 (2006), clause 9.2",
    symbols="rho A",
    form="rho/4*sqrt(pi/A)",
    evidence="from memory",
    name="plate resistance, IS 3043",
)
def plate_resistance(resistivity_ohm_m: float, both_faces_area_m2: float) -> float:
    """Buried plate; the area is that of both faces. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, both_faces_area_m2=both_faces_area_m2)
    return resistivity_ohm_m / 4.0 * math.sqrt(math.pi / both_faces_area_m2)


@equation(
    "R",
    "ohm",
    source="IS 3043:1987, clause 9.2 (there in centimetres)",
    symbols="rho l d",
    form="rho/(2*pi*l)*log(4*l/d)",
    valid=("d <= l/10",),
    evidence="found",
    name="pipe resistance, IS 3043",
)
def pipe_resistance(resistivity_ohm_m: float, length_m: float, diameter_m: float) -> float:
    """Driven pipe or rod. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, diameter_m=diameter_m)
    return resistivity_ohm_m / (2.0 * math.pi * length_m) * math.log(4.0 * length_m / diameter_m)


@equation(
    "R",
    "ohm",
    source="IS 3043:1987, clause 9.2 (there in centimetres)",
    symbols="rho l w t",
    form="rho/(2*pi*l)*log(2*l**2/(w*t))",
    valid=("w <= l/10", "t <= l/10"),
    evidence="from memory",
    name="strip resistance, IS 3043",
)
def strip_resistance(resistivity_ohm_m: float, length_m: float, depth_m: float, width_m: float) -> float:
    """Buried strip; for a round wire the width is twice its diameter. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, depth_m=depth_m, width_m=width_m)
    argument = 2.0 * length_m**2 / (depth_m * width_m)
    return resistivity_ohm_m / (2.0 * math.pi * length_m) * math.log(argument)


@equation(
    "R",
    "ohm",
    source="IS 3043:1987, mat",
    symbols="rho A L",
    form="rho/4*sqrt(pi/A) + rho/L",
    evidence="from memory",
    name="mat resistance, IS 3043",
)
def mat_resistance(resistivity_ohm_m: float, area_m2: float, total_length_m: float) -> float:
    """Mat of buried conductors. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, area_m2=area_m2, total_length_m=total_length_m)
    return resistivity_ohm_m / 4.0 * math.sqrt(math.pi / area_m2) + resistivity_ohm_m / total_length_m


@equation(
    "i",
    "A/m2",
    source="IS 3043:1987, permissible current density at the surface of an electrode",
    symbols="rho t",
    form="7570/sqrt(rho*t)",
    evidence="found",
)
def surface_current_density(resistivity_ohm_m: float, time_s: float) -> float:
    """Highest current density at the surface of an electrode that does not dry the soil out. [A/m2]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, time_s=time_s)
    return 7570.0 / math.sqrt(resistivity_ohm_m * time_s)


@equation(
    "t",
    "s",
    source="IS 3043:1987, permissible current density at the surface of an electrode, solved for the time",
    symbols="rho i",
    form="(7570/i)**2/rho",
    evidence="found",
)
def surface_current_duration(resistivity_ohm_m: float, density_a_per_m2: float) -> float:
    """How long the soil at an electrode bears a current density before it dries out. [s]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, density_a_per_m2=density_a_per_m2)
    return (7570.0 / density_a_per_m2) ** 2 / resistivity_ohm_m


@dataclass(frozen=True, slots=True)
class KMetal:
    """Constants of a metal for its k, and the final temperature of the table.

    [J/(K mm3), degC, ohm mm, degC]
    """

    heat_capacity_j_per_k_mm3: float
    beta_c: float
    resistivity_ohm_mm: float
    max_temperature_c: float


K_METALS = {
    "copper": KMetal(3.45e-3, 234.5, 17.241e-6, 395.0),
    "aluminium": KMetal(2.5e-3, 228.0, 28.264e-6, 325.0),
    "steel": KMetal(3.8e-3, 202.0, 138e-6, 500.0),
}
"""IEC 60364-5-54, Annex A, and the final temperatures of IS 3043, Table 6 (from memory, cross-checked: they
give the densities below and K of EN 50522)."""
STEEL_RULE_INITIAL_C = 50.0
"""Initial temperature behind the rule for steel. [degC]"""
CONDUCTOR_K = {"copper": 205.0, "aluminium": 126.0, "steel": 80.0}
"""Current density for one second. [A/mm2] IS 3043:1987, Table 6; copper 40 to 395, aluminium 40 to 325, steel
40 to 500 degC."""


@equation(
    "A",
    "mm2",
    source="IS 3043:1987, Table 6",
    symbols="I t k",
    form="I*sqrt(t)/k",
    evidence="found",
    name="conductor section, IS 3043",
)
def conductor_area_k(current_a: float, time_s: float, k_as_per_mm2: float) -> float:
    """Section from a current density for one second. [mm2]"""
    need_positive(current_a=current_a, time_s=time_s, k_as_per_mm2=k_as_per_mm2)
    return current_a * math.sqrt(time_s) / k_as_per_mm2


@equation(
    "k",
    "A sqrt(s)/mm2",
    source="IEC 60364-5-54, Annex A; IS 3043",
    symbols="Q_c beta rho_20 T_i T_f",
    form="sqrt(Q_c*(beta + 20)/rho_20*log((beta + T_f)/(beta + T_i)))",
    evidence="from memory, cross-checked",
    name="current density for one second from the metal's constants",
)
def conductor_k(
    heat_capacity_j_per_k_mm3: float,
    beta_c: float,
    resistivity_ohm_mm: float,
    initial_temperature_c: float,
    max_temperature_c: float,
) -> float:
    """Current density that a metal bears for one second between two temperatures. [A sqrt(s)/mm2]

    Steel: 0.0038 J/(K mm3), 202 degC, 138e-6 ohm mm.
    """
    need_positive(heat_capacity_j_per_k_mm3=heat_capacity_j_per_k_mm3, resistivity_ohm_mm=resistivity_ohm_mm)
    hot, cold = beta_c + max_temperature_c, beta_c + initial_temperature_c
    need(
        hot > cold > 0.0, f"final {max_temperature_c!r} degC must be above initial {initial_temperature_c!r}"
    )
    base = heat_capacity_j_per_k_mm3 * (beta_c + 20.0) / resistivity_ohm_mm
    return math.sqrt(base * math.log(hot / cold))


@dataclass(frozen=True, slots=True)
class SteelRule:
    """Factor of the steel section rule and the final temperature behind it. [mm2/(kA sqrt(s)), degC]"""

    factor: float
    max_temperature_c: float


STEEL_RULES = {"welded": SteelRule(12.15, 620.0), "bolted": SteelRule(15.7, 310.0)}
"""Indian utility practice (CBIP publication 223), from memory, cross-checked."""


@equation(
    "A",
    "mm2",
    source="CBIP publication 223, steel conductors",
    symbols="c I t",
    form="c*I/1000*sqrt(t)",
    evidence="from memory, cross-checked",
    name="steel section by rule",
)
def steel_area_rule(factor_mm2_per_ka: float, current_a: float, time_s: float) -> float:
    """Section of a steel conductor by the factor of its joints. [mm2]"""
    need_positive(factor_mm2_per_ka=factor_mm2_per_ka, current_a=current_a, time_s=time_s)
    return factor_mm2_per_ka * current_a / 1000.0 * math.sqrt(time_s)


@dataclass(frozen=True, slots=True)
class CorrosionClass:
    """How aggressive a soil is to steel, and the usual allowance on the section.

    ``below_ohm_m`` is the resistivity below which the class holds. ``area_fraction`` is that of
    sizing sheets quoting CBIP publication 302; the class names are found.
    """

    name: str
    below_ohm_m: float
    area_fraction: float


CORROSION_CLASSES = (
    CorrosionClass("severely corrosive", 25.0, 0.30),
    CorrosionClass("moderately corrosive", 50.0, 0.15),
    CorrosionClass("mildly corrosive", 100.0, 0.15),
    CorrosionClass("very mildly corrosive", math.inf, 0.10),
)
"""IS 3043 Amendment 2 (2010), clause 8.6.1."""


def corrosion_class(resistivity_ohm_m: float) -> CorrosionClass:
    """Class of a soil by its resistivity."""
    need_positive(resistivity_ohm_m=resistivity_ohm_m)
    return next(c for c in CORROSION_CLASSES if resistivity_ohm_m < c.below_ohm_m)
