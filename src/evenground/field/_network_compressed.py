"""The circuit solved with compressed matrices.

With P the earth's matrix, Z the axial impedances, M and A the mean and the drop per node potential::

    P q - M v = 0        every segment leaks at its mean potential
    Z i - A v = 0        and carries what its drop drives
    M' q + A' i = f      every joint gives away what is fed into it

The preconditioner is the same system with P and Z replaced by matrices whose inverses are known: blocks of
neighbours on one conductor plus a coarse space of one current per group of neighbours (and axis). Their node
equations are sparse, and the coarse part is added by Woodbury's formula. Every iterate then meets the third
equation exactly, so GMRES runs on the residuals of the first two only, each weighed by its diagonal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field import _runs
from evenground.field._circuit import Branches, Circuit
from evenground.field._clusters import Partition, partition
from evenground.field._compressed import (
    WORKING_BYTES,
    CompressedMatrix,
    compress_matrix,
    compressed_bytes,
    leaf_groups,
)
from evenground.field._earth_return import EarthReturn
from evenground.field._images import ImageSet
from evenground.field._induction import Family, Induction, compress_induction, families
from evenground.field._segments import reordered

__all__ = ["NetworkPlan", "compressed_network_bytes", "plan_network", "solve_compressed_network"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Tell = Callable[[str, float], None]

TOLERANCE = 3e-7
RESTART = 120
MOST_ITERATIONS = 600
EARTH_GROUPS = 300
AXIAL_GROUPS = 100
COLUMNS = 64
"""Coarse functions sent through the sparse factors at a time."""
FACTOR_BYTES = 2500
"""Memory per segment of the sparse factors, the blocks and the vectors, measured on parks and mats."""


@dataclass(frozen=True, eq=False)
class NetworkPlan:
    """How the segments are clustered: for the earth, and for the families of the induction."""

    earth: Partition
    families: list[Family]


def plan_network(circuit: Circuit) -> NetworkPlan:
    """Cluster the segments; cheap against the solve."""
    return NetworkPlan(partition(circuit.leaking), families(circuit.wires))


def compressed_network_bytes(plan: NetworkPlan, segments: int) -> int:
    """Estimate of the memory that the solution takes at its peak."""
    partitions = [plan.earth, *(f.parts for f in plan.families)]
    both = sum(compressed_bytes(p) for p in partitions)
    both -= (len(partitions) - 1) * WORKING_BYTES  # they are filled one after the other
    vectors = 16 * 2 * segments * (RESTART + 10)
    return both + vectors + FACTOR_BYTES * segments


@dataclass(frozen=True, eq=False)
class _System:
    """Both matrices, and what each is approximated by."""

    circuit: Circuit
    order: NDArray[np.int64]
    earth: CompressedMatrix
    induction: Induction
    mean: Any
    incidence: Any

    def leak_drop(self, q: ComplexArray) -> ComplexArray:
        """P q. [A -> V]"""
        rows = q[self.order]
        y = self.earth.multiply_columns(np.ascontiguousarray(np.stack([rows.real, rows.imag])))
        out = np.empty(len(q), dtype=complex)
        out[self.order] = y[0] + 1j * y[1]
        return out

    def axial_drop(self, i: ComplexArray) -> ComplexArray:
        """Z i. [A -> V]"""
        return np.asarray(self.circuit.internal_ohm * i + self.induction.multiply(i))


@dataclass(frozen=True, eq=False)
class _TwoLevel:
    """Inverse of an approximation: sparse blocks, plus a coarse space with its own matrix."""

    blocks: Any
    basis: Any
    coarse: ComplexArray

    def apply(self, x: ComplexArray, factors: Any) -> ComplexArray:
        from scipy.linalg import lu_solve

        return np.asarray(
            self.blocks @ x + self.basis @ lu_solve(factors, self.basis.T @ x, check_finite=False)
        )


class _Preconditioner:
    """Solves the system with both matrices approximated."""

    def __init__(self, system: _System, leak: _TwoLevel, carry: _TwoLevel) -> None:
        from scipy.linalg import block_diag, lu_factor
        from scipy.sparse import csr_array, hstack
        from scipy.sparse.linalg import splu

        self.system, self.leak, self.carry = system, leak, carry
        m, a = system.mean, system.incidence
        nodal = (m.T @ leak.blocks @ m + a.T @ carry.blocks @ a).tocsc()
        self.sparse = splu(
            nodal, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        self.coarse = hstack([m.T @ leak.basis, a.T @ carry.basis], format="csc")
        small = block_diag(leak.coarse, carry.coarse).astype(complex)
        for k in range(0, self.coarse.shape[1], COLUMNS):
            part = self.sparse.solve(self.coarse[:, k : k + COLUMNS].toarray().astype(complex))
            small[:, k : k + COLUMNS] += self.coarse.T @ part
        self.small = lu_factor(small, overwrite_a=True)
        self.leak_factors, self.carry_factors = lu_factor(leak.coarse), lu_factor(carry.coarse)
        self.coarse = csr_array(self.coarse)

    def nodes(self, right: ComplexArray) -> ComplexArray:
        """Node potentials for currents left over at the nodes."""
        from scipy.linalg import lu_solve

        v = self.sparse.solve(right)
        y = lu_solve(self.small, self.coarse.T @ v, check_finite=False)
        return np.asarray(v - self.sparse.solve(self.coarse @ y))

    def solve(
        self, a: ComplexArray, b: ComplexArray, fed: ComplexArray | None
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Potentials, leaked and axial currents for right sides a, b and currents fed into nodes."""
        s = self.system
        right = -s.mean.T @ self.leak.apply(a, self.leak_factors)
        right -= s.incidence.T @ self.carry.apply(b, self.carry_factors)
        if fed is not None:
            right = right + fed
        v = self.nodes(right)
        q = self.leak.apply(a + s.mean @ v, self.leak_factors)
        return v, q, self.carry.apply(b + s.incidence @ v, self.carry_factors)


def solve_compressed_network(
    circuit: Circuit,
    images: ImageSet,
    earth_return: EarthReturn,
    frequency_hz: float,
    plan: NetworkPlan,
    tell: Tell,
) -> Branches:
    """Compress both matrices and iterate.

    Raises
    ------
    NotConvergedError
        When a block can not be compressed or the iteration does not reach its tolerance.
    """
    order = plan.earth.order
    leaking = circuit.leaking

    def part(first: float, last: float) -> Tell:
        return lambda text, fraction: tell(text, first + (last - first) * fraction)

    earth = compress_matrix(
        reordered(leaking, order), images, plan.earth, part(0.1, 0.4), circuit.series_ohm[order]
    )
    induction = compress_induction(circuit.wires, plan.families, earth_return, frequency_hz, part(0.4, 0.6))
    system = _System(circuit, order, earth, induction, circuit.mean(), circuit.incidence())
    tell("preconditioner", 0.65)
    leak, weight_q = _leak_level(system, images, plan)
    carry, weight_i = _carry_level(system, earth_return, frequency_hz)
    near = _Preconditioner(system, leak, carry)
    return _iterate(system, near, np.concatenate([weight_q, weight_i]), tell)


def _leak_level(system: _System, images: ImageSet, plan: NetworkPlan) -> tuple[_TwoLevel, FloatArray]:
    from scipy.sparse import csr_array

    leaking = system.circuit.leaking
    runs = _runs.runs_of(leaking)
    blocks = _runs.fill(leaking, images, runs)
    _runs.add_diagonal(blocks, runs, system.circuit.series_ohm)
    group = leaf_groups(plan.earth, EARTH_GROUPS)
    length = leaking.length_m[system.order]
    share = length / np.bincount(group, length)[group]
    basis = csr_array((share, (system.order, group)), shape=(len(share), int(group[-1]) + 1))
    weight = 1.0 / np.sqrt(_runs.diagonal(blocks, runs).real)
    coarse = system.earth.on_groups(group, share).astype(complex)
    return _TwoLevel(_runs.inverse(blocks, runs), basis, coarse), weight


def _carry_level(
    system: _System, earth_return: EarthReturn, frequency_hz: float
) -> tuple[_TwoLevel, FloatArray]:
    circuit = system.circuit
    runs = _runs.runs_of(circuit.wires)
    blocks = _runs.fill_axial(circuit.wires, runs, earth_return, frequency_hz)
    _runs.add_diagonal(blocks, runs, circuit.internal_ohm)
    basis, kernel = system.induction.groups(AXIAL_GROUPS, len(circuit.wires))
    coarse = system.induction.factor * kernel + (basis.T * circuit.internal_ohm) @ basis
    weight = 1.0 / np.sqrt(np.abs(_runs.diagonal(blocks, runs)))
    return _TwoLevel(_runs.inverse(blocks, runs), basis, np.asarray(coarse)), weight


def _iterate(system: _System, near: _Preconditioner, weight: FloatArray, tell: Tell) -> Branches:
    from scipy.sparse.linalg import LinearOperator, gmres

    m, n = len(system.circuit.bare), len(system.circuit.internal_ohm)
    spent = [0]

    def residuals(v: ComplexArray, q: ComplexArray, i: ComplexArray) -> ComplexArray:
        return np.concatenate(
            [system.leak_drop(q) - system.mean @ v, system.axial_drop(i) - system.incidence @ v]
        )

    def apply(y: ComplexArray) -> ComplexArray:
        r = y.ravel() / weight
        return np.asarray(weight * residuals(*near.solve(r[:m], r[m:], None)))

    def count(_: float) -> None:
        spent[0] += 1
        tell(f"iteration {spent[0]}", 0.75 + 0.2 * (1.0 - 0.97 ** spent[0]))

    v, q, i = near.solve(np.zeros(m, complex), np.zeros(n, complex), system.circuit.fed_a)
    left = weight * residuals(v, q, i)
    goal = TOLERANCE * float(np.linalg.norm(weight * np.concatenate([system.mean @ v, system.incidence @ v])))
    operator = LinearOperator((m + n, m + n), matvec=apply, dtype=complex)
    y, missed = gmres(
        operator,
        -left,
        rtol=0.0,
        atol=goal,
        restart=RESTART,
        maxiter=-(-MOST_ITERATIONS // RESTART),
        callback=count,
        callback_type="pr_norm",
    )
    r = y / weight
    dv, dq, di = near.solve(r[:m], r[m:], None)
    v, q, i = v + dv, q + dq, i + di
    rest = residuals(v, q, i)
    residual = float(np.max(np.abs(rest)) / np.max(np.abs(v)))
    if missed:
        raise NotConvergedError(
            f"the compressed network solve left a residual of {residual:.1e} after {spent[0]} iterations"
        )
    rank = system.earth.mean_rank
    method = f"compressed network (mean rank {rank:.1f}), GMRES on the branch equations"
    return Branches(v, q, i, residual, spent[0], method)
