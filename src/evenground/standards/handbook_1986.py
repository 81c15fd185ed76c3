"""Forms of IEEE Std 80-1986 as a handbook of the trade uses them; to reproduce older calculations only.

Sheldrake, Handbook of Electrical Engineering (Wiley, 2003), Appendix H. Some choices are the handbook's
own: it applies the surface layer's resistivity to the horizontal conductors, and counts the nodes of one
side where Schwarz's rod term has the number of rods. New designs use :mod:`evenground.standards.ieee80`.
"""

from __future__ import annotations

import math

import numpy as np

from evenground.provenance import equation
from evenground.standards._checks import need_positive
from evenground.standards._series import image_sum

__all__ = [
    "effective_length_1986",
    "irregularity_factor_1986",
    "rods_resistance_handbook",
    "surface_factor_1986",
]

_BOOK = "IEEE Std 80-1986, as in Sheldrake, Handbook of Electrical Engineering (2003), Appendix H"


@equation(
    "C_s",
    "",
    source=_BOOK,
    symbols="rho rho_s h_s",
    text="1/0.96 times 1 + 2 times the sum over n >= 1 of K^n/sqrt(1 + (2 n h_s/0.08)^2), "
    "K = (rho - rho_s)/(rho + rho_s)",
    evidence="found",
    name="surface layer factor of 1986",
)
def surface_factor_1986(
    resistivity_ohm_m: float, surface_resistivity_ohm_m: float, thickness_m: float
) -> float:
    """Factor of the foot's resistance in the form of 1986: far lower than the later one. [-]

    Raises
    ------
    NotConvergedError
        When the contrast is so great that the series is endless.
    """
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        surface_resistivity_ohm_m=surface_resistivity_ohm_m,
        thickness_m=thickness_m,
    )
    k = (resistivity_ohm_m - surface_resistivity_ohm_m) / (resistivity_ohm_m + surface_resistivity_ohm_m)
    total = image_sum(k, lambda n: 1.0 / np.sqrt(1.0 + (2.0 * thickness_m / 0.08 * n) ** 2))
    return (1.0 + 2.0 * total) / 0.96


@equation(
    "K_i",
    "",
    source=_BOOK,
    symbols="n",
    form="0.656 + 0.172*n",
    evidence="found",
    name="irregularity factor of 1986",
)
def irregularity_factor_1986(n: float) -> float:
    """Correction for the uneven leakage; n is the number of conductors along one side. [-]"""
    need_positive(n=n)
    return 0.656 + 0.172 * n


@equation(
    "L",
    "m",
    source=_BOOK,
    symbols="L_C L_R",
    form="L_C + 1.15*L_R",
    evidence="found",
    name="effective length of 1986",
)
def effective_length_1986(conductor_length_m: float, total_rod_length_m: float) -> float:
    """Length for the mesh voltage with rods along the perimeter. [m]"""
    need_positive(conductor_length_m=conductor_length_m, total_rod_length_m=total_rod_length_m)
    return conductor_length_m + 1.15 * total_rod_length_m


@equation(
    "R_22",
    "ohm",
    source="Sheldrake, Handbook of Electrical Engineering (2003), Appendix H",
    symbols="rho n l d A k_1",
    form="rho/(2*pi*n*l)*(log(8*l/d) - 1 + 2*k_1*l/sqrt(A)*(sqrt(n) - 1)**2)",
    evidence="found",
    name="rod term of the handbook",
)
def rods_resistance_handbook(
    resistivity_ohm_m: float,
    nodes_per_side: int,
    rod_length_m: float,
    rod_diameter_m: float,
    area_m2: float,
    k1: float,
) -> float:
    """Schwarz's rod term with the nodes of one side in place of the number of rods. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        nodes_per_side=nodes_per_side,
        rod_length_m=rod_length_m,
        rod_diameter_m=rod_diameter_m,
        area_m2=area_m2,
    )
    crowd = 2.0 * k1 * rod_length_m / math.sqrt(area_m2) * (math.sqrt(nodes_per_side) - 1.0) ** 2
    single = math.log(8.0 * rod_length_m / rod_diameter_m) - 1.0
    return resistivity_ohm_m / (2.0 * math.pi * nodes_per_side * rod_length_m) * (single + crowd)
