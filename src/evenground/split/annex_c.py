"""IEEE Std 80, Annex C: sequence impedances of a line with shield wires, ohm per mile, feet inside.

Older practice; the network uses Carson's series in SI. Kept as a cross-check and for data given so.
Per mile and 1 ft spacing: ``xa`` is the reactance of the wire to 1 ft, ``xd`` the spacing factor.
"""

from __future__ import annotations

import math

from evenground.provenance import equation

__all__ = [
    "positive_sequence_impedance",
    "spacing_reactance",
    "zero_sequence_impedance",
    "zero_sequence_one_shield_wire",
    "zero_sequence_two_shield_wires",
]

_SOURCE = "IEEE Std 80-2000, Annex C"


@equation(
    "x_d",
    "ohm/mile",
    source=_SOURCE,
    symbols="f d",
    form="0.2794*(f/60)*log10(d)",
    evidence="found",
)
def spacing_reactance(frequency_hz: float, distance_ft: float) -> float:
    """Reactance factor of a spacing given in feet. [ohm/mile]"""
    return 0.2794 * (frequency_hz / 60.0) * math.log10(distance_ft)


@equation(
    "Z_1", "ohm/mile", source=_SOURCE, symbols="r_a x_a x_d", form="r_a + 1j*(x_a + x_d)", evidence="found"
)
def positive_sequence_impedance(r_a: float, x_a: float, x_d: float) -> complex:
    """Positive-sequence impedance of the phases. [ohm/mile]"""
    return complex(r_a, x_a + x_d)


@equation(
    "Z_0",
    "ohm/mile",
    source=_SOURCE,
    symbols="r_a x_a r_e x_e x_d",
    form="r_a + r_e + 1j*(x_a + x_e - 2*x_d)",
    evidence="found",
)
def zero_sequence_impedance(r_a: float, x_a: float, r_e: float, x_e: float, x_d: float) -> complex:
    """Zero-sequence self impedance of the phases. [ohm/mile]"""
    return complex(r_a + r_e, x_a + x_e - 2.0 * x_d)


@equation(
    "Z_0",
    "ohm/mile",
    source=_SOURCE,
    symbols="r_a x_a r_e x_e",
    form="3*r_a + r_e + 1j*(3*x_a + x_e)",
    evidence="found",
)
def zero_sequence_one_shield_wire(r_a: float, x_a: float, r_e: float, x_e: float) -> complex:
    """Zero-sequence self impedance of one shield wire. [ohm/mile]"""
    return complex(3.0 * r_a + r_e, 3.0 * x_a + x_e)


@equation(
    "Z_0",
    "ohm/mile",
    source=_SOURCE,
    symbols="r_a x_a r_e x_e x_d",
    form="1.5*r_a + r_e + 1j*(1.5*x_a + x_e - 1.5*x_d)",
    evidence="found",
)
def zero_sequence_two_shield_wires(r_a: float, x_a: float, r_e: float, x_e: float, x_d: float) -> complex:
    """Zero-sequence self impedance of two shield wires, ``x_d`` for their spacing. [ohm/mile]"""
    return complex(1.5 * r_a + r_e, 1.5 * x_a + x_e - 1.5 * x_d)
