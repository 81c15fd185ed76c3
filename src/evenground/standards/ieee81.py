"""IEEE Std 81 (field tests of earthing): fall of potential, slope method, coupled leads, scaling."""

from __future__ import annotations

import math

from scipy.optimize import brentq

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "UNIFORM_POSITION",
    "apparent_resistance",
    "lead_mutual_reactance",
    "lead_mutual_resistance",
    "least_resistance",
    "scaled_voltage",
    "slope_coefficient",
    "slope_position",
]

UNIFORM_POSITION = (math.sqrt(5.0) - 1.0) / 2.0
"""Share of the distance to the current probe at which the potential probe reads the true resistance:
uniform soil and a small electrode only."""

_CARSON = "Carson's series, first terms; Bell System Technical Journal 5 (1926)"


@equation(
    "R_m",
    "ohm",
    source="IEEE Std 81-2012, fall of potential; superposition and reciprocity",
    symbols="R r_C r_P k_PC",
    form="R - r_C - r_P + k_PC",
)
def apparent_resistance(
    resistance_ohm: float, mat_to_current_ohm: float, mat_to_potential_ohm: float, probe_to_probe_ohm: float
) -> float:
    """What a fall-of-potential test reads. [ohm]

    The arguments are the true resistance and the mutual resistances between mat and current probe, mat and
    potential probe, and the two probes; the disturbance of the probes' field by the mat itself is left out.
    """
    need_positive(resistance_ohm=resistance_ohm)
    return resistance_ohm - mat_to_current_ohm - mat_to_potential_ohm + probe_to_probe_ohm


@equation(
    "mu",
    "",
    source="Tagg, Proc. IEE 117 (1970), slope method",
    symbols="R_1 R_2 R_3",
    form="(R_3 - R_2)/(R_2 - R_1)",
    evidence="from memory, cross-checked",
)
def slope_coefficient(r_20_ohm: float, r_40_ohm: float, r_60_ohm: float) -> float:
    """Change of slope from readings at 0.2, 0.4 and 0.6 of the current probe's distance. [-]"""
    need_positive(r_20_ohm=r_20_ohm, r_40_ohm=r_40_ohm, r_60_ohm=r_60_ohm)
    need(r_40_ohm != r_20_ohm, "the first two readings are equal: no slope")
    return (r_60_ohm - r_40_ohm) / (r_40_ohm - r_20_ohm)


def _slope_of_offset(a: float) -> float:
    def share(x: float) -> float:
        return -1.0 / (x + a) + 1.0 / (1.0 - x)

    return (share(0.6) - share(0.4)) / (share(0.4) - share(0.2))


@equation(
    "P_T/C",
    "",
    source="Tagg, Proc. IEE 117 (1970), slope method; derived here from a displaced electrical centre",
    symbols="mu",
    text="x of 1/(1 + a) + 1/(x + a) = 1/(1 - x), where the displacement a of the centre gives this mu",
    valid=("mu >= 0.4", "mu <= 1.59"),
    evidence="from memory, cross-checked",
)
def slope_position(slope: float) -> float:
    """Share of the current probe's distance at which the true resistance is read; uniform soil. [-]

    Raises
    ------
    OutOfRangeError
        When no displacement of the electrical centre explains the slope.
    """
    need_positive(slope=slope)
    low, high = -0.19, 20.0
    need(
        _slope_of_offset(low) < slope < _slope_of_offset(high),
        f"slope coefficient {slope!r} is outside the method",
    )
    a = float(brentq(lambda v: _slope_of_offset(v) - slope, low, high, xtol=1e-12))

    def balance(x: float) -> float:
        return 1.0 / (1.0 + a) + 1.0 / (x + a) - 1.0 / (1.0 - x)

    start = max(1e-9, 1e-9 - a)
    need(balance(start) > 0.0, f"slope coefficient {slope!r} is outside the method")
    return float(brentq(balance, start, 1.0 - 1e-12, xtol=1e-13))


@equation(
    "R_m'",
    "ohm/m",
    source=_CARSON,
    symbols="f",
    form="2*pi*f*4e-7*pi/8",
    evidence="from memory, cross-checked",
)
def lead_mutual_resistance(frequency_hz: float) -> float:
    """Real part of the mutual impedance of two long leads with common earth return. [ohm/m]"""
    need_positive(frequency_hz=frequency_hz)
    return 2.0 * math.pi * frequency_hz * 4e-7 * math.pi / 8.0


@equation(
    "X_m'",
    "ohm/m",
    source=_CARSON,
    symbols="f rho d",
    form="2*pi*f*2e-7*log(658.87*sqrt(rho/f)/d)",
    valid=("d <= 0.25*658.87*sqrt(rho/f)",),
    evidence="from memory, cross-checked",
)
def lead_mutual_reactance(frequency_hz: float, resistivity_ohm_m: float, spacing_m: float) -> float:
    """Mutual reactance of two parallel leads with common earth return, per metre of parallel run. [ohm/m]"""
    need_positive(frequency_hz=frequency_hz, resistivity_ohm_m=resistivity_ohm_m, spacing_m=spacing_m)
    depth = 658.87 * math.sqrt(resistivity_ohm_m / frequency_hz)
    need(spacing_m < depth, f"leads {spacing_m!r} m apart are beyond the formula")
    return 2.0 * math.pi * frequency_hz * 2e-7 * math.log(depth / spacing_m)


@equation(
    "U_F",
    "V",
    source="linearity of conduction; common practice of injection tests",
    symbols="U_t I_t I_G",
    form="U_t*I_G/I_t",
)
def scaled_voltage(voltage_v: float, test_current_a: float, fault_current_a: float) -> float:
    """Voltage of a test scaled to the current the mat takes in the fault. [V]

    ``test_current_a`` is the part of the test current that the mat itself put into the soil.
    """
    need_positive(voltage_v=voltage_v, test_current_a=test_current_a, fault_current_a=fault_current_a)
    return voltage_v * fault_current_a / test_current_a


@equation(
    "R_min",
    "ohm",
    source="a larger electrode has the lower resistance; half spheroid around the cylinder, potential theory",
    symbols="rho b d",
    text="resistance of a half spheroid of radius b p and depth d q that holds the cylinder of radius b and "
    "depth d: 1/p^2 + 1/q^2 = 1, p^2 = 1 + (2 d/(pi b))^(2/3)",
    valid=("d <= b",),
)
def least_resistance(resistivity_ohm_m: float, radius_m: float, depth_m: float) -> float:
    """Resistance that no metal within a circle in plan and down to a depth can fall below. [ohm]

    Uniform soil. A reading below it means that something else is connected, or that it is wrong.
    """
    need_positive(resistivity_ohm_m=resistivity_ohm_m, radius_m=radius_m, depth_m=depth_m)
    need(depth_m <= radius_m, "the depth must not exceed the radius")
    share = math.pow(2.0 * depth_m / (math.pi * radius_m), 2.0 / 3.0)
    wide = radius_m * math.sqrt(1.0 + share)
    deep = depth_m * math.sqrt((1.0 + share) / share)
    if deep < wide:
        focus = math.sqrt((wide - deep) * (wide + deep))
        return resistivity_ohm_m / (2.0 * math.pi * focus) * math.atan2(focus, deep)
    focus = math.sqrt((deep - wide) * (deep + wide))
    if focus < 1e-6 * wide:
        return resistivity_ohm_m / (2.0 * math.pi * wide)
    return resistivity_ohm_m / (2.0 * math.pi * focus) * math.log((deep + focus) / wide)
