"""Least squares inside bounds for a small problem, from many starting points at once.

A Levenberg-Marquardt iteration on all starting points together: the models are small and cost little more
in a batch than alone. Damping follows the ratio of gain to promise (Nielsen 1999). A parameter on a bound
whose slope points outward is held for that step. Robust losses enter as weights, with the exact gradient.
Nothing is random.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Minimum", "halton", "minimise", "robust_weights"]

FloatArray = NDArray[np.float64]
Evaluate = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


@dataclass(frozen=True, slots=True)
class Minimum:
    """Where each start ended.

    ``x`` (S, p) and ``cost`` (S,) are sorted by cost; ``converged`` (S,) tells which starts met the
    tolerance before the iterations ran out.
    """

    x: FloatArray
    cost: FloatArray
    converged: NDArray[np.bool_]


def robust_weights(residuals: FloatArray, limit: float | None) -> FloatArray:
    """Huber's weights: 1 up to the limit, then limit over residual; all 1 without a limit."""
    if limit is None:
        return np.ones_like(residuals)
    size = np.abs(residuals)
    return np.where(size <= limit, 1.0, limit / np.maximum(size, limit))


def _cost(residuals: FloatArray, limit: float | None) -> FloatArray:
    """Half the sum of squares, linear beyond the limit (Huber 1964)."""
    if limit is None:
        return np.asarray(0.5 * np.sum(residuals**2, axis=-1), dtype=float)
    size = np.abs(residuals)
    rho = np.where(size <= limit, 0.5 * size**2, limit * (size - 0.5 * limit))
    return np.asarray(np.sum(rho, axis=-1), dtype=float)


def minimise(
    evaluate: Evaluate,
    starts: FloatArray,
    low: FloatArray,
    high: FloatArray,
    *,
    limit: float | None = None,
    iterations: int = 100,
    tolerance: float = 1e-8,
) -> Minimum:
    """Minimise sums of squares (or Huber's loss) from each start.

    Parameters
    ----------
    evaluate : callable
        Parameters (S, p) -> residuals (S, n) and their Jacobian (S, n, p).
    starts : array, shape (S, p)
    low, high : array, shape (p,)
    limit : float, optional
        Residual at which Huber's loss turns linear.
    iterations : int
    tolerance : float
        Largest step of a parameter at which a start has converged.
    """
    x = np.clip(starts, low, high)
    damping, growth = np.full(len(x), 1e-2), np.full(len(x), 2.0)
    residuals, jacobian = evaluate(x)
    cost = _cost(residuals, limit)
    converged = np.zeros(len(x), dtype=bool)
    for _ in range(iterations):
        busy = np.flatnonzero(~converged)
        if busy.size == 0:
            break
        step, promised = _step(x[busy], residuals[busy], jacobian[busy], damping[busy], low, high, limit)
        trial = np.clip(x[busy] + step, low, high)
        moved = np.max(np.abs(trial - x[busy]), axis=1)
        new_residuals, new_jacobian = evaluate(trial)
        gain = cost[busy] - _cost(new_residuals, limit)
        better = gain > 0
        done = (moved <= tolerance) | (better & (gain <= 1e-9 * cost[busy] + 1e-20) & (damping[busy] < 1.0))
        taken = busy[better]
        x[taken], cost[taken] = trial[better], cost[taken] - gain[better]
        residuals[taken], jacobian[taken] = new_residuals[better], new_jacobian[better]
        ratio = np.clip(gain / np.maximum(promised, 1e-300), -1.0, 2.0)
        shrink = np.maximum(0.1, 1.0 - (2.0 * ratio - 1.0) ** 3)
        damping[busy] = np.maximum(damping[busy] * np.where(better, shrink, growth[busy]), 1e-9)
        growth[busy] = np.where(better, 2.0, 2.0 * growth[busy])
        converged[busy] = done | (damping[busy] > 1e10)
    order = np.argsort(cost, kind="stable")
    return Minimum(x[order], cost[order], converged[order])


def _step(
    x: FloatArray,
    residuals: FloatArray,
    jacobian: FloatArray,
    damping: FloatArray,
    low: FloatArray,
    high: FloatArray,
    limit: float | None,
) -> tuple[FloatArray, FloatArray]:
    """The damped step of each start and the decrease of its cost that the linear model promises."""
    weighted = jacobian * robust_weights(residuals, limit)[:, :, None]
    gradient = np.einsum("snp,sn->sp", weighted, residuals)
    normal = np.einsum("snp,snq->spq", weighted, jacobian)
    held = ((x <= low) & (gradient > 0)) | ((x >= high) & (gradient < 0))
    gradient = np.where(held, 0.0, gradient)
    normal = np.where(held[:, :, None] | held[:, None, :], 0.0, normal)
    p = x.shape[1]
    diagonal = np.einsum("spp->sp", normal)
    floor = 1e-12 * np.maximum(diagonal.max(axis=1, keepdims=True), 1e-300)
    extra = damping[:, None] * diagonal + floor + np.where(held, 1.0, 0.0)
    normal = normal + extra[:, :, None] * np.eye(p)
    step = -np.linalg.solve(normal, gradient[:, :, None])[:, :, 0]
    promised = 0.5 * np.sum(step * (extra * step - gradient), axis=1)
    return step, promised


def halton(count: int, dimensions: int) -> FloatArray:
    """Points that fill the unit cube evenly (Halton 1960), the same at every call: (count, dimensions)."""
    primes = (2, 3, 5, 7, 11, 13, 17, 19, 23)
    if dimensions > len(primes):
        raise ValueError(f"at most {len(primes)} dimensions, not {dimensions}")
    points = np.zeros((count, dimensions))
    for column, base in enumerate(primes[:dimensions]):
        index = np.arange(1, count + 1)
        share = 1.0 / base
        while np.any(index):
            points[:, column] += share * (index % base)
            index = index // base
            share /= base
    return points
