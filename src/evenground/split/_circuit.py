"""A linear circuit of coupled branches, and its solution by the tableau of nodes and branches.

Sources couple with every span along their way, which would fill the sparse factors; they are few, so they
are kept out of the tableau and eliminated through its response to each of them (a bordered system). One
factorisation then serves every fault place: only the sources differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import SuperLU, splu

from evenground.errors import Finding, InputError, NotConvergedError
from evenground.model.split import HOME

__all__ = ["EARTH", "Branch", "Circuit", "CircuitSolution", "Drive", "Factored", "Response"]

EARTH = -1
"""Index of remote earth, the reference of all potentials."""
RESIDUAL_LIMIT = 1e-9
"""Largest breach of Kirchhoff's laws that is accepted, over the largest current or voltage."""

SAME = 1e-13
"""Columns that differ by less of their size are one; the check of Kirchhoff's laws follows in any case."""

ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Branch:
    """From ``start`` to ``end``: V_start + emf - sum(Z I) = V_end, or I = fixed when that is given.

    Only branches of a :class:`Drive` carry ``emf_v`` or ``fixed_a``.
    """

    start: int
    end: int
    impedance_ohm: complex
    label: str
    kind: str
    emf_v: complex = 0j
    fixed_a: complex | None = None


@dataclass(slots=True)
class Drive:
    """The sources of one fault place, with their couplings to the circuit and to each other."""

    branches: list[Branch] = field(default_factory=list)
    wires: list[tuple[IntArray, ComplexArray]] = field(default_factory=list)
    between: dict[tuple[int, int], complex] = field(default_factory=dict)

    def add(self, branch: Branch, wires: IntArray | None = None, ohm: ComplexArray | None = None) -> int:
        """Add a source; ``ohm`` couples it with the circuit's branches ``wires``. Its index."""
        nothing = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.complex128)
        self.branches.append(branch)
        self.wires.append(nothing if wires is None or ohm is None else (wires, ohm))
        return len(self.branches) - 1

    def loop_impedances(self) -> ComplexArray:
        """Of the sources among themselves. [ohm]"""
        z = np.diag(np.array([b.impedance_ohm for b in self.branches], dtype=np.complex128))
        for (i, j), ohm in self.between.items():
            z[i, j] = z[j, i] = ohm
        return z


@dataclass(slots=True)
class Circuit:
    """Nodes by name, passive branches, and impedances between branches."""

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

    def factor(self) -> Factored:
        """Factorise the circuit, ready for any sources.

        Raises
        ------
        InputError
            When some nodes have no path to earth.
        NotConvergedError
            When the equations are singular.
        """
        self._check_paths()
        impedances, incidence = self._impedances(), self._incidence()
        matrix = _tableau(incidence, impedances)
        try:
            factors = splu(matrix)
        except RuntimeError as error:
            raise NotConvergedError(
                f"current split: the network's equations are singular ({error})"
            ) from error
        ends = np.array([br.end == EARTH for br in self.branches])
        return Factored(self, incidence, impedances, matrix, factors, np.flatnonzero(ends))

    def solve(self, drive: Drive) -> CircuitSolution:
        """Potentials and currents for one set of sources; see :meth:`factor` and :meth:`Factored.solve`."""
        return self.factor().solve(drive)

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
        graph = coo_array((np.ones(len(starts)), (starts, ends)), shape=(n + 1, n + 1))
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
class Response:
    """Answer of the circuit to several drives: one column for each. [V, A]"""

    potentials_v: ComplexArray
    currents_a: ComplexArray
    supplied_a: tuple[ComplexArray, ...]


@dataclass(frozen=True, slots=True)
class Factored:
    """A circuit with its factors; see :meth:`Circuit.factor`."""

    circuit: Circuit
    incidence: csc_array
    impedances: csc_array
    matrix: csc_array
    factors: SuperLU
    to_earth: IntArray

    def respond(self, drives: Sequence[Drive]) -> Response:
        """Potentials and currents for several drives at once.

        Raises
        ------
        NotConvergedError
            When a source drives a loop without impedance, or Kirchhoff's law is not met.
        """
        borders = [self._border(drive) for drive in drives]
        x = np.empty((self.matrix.shape[0], len(drives)), dtype=np.complex128)
        pushed = np.empty_like(x)
        supplied = []
        answers = self._answers(borders)
        for k, (drive, own, mine) in enumerate(zip(drives, borders, answers, strict=True)):
            currents = _source_currents(drive, -drive.loop_impedances() - own.T @ mine)
            x[:, k], pushed[:, k] = -mine @ currents, own @ currents
            supplied.append(currents)
        self._check(x, pushed, supplied)
        n = len(self.circuit.names)
        return Response(x[:n], x[n:], tuple(supplied))

    def _answers(self, borders: Sequence[ComplexArray]) -> list[ComplexArray]:
        """The tableau solved for every column of every border.

        All sources of a place share the way from the station to the fault, so their columns differ by what
        does not depend on the place: each such difference is solved once.
        """
        columns = [border[:, 0] for border in borders]
        known: dict[int, list[int]] = {}
        uses: list[list[int]] = []
        for border in borders:
            row = []
            for s in range(1, border.shape[1]):
                difference = border[:, s] - border[:, 0]
                size = SAME * float(np.max(np.abs(difference), initial=0.0))
                place = next(
                    (j for j in known.get(s, []) if np.max(np.abs(columns[j] - difference)) <= size), None
                )
                if place is None:
                    place = len(columns)
                    columns.append(difference)
                    known.setdefault(s, []).append(place)
                row.append(place)
            uses.append(row)
        sides = np.column_stack(columns)
        answer = self.factors.solve(sides)
        answer = answer + self.factors.solve(sides - self.matrix @ answer)
        return [
            np.column_stack([answer[:, k], *(answer[:, k] + answer[:, j] for j in row)])
            for k, row in enumerate(uses)
        ]

    def solve(self, drive: Drive) -> CircuitSolution:
        """Everything about one drive.

        Raises
        ------
        NotConvergedError
            As :meth:`respond`.
        """
        response = self.respond([drive])
        inner = response.currents_a[:, 0]
        n = self.incidence.shape[0]
        border = self._border(drive)
        currents = np.concatenate([inner, response.supplied_a[0]])
        potentials = response.potentials_v[:, 0]
        residuals = np.abs(self.incidence @ inner + border[:n] @ response.supplied_a[0])
        earth = abs(complex(inner[self.to_earth].sum()))
        ends = np.array([(br.start, br.end) for br in drive.branches])
        drop = np.concatenate(
            [self.incidence.T @ potentials, potentials[ends[:, 0]] - potentials[ends[:, 1]]]
        )
        wires = self.impedances @ inner - border[n:] @ response.supplied_a[0]
        own = drive.loop_impedances() @ response.supplied_a[0] - border[n:].T @ inner
        driving = np.concatenate([wires, own]) - drop
        given = complex(np.vdot(currents, driving))
        balance = abs(complex(np.vdot(currents, drop))) / abs(given) if given != 0 else 0.0
        return CircuitSolution(self.circuit, drive, potentials, currents, driving, residuals, earth, balance)

    def _border(self, drive: Drive) -> ComplexArray:
        """Columns of the sources in the tableau: where they start and end, and what they induce."""
        n, b = self.incidence.shape
        border = np.zeros((n + b, len(drive.branches)), dtype=np.complex128)
        for k, (branch, (wires, ohm)) in enumerate(zip(drive.branches, drive.wires, strict=True)):
            border[branch.start, k] += 1.0
            border[branch.end, k] -= 1.0
            np.subtract.at(border[:, k], n + wires, ohm)
        return border

    def _check(self, x: ComplexArray, pushed: ComplexArray, supplied: Sequence[ComplexArray]) -> None:
        """Kirchhoff's laws for every column."""
        n = len(self.circuit.names)
        missed = np.abs(self.matrix @ x + pushed)
        earth = np.abs(x[n:][self.to_earth].sum(axis=0))
        largest = np.maximum(
            np.max(np.abs(x[n:]), axis=0, initial=0.0), [np.max(np.abs(s), initial=0.0) for s in supplied]
        )
        worst = np.maximum(np.max(missed[:n], axis=0, initial=0.0), earth)
        bad = ~np.isfinite(worst) | (worst > RESIDUAL_LIMIT * largest)
        if bad.any():
            k = int(np.argmax(bad))
            raise NotConvergedError(
                f"current split: Kirchhoff's law missed by {worst[k]:.2e} A of {largest[k]:.3g} A"
            )
        size = np.maximum(np.max(np.abs(x[:n]), axis=0, initial=0.0), np.max(np.abs(pushed[n:]), axis=0))
        volts = np.max(missed[n:], axis=0, initial=0.0)
        if (volts > RESIDUAL_LIMIT * size).any():
            raise NotConvergedError(f"current split: the voltage law is missed by {np.max(volts):.2e} V")


def _source_currents(drive: Drive, loop: ComplexArray) -> ComplexArray:
    """Currents of the sources from their loop equations, or as imposed."""
    rhs = np.array([-br.emf_v for br in drive.branches], dtype=np.complex128)
    for row, branch in enumerate(drive.branches):
        if branch.fixed_a is not None:
            loop[row], rhs[row] = 0.0, branch.fixed_a
            loop[row, row] = 1.0
    try:
        return np.asarray(np.linalg.solve(loop, rhs), dtype=np.complex128)
    except np.linalg.LinAlgError as error:
        raise NotConvergedError("current split: a source drives a loop without impedance") from error


@dataclass(frozen=True, slots=True)
class CircuitSolution:
    """Potentials [V], currents of branches and then sources [A], the voltage that drives each [V],
    residuals [A]."""

    circuit: Circuit
    drive: Drive
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
        """Of a branch of the circuit. [A]"""
        return complex(self.currents_a[branch])

    def supplied(self, source: int) -> complex:
        """Of a source. [A]"""
        return complex(self.currents_a[len(self.circuit.branches) + source])

    def drop(self, source: int) -> complex:
        """What a source's current loses in impedances and against the circuit. [V]"""
        return complex(self.driving_v[len(self.circuit.branches) + source])

    def leaving(self, name: str) -> Sequence[tuple[Branch, complex, bool]]:
        """Branches at a node, their currents away from it, whether they start there; a loop comes twice."""
        node, rows = self.circuit.index[name], []
        everything = (*self.circuit.branches, *self.drive.branches)
        for branch, current in zip(everything, self.currents_a, strict=True):
            if branch.start == node:
                rows.append((branch, complex(current), True))
            if branch.end == node:
                rows.append((branch, -complex(current), False))
        return rows
