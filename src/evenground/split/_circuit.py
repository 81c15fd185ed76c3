"""A linear circuit of coupled branches, and its solution by the tableau of nodes and branches.

Sources couple with every span along their way, which would fill the sparse factors; they are few, so they
are kept out of the tableau and eliminated through its response to each of them (a bordered system).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from evenground.errors import Finding, InputError, NotConvergedError
from evenground.model.split import HOME

__all__ = ["EARTH", "SOURCE", "Branch", "Circuit", "CircuitSolution"]

EARTH = -1
"""Index of remote earth, the reference of all potentials."""
SOURCE = "source"
"""Kind of the branches that drive the network. Only they carry ``emf_v`` or ``fixed_a``."""
RESIDUAL_LIMIT = 1e-9
"""Largest breach of Kirchhoff's laws that is accepted, over the largest current or voltage."""

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Branch:
    """From ``start`` to ``end``: V_start + emf - sum(Z I) = V_end, or I = fixed when that is given."""

    start: int
    end: int
    impedance_ohm: complex
    label: str
    kind: str
    emf_v: complex = 0j
    fixed_a: complex | None = None


@dataclass(slots=True)
class Circuit:
    """Nodes by name, branches, and impedances between branches."""

    names: list[str] = field(default_factory=list)
    index: dict[str, int] = field(default_factory=dict)
    branches: list[Branch] = field(default_factory=list)
    couplings: list[tuple[int, int, complex]] = field(default_factory=list)
    earth_branch: dict[str, int] = field(default_factory=dict)

    def node(self, name: str) -> int:
        """Index of a node, made when it is new."""
        if name not in self.index:
            self.index[name] = len(self.names)
            self.names.append(name)
        return self.index[name]

    def add(self, branch: Branch) -> int:
        """Add a branch; its index."""
        self.branches.append(branch)
        return len(self.branches) - 1

    def couple(self, a: int, b: int, impedance_ohm: complex) -> None:
        """Add a mutual impedance, in both directions."""
        if impedance_ohm != 0:
            self.couplings += [(a, b, impedance_ohm), (b, a, impedance_ohm)]

    def to_earth(self, node_name: str, impedance_ohm: complex, label: str = "") -> None:
        """Earth a node through an impedance; one earth electrode for each node name."""
        name = label or node_name
        mat = name == HOME
        self.earth_branch[name] = self.add(
            Branch(self.node(node_name), EARTH, impedance_ohm, *(("mat", "mat") if mat else (name, "earth")))
        )

    def solve(self) -> CircuitSolution:
        """Potentials and currents.

        Raises
        ------
        InputError
            When some nodes have no path to earth.
        NotConvergedError
            When the equations are singular or Kirchhoff's law is not met.
        """
        self._check_paths()
        impedances, incidence = self._impedances(), self._incidence()
        n = len(self.names)
        source = np.array([br.kind == SOURCE for br in self.branches])
        inner, outer = np.flatnonzero(~source), np.flatnonzero(source)
        z_inner = impedances[inner][:, inner]
        matrix = _tableau(incidence[:, inner], z_inner)
        border = np.vstack([incidence[:, outer].toarray(), -impedances[inner][:, outer].toarray()])
        try:
            factors = splu(matrix)
        except RuntimeError as error:
            raise NotConvergedError(
                f"current split: the network's equations are singular ({error})"
            ) from error
        response = factors.solve(border)
        response = response + factors.solve(border - matrix @ response)
        z_outer = impedances[outer][:, outer].toarray()
        supplied = self._source_currents(outer, -z_outer - border.T @ response)
        x = -response @ supplied
        currents = np.zeros(len(self.branches), dtype=np.complex128)
        currents[inner], currents[outer] = x[n:], supplied
        return self._finish(x[:n], currents, incidence, impedances)

    def _source_currents(self, outer: NDArray[np.int64], loop: ComplexArray) -> ComplexArray:
        """Currents of the sources from their loop equations, or as imposed."""
        rhs = np.array([-self.branches[i].emf_v for i in outer], dtype=np.complex128)
        for row, i in enumerate(outer):
            fixed = self.branches[i].fixed_a
            if fixed is not None:
                loop[row], rhs[row] = 0.0, fixed
                loop[row, row] = 1.0
        try:
            return np.asarray(np.linalg.solve(loop, rhs), dtype=np.complex128)
        except np.linalg.LinAlgError as error:
            raise NotConvergedError("current split: a source drives a loop without impedance") from error

    def _finish(
        self, potentials: ComplexArray, currents: ComplexArray, incidence: csc_array, impedances: csc_array
    ) -> CircuitSolution:
        residuals = np.abs(incidence @ currents)
        earth = sum(
            (currents[i] for i, br in enumerate(self.branches) if br.end == EARTH),
            0j,
        )
        largest = float(np.max(np.abs(currents), initial=0.0))
        worst = float(max(np.max(residuals, initial=0.0), abs(earth)))
        if not np.isfinite(worst) or worst > RESIDUAL_LIMIT * largest:
            raise NotConvergedError(
                f"current split: Kirchhoff's law missed by {worst:.2e} A of {largest:.3g} A"
            )
        drop = incidence.T @ potentials
        loop = impedances @ currents - drop
        free = np.array([br.fixed_a is None for br in self.branches])
        emf = np.array([br.emf_v for br in self.branches], dtype=np.complex128)
        missed = float(np.max(np.abs(loop - emf)[free], initial=0.0))
        if missed > RESIDUAL_LIMIT * float(np.max(np.abs(np.concatenate([potentials, loop])), initial=0.0)):
            raise NotConvergedError(f"current split: the voltage law is missed by {missed:.2e} V")
        given = complex(np.vdot(currents, loop))
        balance = abs(complex(np.vdot(currents, drop))) / abs(given) if given != 0 else 0.0
        return CircuitSolution(self, potentials, currents, loop, residuals, abs(earth), balance)

    def _incidence(self) -> csc_array:
        rows, columns, values = [], [], []
        for i, br in enumerate(self.branches):
            for node, sign in ((br.start, 1.0), (br.end, -1.0)):
                if node != EARTH:
                    rows.append(node)
                    columns.append(i)
                    values.append(sign)
        shape = (len(self.names), len(self.branches))
        return csc_array(coo_array((values, (rows, columns)), shape=shape, dtype=np.complex128))

    def _impedances(self) -> csc_array:
        b = len(self.branches)
        diagonal = [(i, i, br.impedance_ohm) for i, br in enumerate(self.branches)]
        rows, columns, values = zip(*diagonal, *self.couplings, strict=True)
        return csc_array(coo_array((values, (rows, columns)), shape=(b, b), dtype=np.complex128))

    def _check_paths(self) -> None:
        n = len(self.names)
        starts = np.array([br.start if br.start != EARTH else n for br in self.branches])
        ends = np.array([br.end if br.end != EARTH else n for br in self.branches])
        # a source is no path: its neutral and its fault must reach earth by themselves
        joins = np.array([br.kind != SOURCE for br in self.branches])
        graph = coo_array((joins.astype(float), (starts, ends)), shape=(n + 1, n + 1))
        graph.eliminate_zeros()
        _, labels = connected_components(graph, directed=False)
        lost = [self.names[i] for i in range(n) if labels[i] != labels[n]]
        if lost:
            shown = ", ".join(lost[:5]) + (f" and {len(lost) - 5} more" if len(lost) > 5 else "")
            message = f"no metallic or earth path from {shown} to remote earth"
            raise InputError([Finding("network-floating", message, "earth it, or join it to the station")])


def _tableau(incidence: csc_array, impedances: csc_array) -> csc_array:
    """[[0, A], [A^T, -Z]]: current law at the nodes, voltage law along the branches."""
    n, b = incidence.shape
    top, z = coo_array(incidence), coo_array(impedances)
    rows = np.concatenate([top.row, top.col + n, z.row + n])
    columns = np.concatenate([top.col + n, top.row, z.col + n])
    values = np.concatenate([top.data, top.data, -z.data])
    return csc_array(coo_array((values, (rows, columns)), shape=(n + b, n + b)))


@dataclass(frozen=True, slots=True)
class CircuitSolution:
    """Potentials [V], branch currents [A], the voltage that drives each branch [V], residuals [A]."""

    circuit: Circuit
    potentials_v: ComplexArray
    currents_a: ComplexArray
    driving_v: ComplexArray
    node_residuals_a: NDArray[np.float64]
    earth_residual_a: float
    power_balance: float

    def potential(self, name: str) -> complex:
        """Of a named node. [V]"""
        return complex(self.potentials_v[self.circuit.index[name]])

    def current(self, branch: int) -> complex:
        """Of a branch. [A]"""
        return complex(self.currents_a[branch])

    def leaving(self, name: str) -> Sequence[tuple[Branch, complex, bool]]:
        """Branches at a node, their currents away from it, whether they start there; a loop comes twice."""
        node, rows = self.circuit.index[name], []
        for branch, current in zip(self.circuit.branches, self.currents_a, strict=True):
            if branch.start == node:
                rows.append((branch, complex(current), True))
            if branch.end == node:
                rows.append((branch, -complex(current), False))
        return rows
