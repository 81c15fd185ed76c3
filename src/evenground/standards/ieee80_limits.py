"""IEEE Std 80: what a body can bear. Body current, surface layer, tolerable touch and step voltage.

Equation numbers are those of the 2000 edition; up to (41) the 2013 edition uses the same ones.
"""

from __future__ import annotations

import math

import numpy as np

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive
from evenground.standards._series import image_sum

__all__ = [
    "BODY_CONSTANT",
    "BODY_RESISTANCE_OHM",
    "FOOT_RADIUS_M",
    "body_constant",
    "foot_mutual_resistance",
    "metal_to_metal_touch_voltage",
    "surface_factor",
    "surface_factor_exact",
    "tolerable_body_current",
    "tolerable_step_voltage",
    "tolerable_touch_voltage",
]

BODY_CONSTANT = {50: 0.116, 70: 0.157}
"""Constant k of the body current limit by body mass in kg. [A sqrt(s)] IEEE Std 80, Eq. (8), (9)."""
BODY_RESISTANCE_OHM = 1000.0
"""Resistance of the body taken by IEEE Std 80. [ohm]"""
FOOT_RADIUS_M = 0.08
"""Radius of the disc that stands for one foot in IEEE Std 80. [m]"""
_TIME = ("0.03 <= t", "t <= 3")
_CHECKED = "from memory, cross-checked"


def body_constant(body_mass_kg: int) -> float:
    """Constant k of the body current limit for 50 or 70 kg. [A sqrt(s)]

    Raises
    ------
    OutOfRangeError
        For any other mass: the standard gives no other.
    """
    need(body_mass_kg in BODY_CONSTANT, f"body mass must be 50 or 70 kg, got {body_mass_kg!r}")
    return BODY_CONSTANT[body_mass_kg]


@equation(
    "I_B",
    "A",
    source="IEEE Std 80-2000 and 80-2013, Eq. (8), (9)",
    symbols="k t",
    form="k/sqrt(t)",
    valid=_TIME,
    evidence=_CHECKED,
)
def tolerable_body_current(body_constant_as: float, shock_time_s: float) -> float:
    """Body current that 99.5 % of people survive. [A]

    ``body_constant_as`` is 0.116 (50 kg) or 0.157 (70 kg) A sqrt(s); valid for 0.03 to 3 s.
    """
    need_positive(body_constant_as=body_constant_as, shock_time_s=shock_time_s)
    return body_constant_as / math.sqrt(shock_time_s)


@equation(
    "C_s",
    "",
    source="IEEE Std 80-2000 and 80-2013, Eq. (27)",
    symbols="rho rho_s h_s",
    form="1 - 0.09*(1 - rho/rho_s)/(2*h_s + 0.09)",
    valid=("rho <= rho_s",),
    evidence=_CHECKED,
    name="surface layer factor, empirical",
)
def surface_factor(resistivity_ohm_m: float, surface_resistivity_ohm_m: float, thickness_m: float) -> float:
    """Factor of the foot's resistance on a thin surface layer, empirical form. [-]

    Within about 5 % of the exact factor for layers of usual thickness; 6 % high for a layer of 0.05 m
    with a resistivity a thousand times that of the soil.
    """
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        surface_resistivity_ohm_m=surface_resistivity_ohm_m,
        thickness_m=thickness_m,
    )
    return 1.0 - 0.09 * (1.0 - resistivity_ohm_m / surface_resistivity_ohm_m) / (2.0 * thickness_m + 0.09)


def _mutual(
    z: np.ndarray[tuple[int], np.dtype[np.float64]], b: float
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    q = 2.0 * b / z
    near = np.arctan(q) - np.log1p(q * q) / (2.0 * q)
    far = q / 2.0 - q**3 / 12.0 + q**5 / 30.0
    return np.where(q > 1e-3, near, far) / (4.0 * math.pi * b)


@equation(
    "r_m",
    "1/m",
    source="derived: current-weighted mean of the potential between coaxial equipotential discs; "
    "takes the place of IEEE Std 80-2000, Eq. (22), (23)",
    symbols="z b",
    form="(atan(2*b/z) - z/(4*b)*log(1 + (2*b/z)**2))/(4*pi*b)",
    name="mutual resistance of two coaxial discs for 1 ohm m",
)
def foot_mutual_resistance(distance_m: float, radius_m: float = FOOT_RADIUS_M) -> float:
    """Mutual resistance of two coaxial discs in an infinite medium of 1 ohm m. [1/m, i.e. ohm per ohm m]

    Both discs leak as an isolated equipotential disc does, the potential is weighted with that same
    leakage; the integral of exp(-lz) (sin(lb)/(lb))^2 / (4 pi) over l then has the closed form used.
    """
    need_positive(distance_m=distance_m, radius_m=radius_m)
    return float(_mutual(np.array([distance_m]), radius_m)[0])


@equation(
    "C_s",
    "",
    source="IEEE Std 80-2000 and 80-2013, Eq. (20) to (23)",
    symbols="rho rho_s h_s b",
    text="1 + 16 b times the sum over n >= 1 of K^n r_m(2 n h_s), with K = (rho - rho_s)/(rho + rho_s) "
    "and r_m the mutual resistance, for 1 ohm m, of two coaxial equipotential discs of radius b at that "
    "distance; summed to 1e-9",
    evidence=_CHECKED,
    name="surface layer factor, image series",
)
def surface_factor_exact(
    resistivity_ohm_m: float,
    surface_resistivity_ohm_m: float,
    thickness_m: float,
    foot_radius_m: float = FOOT_RADIUS_M,
) -> float:
    """Factor of the foot's resistance on a surface layer, by the series of images. [-]

    The leakage of each disc is taken as that of an isolated one. Against the integral equation of a disc on
    a layer the factor is at most 0.03 % high for layers of 0.1 m and more, 0.6 % high for 0.05 m.

    Raises
    ------
    OutOfRangeError
        When an input is not a finite number above zero.
    NotConvergedError
        When the soil is so much more resistive than the layer that the series is endless
        (ratio above about 20 000).
    """
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        surface_resistivity_ohm_m=surface_resistivity_ohm_m,
        thickness_m=thickness_m,
        foot_radius_m=foot_radius_m,
    )
    rho, rho_s = resistivity_ohm_m, surface_resistivity_ohm_m
    k = (rho - rho_s) / (rho + rho_s)
    if k == 0.0:
        return 1.0
    if k < 0.0:
        total = _alternating_sum(-k, 2.0 * thickness_m, foot_radius_m)
    else:
        total = image_sum(k, lambda n: _mutual(2.0 * thickness_m * n, foot_radius_m))
    return 1.0 + 16.0 * foot_radius_m * total


def _alternating_sum(k: float, step_m: float, radius_m: float) -> float:
    """Sum of (-k)^n r_m(n step) over n >= 1 by the scheme of Cohen, Villegas and Zagier (2000).

    The terms are moments of a positive measure, so 24 terms leave less than 2/5.8^24 of the first.
    """
    count = 24
    d = (3.0 + math.sqrt(8.0)) ** count
    d = (d + 1.0 / d) / 2.0
    b, c, total = -1.0, -d, 0.0
    n = np.arange(1, count + 1, dtype=np.float64)
    terms = k**n * _mutual(step_m * n, radius_m)
    for i in range(count):
        c = b - c
        total += c * float(terms[i])
        b *= (i + count) * (i - count) / ((i + 0.5) * (i + 1.0))
    return -total / d


@equation(
    "E_touch",
    "V",
    source="IEEE Std 80-2000 and 80-2013, Eq. (32), (33)",
    symbols="C_s rho_s k t",
    form="(1000 + 1.5*C_s*rho_s)*k/sqrt(t)",
    valid=_TIME,
    evidence=_CHECKED,
)
def tolerable_touch_voltage(
    surface_factor: float, surface_resistivity_ohm_m: float, body_constant_as: float, shock_time_s: float
) -> float:
    """Tolerable touch voltage; without a surface layer the factor is 1 and the resistivity the soil's. [V]"""
    need_positive(
        surface_factor=surface_factor,
        surface_resistivity_ohm_m=surface_resistivity_ohm_m,
        body_constant_as=body_constant_as,
        shock_time_s=shock_time_s,
    )
    resistance = BODY_RESISTANCE_OHM + 1.5 * surface_factor * surface_resistivity_ohm_m
    return resistance * body_constant_as / math.sqrt(shock_time_s)


@equation(
    "E_step",
    "V",
    source="IEEE Std 80-2000 and 80-2013, Eq. (29), (30)",
    symbols="C_s rho_s k t",
    form="(1000 + 6*C_s*rho_s)*k/sqrt(t)",
    valid=_TIME,
    evidence=_CHECKED,
)
def tolerable_step_voltage(
    surface_factor: float, surface_resistivity_ohm_m: float, body_constant_as: float, shock_time_s: float
) -> float:
    """Tolerable step voltage; without a surface layer the factor is 1 and the resistivity the soil's. [V]"""
    need_positive(
        surface_factor=surface_factor,
        surface_resistivity_ohm_m=surface_resistivity_ohm_m,
        body_constant_as=body_constant_as,
        shock_time_s=shock_time_s,
    )
    resistance = BODY_RESISTANCE_OHM + 6.0 * surface_factor * surface_resistivity_ohm_m
    return resistance * body_constant_as / math.sqrt(shock_time_s)


@equation(
    "E_mm",
    "V",
    source="IEEE Std 80-2000 and 80-2013, Eq. (34)",
    symbols="k t",
    form="1000*k/sqrt(t)",
    valid=_TIME,
    evidence=_CHECKED,
)
def metal_to_metal_touch_voltage(body_constant_as: float, shock_time_s: float) -> float:
    """Tolerable voltage between two pieces of metal that one person can touch together. [V]"""
    need_positive(body_constant_as=body_constant_as, shock_time_s=shock_time_s)
    return BODY_RESISTANCE_OHM * body_constant_as / math.sqrt(shock_time_s)
