"""IEEE Std 80: mesh and step voltage of a mat in uniform soil by hand formulas.

Equation numbers are given for the 2000 edition and for the 2013 edition.
"""

from __future__ import annotations

import math

from evenground.errors import OutOfRangeError
from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "effective_length_mesh",
    "effective_length_mesh_rods",
    "effective_length_step",
    "effective_parallel_conductors",
    "irregularity_factor",
    "mesh_factor",
    "mesh_factor_depth",
    "mesh_factor_rods",
    "mesh_voltage",
    "shape_na",
    "shape_nb",
    "shape_nc",
    "shape_nd",
    "step_factor",
    "step_voltage",
]

_CHECKED = "from memory, cross-checked"
_DEPTH = ("0.25 <= h", "h <= 2.5")
_COUNT = ("n <= 25",)


@equation(
    "n_a",
    "",
    source="IEEE Std 80-2000, Eq. (85); IEEE Std 80-2013, Eq. (90)",
    symbols="L_C L_p",
    form="2*L_C/L_p",
    evidence=_CHECKED,
    name="shape term n_a",
)
def shape_na(conductor_length_m: float, perimeter_m: float) -> float:
    """Term from conductor length over perimeter. [-]"""
    need_positive(conductor_length_m=conductor_length_m, perimeter_m=perimeter_m)
    return 2.0 * conductor_length_m / perimeter_m


@equation(
    "n_b",
    "",
    source="IEEE Std 80-2000, Eq. (86); IEEE Std 80-2013, Eq. (91)",
    symbols="L_p A",
    form="sqrt(L_p/(4*sqrt(A)))",
    evidence=_CHECKED,
    name="shape term n_b",
)
def shape_nb(perimeter_m: float, area_m2: float) -> float:
    """Term from perimeter over side of the square of equal area; 1 for a square. [-]"""
    need_positive(perimeter_m=perimeter_m, area_m2=area_m2)
    return math.sqrt(perimeter_m / (4.0 * math.sqrt(area_m2)))


@equation(
    "n_c",
    "",
    source="IEEE Std 80-2000, Eq. (87); IEEE Std 80-2013, Eq. (92)",
    symbols="L_x L_y A",
    form="(L_x*L_y/A)**(0.7*A/(L_x*L_y))",
    evidence=_CHECKED,
    name="shape term n_c",
)
def shape_nc(max_x_m: float, max_y_m: float, area_m2: float) -> float:
    """Term from the enclosing rectangle over the area; 1 for a rectangle. [-]"""
    need_positive(max_x_m=max_x_m, max_y_m=max_y_m, area_m2=area_m2)
    box = max_x_m * max_y_m
    return float((box / area_m2) ** (0.7 * area_m2 / box))


@equation(
    "n_d",
    "",
    source="IEEE Std 80-2000, Eq. (88); IEEE Std 80-2013, Eq. (93)",
    symbols="D_m L_x L_y",
    form="D_m/sqrt(L_x**2 + L_y**2)",
    evidence=_CHECKED,
    name="shape term n_d",
)
def shape_nd(max_distance_m: float, max_x_m: float, max_y_m: float) -> float:
    """Term from the largest distance within the mat; 1 for a rectangle and an L. [-]"""
    need_positive(max_distance_m=max_distance_m, max_x_m=max_x_m, max_y_m=max_y_m)
    return max_distance_m / math.hypot(max_x_m, max_y_m)


@equation(
    "n",
    "",
    source="IEEE Std 80-2000, Eq. (84); IEEE Std 80-2013, Eq. (89)",
    symbols="n_a n_b n_c n_d",
    form="n_a*n_b*n_c*n_d",
    evidence=_CHECKED,
)
def effective_parallel_conductors(na: float, nb: float, nc: float, nd: float) -> float:
    """Number of parallel conductors of the equivalent rectangular mat: a real number. [-]"""
    need_positive(na=na, nb=nb, nc=nc, nd=nd)
    return na * nb * nc * nd


@equation(
    "K_ii",
    "",
    source="IEEE Std 80-2000, Eq. (82); IEEE Std 80-2013, Eq. (87)",
    symbols="n rods",
    form="1.0 if rods else 1/(2*n)**(2/n)",
    evidence=_CHECKED,
    name="weight of the inner conductors on the corner mesh",
)
def mesh_factor_rods(n: float, rods_on_perimeter: bool) -> float:
    """1 with rods along the perimeter, in the corners, or there and throughout; else 1/(2n)^(2/n). [-]"""
    need_positive(n=n)
    return 1.0 if rods_on_perimeter else float((2.0 * n) ** (-2.0 / n))


@equation(
    "K_h",
    "",
    source="IEEE Std 80-2000, Eq. (83); IEEE Std 80-2013, Eq. (88)",
    symbols="h",
    form="sqrt(1 + h/1.0)",
    valid=_DEPTH,
    evidence=_CHECKED,
    name="weight of the depth on the mesh voltage",
)
def mesh_factor_depth(depth_m: float) -> float:
    """sqrt(1 + h/h0) with a reference depth of 1 m. [-]"""
    need(depth_m >= 0.0, f"depth_m must not be negative, got {depth_m!r}")
    return math.sqrt(1.0 + depth_m)


@equation(
    "K_m",
    "",
    source="IEEE Std 80-2000, Eq. (81); IEEE Std 80-2013, Eq. (86)",
    symbols="D h d n K_ii K_h",
    form="(log(D**2/(16*h*d) + (D + 2*h)**2/(8*D*d) - h/(4*d)) + K_ii/K_h*log(8/(pi*(2*n - 1))))/(2*pi)",
    valid=(*_COUNT, *_DEPTH, "d < 0.25*h", "D > 2.5"),
    evidence=_CHECKED,
    name="mesh voltage factor",
)
def mesh_factor(
    spacing_m: float, depth_m: float, diameter_m: float, n: float, kii: float, kh: float
) -> float:
    """Geometric factor of the mesh voltage. [-]"""
    need_positive(spacing_m=spacing_m, depth_m=depth_m, diameter_m=diameter_m, kii=kii, kh=kh)
    need(n > 0.5, f"n must be above 0.5, got {n!r}")
    D, h, d = spacing_m, depth_m, diameter_m
    argument = D**2 / (16.0 * h * d) + (D + 2.0 * h) ** 2 / (8.0 * D * d) - h / (4.0 * d)
    need(argument > 0.0, f"the logarithm's argument is {argument!r}; the spacing is too small for the depth")
    value = (math.log(argument) + kii / kh * math.log(8.0 / (math.pi * (2.0 * n - 1.0)))) / (2.0 * math.pi)
    if value <= 0.0:
        raise OutOfRangeError(f"mesh factor is {value!r}: the mat is too dense for this formula")
    return value


@equation(
    "K_i",
    "",
    source="IEEE Std 80-2000, Eq. (89); IEEE Std 80-2013, Eq. (94)",
    symbols="n",
    form="0.644 + 0.148*n",
    valid=_COUNT,
    evidence=_CHECKED,
)
def irregularity_factor(n: float) -> float:
    """Correction for the uneven leakage along the mat. [-]"""
    need_positive(n=n)
    return 0.644 + 0.148 * n


@equation(
    "L_M",
    "m",
    source="IEEE Std 80-2000, Eq. (90); IEEE Std 80-2013, Eq. (95)",
    symbols="L_C L_R",
    form="L_C + L_R",
    evidence=_CHECKED,
    name="effective buried length for the mesh voltage, no rods or few inside",
)
def effective_length_mesh(conductor_length_m: float, total_rod_length_m: float) -> float:
    """For mats without rods, or with a few rods away from perimeter and corners. [m]"""
    need_positive(conductor_length_m=conductor_length_m)
    need(total_rod_length_m >= 0.0, f"total_rod_length_m must not be negative, got {total_rod_length_m!r}")
    return conductor_length_m + total_rod_length_m


@equation(
    "L_M",
    "m",
    source="IEEE Std 80-2000, Eq. (91); IEEE Std 80-2013, Eq. (96)",
    symbols="L_C L_R L_r L_x L_y",
    form="L_C + (1.55 + 1.22*L_r/sqrt(L_x**2 + L_y**2))*L_R",
    evidence=_CHECKED,
    name="effective buried length for the mesh voltage, rods on the perimeter",
)
def effective_length_mesh_rods(
    conductor_length_m: float, total_rod_length_m: float, rod_length_m: float, max_x_m: float, max_y_m: float
) -> float:
    """For mats with rods in the corners, along the perimeter, or there and throughout. [m]

    The weight uses the length of one rod, the sum the length of all.
    """
    need_positive(
        conductor_length_m=conductor_length_m,
        total_rod_length_m=total_rod_length_m,
        rod_length_m=rod_length_m,
        max_x_m=max_x_m,
        max_y_m=max_y_m,
    )
    weight = 1.55 + 1.22 * rod_length_m / math.hypot(max_x_m, max_y_m)
    return conductor_length_m + weight * total_rod_length_m


@equation(
    "E_m",
    "V",
    source="IEEE Std 80-2000, Eq. (80); IEEE Std 80-2013, Eq. (85)",
    symbols="rho I_G K_m K_i L_M",
    form="rho*I_G*K_m*K_i/L_M",
    evidence=_CHECKED,
)
def mesh_voltage(
    resistivity_ohm_m: float,
    grid_current_a: float,
    mesh_factor: float,
    irregularity_factor: float,
    effective_length_m: float,
) -> float:
    """Mesh voltage: the touch voltage in the middle of a corner mesh. [V]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        grid_current_a=grid_current_a,
        mesh_factor=mesh_factor,
        irregularity_factor=irregularity_factor,
        effective_length_m=effective_length_m,
    )
    return resistivity_ohm_m * grid_current_a * mesh_factor * irregularity_factor / effective_length_m


@equation(
    "L_S",
    "m",
    source="IEEE Std 80-2000, Eq. (93); IEEE Std 80-2013, Eq. (98)",
    symbols="L_C L_R",
    form="0.75*L_C + 0.85*L_R",
    evidence=_CHECKED,
    name="effective buried length for the step voltage",
)
def effective_length_step(conductor_length_m: float, total_rod_length_m: float) -> float:
    """With or without rods. [m]"""
    need_positive(conductor_length_m=conductor_length_m)
    need(total_rod_length_m >= 0.0, f"total_rod_length_m must not be negative, got {total_rod_length_m!r}")
    return 0.75 * conductor_length_m + 0.85 * total_rod_length_m


@equation(
    "K_s",
    "",
    source="IEEE Std 80-2000, Eq. (94); IEEE Std 80-2013, Eq. (99)",
    symbols="D h n",
    form="(1/(2*h) + 1/(D + h) + (1 - 0.5**(n - 2))/D)/pi",
    valid=(*_COUNT, "0.25 < h", "h < 2.5", "D > 2.5"),
    evidence=_CHECKED,
    name="step voltage factor",
)
def step_factor(spacing_m: float, depth_m: float, n: float) -> float:
    """Geometric factor of the step voltage. [-]"""
    need_positive(spacing_m=spacing_m, depth_m=depth_m, n=n)
    D, h = spacing_m, depth_m
    return float((1.0 / (2.0 * h) + 1.0 / (D + h) + (1.0 - 0.5 ** (n - 2.0)) / D) / math.pi)


@equation(
    "E_s",
    "V",
    source="IEEE Std 80-2000, Eq. (92); IEEE Std 80-2013, Eq. (97)",
    symbols="rho I_G K_s K_i L_S",
    form="rho*I_G*K_s*K_i/L_S",
    evidence=_CHECKED,
)
def step_voltage(
    resistivity_ohm_m: float,
    grid_current_a: float,
    step_factor: float,
    irregularity_factor: float,
    effective_length_m: float,
) -> float:
    """Step voltage from a corner of the mat one metre outwards. [V]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        grid_current_a=grid_current_a,
        step_factor=step_factor,
        irregularity_factor=irregularity_factor,
        effective_length_m=effective_length_m,
    )
    return resistivity_ohm_m * grid_current_a * step_factor * irregularity_factor / effective_length_m
