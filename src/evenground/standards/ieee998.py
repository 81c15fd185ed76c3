"""IEEE Std 998 (direct strokes to substations): striking distance, allowable current, corona, probability."""

from __future__ import annotations

import math

from scipy.optimize import brentq

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "MAST_FACTOR",
    "allowable_stroke_current",
    "corona_radius",
    "flash_density_from_thunder_days",
    "share_above",
    "striking_distance",
    "surge_impedance",
]

MAST_FACTOR = 1.2
"""Factor k of a lone mast; 1 for wires and the ground. IEEE Std 998-1996, 5.2 (from memory)."""

CORONA_GRADIENT_KV_PER_M = 1500.0
"""Gradient that limits the corona of a struck conductor; IEEE Std 998-1996, Annex C (from memory)."""


@equation(
    "S_m",
    "m",
    source="IEEE Std 998-1996, Eq. (5-1A)",
    symbols="I k",
    form="8*k*I**0.65",
    evidence="from memory",
)
def striking_distance(current_ka: float, k: float = 1.0) -> float:
    """Striking distance of a stroke of this peak in kA; k = 1 to wires and ground, 1.2 to masts. [m]"""
    need_positive(current_ka=current_ka, k=k)
    return 8.0 * k * math.pow(current_ka, 0.65)


@equation(
    "I_s",
    "kA",
    source="IEEE Std 998-1996, Eq. (5-2A)",
    symbols="BIL Z_s",
    form="2.2*BIL/Z_s",
    evidence="from memory",
)
def allowable_stroke_current(insulation_level_kv: float, surge_impedance_ohm: float) -> float:
    """Largest stroke to a bus that its insulation level bears: half of it each way, 10 % more. [kA]"""
    need_positive(insulation_level_kv=insulation_level_kv, surge_impedance_ohm=surge_impedance_ohm)
    return 2.2 * insulation_level_kv / surge_impedance_ohm


@equation(
    "R_c",
    "m",
    source="IEEE Std 998-1996, Annex C",
    symbols="h V_c E_0",
    text="root of R_c ln(2h/R_c) = V_c/E_0, the smaller of the two",
    evidence="from memory",
)
def corona_radius(
    height_m: float, voltage_kv: float, gradient_kv_per_m: float = CORONA_GRADIENT_KV_PER_M
) -> float:
    """Radius of the corona envelope of a single conductor at the voltage its insulation bears. [m]

    Raises
    ------
    OutOfRangeError
        When the voltage is so high for this height that the equation has no root.
    """
    need_positive(height_m=height_m, voltage_kv=voltage_kv, gradient_kv_per_m=gradient_kv_per_m)
    target = voltage_kv / gradient_kv_per_m
    top = 2.0 * height_m / math.e  # R ln(2h/R) is largest there
    need(target < top, f"no corona radius: {voltage_kv} kV is too much for {height_m} m height")
    low = top * 1e-12
    need(low * math.log(2.0 * height_m / low) < target, f"{voltage_kv} kV is too low for a corona envelope")
    return float(brentq(lambda r: r * math.log(2.0 * height_m / r) - target, low, top, xtol=1e-14))


@equation(
    "Z_s",
    "ohm",
    source="IEEE Std 998-1996, Annex C",
    symbols="h R_c r",
    form="60*sqrt(log(2*h/R_c)*log(2*h/r))",
    valid=("r <= R_c",),
    evidence="from memory",
)
def surge_impedance(height_m: float, corona_radius_m: float, conductor_radius_m: float) -> float:
    """Surge impedance of a horizontal bus in corona. [ohm]"""
    need_positive(height_m=height_m, corona_radius_m=corona_radius_m, conductor_radius_m=conductor_radius_m)
    need(
        2.0 * height_m > max(corona_radius_m, conductor_radius_m), "the conductor must be clear of the ground"
    )
    return 60.0 * math.sqrt(
        math.log(2.0 * height_m / corona_radius_m) * math.log(2.0 * height_m / conductor_radius_m)
    )


@equation(
    "P",
    "",
    source="IEEE Std 998-1996, Eq. (2-2A); median 31 kA for ground wires and lines, 24 kA for flat ground",
    symbols="I I_50",
    form="1/(1 + (I/I_50)**2.6)",
    evidence="from memory",
)
def share_above(current_ka: float, median_ka: float = 31.0) -> float:
    """Share of strokes whose peak exceeds a current. [-]"""
    need_positive(current_ka=current_ka, median_ka=median_ka)
    return 1.0 / (1.0 + math.pow(current_ka / median_ka, 2.6))


@equation(
    "N_k",
    "1/(km2 a)",
    source="IEEE Std 998-1996, Eq. (2-1A)",
    symbols="T_d",
    form="0.12*T_d",
    evidence="from memory",
)
def flash_density_from_thunder_days(thunderstorm_days: float) -> float:
    """Flashes to ground per km2 and year from the days with thunder per year. [1/(km2 a)]"""
    need_positive(thunderstorm_days=thunderstorm_days)
    return 0.12 * thunderstorm_days
