"""EN 50522: conductor section (Annex D), electrode resistances (Annex J), permissible touch voltages."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "BODY_IMPEDANCE_50_PERCENT",
    "FIBRILLATION_CURRENT_A",
    "PERMISSIBLE_TOUCH_VOLTAGE_2010",
    "PERMISSIBLE_TOUCH_VOLTAGE_2022",
    "TOUCH_PATHS",
    "TouchPath",
    "conductor_area_en",
    "mesh_resistance",
    "path_touch_voltage",
    "permissible_touch_voltage_from_current",
    "ring_resistance",
    "rod_resistance",
    "strip_resistance",
    "touch_voltage_with_resistance",
]


@equation(
    "A",
    "mm2",
    source="EN 50522, Annex D",
    symbols="I t_f K beta T_f T_i",
    form="I/K*sqrt(t_f/log((T_f + beta)/(T_i + beta)))",
    valid=("t_f <= 5",),
    evidence="from memory, cross-checked",
    name="conductor section",
)
def conductor_area_en(
    current_a: float,
    time_s: float,
    k_as_per_mm2: float,
    beta_c: float,
    max_temperature_c: float,
    initial_temperature_c: float,
) -> float:
    """Section that reaches the final temperature when no heat leaves it (adiabatic, up to 5 s). [mm2]"""
    need_positive(current_a=current_a, time_s=time_s, k_as_per_mm2=k_as_per_mm2)
    hot, cold = max_temperature_c + beta_c, initial_temperature_c + beta_c
    need(
        hot > cold > 0.0,
        f"final temperature {max_temperature_c!r} degC must be above initial {initial_temperature_c!r}",
    )
    return current_a / k_as_per_mm2 * math.sqrt(time_s / math.log(hot / cold))


@equation(
    "R_E",
    "ohm",
    source="EN 50522, Annex J (horizontal wire or strip)",
    symbols="rho L d",
    form="rho/(pi*L)*log(2*L/d)",
    valid=("d < L/10",),
    evidence="from memory",
    name="horizontal electrode resistance, EN 50522",
)
def strip_resistance(resistivity_ohm_m: float, length_m: float, diameter_m: float) -> float:
    """Straight horizontal wire; for a strip the diameter is half its width. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, diameter_m=diameter_m)
    return resistivity_ohm_m / (math.pi * length_m) * math.log(2.0 * length_m / diameter_m)


@equation(
    "R_E",
    "ohm",
    source="EN 50522, Annex J (ring)",
    symbols="rho D d",
    form="rho/(pi**2*D)*log(2*pi*D/d)",
    valid=("d < D/10",),
    evidence="from memory",
    name="ring electrode resistance, EN 50522",
)
def ring_resistance(resistivity_ohm_m: float, ring_diameter_m: float, wire_diameter_m: float) -> float:
    """Horizontal ring; for a strip the wire diameter is half its width. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, ring_diameter_m=ring_diameter_m, wire_diameter_m=wire_diameter_m
    )
    D, d = ring_diameter_m, wire_diameter_m
    return resistivity_ohm_m / (math.pi**2 * D) * math.log(2.0 * math.pi * D / d)


@equation(
    "R_E",
    "ohm",
    source="EN 50522, Annex J (vertical rod)",
    symbols="rho L d",
    form="rho/(2*pi*L)*log(4*L/d)",
    valid=("d < L/10",),
    evidence="from memory",
    name="rod resistance, EN 50522",
)
def rod_resistance(resistivity_ohm_m: float, length_m: float, diameter_m: float) -> float:
    """Vertical rod from the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, diameter_m=diameter_m)
    return resistivity_ohm_m / (2.0 * math.pi * length_m) * math.log(4.0 * length_m / diameter_m)


@equation(
    "R_E",
    "ohm",
    source="EN 50522, Annex J (mesh), with D = 1.15 sqrt(A)",
    symbols="rho A",
    form="rho/(2*1.15*sqrt(A))",
    evidence="from memory",
    name="mesh resistance, EN 50522",
)
def mesh_resistance(resistivity_ohm_m: float, area_m2: float) -> float:
    """Mat as a disc of equal area. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, area_m2=area_m2)
    return resistivity_ohm_m / (2.0 * 1.15 * math.sqrt(area_m2))


PERMISSIBLE_TOUCH_VOLTAGE_2010: tuple[tuple[float, float], ...] = (
    (0.05, 716.0),
    (0.10, 654.0),
    (0.20, 537.0),
    (0.50, 220.0),
    (1.00, 117.0),
    (2.00, 96.0),
    (5.00, 86.0),
    (10.00, 85.0),
)
"""Fault duration [s] and U_Tp [V], EN 50522:2010 Table B.3 (found)."""

PERMISSIBLE_TOUCH_VOLTAGE_2022: tuple[tuple[float, float], ...] = (
    (0.05, 725.0),
    (0.10, 655.0),
    (0.20, 525.0),
    (0.50, 225.0),
    (1.00, 115.0),
    (2.00, 95.0),
    (5.00, 85.0),
    (10.00, 85.0),
)
"""Fault duration [s] and U_Tp [V], EN 50522:2022 Table B.4 (found)."""

FIBRILLATION_CURRENT_A: tuple[tuple[float, float], ...] = (
    (0.05, 0.900),
    (0.10, 0.750),
    (0.20, 0.600),
    (0.50, 0.200),
    (1.00, 0.080),
    (2.00, 0.060),
    (5.00, 0.051),
    (10.00, 0.050),
)
"""Duration [s] and body current [A] of curve c2; from memory. The values at 0.10 and 0.20 s are doubtful:
the published voltages need 0.81 and 0.64 A."""

BODY_IMPEDANCE_50_PERCENT: tuple[tuple[float, float], ...] = (
    (25.0, 3250.0),
    (50.0, 2500.0),
    (75.0, 2000.0),
    (100.0, 1725.0),
    (125.0, 1550.0),
    (150.0, 1400.0),
    (175.0, 1325.0),
    (200.0, 1275.0),
    (225.0, 1225.0),
    (400.0, 950.0),
    (500.0, 850.0),
    (700.0, 775.0),
    (1000.0, 775.0),
)
"""Touch voltage [V] and hand-to-hand body impedance [ohm] not exceeded by 50 % of people,
IEC TS 60479-1:2005 Table 1 (from memory, confirmed through U_Tp)."""


@dataclass(frozen=True, slots=True)
class TouchPath:
    """A current path through the body: heart-current factor, body factor, factor on the voltage."""

    name: str
    heart_factor: float
    body_factor: float
    voltage_factor: float = 1.0


TOUCH_PATHS: tuple[TouchPath, ...] = (
    TouchPath("left hand to both feet", 1.0, 0.75),
    TouchPath("right hand to both feet", 0.8, 0.75),
    TouchPath("both hands to both feet", 1.0, 0.5),
    TouchPath("hand to hand", 0.4, 1.0, 0.7),
)
"""Paths averaged in EN 50522 Annex B (from memory, confirmed by the table of 2010)."""


def _interpolated(points: Sequence[tuple[float, float]], x: float) -> float:
    """Linear between points; constant outside the ends."""
    if x <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if x <= x1:
            return y0 + (x - x0) / (x1 - x0) * (y1 - y0)
    return points[-1][1]


def path_touch_voltage(body_current_a: float, path: TouchPath) -> float:
    """Touch voltage that drives the current through one path, body impedance by voltage. [V]

    Solves U = (I_B/HF) BF Z_T(U) with the 50 % impedance, by bisection.

    Raises
    ------
    OutOfRangeError
        When the solution lies below the first voltage of the impedance table.
    NotConvergedError
        Should the bisection not close.
    """
    need_positive(body_current_a=body_current_a)
    scale = body_current_a / path.heart_factor * path.body_factor

    def rest(voltage_v: float) -> float:
        return voltage_v - scale * _interpolated(BODY_IMPEDANCE_50_PERCENT, voltage_v)

    low, high = BODY_IMPEDANCE_50_PERCENT[0][0], 1e5
    if rest(low) > 0.0:
        raise OutOfRangeError(
            f"touch voltage for {body_current_a!r} A lies below {low} V, where the table starts"
        )
    for _ in range(200):
        middle = 0.5 * (low + high)
        if rest(middle) > 0.0:
            high = middle
        else:
            low = middle
        if high - low < 1e-9 * high:
            return 0.5 * (low + high)
    raise NotConvergedError(f"touch voltage for {body_current_a!r} A: bracket {low} to {high} V")


@equation(
    "U_Tp",
    "V",
    source="EN 50522, Annex B, with IEC TS 60479-1",
    symbols="I_B",
    text="mean over left hand to feet, right hand to feet, both hands to feet and 0.7 times hand to hand "
    "of the voltage U = (I_B/HF) BF Z_T(U); the sum is divided by 4",
    evidence="from memory, cross-checked",
    name="permissible touch voltage from the body current",
)
def permissible_touch_voltage_from_current(body_current_a: float) -> float:
    """Permissible touch voltage without additional resistances. [V]"""
    return sum(p.voltage_factor * path_touch_voltage(body_current_a, p) for p in TOUCH_PATHS) / len(
        TOUCH_PATHS
    )


@equation(
    "U_vTp",
    "V",
    source="EN 50522, Annex B, additional resistances",
    symbols="U_Tp R_a I_B",
    form="U_Tp + R_a*I_B",
    evidence="from memory",
    name="prospective touch voltage with footwear and standing surface",
)
def touch_voltage_with_resistance(
    permissible_touch_voltage_v: float, additional_resistance_ohm: float, body_current_a: float
) -> float:
    """Prospective permissible touch voltage. [V]

    The additional resistance is that of footwear (1000 ohm, old and wet) plus 1.5 times the resistivity of
    the standing surface.
    """
    need_positive(permissible_touch_voltage_v=permissible_touch_voltage_v, body_current_a=body_current_a)
    need(additional_resistance_ohm >= 0.0, "the additional resistance must not be negative")
    return permissible_touch_voltage_v + additional_resistance_ohm * body_current_a
