"""IEEE Std 80, Annex C: overhead line impedances with earth return, and the share that the mat takes."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from types import MappingProxyType

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "EQUIVALENT_IMPEDANCE_LOW",
    "EQUIVALENT_IMPEDANCE_TOWERS_100",
    "earth_return_depth",
    "earth_return_reactance",
    "earth_return_resistance",
    "endless_ladder_approximate",
    "endless_ladder_impedance",
    "split_factor_from_impedance",
]

_FOUND = "found"
MILE_KM = 1.609344
"""Kilometres in one mile."""


@equation(
    "r_e",
    "ohm/mile",
    source="IEEE Std 80-2000, Annex C",
    symbols="f",
    form="0.00477*f",
    evidence=_FOUND,
    name="earth-return resistance, three times that of one wire",
)
def earth_return_resistance(frequency_hz: float) -> float:
    """Earth-return term of the zero-sequence resistance. [ohm/mile]"""
    need_positive(frequency_hz=frequency_hz)
    return 0.00477 * frequency_hz


@equation(
    "x_e",
    "ohm/mile",
    source="IEEE Std 80-2000, Annex C",
    symbols="f rho",
    form="0.006985*f*log10(4.6655e6*rho/f)",
    evidence=_FOUND,
    name="earth-return reactance, three times that of one wire",
)
def earth_return_reactance(frequency_hz: float, resistivity_ohm_m: float) -> float:
    """Earth-return term of the zero-sequence reactance. [ohm/mile]"""
    need_positive(frequency_hz=frequency_hz, resistivity_ohm_m=resistivity_ohm_m)
    argument = 4.6655e6 * resistivity_ohm_m / frequency_hz
    return 0.006985 * frequency_hz * math.log10(argument)


@equation(
    "D_e",
    "m",
    source="Carson, first terms of the series; common practice",
    symbols="rho f",
    form="658.5*sqrt(rho/f)",
    evidence="from memory, cross-checked",
    name="equivalent depth of the earth return",
)
def earth_return_depth(resistivity_ohm_m: float, frequency_hz: float) -> float:
    """Depth at which one return wire would stand for the earth. [m]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, frequency_hz=frequency_hz)
    return 658.5 * math.sqrt(resistivity_ohm_m / frequency_hz)


@equation(
    "Z",
    "ohm",
    source="ladder of equal spans and towers without end (network theory)",
    symbols="Z_s R_t",
    text="(Z_s + sqrt(Z_s^2 + 4 Z_s R_t))/2, principal root: seen from the station, starting with a span",
    name="endless ladder of ground wire and towers",
)
def endless_ladder_impedance(span_ohm: complex, tower_ohm: float) -> complex:
    """Driving-point impedance of an endless ground wire with towers. [ohm]"""
    need_positive(tower_ohm=tower_ohm)
    need(abs(span_ohm) > 0.0, "the span's impedance is zero")
    return (span_ohm + cmath.sqrt(span_ohm * (span_ohm + 4.0 * tower_ohm))) / 2.0


@equation(
    "Z",
    "ohm",
    source="common practice for short spans",
    symbols="Z_s R_t",
    text="Z_s/2 + sqrt(Z_s R_t)",
    name="endless ladder, usual approximation",
)
def endless_ladder_approximate(span_ohm: complex, tower_ohm: float) -> complex:
    """Usual approximation of the endless ladder. [ohm]"""
    need_positive(tower_ohm=tower_ohm)
    return span_ohm / 2.0 + cmath.sqrt(span_ohm * tower_ohm)


@equation(
    "S_f",
    "",
    source="IEEE Std 80-2000, Annex C (Garrett, Patel); current division",
    symbols="Z_eq R_g",
    form="abs(Z_eq/(Z_eq + R_g))",
    evidence="from memory, cross-checked",
)
def split_factor_from_impedance(equivalent_ohm: complex, mat_resistance_ohm: float) -> float:
    """Share of the earth-fault current that leaves through the mat. [-]

    ``equivalent_ohm`` stands for all ground wires and neutrals in parallel; for faults fed from afar.
    """
    need_positive(mat_resistance_ohm=mat_resistance_ohm)
    need(abs(equivalent_ohm) > 0.0, "the equivalent impedance is zero")
    return abs(equivalent_ohm / (equivalent_ohm + mat_resistance_ohm))


EQUIVALENT_IMPEDANCE_LOW: Mapping[tuple[int, int], complex] = MappingProxyType(
    {
        (1, 1): 0.91 + 0.485j,
        (1, 2): 0.54 + 0.33j,
        (1, 4): 0.295 + 0.20j,
        (2, 2): 0.455 + 0.241j,
        (4, 4): 0.23 + 0.12j,
        (0, 1): 1.29 + 0.967j,
    }
)
"""(lines, feeders) -> impedance [ohm] for tower footings of 15 ohm and feeder grounds of 25 ohm.
IEEE Std 80-2000, Table C.1, from memory, cross-checked."""

EQUIVALENT_IMPEDANCE_TOWERS_100: Mapping[tuple[int, int], complex] = MappingProxyType(
    {
        (1, 1): 3.27 + 0.652j,
        (1, 2): 2.18 + 0.412j,
        (1, 4): 1.32 + 0.244j,
        (2, 2): 1.63 + 0.324j,
        (4, 4): 0.817 + 0.16j,
    }
)
"""The same for tower footings of 100 ohm and feeder grounds of 200 ohm."""
