"""Limits on what leaves the site: low-voltage installations, telecommunication plant, lasting voltages."""

from __future__ import annotations

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = ["equipment_stress_voltage", "tn_rise_limit", "tt_rise_limit"]


@equation(
    "U_E",
    "V",
    source="EN 50522, Table 2 (formerly HD 637 S1); IEC 60364-4-44, TT system",
    symbols="t_f",
    form="1200 if t_f <= 5 else 250",
    evidence="found",
    text="250 V for more than 5 s is from memory, the copy seen is cut there",
    name="potential rise allowed with a common earth of a TT system",
)
def tt_rise_limit(fault_time_s: float) -> float:
    """Potential rise for which the low-voltage neutral may stay on the common earth: equipment stress. [V]"""
    need_positive(fault_time_s=fault_time_s)
    return 1200.0 if fault_time_s <= 5.0 else 250.0


@equation(
    "U_2",
    "V",
    source="IEC 60364-4-44, power-frequency stress voltage",
    symbols="U_0 t_f",
    form="U_0 + (1200 if t_f <= 5 else 250)",
    evidence="from memory",
    name="stress voltage of low-voltage equipment",
)
def equipment_stress_voltage(line_to_neutral_voltage_v: float, fault_time_s: float) -> float:
    """Power-frequency stress that low-voltage equipment must bear. [V]"""
    need_positive(line_to_neutral_voltage_v=line_to_neutral_voltage_v)
    return line_to_neutral_voltage_v + tt_rise_limit(fault_time_s)


@equation(
    "U_E",
    "V",
    source="EN 50522, Table 2, TN system",
    symbols="F U_Tp",
    form="F*U_Tp",
    valid=("2 <= F", "F <= 5"),
    evidence="from memory",
    name="potential rise allowed with a common earth of a TN system",
)
def tn_rise_limit(multiple: float, permissible_touch_voltage_v: float) -> float:
    """Potential rise for which the PEN conductor may stay on the common earth. [V]

    The multiple is 2, and up to 5 where the PEN conductor is earthed at many places.
    """
    need(multiple > 0.0, f"multiple must be above zero, got {multiple!r}")
    need_positive(permissible_touch_voltage_v=permissible_touch_voltage_v)
    return multiple * permissible_touch_voltage_v
