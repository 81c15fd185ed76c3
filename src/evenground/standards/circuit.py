"""Ohm's law where the report should show it."""

from __future__ import annotations

from evenground.provenance import equation

__all__ = ["ground_potential_rise", "lifted_potential_rise"]


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


@equation(
    "U_EN",
    "V",
    source="Superposition in a linear earth; k_N = |sum of R_mk I_k| / |R_mm I_m| of the phasor network",
    symbols="U_E k_N",
    form="k_N*U_E",
    name="earth potential rise with neighbouring earths",
)
def lifted_potential_rise(own_rise_v: float, soil_rise: float) -> float:
    """Potential rise where towers and other earths near the mat lift it through the soil. [V]"""
    return own_rise_v * soil_rise
