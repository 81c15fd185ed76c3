"""IEEE Std 142: groups of rods one rod length apart."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from evenground.provenance import equation
from evenground.standards._checks import need_positive

__all__ = ["ROD_GROUP_FACTORS", "rod_group_resistance"]

ROD_GROUP_FACTORS: Mapping[int, float] = MappingProxyType(
    {2: 1.16, 3: 1.29, 4: 1.36, 8: 1.68, 12: 1.80, 16: 1.92, 20: 2.00, 24: 2.16}
)
"""Factor by number of rods; IEEE Std 142, from memory."""


@equation(
    "R_n",
    "ohm",
    source="IEEE Std 142, multiplying factors for multiple rods",
    symbols="R n F",
    form="F*R/n",
    valid=("n >= 2",),
    evidence="from memory",
    name="group of rods by factor",
)
def rod_group_resistance(single_resistance_ohm: float, rod_count: int, group_factor: float) -> float:
    """Rods one rod length apart, bonded. [ohm]"""
    need_positive(single_resistance_ohm=single_resistance_ohm, rod_count=rod_count, group_factor=group_factor)
    return group_factor * single_resistance_ohm / rod_count
