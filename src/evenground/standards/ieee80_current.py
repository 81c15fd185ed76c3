"""IEEE Std 80: earth-fault current, decrement factor, and the section that carries it.

Equation numbers are given for the 2000 edition and, where they differ, for the 2013 edition.
"""

from __future__ import annotations

import math

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "KCMIL_PER_MM2",
    "conductor_area_ieee",
    "conductor_area_kf",
    "conductor_kf",
    "conductor_time_ieee",
    "dc_time_constant",
    "decrement_factor",
    "double_line_current",
    "double_line_x_over_r",
    "maximum_grid_current",
    "single_line_current",
    "single_line_x_over_r",
]

KCMIL_PER_MM2 = 1.97353
"""Thousand circular mils in one square millimetre."""
_CHECKED = "from memory, cross-checked"
_SEQUENCE = "IEEE Std 80-2000 and 80-2013, clause 15 (symmetrical components)"


def _fault_loop(total_ohm: complex) -> None:
    need(math.isfinite(abs(total_ohm)) and abs(total_ohm) > 0.0, f"fault impedance is {total_ohm!r} ohm")


@equation(
    "3I_0",
    "A",
    source=_SEQUENCE,
    symbols="U c Z1 Z2 Z0 Rf",
    form="abs(3*c*U/sqrt(3)/(Z1 + Z2 + Z0 + 3*Rf))",
    evidence=_CHECKED,
    name="earth-fault current, one line to earth",
)
def single_line_current(
    voltage_v: float,
    voltage_factor: float,
    z1_ohm: complex,
    z2_ohm: complex,
    z0_ohm: complex,
    fault_resistance_ohm: float = 0.0,
) -> float:
    """Current to earth, three times the zero-sequence current, for one line to earth. [A]

    ``voltage_v`` is phase to phase; the impedances are seen from the fault at that voltage.
    """
    need_positive(voltage_v=voltage_v, voltage_factor=voltage_factor)
    total = z1_ohm + z2_ohm + z0_ohm + 3.0 * fault_resistance_ohm
    _fault_loop(total)
    return abs(3.0 * voltage_factor * voltage_v / math.sqrt(3.0) / total)


@equation(
    "3I_0",
    "A",
    source=_SEQUENCE,
    symbols="U c Z1 Z2 Z0 Rf",
    form="abs(3*c*U/sqrt(3)*Z2/(Z1*(Z0 + Z2 + 3*Rf) + Z2*(Z0 + 3*Rf)))",
    evidence=_CHECKED,
    name="earth-fault current, two lines to earth",
)
def double_line_current(
    voltage_v: float,
    voltage_factor: float,
    z1_ohm: complex,
    z2_ohm: complex,
    z0_ohm: complex,
    fault_resistance_ohm: float = 0.0,
) -> float:
    """Current to earth, three times the zero-sequence current, for two lines to earth. [A]"""
    need_positive(voltage_v=voltage_v, voltage_factor=voltage_factor)
    z0f = z0_ohm + 3.0 * fault_resistance_ohm
    total = z1_ohm * (z0f + z2_ohm) + z2_ohm * z0f
    _fault_loop(total)
    return abs(3.0 * voltage_factor * voltage_v / math.sqrt(3.0) * z2_ohm / total)


@equation(
    "X/R",
    "",
    source=_SEQUENCE,
    symbols="Z1 Z2 Z0 Rf",
    form="(Z1 + Z2 + Z0).imag/(Z1 + Z2 + Z0 + 3*Rf).real",
    evidence="found",
    name="X/R, one line to earth",
)
def single_line_x_over_r(
    z1_ohm: complex, z2_ohm: complex, z0_ohm: complex, fault_resistance_ohm: float = 0.0
) -> float:
    """Ratio of reactance to resistance of the fault loop, one line to earth. [-]"""
    total = z1_ohm + z2_ohm + z0_ohm + 3.0 * fault_resistance_ohm
    return _ratio(total)


@equation(
    "X/R",
    "",
    source="derived: driving voltage over zero-sequence current, imaginary over real part",
    symbols="Z1 Z2 Z0 Rf",
    form="(Z0 + 3*Rf + Z1 + Z1*(Z0 + 3*Rf)/Z2).imag/(Z0 + 3*Rf + Z1 + Z1*(Z0 + 3*Rf)/Z2).real",
    name="X/R, two lines to earth",
)
def double_line_x_over_r(
    z1_ohm: complex, z2_ohm: complex, z0_ohm: complex, fault_resistance_ohm: float = 0.0
) -> float:
    """Ratio of reactance to resistance behind the current to earth, two lines to earth. [-]"""
    _fault_loop(z2_ohm)
    z0f = z0_ohm + 3.0 * fault_resistance_ohm
    return _ratio(z0f + z1_ohm + z1_ohm * z0f / z2_ohm)


def _ratio(total_ohm: complex) -> float:
    _fault_loop(total_ohm)
    need(
        total_ohm.real > 0.0,
        f"the fault loop has a resistance of {total_ohm.real!r} ohm, so X/R is not defined",
    )
    return total_ohm.imag / total_ohm.real


@equation(
    "T_a",
    "s",
    source="IEEE Std 80-2000, Eq. (74); IEEE Std 80-2013, same clause (15.10)",
    symbols="XR f",
    form="XR/(2*pi*f)",
    evidence="from memory",
    name="time constant of the direct-current offset",
)
def dc_time_constant(x_over_r: float, frequency_hz: float) -> float:
    """Time constant of the direct-current offset. [s]"""
    need_positive(x_over_r=x_over_r, frequency_hz=frequency_hz)
    return x_over_r / (2.0 * math.pi * frequency_hz)


@equation(
    "D_f",
    "",
    source="IEEE Std 80-2000, Eq. (79); IEEE Std 80-2013, Eq. (84)",
    symbols="T_a t_f",
    form="sqrt(1 + T_a/t_f*(1 - exp(-2*t_f/T_a)))",
    evidence=_CHECKED,
)
def decrement_factor(dc_time_constant_s: float, fault_time_s: float) -> float:
    """Ratio of the effective asymmetrical to the symmetrical current over the fault's duration. [-]

    Assumes the fault at the instant of the largest offset and a constant alternating component.
    """
    need_positive(dc_time_constant_s=dc_time_constant_s, fault_time_s=fault_time_s)
    ratio = fault_time_s / dc_time_constant_s
    return math.sqrt(1.0 - math.expm1(-2.0 * ratio) / ratio)


@equation(
    "I_G",
    "A",
    source="IEEE Std 80-2000, Eq. (63), (64) with growth factor; IEEE Std 80-2013, Eq. (69)",
    symbols="D_f S_f C_p I_f",
    form="D_f*S_f*C_p*I_f",
    valid=("D_f >= 1", "S_f <= 1", "C_p >= 1"),
    evidence=_CHECKED,
)
def maximum_grid_current(
    decrement_factor: float, split_factor: float, growth_factor: float, earth_fault_current_a: float
) -> float:
    """Largest effective current between the mat and the surrounding earth. [A]"""
    need_positive(
        decrement_factor=decrement_factor,
        split_factor=split_factor,
        growth_factor=growth_factor,
        earth_fault_current_a=earth_fault_current_a,
    )
    return decrement_factor * split_factor * growth_factor * earth_fault_current_a


def _heat_term(tcap: float, alpha: float, rho: float, k0: float, hot_c: float, cold_c: float) -> float:
    need_positive(
        heat_capacity_j_per_cm3_k=tcap,
        temperature_coefficient_per_k=alpha,
        resistivity_uohm_cm=rho,
    )
    need(hot_c > cold_c, f"final temperature {hot_c!r} degC must be above the initial {cold_c!r} degC")
    need(k0 + cold_c > 0.0, f"K0 + initial temperature must be above zero, got {k0 + cold_c!r}")
    return tcap * 1e-4 / (alpha * rho) * math.log((k0 + hot_c) / (k0 + cold_c))


@equation(
    "A",
    "mm2",
    source="IEEE Std 80-2000 and 80-2013, Eq. (37)",
    symbols="I t TCAP alpha_r rho_r K_0 T_m T_a",
    form="I/1000/sqrt(TCAP*1e-4/(t*alpha_r*rho_r)*log((K_0 + T_m)/(K_0 + T_a)))",
    valid=("t <= 5",),
    evidence=_CHECKED,
    name="conductor section",
)
def conductor_area_ieee(
    current_a: float,
    time_s: float,
    heat_capacity_j_per_cm3_k: float,
    temperature_coefficient_per_k: float,
    resistivity_uohm_cm: float,
    k0_c: float,
    max_temperature_c: float,
    initial_temperature_c: float,
) -> float:
    """Section that reaches the final temperature when no heat leaves it (adiabatic). [mm2]"""
    need_positive(current_a=current_a, time_s=time_s)
    heat = _heat_term(
        heat_capacity_j_per_cm3_k,
        temperature_coefficient_per_k,
        resistivity_uohm_cm,
        k0_c,
        max_temperature_c,
        initial_temperature_c,
    )
    return current_a / 1000.0 * math.sqrt(time_s / heat)


@equation(
    "t",
    "s",
    source="IEEE Std 80-2000 and 80-2013, Eq. (37), solved for the time",
    symbols="I A TCAP alpha_r rho_r K_0 T_m T_a",
    form="(1000*A/I)**2*TCAP*1e-4/(alpha_r*rho_r)*log((K_0 + T_m)/(K_0 + T_a))",
    evidence=_CHECKED,
    name="time to reach the final temperature",
)
def conductor_time_ieee(
    current_a: float,
    area_mm2: float,
    heat_capacity_j_per_cm3_k: float,
    temperature_coefficient_per_k: float,
    resistivity_uohm_cm: float,
    k0_c: float,
    max_temperature_c: float,
    initial_temperature_c: float,
) -> float:
    """Time after which a section reaches the final temperature. [s]"""
    need_positive(current_a=current_a, area_mm2=area_mm2)
    heat = _heat_term(
        heat_capacity_j_per_cm3_k,
        temperature_coefficient_per_k,
        resistivity_uohm_cm,
        k0_c,
        max_temperature_c,
        initial_temperature_c,
    )
    return (1000.0 * area_mm2 / current_a) ** 2 * heat


@equation(
    "K_f",
    "kcmil/(kA sqrt(s))",
    source="IEEE Std 80-2000, Eq. (42) and Table 2; IEEE Std 80-2013, Eq. (47) and Table 2",
    symbols="TCAP alpha_r rho_r K_0 T_m T_a",
    form="1.97353/sqrt(TCAP*1e-4/(alpha_r*rho_r)*log((K_0 + T_m)/(K_0 + T_a)))",
    evidence=_CHECKED,
    name="constant of the simplified section formula",
)
def conductor_kf(
    heat_capacity_j_per_cm3_k: float,
    temperature_coefficient_per_k: float,
    resistivity_uohm_cm: float,
    k0_c: float,
    max_temperature_c: float,
    initial_temperature_c: float,
) -> float:
    """Constant that gives the section in kcmil per kA at one second. [kcmil/(kA sqrt(s))]"""
    heat = _heat_term(
        heat_capacity_j_per_cm3_k,
        temperature_coefficient_per_k,
        resistivity_uohm_cm,
        k0_c,
        max_temperature_c,
        initial_temperature_c,
    )
    return KCMIL_PER_MM2 / math.sqrt(heat)


@equation(
    "A",
    "kcmil",
    source="IEEE Std 80-2000, Eq. (42); IEEE Std 80-2013, Eq. (47)",
    symbols="I K_f t",
    form="I/1000*K_f*sqrt(t)",
    valid=("t <= 5",),
    evidence=_CHECKED,
    name="conductor section, simplified",
)
def conductor_area_kf(current_a: float, kf: float, time_s: float) -> float:
    """Section in thousand circular mils from the tabulated constant. [kcmil]"""
    need_positive(current_a=current_a, kf=kf, time_s=time_s)
    return current_a / 1000.0 * kf * math.sqrt(time_s)
