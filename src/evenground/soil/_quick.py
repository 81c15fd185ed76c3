"""The same sounding curves, made for evaluating thousands of models: values and slopes by one matrix.

At distances that form a geometric progression with the step of the digital filter, the filter asks for the
kernel at abscissae it has already used at the next distance. So the remainder of the kernel (both ends
taken out, see :mod:`evenground.soil._forward`) is computed once on one ladder of abscissae, under 500 in
all, and the filter, the interpolation from the progression to the distances of the readings, and the
weights of the arrays are multiplied into one matrix beforehand.

Measured against the direct sum over 1000 random soils each: relative difference below 1e-8 for contrasts up
to 100, 1e-7 up to 1000, 3e-7 up to 10 000. Published curves and residuals come from the direct sum.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from evenground.soil._forward import (
    FINE,
    FloatArray,
    Geometry,
    filter_weights,
    remainder,
    remainder_and_slopes,
)

__all__ = ["ROUGH", "QuickCurve", "quick_curve"]

ROUGH = "gupt_120_1997"
"""A third of the abscissae; 99 % of random soils within 2e-6 to 1e-5 at a contrast of 100, 4e-5 at 1000."""
POINTS = 12
"""Points of the Lagrange interpolation in the logarithm of distance."""
_BATCH = 10_000


@dataclass(frozen=True, slots=True)
class QuickCurve:
    """Curves of many models at the readings of one survey.

    ``lam`` (q,) are the abscissae, ``matrix`` (n, q) takes the remainder of the kernel to apparent
    resistivities, ``geometry`` adds the two ends at the exact distances. [1/m]
    """

    geometry: Geometry
    lam: FloatArray
    matrix: FloatArray

    def values(self, rho: FloatArray, h: FloatArray) -> FloatArray:
        """Apparent resistivities (M, n) of models rho (M, N), h (M, N - 1). [ohm m]"""
        if rho.shape[1] == 1:
            return self._ends(rho, h)
        batch = max(1, _BATCH // self.lam.size)
        parts = [
            remainder(self.lam, rho[k : k + batch], h[k : k + batch]) @ self.matrix.T
            for k in range(0, len(rho), batch)
        ]
        return np.concatenate(parts) + self._ends(rho, h)

    def values_and_slopes(self, rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Apparent resistivities (M, n) and derivatives by ln(rho), ln(h): (M, 2 N - 1, n)."""
        layers = rho.shape[1]
        if layers == 1:
            value = self._ends(rho, h)
            return value, value[:, None, :].copy()
        kernel, kernel_slopes = remainder_and_slopes(self.lam, rho, h)
        slopes = kernel_slopes @ self.matrix.T
        r, weights = self.geometry.distances_m, self.geometry.weights
        first, last = rho[:, :1], rho[:, -1:]
        depth = 2.0 * h.sum(axis=1, keepdims=True)
        far = 1.0 / np.sqrt(r**2 + depth**2)
        slopes[:, 0] += (first * (1.0 / r - far)) @ weights.T
        slopes[:, layers - 1] += (last * far) @ weights.T
        slopes[:, layers:] -= (((last - first) * depth * far**3) @ weights.T)[:, None] * (2.0 * h[:, :, None])
        return kernel @ self.matrix.T + self._ends(rho, h), slopes

    def _ends(self, rho: FloatArray, h: FloatArray) -> FloatArray:
        r, first = self.geometry.distances_m, rho[:, :1]
        value = first / r
        if rho.shape[1] > 1:
            depth = 2.0 * h.sum(axis=1, keepdims=True)
            value = value + (rho[:, -1:] - first) / np.sqrt(r**2 + depth**2)
        return np.asarray(value @ self.geometry.weights.T, dtype=float)


def quick_curve(geometry: Geometry, *, name: str = FINE) -> QuickCurve:
    """Prepare the matrix for the readings of one survey.

    ``name`` is a filter of libdlf with logarithmic steps; :data:`ROUGH` serves samplers. The last few are
    remembered: one survey is fitted several times.
    """
    distances, weights = geometry.distances_m, geometry.weights
    return _prepared(distances.tobytes(), weights.tobytes(), len(weights), name)


@lru_cache(maxsize=8)
def _prepared(distance_bytes: bytes, weight_bytes: bytes, readings: int, name: str) -> QuickCurve:
    distances = np.frombuffer(distance_bytes)
    geometry = Geometry(distances, np.frombuffer(weight_bytes).reshape(readings, -1))
    base, j0 = filter_weights(name)
    step = float(np.log(base[-1] / base[0]) / (base.size - 1))
    margin = POINTS // 2
    first = np.log(distances[0]) - margin * step
    count = int(np.ceil((np.log(distances[-1]) - first) / step)) + margin + 1
    nodes = np.exp(first + step * np.arange(count))
    # node k uses base[j] / nodes[k] = lam[j - k + count - 1]
    lam = base[0] / nodes[-1] * np.exp(step * np.arange(base.size + count - 1))
    filtering = np.zeros((count, lam.size))
    for k in range(count):
        start = count - 1 - k
        filtering[k, start : start + base.size] = j0 / nodes[k]
    place = (np.log(distances) - first) / step
    interpolation = _lagrange(place, count)
    # interpolate V times distance, which changes least
    interpolation = interpolation * nodes / distances[:, None]
    matrix = geometry.weights @ interpolation @ filtering
    used = np.flatnonzero(np.any(matrix != 0.0, axis=0))
    return QuickCurve(geometry, lam[used[0] : used[-1] + 1], matrix[:, used[0] : used[-1] + 1])


def _lagrange(place: FloatArray, count: int) -> FloatArray:
    """Weights of the interpolation at fractional positions on an even grid: (m, count)."""
    left = np.clip(np.floor(place).astype(int) - POINTS // 2 + 1, 0, count - POINTS)
    number = np.arange(POINTS)
    offset = place - left
    weights = np.zeros((place.size, count))
    for j in number:
        others = number[number != j]
        share = np.prod((offset[:, None] - others) / (j - others), axis=1)
        weights[np.arange(place.size), left + j] = share
    return weights
