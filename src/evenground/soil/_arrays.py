"""Apparent resistivity from what the instrument shows: the four-probe arrays and the driven rod.

The formulas hold for point electrodes in uniform soil, at the surface or at one depth below it. A driven
probe is a line, not a point: a uniform line current of length L gives the readings of points at the depth
0.575 L (within 1 % of the depth for L up to half the spacing; common practice takes L itself, which
over-corrects). The program converts driven lengths with that factor.
"""

from __future__ import annotations

import math

from evenground.provenance import equation

__all__ = [
    "POINT_DEPTH_PER_LENGTH",
    "driven_rod_factor",
    "driven_rod_resistivity",
    "four_probe_factor",
    "four_probe_resistivity",
    "schlumberger_factor",
    "schlumberger_resistivity",
    "wenner_factor",
    "wenner_resistivity",
]

POINT_DEPTH_PER_LENGTH = 0.575
"""Depth of the point electrode that gives the same Wenner reading as a driven probe, per driven length.

From the mutual resistance of two vertical lines with uniform current in uniform soil: 0.577, 0.577,
0.575, 0.570 and 0.588 for lengths of 0.05, 0.1, 0.2, 0.5 and 1 spacing.
"""


@equation(
    "rho_a",
    "ohm m",
    source="IEEE Std 81-2012, Wenner four-pin method with pins at a depth",
    symbols="R a b",
    form="4*pi*a*R/(1 + 2*a/sqrt(a**2 + 4*b**2) - a/sqrt(a**2 + b**2))",
    valid=("b < a",),
    evidence="from memory, cross-checked",
    name="apparent resistivity, Wenner array",
)
def wenner_resistivity(resistance_ohm: float, spacing_m: float, point_depth_m: float = 0.0) -> float:
    """Apparent resistivity from a Wenner reading; exact for point electrodes in uniform soil. [ohm m]

    At depth 0 this is 2 pi a R.
    """
    _need(R=resistance_ohm)
    return resistance_ohm * wenner_factor(spacing_m, point_depth_m)


def wenner_factor(spacing_m: float, point_depth_m: float = 0.0) -> float:
    """Geometric factor of the Wenner array with point electrodes at one depth: rho_a = K R. [m]"""
    a, b = spacing_m, point_depth_m
    _need(a=a)
    denominator = 1.0 + 2.0 * a / math.sqrt(a * a + 4.0 * b * b) - a / math.sqrt(a * a + b * b)
    return 4.0 * math.pi * a / denominator


@equation(
    "rho_a",
    "ohm m",
    source="potential theory: four point electrodes at one depth in uniform soil, method of images",
    symbols="R L b z",
    form=("2*pi*R/(1/(L - b) + 1/sqrt((L - b)**2 + 4*z**2) - 1/(L + b) - 1/sqrt((L + b)**2 + 4*z**2))"),
    valid=("b < L", "z < L - b"),
    name="apparent resistivity, Schlumberger array",
)
def schlumberger_resistivity(
    resistance_ohm: float, half_current_m: float, half_potential_m: float, point_depth_m: float = 0.0
) -> float:
    """Apparent resistivity from a Schlumberger reading, exact for the finite distance MN. [ohm m]

    At depth 0 this is pi (L^2 - b^2)/(2 b) R.
    """
    _need(R=resistance_ohm)
    return resistance_ohm * schlumberger_factor(half_current_m, half_potential_m, point_depth_m)


def schlumberger_factor(half_current_m: float, half_potential_m: float, point_depth_m: float = 0.0) -> float:
    """Geometric factor of the Schlumberger array with point electrodes at one depth: rho_a = K R. [m]"""
    L, b, z = half_current_m, half_potential_m, point_depth_m
    _need(L=L, b=b)
    if not b < L:
        raise ValueError(f"half_potential_m {b!r} must be below half_current_m {L!r}")
    near, far = L - b, L + b
    terms = 1.0 / near + 1.0 / math.hypot(near, 2.0 * z) - 1.0 / far - 1.0 / math.hypot(far, 2.0 * z)
    return 2.0 * math.pi / terms


@equation(
    "rho_a",
    "ohm m",
    source="potential theory: four point electrodes in line at one depth in uniform soil, method of images",
    symbols="R x_1 x_2 x_3 x_4 z",
    form=(
        "4*pi*R/abs(1/abs(x_2 - x_1) + 1/sqrt((x_2 - x_1)**2 + 4*z**2)"
        " - 1/abs(x_2 - x_4) - 1/sqrt((x_2 - x_4)**2 + 4*z**2)"
        " - 1/abs(x_3 - x_1) - 1/sqrt((x_3 - x_1)**2 + 4*z**2)"
        " + 1/abs(x_3 - x_4) + 1/sqrt((x_3 - x_4)**2 + 4*z**2))"
    ),
    name="apparent resistivity, four probes in line",
)
def four_probe_resistivity(
    resistance_ohm: float,
    current_1_m: float,
    potential_1_m: float,
    potential_2_m: float,
    current_2_m: float,
    point_depth_m: float = 0.0,
) -> float:
    """Apparent resistivity from any four probes in line, current between the first and the last. [ohm m]"""
    _need(R=resistance_ohm)
    positions = (current_1_m, potential_1_m, potential_2_m, current_2_m)
    return resistance_ohm * abs(four_probe_factor(positions, point_depth_m))


def four_probe_factor(positions_m: tuple[float, float, float, float], point_depth_m: float = 0.0) -> float:
    """Geometric factor K of any four probes in line, at the surface or at one depth: rho_a = K R. [m]

    ``positions_m`` are the abscissae of C1, P1, P2, C2; source: potential theory of a half-space. The
    factor is negative when the arrangement turns the sign of the voltage around.

    Raises
    ------
    ValueError
        When two probes coincide or no voltage arises in uniform soil.
    """
    c1, p1, p2, c2 = (float(x) for x in positions_m)
    distances = (abs(p1 - c1), abs(p1 - c2), abs(p2 - c1), abs(p2 - c2))
    apart = (*distances, abs(p1 - p2), abs(c1 - c2))
    if not all(math.isfinite(d) and d > 0 for d in apart):
        raise ValueError("positions_m: two probes stand at the same place or a position is not finite")
    near1, far1, far2, near2 = (1.0 / d + 1.0 / math.hypot(d, 2.0 * point_depth_m) for d in distances)
    strength = near1 - far1 - far2 + near2
    if abs(strength) < 1e-9 * (near1 + near2):
        raise ValueError("positions_m: this arrangement measures no voltage in uniform soil")
    return 4.0 * math.pi / strength


@equation(
    "rho_a",
    "ohm m",
    source="IEEE Std 81-2012, driven rod (three-pin) method; Dwight 1936 for the rod",
    symbols="R L d",
    form="2*pi*L*R/(log(8*L/d) - 1)",
    valid=("d < L",),
    evidence="from memory, cross-checked",
    name="apparent resistivity, driven rod",
)
def driven_rod_resistivity(resistance_ohm: float, length_m: float, diameter_m: float) -> float:
    """Apparent resistivity from the resistance of one driven rod. [ohm m]"""
    _need(R=resistance_ohm)
    return resistance_ohm * driven_rod_factor(length_m, diameter_m)


def driven_rod_factor(length_m: float, diameter_m: float) -> float:
    """Apparent resistivity over the resistance of one driven rod. [m]"""
    _need(L=length_m, d=diameter_m)
    if not diameter_m < length_m:
        raise ValueError(f"diameter_m {diameter_m!r} must be below length_m {length_m!r}")
    return 2.0 * math.pi * length_m / (math.log(8.0 * length_m / diameter_m) - 1.0)


def _need(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be finite and above 0, not {value!r}")
