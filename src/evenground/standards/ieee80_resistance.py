"""IEEE Std 80: resistance of a mat in uniform soil by hand formulas.

Equation numbers are given for the 2000 edition and for the 2013 edition.
"""

from __future__ import annotations

import math

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "mat_resistance_disc",
    "mat_resistance_laurent",
    "mat_resistance_sverak",
    "schwarz_combined",
    "schwarz_grid",
    "schwarz_k1",
    "schwarz_k2",
    "schwarz_mutual",
    "schwarz_rods",
]

_CHECKED = "from memory, cross-checked"
_CURVES = ("1 <= x", "x <= 8", "0 <= h", "h <= sqrt(A)/6")


@equation(
    "R_g",
    "ohm",
    source="IEEE Std 80-2000, Eq. (50); IEEE Std 80-2013, Eq. (55)",
    symbols="rho A",
    form="rho/4*sqrt(pi/A)",
    evidence=_CHECKED,
    name="mat resistance, lower bound (disc of equal area)",
)
def mat_resistance_disc(resistivity_ohm_m: float, area_m2: float) -> float:
    """Resistance of a disc of the mat's area on the surface: a lower bound near the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, area_m2=area_m2)
    return resistivity_ohm_m / 4.0 * math.sqrt(math.pi / area_m2)


@equation(
    "R_g",
    "ohm",
    source="IEEE Std 80-2000, Eq. (51); IEEE Std 80-2013, Eq. (56) (Laurent, Niemann)",
    symbols="rho A L_T",
    form="rho/4*sqrt(pi/A) + rho/L_T",
    evidence=_CHECKED,
    name="mat resistance, Laurent and Niemann",
)
def mat_resistance_laurent(resistivity_ohm_m: float, area_m2: float, total_length_m: float) -> float:
    """Disc plus a term for the length of buried conductor, rods included. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, area_m2=area_m2, total_length_m=total_length_m)
    return resistivity_ohm_m / 4.0 * math.sqrt(math.pi / area_m2) + resistivity_ohm_m / total_length_m


@equation(
    "R_g",
    "ohm",
    source="IEEE Std 80-2000, Eq. (52); IEEE Std 80-2013, Eq. (57) (Sverak)",
    symbols="rho A L_T h",
    form="rho*(1/L_T + 1/sqrt(20*A)*(1 + 1/(1 + h*sqrt(20/A))))",
    valid=("0.25 <= h", "h <= 2.5"),
    evidence=_CHECKED,
    name="mat resistance, Sverak",
)
def mat_resistance_sverak(
    resistivity_ohm_m: float, area_m2: float, total_length_m: float, depth_m: float
) -> float:
    """Laurent and Niemann's form with the effect of depth. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, area_m2=area_m2, total_length_m=total_length_m)
    need(depth_m >= 0.0, f"depth_m must not be negative, got {depth_m!r}")
    depth_term = 1.0 + 1.0 / (1.0 + depth_m * math.sqrt(20.0 / area_m2))
    return resistivity_ohm_m * (1.0 / total_length_m + depth_term / math.sqrt(20.0 * area_m2))


_K1 = ((-0.04, 1.41), (-0.05, 1.20), (-0.05, 1.13))
_K2 = ((0.15, 5.50), (0.10, 4.68), (-0.05, 4.40))


def _interpolated(curves: tuple[tuple[float, float], ...], x: float, depth_m: float, area_m2: float) -> float:
    """Linear between the curves for depths 0, sqrt(A)/10 and sqrt(A)/6."""
    need_positive(length_to_width=x, area_m2=area_m2)
    relative = depth_m / math.sqrt(area_m2)
    need(
        0.0 <= relative <= 1.0 / 6.0 * (1.0 + 1e-12),
        f"depth {depth_m!r} m is beyond the deepest curve, sqrt(A)/6 = {math.sqrt(area_m2) / 6.0:.4g} m",
    )
    places = (0.0, 0.1, 1.0 / 6.0)
    values = [slope * x + start for slope, start in curves]
    i = 0 if relative <= places[1] else 1
    part = (relative - places[i]) / (places[i + 1] - places[i])
    return values[i] + part * (values[i + 1] - values[i])


@equation(
    "k_1",
    "",
    source="IEEE Std 80-2000, Figure 25 (a); IEEE Std 80-2013, Figure 24 (a)",
    symbols="x h A",
    text="-0.04x + 1.41 at depth 0 (curve A), -0.05x + 1.20 at sqrt(A)/10 (B), "
    "-0.05x + 1.13 at sqrt(A)/6 (C); linear in depth between the curves; x is length over width",
    valid=_CURVES,
    evidence=_CHECKED,
    name="Schwarz's coefficient k1",
)
def schwarz_k1(length_to_width: float, depth_m: float, area_m2: float) -> float:
    """Schwarz's first coefficient. [-]"""
    return _interpolated(_K1, length_to_width, depth_m, area_m2)


@equation(
    "k_2",
    "",
    source="IEEE Std 80-2000, Figure 25 (b); IEEE Std 80-2013, Figure 24 (b)",
    symbols="x h A",
    text="0.15x + 5.50 at depth 0 (curve A), 0.10x + 4.68 at sqrt(A)/10 (B), "
    "-0.05x + 4.40 at sqrt(A)/6 (C); linear in depth between the curves; x is length over width",
    valid=_CURVES,
    evidence=_CHECKED,
    name="Schwarz's coefficient k2",
)
def schwarz_k2(length_to_width: float, depth_m: float, area_m2: float) -> float:
    """Schwarz's second coefficient. [-]"""
    return _interpolated(_K2, length_to_width, depth_m, area_m2)


@equation(
    "R_1",
    "ohm",
    source="IEEE Std 80-2000, Eq. (54); IEEE Std 80-2013, Eq. (59) (Schwarz)",
    symbols="rho L_C a h A k_1 k_2",
    form="rho/(pi*L_C)*(log(2*L_C/(sqrt(2*a*h) if h > 0 else a)) + k_1*L_C/sqrt(A) - k_2)",
    evidence=_CHECKED,
    name="Schwarz's resistance of the horizontal conductors",
)
def schwarz_grid(
    resistivity_ohm_m: float,
    conductor_length_m: float,
    radius_m: float,
    depth_m: float,
    area_m2: float,
    k1: float,
    k2: float,
) -> float:
    """Resistance of the horizontal conductors alone. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        conductor_length_m=conductor_length_m,
        radius_m=radius_m,
        area_m2=area_m2,
    )
    need(depth_m >= 0.0, f"depth_m must not be negative, got {depth_m!r}")
    length = conductor_length_m
    a = math.sqrt(2.0 * radius_m * depth_m) if depth_m > 0.0 else radius_m
    return (
        resistivity_ohm_m
        / (math.pi * length)
        * (math.log(2.0 * length / a) + k1 * length / math.sqrt(area_m2) - k2)
    )


@equation(
    "R_2",
    "ohm",
    source="IEEE Std 80-2000, Eq. (55); IEEE Std 80-2013, Eq. (60) (Schwarz)",
    symbols="rho n_R L_r b A k_1",
    form="rho/(2*pi*n_R*L_r)*(log(4*L_r/b) - 1 + 2*k_1*L_r/sqrt(A)*(sqrt(n_R) - 1)**2)",
    evidence=_CHECKED,
    name="Schwarz's resistance of the rods",
)
def schwarz_rods(
    resistivity_ohm_m: float,
    rod_count: int,
    rod_length_m: float,
    rod_radius_m: float,
    area_m2: float,
    k1: float,
) -> float:
    """Resistance of all rods in parallel, spread over the mat's area. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        rod_count=rod_count,
        rod_length_m=rod_length_m,
        rod_radius_m=rod_radius_m,
        area_m2=area_m2,
    )
    crowd = 2.0 * k1 * rod_length_m / math.sqrt(area_m2) * (math.sqrt(rod_count) - 1.0) ** 2
    single = math.log(4.0 * rod_length_m / rod_radius_m) - 1.0
    return resistivity_ohm_m / (2.0 * math.pi * rod_count * rod_length_m) * (single + crowd)


@equation(
    "R_m",
    "ohm",
    source="IEEE Std 80-2000, Eq. (56); IEEE Std 80-2013, Eq. (61) (Schwarz)",
    symbols="rho L_C L_r A k_1 k_2",
    form="rho/(pi*L_C)*(log(2*L_C/L_r) + k_1*L_C/sqrt(A) - k_2 + 1)",
    evidence=_CHECKED,
    name="Schwarz's mutual resistance of conductors and rods",
)
def schwarz_mutual(
    resistivity_ohm_m: float,
    conductor_length_m: float,
    rod_length_m: float,
    area_m2: float,
    k1: float,
    k2: float,
) -> float:
    """Mutual resistance between the horizontal conductors and the rods. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        conductor_length_m=conductor_length_m,
        rod_length_m=rod_length_m,
        area_m2=area_m2,
    )
    length = conductor_length_m
    bracket = math.log(2.0 * length / rod_length_m) + k1 * length / math.sqrt(area_m2) - k2 + 1.0
    return resistivity_ohm_m / (math.pi * length) * bracket


@equation(
    "R_g",
    "ohm",
    source="IEEE Std 80-2000, Eq. (53); IEEE Std 80-2013, Eq. (58) (Schwarz)",
    symbols="R_1 R_2 R_m",
    form="(R_1*R_2 - R_m**2)/(R_1 + R_2 - 2*R_m)",
    evidence=_CHECKED,
    name="mat resistance, Schwarz",
)
def schwarz_combined(grid_ohm: float, rods_ohm: float, mutual_ohm: float) -> float:
    """Conductors and rods bonded together. [ohm]

    Raises
    ------
    OutOfRangeError
        When the mutual resistance is not below both own resistances: the formula then has no meaning.
    """
    need_positive(grid_ohm=grid_ohm, rods_ohm=rods_ohm)
    top, bottom = grid_ohm * rods_ohm - mutual_ohm**2, grid_ohm + rods_ohm - 2.0 * mutual_ohm
    need(
        top > 0.0 and bottom > 0.0,
        f"mutual resistance {mutual_ohm!r} ohm is too large beside {grid_ohm!r} and {rods_ohm!r} ohm",
    )
    return top / bottom
