"""What a solution says about its own error: the potential along the metal, computed anew.

Galerkin's method makes the mean potential of every segment that of the metal. Along a segment the potential
still varies, because the leakage within it does not. That variation is worth power that a finer
solution would find: to a variation u(x) along a thin wire answers, to leading order, a further leakage
u/kappa with kappa = resistivity/(2 pi) ln(1.12/(k a)), the wire's own kernel K0(k a) for one wave on the
segment, k = 2 pi/length. The power is the sum of the integrals of u^2/kappa.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.field._images import ImageSet
from evenground.field._segments import Segments
from evenground.field._solution import evaluate_potential
from evenground.model.soil import LayeredSoil

__all__ = ["Check", "check_solution", "sampled_means"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CHECKED_SEGMENTS = 40
"""Segments looked at; all of them when there are fewer."""
EVEN_SAMPLE = 24
"""Segments of a sample that does not go by the current."""
SAFETY = 1.5
"""Factor on the power found. Measured with all segments looked at, that is 0.9 to 2.3 times the true lack
of it, and the sample scatters by a tenth."""
LEAST_LOGARITHM = 0.5


@dataclass(frozen=True)
class Check:
    """Two figures of one solution.

    Attributes
    ----------
    balance : float
        Current-weighted deviation of the metal's mean potential from what it should be, relative to one
        volt: the power fed in against the power leaked.
    relative_error : float
        Estimated lack of power, and so excess of the resistance, by the finite length of the segments; with
        twice ``balance``, for what the integration rules leave open either way.
    """

    balance: float
    relative_error: float


def check_solution(
    soil: LayeredSoil,
    segments: Segments,
    images: ImageSet,
    current: FloatArray,
    target: FloatArray,
    series: FloatArray,
) -> Check:
    """Evaluate the potential along a sample of segments and compare.

    Parameters
    ----------
    current : (n,)
        Leaked by each segment. [A]
    target : (n,)
        Potential of each segment's metal, one volt on some and zero on the others. [V]
    series : (n,)
        Resistance between metal and the surface of its segment. [ohm]
    """
    chosen, weight = _sample(np.abs(current))
    quadrature = _along()[1]
    values = _potential_along(soil, segments, images, current, chosen)
    mean = values @ quadrature
    off = mean + series[chosen] * current[chosen] - target[chosen]
    amount = weight * np.abs(current[chosen])
    balance = float(abs(np.sum(weight * current[chosen] * off)) / np.sum(amount))
    kappa = _own_kernel(soil, segments)[chosen]
    square = (values - mean[:, None]) ** 2 @ quadrature
    missing = float(np.sum(weight * square * segments.length_m[chosen] / kappa))
    power = float(np.sum(target * current))
    return Check(balance, SAFETY * missing / power + 2.0 * balance)


def sampled_means(
    soil: LayeredSoil, segments: Segments, images: ImageSet, current: FloatArray
) -> tuple[IntArray, FloatArray]:
    """An even sample of the segments, and their mean potentials by the evaluation used for maps. [V]"""
    n = len(segments)
    chosen = np.unique(np.linspace(0, n - 1, min(n, EVEN_SAMPLE)).astype(np.int64))
    return chosen, _potential_along(soil, segments, images, current, chosen) @ _along()[1]


def _potential_along(
    soil: LayeredSoil, segments: Segments, images: ImageSet, current: FloatArray, chosen: IntArray
) -> FloatArray:
    """Potential at four places along each segment chosen, (chosen, 4). [V]"""
    points = segments.start[:, chosen, None] + segments.vector[:, chosen, None] * _along()[0]
    values = evaluate_potential(soil, segments, images, current, points.reshape(3, -1).T)
    return values.reshape(len(chosen), -1)


def _along() -> tuple[FloatArray, FloatArray]:
    """Four places along a segment and their weights, clustered at the ends.

    The potential of a touching conductor has its peak there.
    """
    x, w = np.polynomial.legendre.leggauss(4)
    t = 0.5 + 0.5 * x
    return t * t * (3.0 - 2.0 * t), 3.0 * w * t * (1.0 - t)


def _own_kernel(soil: LayeredSoil, segments: Segments) -> FloatArray:
    """kappa of each segment. [ohm m]"""
    resistivity = np.array(soil.resistivities_ohm_m)[segments.layer]
    wave = 2.0 * np.pi / segments.length_m
    logarithm = np.log(1.12 / (wave * segments.radius_m))
    return np.asarray(resistivity / (2.0 * np.pi) * np.maximum(logarithm, LEAST_LOGARITHM))


def _sample(size: FloatArray) -> tuple[IntArray, FloatArray]:
    """Indices, and how many segments each stands for.

    Systematic sampling with probability in proportion to the current, in the order of the current, so that
    segments alike are passed through evenly; those of very large current are certain.
    """
    n = len(size)
    if n <= CHECKED_SEGMENTS:
        return np.arange(n), np.ones(n)
    size = np.maximum(size, 1e-3 * float(size.mean()))
    probability = np.minimum(1.0, CHECKED_SEGMENTS * size / size.sum())
    order = np.argsort(size, kind="stable")
    passed = np.cumsum(probability[order])
    marks = np.arange(int(passed[-1] + 0.5)) + 0.5
    chosen = order[np.minimum(np.searchsorted(passed, marks), n - 1)]
    return chosen, 1.0 / probability[chosen]
