"""The circuit solved with dense matrices."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from evenground.errors import NotConvergedError
from evenground.field._circuit import Branches, Circuit
from evenground.field._dense import assemble_matrix
from evenground.field._earth_return import EarthReturn
from evenground.field._images import ImageSet
from evenground.field._induction import dense_induction

__all__ = ["dense_network_bytes", "solve_dense_network"]

RESIDUAL = 1e-6


def dense_network_bytes(segments: int) -> int:
    """Memory of the dense solution: two real and five complex matrices, and what is left of others."""
    return int(112 * segments**2 + 2e8)


def solve_dense_network(
    circuit: Circuit,
    images: ImageSet,
    earth_return: EarthReturn,
    frequency_hz: float,
    tell: Callable[[str, float], None],
) -> Branches:
    """Node potentials from the inverse of both matrices.

    Raises
    ------
    NotConvergedError
        When the branch equations are left with a residual.
    """
    from scipy.linalg import inv, solve

    tell("earth", 0.1)
    earth = assemble_matrix(circuit.leaking, images)
    m = len(earth)
    earth[np.arange(m), np.arange(m)] += circuit.series_ohm
    leak = inv(earth, check_finite=False)
    tell("induction", 0.4)
    along = dense_induction(circuit.wires, earth_return, frequency_hz)
    n = len(along)
    along[np.arange(n), np.arange(n)] += circuit.internal_ohm
    carry = inv(along, check_finite=False)
    tell("network", 0.7)
    incidence, mean = circuit.incidence(), circuit.mean()
    y = incidence.T @ (incidence.T @ carry).T + mean.T @ (mean.T @ leak).T
    v = solve(y, circuit.fed_a, overwrite_a=True, check_finite=False)
    leaked, axial = leak @ (mean @ v), carry @ (incidence @ v)
    worst = max(
        float(np.max(np.abs(earth @ leaked - mean @ v))),
        float(np.max(np.abs(along @ axial - incidence @ v))),
    )
    residual = worst / float(np.max(np.abs(v)))
    if not residual < RESIDUAL:
        raise NotConvergedError(
            f"the dense network solve left a residual of {residual:.1e} (allowed {RESIDUAL:.0e})"
        )
    return Branches(np.asarray(v, dtype=np.complex128), leaked, axial, residual, 0, "dense network, LU")
