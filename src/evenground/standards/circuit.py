"""Ohm's law where the report should show it."""

from __future__ import annotations

from evenground.provenance import equation

__all__ = ["ground_potential_rise"]


@equation(
    "U_E",
    "V",
    source="Ohm's law; earth potential rise of EN 50522, ground potential rise of IEEE Std 80",
    symbols="I_G R_g",
    form="I_G*R_g",
    name="earth potential rise",
)
def ground_potential_rise(grid_current_a: float, resistance_ohm: float) -> float:
    """Potential of the earthing system against remote earth. [V]"""
    return grid_current_a * resistance_ohm
