"""Mean of 1/r over pairs of straight segments: the geometry behind every coefficient of the net."""

from __future__ import annotations

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

from evenground.model.metalwork import Metalwork

__all__ = ["PairMeans", "pair_means", "segment_potential"]

Floats = NDArray[np.float64]


class PairMeans:
    """Geometry of a net of m segments.

    Attributes
    ----------
    direct, image : arrays of shape (m, m)
        Mean of 1/r over segment i and segment j, and over segment i and the mirror of j in the surface. [1/m]
    cosine : array of shape (m, m)
        Cosine of the angle between two segments.
    length_m, radius_m : arrays of shape (m,)
        [m]
    """

    def __init__(
        self, direct: Floats, image: Floats, cosine: Floats, length_m: Floats, radius_m: Floats
    ) -> None:
        self.direct = direct
        self.image = image
        self.cosine = cosine
        self.length_m = length_m
        self.radius_m = radius_m


def segment_potential(points: Floats, tail: Floats, way: Floats, length: Floats, radius: Floats) -> Floats:
    """Mean of 1/r over segments as seen from points, shape (points, segments). [1/m]

    ``way`` are unit vectors; the distance from the axis is taken as at least the radius, in quadrature.
    """
    offset = points[:, None, :] - tail[None, :, :]
    along = np.einsum("pmk,mk->pm", offset, way)
    square = np.einsum("pmk,pmk->pm", offset, offset) - along**2
    beside = np.sqrt(np.maximum(square, 0.0) + radius**2)
    result: Floats = (np.arcsinh((length - along) / beside) + np.arcsinh(along / beside)) / length
    return result


def _self_mean(length: Floats, radius: Floats) -> Floats:
    """Mean of 1/r over a segment and itself, one of them on the surface of the wire. [1/m]"""
    result: Floats = (
        2.0 * (length * np.arcsinh(length / radius) - np.hypot(length, radius) + radius) / length**2
    )
    return result


def _mean_over(
    tail: Floats, way: Floats, length: Floats, sources: tuple[Floats, Floats], radius: Floats, order: int
) -> Floats:
    """Gauss mean over every segment of the potential of every source. [1/m]"""
    total = np.zeros((len(length), len(length)))
    for node, weight in zip(*leggauss(order), strict=True):
        at = tail + way * (0.5 * (1.0 + node) * length)[:, None]
        total += 0.5 * weight * segment_potential(at, sources[0], sources[1], length, radius)
    return total


def _refine(total: Floats, net: tuple[Floats, Floats, Floats, Floats], mirrored: bool) -> None:
    """Replace the coefficients of near pairs by ones with more Gauss points."""
    tail, way, length, radius = net
    flip = np.array([1.0, 1.0, -1.0]) if mirrored else np.ones(3)
    middle = tail + 0.5 * way * length[:, None]
    gap = np.linalg.norm(middle[:, None, :] - (middle * flip)[None, :, :], axis=2)
    i, j = np.nonzero(gap < 1.5 * (length[:, None] + length[None, :]))
    value = np.zeros(len(i))
    for node, weight in zip(*leggauss(24), strict=True):
        at = tail[i] + way[i] * (0.5 * (1.0 + node) * length[i])[:, None]
        offset = at - (tail * flip)[j]
        along = np.einsum("pk,pk->p", offset, (way * flip)[j])
        beside = np.sqrt(np.maximum(np.einsum("pk,pk->p", offset, offset) - along**2, 0.0) + radius[j] ** 2)
        value += (
            0.5 * weight * (np.arcsinh((length[j] - along) / beside) + np.arcsinh(along / beside)) / length[j]
        )
    total[i, j] = value


def pair_means(net: Metalwork) -> PairMeans:
    """All coefficients of a net; dense, so memory grows with the square of the number of segments."""
    tail = net.nodes_m[net.start]
    way = (net.nodes_m[net.end] - tail) / net.length_m[:, None]
    length, radius = net.length_m, net.radius_m
    mirror = np.array([1.0, 1.0, -1.0])
    direct = _mean_over(tail, way, length, (tail, way), radius, 4)
    image = _mean_over(tail, way, length, (tail * mirror, way * mirror), radius, 4)
    _refine(direct, (tail, way, length, radius), False)
    _refine(image, (tail, way, length, radius), True)
    direct, image = 0.5 * (direct + direct.T), 0.5 * (image + image.T)
    np.fill_diagonal(direct, _self_mean(length, radius))
    return PairMeans(direct, image, way @ way.T, length, radius)
