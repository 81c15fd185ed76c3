"""Impedances of wires whose current returns through the earth, per metre.

Four forms of one quantity, for wires parallel to a horizontally layered earth of permeability mu0, with
displacement currents neglected (power frequency):

* Carson's series for uniform soil (J. R. Carson, Bell System Technical Journal 5, 1926, 539-554; series
  coefficients in the recursive form used since by line-constant routines, common practice);
* the complex depth of Deri, Tevan, Semlyen and Castanheira (IEEE Trans. PAS-100, 1981, 3686-3693), with
  their recursion for layers;
* the integral itself over a layered earth (E. D. Sunde, Earth Conduction Effects in Transmission Systems,
  1949/1968, chapter IV), which is Carson's integral when there is one layer;
* the closed form of Wedepohl and Wilcox (Proc. IEE 120, 1973, 253-260) for two buried wires.

All return z = j omega mu0/(2 pi) [ln(D'/D) + J]: the geometric part and the earth's part. A wire's own
resistance and internal reactance are not in them.
"""

from __future__ import annotations

import cmath
import functools
import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.model.soil import LayeredSoil

__all__ = [
    "Pair",
    "carson",
    "complex_depth_m",
    "deri",
    "earth_return",
    "equivalent_resistivity_ohm_m",
    "layered",
    "wedepohl_wilcox",
]

MU0 = 4e-7 * math.pi
EULER = 0.5772156649015329
CARSON_LIMIT = 20.0
"""Argument above which the asymptotic series replaces the convergent one. Carson changes at 5, where the
asymptotic series is still a few per cent off; double precision lets the convergent one go further."""
CARSON_TERMS = 100
REFERENCE_HEIGHT_M = 10.0
"""Height of the wire for which layered and equivalent uniform soil are matched."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Geometry of two wires: heights, horizontal distance, and their direct distance. [m]

    For a wire with itself ``distance_m`` is its radius or geometric mean radius and ``offset_m`` is 0.
    """

    height_a_m: float
    height_b_m: float
    offset_m: float
    distance_m: float

    @property
    def image_m(self) -> float:
        """Distance from one wire to the mirror image of the other. [m]"""
        return math.hypot(self.height_a_m + self.height_b_m, self.offset_m)


def _omega(frequency_hz: float) -> float:
    return 2.0 * math.pi * frequency_hz


def _external(pair: Pair, frequency_hz: float, earth: complex) -> complex:
    factor = 1j * _omega(frequency_hz) * MU0 / (2.0 * math.pi)
    return factor * (math.log(pair.image_m / pair.distance_m) + earth)


def _above_ground(pair: Pair) -> None:
    if pair.height_a_m + pair.height_b_m < 0.0 or min(pair.height_a_m, pair.height_b_m) < 0.0:
        raise OutOfRangeError("this form is for wires above ground; use wedepohl_wilcox for buried ones")


def carson(pair: Pair, resistivity_ohm_m: float, frequency_hz: float) -> complex:
    """Carson's series for wires above uniform soil. [ohm/m]

    Convergent series up to an argument of 20, asymptotic series above.
    """
    _above_ground(pair)
    k = pair.image_m * math.sqrt(_omega(frequency_hz) * MU0 / resistivity_ohm_m)
    phi = math.asin(min(1.0, pair.offset_m / pair.image_m))
    p, q = _carson_series(k, phi) if k <= CARSON_LIMIT else _carson_asymptotic(k, phi)
    # Z_earth = omega mu0/pi (P + j Q); with j omega mu0/(2 pi) taken out: 2 (Q - j P).
    return _external(pair, frequency_hz, 2.0 * (q - 1j * p))


def _carson_series(k: float, phi: float) -> tuple[float, float]:
    b = {1: math.sqrt(2.0) / 6.0, 2: 1.0 / 16.0}
    c = {2: 1.25 - EULER + math.log(2.0)}
    p, q = math.pi / 8.0, 0.5 * (0.5 - EULER + math.log(2.0) - math.log(k))
    for i in range(1, CARSON_TERMS + 1):
        sign = 1.0 if (i - 1) % 8 < 4 else -1.0
        if i > 2:
            b[i] = sign * abs(b[i - 2]) / (i * (i + 2))
        if i > 2 and i % 2 == 0:
            c[i] = c[i - 2] + 1.0 / i + 1.0 / (i + 2)
        power, cos, sin = k**i, math.cos(i * phi), math.sin(i * phi)
        linear = b[i] * power * cos
        quarter = math.pi / 4.0 * linear
        if i % 2 == 0:
            log_term = b[i] * power * ((c[i] - math.log(k)) * cos + phi * sin)
        match i % 4:
            case 1:
                p, q = p - linear, q + linear
            case 2:
                p, q = p + log_term, q - quarter
            case 3:
                p, q = p + linear, q + linear
            case _:
                p, q = p - quarter, q - log_term
    return p, q


def _carson_asymptotic(k: float, phi: float) -> tuple[float, float]:
    cos = [math.cos(n * phi) for n in range(8)]
    root = math.sqrt(2.0)
    p = cos[1] / k - root * cos[2] / k**2 + cos[3] / k**3 + 3.0 * cos[5] / k**5 - 45.0 * cos[7] / k**7
    q = cos[1] / k - cos[3] / k**3 + 3.0 * cos[5] / k**5 + 45.0 * cos[7] / k**7
    return p / root, q / root


def _propagation(resistivity_ohm_m: float, frequency_hz: float) -> complex:
    return cmath.sqrt(1j * _omega(frequency_hz) * MU0 / resistivity_ohm_m)


def complex_depth_m(soil: LayeredSoil, frequency_hz: float) -> complex:
    """Complex depth of the plane that stands for the earth, by recursion through the layers. [m]

    Deri et al., equations for multi-layer earth: p = 1/alpha(0) of the recursion in :func:`layered`.
    """
    return complex(1.0 / _surface_alpha(soil, frequency_hz, np.zeros(1))[0])


def deri(pair: Pair, depth_m: complex, frequency_hz: float) -> complex:
    """Wires above a plane at the complex depth. [ohm/m]"""
    _above_ground(pair)
    image = cmath.sqrt((pair.height_a_m + pair.height_b_m + 2.0 * depth_m) ** 2 + pair.offset_m**2)
    return 1j * _omega(frequency_hz) * MU0 / (2.0 * math.pi) * cmath.log(image / pair.distance_m)


def _surface_alpha(
    soil: LayeredSoil, frequency_hz: float, wavenumber_per_m: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """What sqrt(lambda^2 + j omega mu0/rho) becomes over layers: tanh recursion from the bottom up."""
    alphas = [
        np.sqrt(wavenumber_per_m**2 + 1j * _omega(frequency_hz) * MU0 / rho)
        for rho in soil.resistivities_ohm_m
    ]
    value = alphas[-1]
    for alpha, thickness in zip(alphas[-2::-1], soil.thicknesses_m[::-1], strict=True):
        # tanh by the decaying exponential, so that thick layers do not overflow
        decay = np.exp(-2.0 * alpha * thickness)
        tanh = (1.0 - decay) / (1.0 + decay)
        value = alpha * (value + alpha * tanh) / (alpha + value * tanh)
    return np.asarray(value, dtype=np.complex128)


@functools.lru_cache(maxsize=8)
def _gauss(order: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    nodes, weights = np.polynomial.legendre.leggauss(order)
    return nodes, weights


def _panels(height_m: float, offset_m: float, scale_per_m: float) -> NDArray[np.float64]:
    """Limits over the wavenumber, logarithmic from far below 1/skin depth, fine enough for the cosine."""
    top = 40.0 / height_m
    bottom = min(1e-4 * scale_per_m, 1e-6 * top)
    limits = np.concatenate([[0.0], np.geomspace(bottom, top, 1 + 5 * math.ceil(math.log10(top / bottom)))])
    if offset_m == 0.0:
        return limits
    pieces = []
    for a, b in pairwise(limits):
        count = max(1, math.ceil((b - a) * offset_m / math.pi))
        pieces.append(np.linspace(a, b, 1 + count)[:-1])
    return np.concatenate([*pieces, limits[-1:]])


def layered(pair: Pair, soil: LayeredSoil, frequency_hz: float) -> complex:
    """The integral for wires above a layered earth, by Gauss quadrature in panels. [ohm/m]

    J = 2 int exp(-(h_a + h_b) lambda) cos(lambda x)/(lambda + alpha(lambda)) d lambda.

    Raises
    ------
    NotConvergedError
        When two orders of quadrature differ by more than 1e-8.
    OutOfRangeError
        When a wire is below ground, or the wires are lower than a hundredth of their distance apart.
    """
    _above_ground(pair)
    height = pair.height_a_m + pair.height_b_m
    if height <= 0.01 * pair.offset_m:
        raise OutOfRangeError("layered earth return: the wires are too low for their distance")
    scale = min(abs(_propagation(rho, frequency_hz)) for rho in soil.resistivities_ohm_m)
    limits = _panels(height, pair.offset_m, scale)
    middle, half = (limits[1:] + limits[:-1]) / 2.0, (limits[1:] - limits[:-1]) / 2.0
    values = []
    for order in (10, 16):
        nodes, weights = _gauss(order)
        wave = (middle[:, None] + half[:, None] * nodes).ravel()
        weight = (half[:, None] * weights).ravel()
        kernel = np.exp(-height * wave) * np.cos(wave * pair.offset_m)
        kernel = kernel / (wave + _surface_alpha(soil, frequency_hz, wave))
        values.append(2.0 * complex(np.sum(weight * kernel)))
    if abs(values[1] - values[0]) > 1e-8 * max(1.0, abs(values[1])):
        raise NotConvergedError(f"layered earth return: orders differ by {abs(values[1] - values[0]):.1e}")
    return _external(pair, frequency_hz, values[1])


def wedepohl_wilcox(pair: Pair, resistivity_ohm_m: float, frequency_hz: float) -> complex:
    """Two buried wires, or one with itself, in uniform soil; heights negative. [ohm/m]

    Raises
    ------
    OutOfRangeError
        When a wire is above ground, or |m D| is above 0.25, the authors' range.
    """
    if max(pair.height_a_m, pair.height_b_m) > 0.0:
        raise OutOfRangeError("this form is for buried wires")
    m = _propagation(resistivity_ohm_m, frequency_hz)
    if abs(m) * pair.distance_m > 0.25:
        raise OutOfRangeError(f"wires {pair.distance_m:g} m apart are too far for this form")
    depths = -(pair.height_a_m + pair.height_b_m)
    bracket = -(EULER + cmath.log(m * pair.distance_m / 2.0)) + 0.5 - 2.0 / 3.0 * m * depths
    return 1j * _omega(frequency_hz) * MU0 / (2.0 * math.pi) * bracket


@functools.lru_cache(maxsize=64)
def equivalent_resistivity_ohm_m(soil: LayeredSoil, frequency_hz: float) -> float:
    """Uniform resistivity with the same earth-return reactance as the layered soil. [ohm m]

    Matched for a wire 10 m above ground; its height hardly matters while it is small against the skin
    depth. Skin depth is hundreds of metres, so deep layers weigh far more than in the mat's resistance.
    """
    if soil.layers == 1:
        return soil.resistivities_ohm_m[0]
    pair = Pair(REFERENCE_HEIGHT_M, REFERENCE_HEIGHT_M, 0.0, 0.01)
    wanted = layered(pair, soil, frequency_hz).imag
    # The layered value lies between those of the extremes, reactance grows with resistivity: bisection.
    low, high = (math.log(f(soil.resistivities_ohm_m)) for f in (min, max))
    low, high = low - 1.0, high + 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if carson(pair, math.exp(middle), frequency_hz).imag < wanted:
            low = middle
        else:
            high = middle
    return math.exp((low + high) / 2.0)


def earth_return(pair: Pair, soil: LayeredSoil, frequency_hz: float, method: str = "auto") -> complex:
    """Self or mutual impedance with earth return by the chosen form. [ohm/m]

    ``"auto"``: Carson's series in uniform soil, the layered integral otherwise. ``"carson"`` in layered
    soil uses :func:`equivalent_resistivity_ohm_m`; so do two buried wires with any method.

    Raises
    ------
    OutOfRangeError
        When one wire is above ground and the other buried.
    """
    below = [h < 0.0 for h in (pair.height_a_m, pair.height_b_m)]
    if all(below):
        return wedepohl_wilcox(pair, equivalent_resistivity_ohm_m(soil, frequency_hz), frequency_hz)
    if any(below):
        raise OutOfRangeError("coupling between a buried wire and one above ground is not modelled")
    if method == "deri":
        return deri(pair, complex_depth_m(soil, frequency_hz), frequency_hz)
    if method == "layered" or (method == "auto" and soil.layers > 1):
        return layered(pair, soil, frequency_hz)
    return carson(pair, equivalent_resistivity_ohm_m(soil, frequency_hz), frequency_hz)
