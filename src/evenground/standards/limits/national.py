"""Touch and step limits of China and Spain: the formulas behind their tables."""

from __future__ import annotations

import math

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "ITC_SHOE_OHM",
    "gb_step_effective",
    "gb_step_resonant",
    "gb_touch_effective",
    "gb_touch_resonant",
    "itc_step_voltage",
    "itc_touch_voltage",
]

ITC_SHOE_OHM = 2000.0
"""Resistance of one shoe in ITC-RAT 13, from memory. [ohm]"""
_GB = "GB/T 50065, permissible touch and step voltage"
_ITC = "Spain, RD 337/2014, ITC-RAT 13"
_TIME = ("0.03 <= t", "t <= 3")
_MEMORY = "from memory"


def _check(surface_factor: float, surface_resistivity_ohm_m: float) -> float:
    need_positive(surface_factor=surface_factor, surface_resistivity_ohm_m=surface_resistivity_ohm_m)
    return surface_factor * surface_resistivity_ohm_m


@equation(
    "U_t",
    "V",
    source=f"{_GB}, effectively earthed networks; range of time as for k/sqrt(t) of IEEE Std 80",
    symbols="C_s rho_s t",
    form="(174 + 0.17*C_s*rho_s)/sqrt(t)",
    valid=_TIME,
    evidence=_MEMORY,
    name="touch voltage, GB/T 50065, effectively earthed",
)
def gb_touch_effective(surface_factor: float, surface_resistivity_ohm_m: float, shock_time_s: float) -> float:
    """Permissible touch voltage; the numbers are 0.116 A sqrt(s) times 1500 ohm and 1.5 C_s rho_s. [V]"""
    need_positive(shock_time_s=shock_time_s)
    return (174.0 + 0.17 * _check(surface_factor, surface_resistivity_ohm_m)) / math.sqrt(shock_time_s)


@equation(
    "U_s",
    "V",
    source=f"{_GB}, effectively earthed networks; range of time as for k/sqrt(t) of IEEE Std 80",
    symbols="C_s rho_s t",
    form="(174 + 0.7*C_s*rho_s)/sqrt(t)",
    valid=_TIME,
    evidence=_MEMORY,
    name="step voltage, GB/T 50065, effectively earthed",
)
def gb_step_effective(surface_factor: float, surface_resistivity_ohm_m: float, shock_time_s: float) -> float:
    """Permissible step voltage. [V]"""
    need_positive(shock_time_s=shock_time_s)
    return (174.0 + 0.7 * _check(surface_factor, surface_resistivity_ohm_m)) / math.sqrt(shock_time_s)


@equation(
    "U_t",
    "V",
    source=f"{_GB}, resonant, isolated or high-resistance earthed networks",
    symbols="C_s rho_s",
    form="50 + 0.05*C_s*rho_s",
    evidence=_MEMORY,
    name="touch voltage, GB/T 50065, not effectively earthed",
)
def gb_touch_resonant(surface_factor: float, surface_resistivity_ohm_m: float) -> float:
    """Permissible touch voltage for a fault that stays. [V]"""
    return 50.0 + 0.05 * _check(surface_factor, surface_resistivity_ohm_m)


@equation(
    "U_s",
    "V",
    source=f"{_GB}, resonant, isolated or high-resistance earthed networks",
    symbols="C_s rho_s",
    form="50 + 0.2*C_s*rho_s",
    evidence=_MEMORY,
    name="step voltage, GB/T 50065, not effectively earthed",
)
def gb_step_resonant(surface_factor: float, surface_resistivity_ohm_m: float) -> float:
    """Permissible step voltage for a fault that stays. [V]"""
    return 50.0 + 0.2 * _check(surface_factor, surface_resistivity_ohm_m)


def _shoe(shoe_ohm: float) -> None:
    need(0.0 <= shoe_ohm < 1e12, f"shoe_ohm must be zero or more, got {shoe_ohm!r}")


@equation(
    "U_c",
    "V",
    source=f"{_ITC}, clause 1.1, greatest admissible touch voltage",
    symbols="U_ca R_a1 C_s rho_s",
    form="U_ca*(1 + (R_a1/2 + 1.5*C_s*rho_s)/1000)",
    evidence=_MEMORY,
    name="touch voltage, ITC-RAT 13",
)
def itc_touch_voltage(
    applied_touch_voltage_v: float, shoe_ohm: float, surface_factor: float, surface_resistivity_ohm_m: float
) -> float:
    """Prospective touch voltage from the applied one of the table; body 1000 ohm. [V]"""
    need_positive(applied_touch_voltage_v=applied_touch_voltage_v)
    _shoe(shoe_ohm)
    series = shoe_ohm / 2.0 + 1.5 * _check(surface_factor, surface_resistivity_ohm_m)
    return applied_touch_voltage_v * (1.0 + series / 1000.0)


@equation(
    "U_p",
    "V",
    source=f"{_ITC}, clause 1.1, greatest admissible step voltage",
    symbols="U_ca R_a1 C_s rho_s",
    form="10*U_ca*(1 + (2*R_a1 + 6*C_s*rho_s)/1000)",
    evidence=_MEMORY,
    name="step voltage, ITC-RAT 13",
)
def itc_step_voltage(
    applied_touch_voltage_v: float, shoe_ohm: float, surface_factor: float, surface_resistivity_ohm_m: float
) -> float:
    """Prospective step voltage; the applied one is ten times the applied touch voltage. [V]"""
    need_positive(applied_touch_voltage_v=applied_touch_voltage_v)
    _shoe(shoe_ohm)
    series = 2.0 * shoe_ohm + 6.0 * _check(surface_factor, surface_resistivity_ohm_m)
    return 10.0 * applied_touch_voltage_v * (1.0 + series / 1000.0)
