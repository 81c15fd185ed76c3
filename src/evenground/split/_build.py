"""From the network's shapes to a circuit: spans and sections become coupled branches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from math import isinf

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, InputError
from evenground.model.split import HOME, Cable, LineImpedances, OverheadLine, SplitNetwork
from evenground.split._circuit import Branch, Circuit
from evenground.split.wires import cable_impedances, line_impedances

__all__ = ["Conduit", "Section", "build_passive", "tower_name"]

ComplexArray = NDArray[np.complex128]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def tower_name(line: str, number: int) -> str:
    """Name of a tower's node."""
    return f"{line}/{number}"


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch with constant geometry: branch of each earthed conductor and its row in the matrices."""

    length_m: float
    branches: tuple[int, ...]
    rows: tuple[int, ...]


@dataclass(frozen=True)
class Conduit:
    """A line or cable in the circuit: its sections from the near end and its impedances per metre.

    ``stops`` are the nodes from the near end on: the start, each tower or joint, the far end. There are
    ``per_stop`` sections between two of them.
    """

    name: str
    sections: tuple[Section, ...]
    stops: tuple[str, ...]
    per_stop: int
    mutual: ComplexArray
    phase: ComplexArray
    phase_names: tuple[str, ...]
    path: tuple[str | int, ...]

    def chosen(self, phase: str) -> tuple[int, ...]:
        """Indices of the phase conductors meant by ``"farthest"``, ``"mean"`` or a name.

        Raises
        ------
        InputError
            When no phase has that name.
        """
        if phase == "mean":
            return tuple(range(len(self.phase_names)))
        if phase == "farthest":
            strength = np.abs(self.mutual).sum(axis=0)
            return (int(np.argmin(strength)),)
        if phase in self.phase_names:
            return (self.phase_names.index(phase),)
        names = ", ".join(self.phase_names)
        message = f"{self.name} has no phase {phase!r}"
        raise InputError([Finding("network-phase", message, f"phases: {names}", path=self.path)])

    def length_between_m(self, first: int, last: int) -> float:
        """Length of the sections from ``first`` up to, not including, ``last``. [m]"""
        return float(self._ends_m[last] - self._ends_m[first])

    def wires_between(self, first: int, last: int) -> tuple[IntArray, IntArray, FloatArray]:
        """Branches of those sections, their rows in the matrices and their lengths. [-, -, m]"""
        a, b = self._offsets[first], self._offsets[last]
        return self._wires[0][a:b], self._wires[1][a:b], self._wires[2][a:b]

    @cached_property
    def _means(self) -> dict[tuple[int, ...], ComplexArray]:
        return {}

    @cached_property
    def _between(self) -> dict[tuple[tuple[int, ...], tuple[int, ...]], complex]:
        return {}

    @cached_property
    def _ends_m(self) -> FloatArray:
        return np.concatenate([[0.0], np.cumsum([s.length_m for s in self.sections])])

    @cached_property
    def _offsets(self) -> IntArray:
        return np.concatenate([[0], np.cumsum([len(s.branches) for s in self.sections])]).astype(np.int64)

    @cached_property
    def _wires(self) -> tuple[IntArray, IntArray, FloatArray]:
        rows = [(b, r, s.length_m) for s in self.sections for b, r in zip(s.branches, s.rows, strict=True)]
        columns = np.array(rows, dtype=float).reshape(-1, 3)
        return columns[:, 0].astype(np.int64), columns[:, 1].astype(np.int64), columns[:, 2]

    def mutual_to(self, chosen: tuple[int, ...]) -> ComplexArray:
        """Coupling of each earthed conductor with the mean of the chosen phases. [ohm/m]"""
        if chosen not in self._means:
            self._means[chosen] = np.asarray(self.mutual[:, list(chosen)].mean(axis=1))
        return self._means[chosen]

    def phase_between(self, a: tuple[int, ...], b: tuple[int, ...]) -> complex:
        """Self impedance of a chosen phase, or mutual impedance of two choices. [ohm/m]"""
        if (a, b) not in self._between:
            own = np.mean([self.phase[i, i] for i in a]) if a == b else None
            self._between[a, b] = complex(self.phase[np.ix_(list(a), list(b))].mean() if own is None else own)
        return self._between[a, b]


def build_passive(
    network: SplitNetwork, *, ideal_earths: bool = False, only: Iterable[str] | None = None
) -> tuple[Circuit, dict[str, Conduit]]:
    """Everything but the mat and the sources.

    ``ideal_earths`` gives far stations and groups no impedance; ``only`` keeps the named lines and cables.
    """
    circuit = Circuit()
    circuit.node(HOME)
    keep = None if only is None else set(only)
    conduits = {}
    for line in network.lines:
        if keep is None or line.name in keep:
            conduits[line.name] = _add_line(circuit, line, _line_data(network, line))
    for cable in network.cables:
        if keep is None or cable.name in keep:
            data = cable_impedances(cable, network.soil, network.frequency_hz, network.earth_return)
            conduits[cable.name] = _add_cable(circuit, cable, data)
    for station in network.stations:
        circuit.to_earth(station.name, 0j if ideal_earths else complex(station.impedance_ohm))
    for group in network.groups:
        circuit.to_earth(group.name, 0j if ideal_earths else complex(group.resistance_ohm))
        if group.bonded_to and not ideal_earths:
            ends = circuit.node(group.bonded_to), circuit.node(group.name)
            circuit.add(Branch(*ends, complex(group.bond_ohm), f"bond to {group.name}", "bond"))
    return circuit, conduits


def _line_data(network: SplitNetwork, line: OverheadLine) -> LineImpedances:
    return line_impedances(line, network.soil, network.frequency_hz, network.earth_return)


def _arrays(data: LineImpedances) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    m, p = len(data.ground_ohm_per_m), len(data.phase_names)
    return (
        np.array(data.ground_ohm_per_m, dtype=np.complex128).reshape(m, m),
        np.array(data.mutual_ohm_per_m, dtype=np.complex128).reshape(m, p),
        np.array(data.phase_ohm_per_m, dtype=np.complex128).reshape(p, p),
    )


def _add_section(
    circuit: Circuit,
    ground: ComplexArray,
    length_m: float,
    ends: list[tuple[str, str]],
    rows: tuple[int, ...],
    labels: list[tuple[str, str]],
) -> Section:
    """Branches for the earthed conductors of one stretch, with their couplings."""
    z = ground * length_m
    branches = tuple(
        circuit.add(Branch(circuit.node(a), circuit.node(b), complex(z[r, r]), *label))
        for (a, b), r, label in zip(ends, rows, labels, strict=True)
    )
    for i in range(len(branches)):
        for j in range(i):
            circuit.couple(branches[i], branches[j], complex(z[rows[i], rows[j]]))
    return Section(length_m, branches, rows)


def _line_nodes(line: OverheadLine) -> list[str]:
    """Node at each end of each span, from the near end."""
    spans, towers = len(line.span_lengths_m), len(line.tower_resistances_ohm)
    names = [line.near_station if line.bonded_near else f"{line.name}/near end"]
    names += [tower_name(line.name, k) for k in range(1, spans)]
    if line.far_station and line.bonded_far:
        return [*names, line.far_station]
    if towers == spans:
        return [*names, tower_name(line.name, spans)]
    return [*names, f"{line.name}/far end"]


def _add_line(circuit: Circuit, line: OverheadLine, data: LineImpedances) -> Conduit:
    ground, mutual, phase = _arrays(data)
    m = len(ground)
    nodes = _line_nodes(line)
    kind = "neutral" if line.kind == "neutral" else "ground wire"
    names = [w.name for w in line.ground_wires] or [f"{kind} {i + 1}" for i in range(m)]
    labels = [(f"{line.name}: {name}", kind) for name in names]
    shielded = len(line.span_lengths_m) if line.shielded_spans is None else line.shielded_spans
    sections = []
    for s, length in enumerate(line.span_lengths_m):
        if s < shielded:
            ends, rows = [(nodes[s], nodes[s + 1])] * m, tuple(range(m))
            sections.append(_add_section(circuit, ground, length, ends, rows, labels))
        else:
            sections.append(Section(length, (), ()))
    for k, ohm in enumerate(line.tower_resistances_ohm, start=1):
        if not isinf(ohm):
            circuit.to_earth(nodes[k], complex(ohm), tower_name(line.name, k))
    return Conduit(line.name, tuple(sections), tuple(nodes), 1, mutual, phase, data.phase_names, line.path)


def _add_cable(circuit: Circuit, cable: Cable, data: LineImpedances) -> Conduit:
    ground, mutual, phase = _arrays(data)
    stops = [0.0, *(j.distance_m for j in cable.joints), cable.length_m]
    nodes = [cable.near_station, *(f"{cable.name}/joint {k}" for k in range(1, len(stops) - 1))]
    nodes.append(cable.far_station)
    for k, joint in enumerate(cable.joints, start=1):
        if not isinf(joint.earth_resistance_ohm):
            circuit.to_earth(nodes[k], complex(joint.earth_resistance_ohm))
    continuous = len(ground) - (0 if cable.continuity is None else 1)
    labels = [(f"{cable.name}: sheath {i + 1}", "sheath") for i in range(continuous)]
    if cable.continuity is not None:
        labels.append((f"{cable.name}: {cable.continuity.name}", "continuity conductor"))
    sections: list[Section] = []
    for k in range(len(stops) - 1):
        length, a, b = stops[k + 1] - stops[k], nodes[k], nodes[k + 1]
        if cable.bonding == "cross_bonded":
            sections += _crossed(circuit, ground, length, (a, b), labels, f"{cable.name}/{k + 1}")
            continue
        ends = [_sheath_ends(cable, a, b, i, continuous) for i in range(len(ground))]
        rows = tuple(range(len(ground)))
        sections.append(_add_section(circuit, ground, length, ends, rows, labels))
    per_stop = 3 if cable.bonding == "cross_bonded" else 1
    at, names = tuple(nodes), data.phase_names
    return Conduit(cable.name, tuple(sections), at, per_stop, mutual, phase, names, cable.path)


def _sheath_ends(cable: Cable, near: str, far: str, index: int, sheaths: int) -> tuple[str, str]:
    """Nodes of conductor ``index``; the open end of a sheath is a node of its own."""
    if index < sheaths and cable.bonding == "near_end":
        return near, f"{cable.name}/far end of sheath {index + 1}"
    if index < sheaths and cable.bonding == "far_end":
        return f"{cable.name}/near end of sheath {index + 1}", far
    return near, far


def _crossed(
    circuit: Circuit,
    ground: ComplexArray,
    length_m: float,
    ends: tuple[str, str],
    labels: list[tuple[str, str]],
    prefix: str,
) -> list[Section]:
    """Three equal pieces; each sheath path moves to the next position at the two insulated joints.

    A continuity conductor, last in the matrix, runs straight through.
    """
    sections = []
    for piece in range(3):
        pairs, rows = [], []
        for path in range(len(ground)):
            near = ends[0] if piece == 0 else f"{prefix}/{piece}/{path + 1}"
            far = ends[1] if piece == 2 else f"{prefix}/{piece + 1}/{path + 1}"
            pairs.append((near, far))
            rows.append((path + piece) % 3 if path < 3 else path)
        sections.append(_add_section(circuit, ground, length_m / 3.0, pairs, tuple(rows), labels))
    return sections
