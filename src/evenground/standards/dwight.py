"""Dwight's formulas for the resistance of simple electrodes (AIEE Transactions 55, December 1936).

All are exact for uniform leakage along thin conductors in uniform soil; free leakage gives 0.7 % less
for a straight wire and up to 9 % less for an eight-point star. In every formula s is twice the burial
depth and a the wire radius; the parameters here are the depth and the radius themselves.
"""

from __future__ import annotations

import math

from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "eight_point_star_resistance",
    "four_point_star_resistance",
    "horizontal_plate_resistance",
    "horizontal_strip_resistance",
    "right_angle_resistance",
    "ring_resistance",
    "rod_resistance",
    "six_point_star_resistance",
    "straight_wire_resistance",
    "three_point_star_resistance",
    "two_rods_far_resistance",
    "two_rods_near_resistance",
    "vertical_plate_resistance",
]

_PAPER = "Dwight, AIEE Transactions 55 (1936); constants as in IEEE Std 142"
_WIRE = ("a <= L/20", "2*h <= L")


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a",
    form="rho/(2*pi*L)*(log(4*L/a) - 1)",
    valid=("a <= L/20",),
    evidence="found",
    name="rod resistance, Dwight",
)
def rod_resistance(resistivity_ohm_m: float, length_m: float, radius_m: float) -> float:
    """Vertical rod from the surface. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, radius_m=radius_m)
    return resistivity_ohm_m / (2.0 * math.pi * length_m) * (math.log(4.0 * length_m / radius_m) - 1.0)


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a s",
    form="rho/(4*pi*L)*(log(4*L/a) - 1) + rho/(4*pi*s)*(1 - L**2/(3*s**2) + 2*L**4/(5*s**4))",
    valid=("a <= L/20", "s > L"),
    evidence="found",
    name="two rods, spacing above length",
)
def two_rods_far_resistance(
    resistivity_ohm_m: float, length_m: float, radius_m: float, spacing_m: float
) -> float:
    """Two parallel rods further apart than they are long; 3.4 % high when as far apart as long. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, radius_m=radius_m, spacing_m=spacing_m
    )
    rho, L, s = resistivity_ohm_m, length_m, spacing_m
    own = rho / (4.0 * math.pi * L) * (math.log(4.0 * L / radius_m) - 1.0)
    return own + rho / (4.0 * math.pi * s) * (1.0 - L**2 / (3.0 * s**2) + 2.0 * L**4 / (5.0 * s**4))


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a s",
    form="rho/(4*pi*L)*(log(4*L/a) + log(4*L/s) - 2 + s/(2*L) - s**2/(16*L**2) + s**4/(512*L**4))",
    valid=("a <= L/20", "s <= L", "s >= 10*a"),
    evidence="found",
    name="two rods, spacing not above length",
)
def two_rods_near_resistance(
    resistivity_ohm_m: float, length_m: float, radius_m: float, spacing_m: float
) -> float:
    """Two parallel rods not further apart than they are long. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, length_m=length_m, radius_m=radius_m, spacing_m=spacing_m
    )
    return _pair(resistivity_ohm_m, length_m, radius_m, spacing_m, 2.0)


def _pair(rho: float, L: float, a: float, s: float, less: float) -> float:
    series = s / (2.0 * L) - s**2 / (16.0 * L**2) + s**4 / (512.0 * L**4)
    return rho / (4.0 * math.pi * L) * (math.log(4.0 * L / a) + math.log(4.0 * L / s) - less + series)


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a h",
    form="rho/(4*pi*L)*(log(4*L/a) + log(4*L/(2*h)) - 2 + h/L - h**2/(4*L**2) + h**4/(32*L**4))",
    valid=_WIRE,
    evidence="found",
    name="straight wire, Dwight",
)
def straight_wire_resistance(
    resistivity_ohm_m: float, half_length_m: float, radius_m: float, depth_m: float
) -> float:
    """Buried straight wire of twice the given length. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m, half_length_m=half_length_m, radius_m=radius_m, depth_m=depth_m
    )
    return _pair(resistivity_ohm_m, half_length_m, radius_m, 2.0 * depth_m, 2.0)


def _star(
    rho: float, L: float, a: float, h: float, points: int, c: tuple[float, float, float, float]
) -> float:
    need_positive(resistivity_ohm_m=rho, arm_length_m=L, radius_m=a, depth_m=h)
    u = 2.0 * h / L
    logs = math.log(2.0 * L / a) + math.log(2.0 * L / (2.0 * h))
    return rho / (2.0 * points * math.pi * L) * (logs + c[0] + c[1] * u + c[2] * u**2 + c[3] * u**4)


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a h",
    form="rho/(4*pi*L)*(log(2*L/a) + log(L/h) - 0.2373 + 0.2146*(2*h/L) "
    "+ 0.1035*(2*h/L)**2 - 0.0424*(2*h/L)**4)",
    valid=_WIRE,
    evidence="found",
    name="right angle of wire, Dwight",
)
def right_angle_resistance(
    resistivity_ohm_m: float, arm_length_m: float, radius_m: float, depth_m: float
) -> float:
    """Two arms at a right angle. [ohm]"""
    return _star(resistivity_ohm_m, arm_length_m, radius_m, depth_m, 2, (-0.2373, 0.2146, 0.1035, -0.0424))


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a h",
    form="rho/(6*pi*L)*(log(2*L/a) + log(L/h) + 1.071 - 0.209*(2*h/L) + 0.238*(2*h/L)**2 - 0.054*(2*h/L)**4)",
    valid=_WIRE,
    evidence="found",
    name="three-point star, Dwight",
)
def three_point_star_resistance(
    resistivity_ohm_m: float, arm_length_m: float, radius_m: float, depth_m: float
) -> float:
    """Three arms at 120 degrees. [ohm]"""
    return _star(resistivity_ohm_m, arm_length_m, radius_m, depth_m, 3, (1.071, -0.209, 0.238, -0.054))


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a h",
    form="rho/(8*pi*L)*(log(2*L/a) + log(L/h) + 2.912 - 1.071*(2*h/L) + 0.645*(2*h/L)**2 - 0.145*(2*h/L)**4)",
    valid=_WIRE,
    evidence="found",
    name="four-point star, Dwight",
)
def four_point_star_resistance(
    resistivity_ohm_m: float, arm_length_m: float, radius_m: float, depth_m: float
) -> float:
    """Four arms at 90 degrees. [ohm]"""
    return _star(resistivity_ohm_m, arm_length_m, radius_m, depth_m, 4, (2.912, -1.071, 0.645, -0.145))


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a h",
    form="rho/(12*pi*L)*(log(2*L/a) + log(L/h) + 6.851 - 3.128*(2*h/L) + 1.758*(2*h/L)**2 - 0.49*(2*h/L)**4)",
    valid=_WIRE,
    evidence="found",
    name="six-point star, Dwight",
)
def six_point_star_resistance(
    resistivity_ohm_m: float, arm_length_m: float, radius_m: float, depth_m: float
) -> float:
    """Six arms at 60 degrees. [ohm]"""
    return _star(resistivity_ohm_m, arm_length_m, radius_m, depth_m, 6, (6.851, -3.128, 1.758, -0.49))


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L a h",
    form="rho/(16*pi*L)*(log(2*L/a) + log(L/h) + 10.98 - 5.51*(2*h/L) + 3.26*(2*h/L)**2 - 1.17*(2*h/L)**4)",
    valid=_WIRE,
    evidence="found",
    name="eight-point star, Dwight",
)
def eight_point_star_resistance(
    resistivity_ohm_m: float, arm_length_m: float, radius_m: float, depth_m: float
) -> float:
    """Eight arms at 45 degrees. [ohm]"""
    return _star(resistivity_ohm_m, arm_length_m, radius_m, depth_m, 8, (10.98, -5.51, 3.26, -1.17))


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho D d h",
    form="rho/(2*pi**2*D)*(log(8*D/d) + log(4*D/(2*h)))",
    valid=("d <= D/20", "2*h <= D"),
    evidence="found",
    name="ring, Dwight",
)
def ring_resistance(
    resistivity_ohm_m: float, ring_diameter_m: float, wire_diameter_m: float, depth_m: float
) -> float:
    """Buried ring. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        ring_diameter_m=ring_diameter_m,
        wire_diameter_m=wire_diameter_m,
        depth_m=depth_m,
    )
    D = ring_diameter_m
    logs = math.log(8.0 * D / wire_diameter_m) + math.log(4.0 * D / (2.0 * depth_m))
    return resistivity_ohm_m / (2.0 * math.pi**2 * D) * logs


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho a h",
    form="rho/(8*a) + rho/(8*pi*h)*(1 - 7*a**2/(48*h**2) + 33*a**4/(640*h**4))",
    valid=("h >= a",),
    evidence="from memory, cross-checked",
    name="horizontal round plate, Dwight",
)
def horizontal_plate_resistance(resistivity_ohm_m: float, radius_m: float, depth_m: float) -> float:
    """Buried horizontal round plate, both faces leaking. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, radius_m=radius_m, depth_m=depth_m)
    rho, a, s = resistivity_ohm_m, radius_m, 2.0 * depth_m
    image = 1.0 - 7.0 * a**2 / (12.0 * s**2) + 33.0 * a**4 / (40.0 * s**4)
    return rho / (8.0 * a) + rho / (4.0 * math.pi * s) * image


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho a h",
    form="rho/(8*a) + rho/(8*pi*h)*(1 + 7*a**2/(96*h**2) + 99*a**4/(5120*h**4))",
    valid=("h >= 1.5*a",),
    evidence="from memory",
    name="vertical round plate, Dwight",
)
def vertical_plate_resistance(resistivity_ohm_m: float, radius_m: float, depth_m: float) -> float:
    """Buried vertical round plate, depth of its centre, both faces leaking. [ohm]"""
    need_positive(resistivity_ohm_m=resistivity_ohm_m, radius_m=radius_m, depth_m=depth_m)
    rho, a, s = resistivity_ohm_m, radius_m, 2.0 * depth_m
    image = 1.0 + 7.0 * a**2 / (24.0 * s**2) + 99.0 * a**4 / (320.0 * s**4)
    return rho / (8.0 * a) + rho / (4.0 * math.pi * s) * image


@equation(
    "R",
    "ohm",
    source=_PAPER,
    symbols="rho L w t h",
    form="rho/(4*pi*L)*(log(4*L/w) + (w**2 - pi*w*t)/(2*(w + t)**2) + log(4*L/(2*h)) - 1 + h/L "
    "- h**2/(4*L**2) + h**4/(32*L**4))",
    valid=("w <= L/20", "t <= w/8", "2*h <= L"),
    evidence="from memory",
    name="horizontal strip, Dwight",
)
def horizontal_strip_resistance(
    resistivity_ohm_m: float, half_length_m: float, width_m: float, thickness_m: float, depth_m: float
) -> float:
    """Buried strip of twice the given length. [ohm]"""
    need_positive(
        resistivity_ohm_m=resistivity_ohm_m,
        half_length_m=half_length_m,
        width_m=width_m,
        thickness_m=thickness_m,
        depth_m=depth_m,
    )
    w, t = width_m, thickness_m
    need(t <= w, f"thickness {t!r} m must not be above the width {w!r} m")
    correction = (w**2 - math.pi * w * t) / (2.0 * (w + t) ** 2)
    return _pair(resistivity_ohm_m, half_length_m, w, 2.0 * depth_m, 1.0 - correction)
