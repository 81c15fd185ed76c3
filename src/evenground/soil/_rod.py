"""A driven rod in a layered earth: the resistance that a test of growing depth shows.

Each part of the rod inside one layer leaks with a density of its own, and the mean potential of all parts is
the same (the average-potential method; one part, in uniform soil, gives Dwight's ln(8L/d) - 1, by which the
readings are turned into apparent resistivities). The potential of a vertical line in N layers is the
integral over lambda of J0(lambda a) times exponentials of depth, whose mean over source and observer is
closed; only the direct term of a part on itself is integrated in space.

Against the field solution with segments of 0.05 m, each over its own value in uniform soil, apparent
resistivities of two and three layers up to a contrast of 20 agree within 1 %; where the tip stands some
centimetres inside a layer of much lower resistivity, within 5 %.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenground.model.soil import LayeredSoil
from evenground.soil._forward import FloatArray

__all__ = ["RodCurve", "rod_apparent_resistivity", "rod_curve"]

SLOPE_STEP = 1e-3
"""Step of ln(parameter) for the slopes by central differences."""
SHORT_M = 0.01
"""A part of about this length fades out smoothly, since the tip of a rod may lie on an interface. [m]"""
LEAST_M = 1e-4
"""Length given to a part that is not there; with the fading above it carries no current. [m]"""
_STEP_LN, _DEEPEST_M, _FINEST = 0.35, 5e3, 20.0
"""Abscissae of the integral; against ten times as many the values change by 1e-5 up to a contrast of 1000."""
_BATCH = 400


@dataclass(frozen=True, slots=True)
class RodCurve:
    """Apparent resistivities of rods over many soils; ``lengths_m`` and ``radii_m`` are (n,). [m]"""

    lengths_m: FloatArray
    radii_m: FloatArray

    def values(self, rho: FloatArray, h: FloatArray) -> FloatArray:
        """Apparent resistivities (M, n) of models rho (M, N), h (M, N - 1). [ohm m]"""
        if rho.shape[1] == 1:
            return np.repeat(rho, len(self.lengths_m), axis=1)
        parts = [
            np.column_stack(
                [
                    _one_rod(float(length), float(radius), rho[k : k + _BATCH], h[k : k + _BATCH])
                    for length, radius in zip(self.lengths_m, self.radii_m, strict=True)
                ]
            )
            for k in range(0, len(rho), _BATCH)
        ]
        return np.concatenate(parts)

    def values_and_slopes(self, rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Apparent resistivities (M, n) and derivatives by ln(rho), ln(h): (M, 2 N - 1, n)."""
        layers, models = rho.shape[1], len(rho)
        x = np.log(np.concatenate([rho, h], axis=1))
        steps = SLOPE_STEP * np.eye(2 * layers - 1)
        all_x = np.exp(np.concatenate([x[None], x[None] + steps[:, None], x[None] - steps[:, None]]))
        flat = all_x.reshape(-1, 2 * layers - 1)
        found = self.values(flat[:, :layers], flat[:, layers:]).reshape(4 * layers - 1, models, -1)
        up, down = found[1 : 2 * layers], found[2 * layers :]
        return found[0], np.swapaxes((up - down) / (2.0 * SLOPE_STEP), 0, 1)


def rod_apparent_resistivity(
    length_m: float, diameter_m: float, rho: FloatArray, h: FloatArray
) -> FloatArray:
    """Apparent resistivity of one rod over models rho (M, N), h (M, N - 1): (M,). [ohm m]"""
    curve = RodCurve(np.array([length_m]), np.array([diameter_m / 2.0]))
    return curve.values(rho, h)[:, 0]


def rod_curve(lengths_m: FloatArray, diameter_m: float, soil: LayeredSoil) -> tuple[float, ...]:
    """Apparent resistivities of rods of growing length over one soil. [ohm m]

    Lengths below four diameters have no value (nan): they are no rods.
    """
    long = lengths_m >= 4.0 * diameter_m
    curve = RodCurve(lengths_m[long], np.full(int(long.sum()), diameter_m / 2.0))
    values = np.full(len(lengths_m), np.nan)
    rho = np.array([soil.resistivities_ohm_m])
    values[long] = curve.values(rho, np.array([soil.thicknesses_m]).reshape(1, -1))[0]
    return tuple(float(v) for v in values)


def _one_rod(length: float, radius: float, rho: FloatArray, h: FloatArray) -> FloatArray:
    """Apparent resistivity (M,) of one rod."""
    tops = np.concatenate([np.zeros((len(rho), 1)), np.cumsum(h, axis=1)], axis=1)
    thick = np.concatenate([h, np.full((len(rho), 1), np.inf)], axis=1)
    parts = np.clip(length - tops, 0.0, thick)
    reached = int(np.max(np.sum(parts > 0.0, axis=1)))
    matrix = _mean_potentials(length, radius, rho, thick, parts, reached)
    conductance = np.linalg.solve(matrix, np.ones((len(rho), reached, 1)))[..., 0].sum(axis=1)
    scale = 2.0 * np.pi * length / (np.log(4.0 * length / radius) - 1.0)
    return np.asarray(scale / conductance, dtype=float)


def _abscissae(length: float, radius: float) -> tuple[FloatArray, FloatArray]:
    """lambda (q,) and the weights of the integral with J0(lambda a), by the trapezoid in ln(lambda)."""
    from scipy.special import j0

    low, high = np.log(1e-3 / _DEEPEST_M), np.log(_FINEST / radius)
    x = np.linspace(low, high, int(np.ceil((high - low) / _STEP_LN)) + 1)
    lam = np.exp(x)
    # the direct term has been taken out: what is left falls with lambda squared beyond 1/radius
    return lam, lam * (x[1] - x[0]) * j0(lam * radius)


def _mean_potentials(
    length: float, radius: float, rho: FloatArray, thick: FloatArray, parts: FloatArray, reached: int
) -> FloatArray:
    """Mean potential of part i for one ampere from part j: (M, reached, reached). [ohm]"""
    lam, weights = _abscissae(length, radius)
    models = len(rho)
    decay = [*(np.exp(-lam * t[:, None]) for t in thick.T[:-1]), np.zeros((models, lam.size))]
    down, up = _reflections(rho, decay)
    matrix = np.zeros((models, reached, reached))
    for j in range(reached):
        span = np.maximum(parts[:, j], LEAST_M)
        from_top = -np.expm1(-lam * span[:, None]) / lam
        from_bottom = _from_bottom(lam, thick[:, j], span, from_top)
        rest = 1.0 - up[j] * down[j] * decay[j] ** 2
        a = up[j] * (from_top + down[j] * from_bottom * decay[j]) / rest
        b = down[j] * (from_bottom + a * decay[j])
        own = (a * from_top + b * from_bottom) @ weights / span**2
        own = rho[:, j] / (4.0 * np.pi) * (own + _direct(span, radius) / span**2)
        fading = 1.0 if j == 0 else 1.0 + (SHORT_M / span) ** 2
        matrix[:, j, j] = own * fading
        phi = (from_bottom + a * decay[j]) * (1.0 + down[j])
        for i in range(j + 1, reached):
            other = np.maximum(parts[:, i], LEAST_M)
            top = -np.expm1(-lam * other[:, None]) / lam
            bottom = _from_bottom(lam, thick[:, i], other, top)
            share = phi / (1.0 + down[i] * decay[i] ** 2)
            mean = share * (top + down[i] * decay[i] * bottom) @ weights / (span * other)
            matrix[:, i, j] = matrix[:, j, i] = rho[:, j] / (4.0 * np.pi) * mean
            phi = share * decay[i] * (1.0 + down[i])
    return matrix


def _from_bottom(lam: FloatArray, thick: FloatArray, span: FloatArray, from_top: FloatArray) -> FloatArray:
    """Integral of exp(-lambda (bottom - z)) over the part; 0 in the endless layer."""
    if not np.all(np.isfinite(thick)):
        return np.zeros_like(from_top)
    return np.asarray(np.exp(-lam * (thick - span)[:, None]) * from_top, dtype=float)


def _direct(span: FloatArray, radius: float) -> FloatArray:
    """Double integral of 1/distance along a line of length ``span`` at a distance ``radius``. [m]"""
    x = span / radius
    return np.asarray(2.0 * (span * np.arcsinh(x) - np.hypot(span, radius) + radius), dtype=float)


def _reflections(rho: FloatArray, decay: list[FloatArray]) -> tuple[list[FloatArray], list[FloatArray]]:
    """Reflection seen looking down and looking up from each layer: two lists of (M, q)."""
    models, layers = rho.shape
    size = decay[0].shape[1]
    down: list[FloatArray] = [np.zeros((models, size))] * layers
    for i in range(layers - 2, -1, -1):
        k = ((rho[:, i + 1] - rho[:, i]) / (rho[:, i + 1] + rho[:, i]))[:, None]
        q = down[i + 1] * decay[i + 1] ** 2
        down[i] = (k + q) / (1.0 + k * q)
    up: list[FloatArray] = [np.ones((models, size))] * layers
    for i in range(1, layers):
        k = ((rho[:, i - 1] - rho[:, i]) / (rho[:, i - 1] + rho[:, i]))[:, None]
        q = up[i - 1] * decay[i - 1] ** 2
        up[i] = (k + q) / (1.0 + k * q)
    return down, up
