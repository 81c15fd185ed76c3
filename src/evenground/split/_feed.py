"""The routes of the fault current: from each source's neutral through phase conductors to the fault."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, InputError
from evenground.model.split import HOME, FaultPlace, Source, SplitNetwork
from evenground.split._build import Conduit, build_passive
from evenground.split._circuit import Branch, Circuit, Drive

__all__ = ["fault_node", "make_drive", "place_sources", "prospective_impedances"]

ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Sections of one conduit that a current passes; direction +1 is away from the near end."""

    conduit: Conduit
    first: int
    last: int
    direction: int
    chosen: tuple[int, ...]


def place_sources(network: SplitNetwork, place: FaultPlace) -> tuple[Source, ...]:
    """The sources that feed a place."""
    return tuple(s for s in network.sources if not place.sources or s.name in place.sources)


def _stretches(source: Source, place: FaultPlace, conduits: dict[str, Conduit]) -> list[_Stretch]:
    """Way of the current. A source at the far end of the faulted line comes from its own side."""
    fault_line = conduits[place.line] if place.line else None
    stop = place.tower * fault_line.per_stop if fault_line is not None else 0
    if fault_line is not None and source.via == place.line:
        chosen = fault_line.chosen(place.phase)
        return [_Stretch(fault_line, stop, len(fault_line.sections), -1, chosen)]
    way = []
    if source.via:
        conduit = conduits[source.via]
        way.append(_Stretch(conduit, 0, len(conduit.sections), -1, conduit.chosen(source.phase)))
    if fault_line is not None:
        way.append(_Stretch(fault_line, 0, stop, 1, fault_line.chosen(place.phase)))
    return way


def _self_impedance(way: list[_Stretch]) -> complex:
    total = 0j
    for s in way:
        total += s.conduit.phase_between(s.chosen, s.chosen) * s.conduit.length_between_m(s.first, s.last)
    return total


def _shared_impedance(a: list[_Stretch], b: list[_Stretch]) -> complex:
    """Of the stretches that two currents have in common."""
    total = 0j
    for s in a:
        for t in b:
            first, last = max(s.first, t.first), min(s.last, t.last)
            if s.conduit.name != t.conduit.name or last <= first:
                continue
            between = s.conduit.phase_between(s.chosen, t.chosen)
            total += s.direction * t.direction * between * s.conduit.length_between_m(first, last)
    return total


def _induced(way: list[_Stretch]) -> tuple[IntArray, ComplexArray]:
    """Wires beside a way and their mutual impedances with it. [-, ohm]"""
    wires, ohms = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.complex128)]
    for s in way:
        branches, rows, lengths = s.conduit.wires_between(s.first, s.last)
        wires.append(branches)
        ohms.append(s.conduit.mutual_to(s.chosen)[rows] * s.direction * lengths)
    return np.concatenate(wires), np.concatenate(ohms)


def make_drive(
    circuit: Circuit,
    conduits: dict[str, Conduit],
    sources: tuple[Source, ...],
    place: FaultPlace,
    inner_ohm: dict[str, complex],
) -> Drive:
    """One branch for each source, in order, coupled with the wires along its way and with the others.

    ``inner_ohm`` holds the impedance of sources of feed ``"prospective"``.

    Raises
    ------
    InputError
        When the metal at the fault has no earth at all.
    """
    met = fault_node(conduits, place)
    if met not in circuit.index:
        message = f"no metallic or earth path from {met} to remote earth"
        raise InputError(
            [Finding("network-floating", message, "earth it, or give it a wire", path=place.path)]
        )
    fault = circuit.index[met]
    ways = [_stretches(source, place, conduits) for source in sources]
    drive = Drive()
    for source, way in zip(sources, ways, strict=True):
        own = source.impedance_ohm if source.feed == "voltage" else inner_ohm.get(source.name, 0j)
        fixed = source.feed == "current"
        branch = Branch(
            circuit.index[source.station],
            fault,
            complex(own or 0j) + _self_impedance(way) + place.fault_resistance_ohm,
            source.name,
            "source",
            emf_v=0j if fixed else complex(source.voltage_v or 0j),
            fixed_a=complex(source.current_a or 0j) if fixed else None,
        )
        drive.add(branch, *_induced(way))
    for i, way in enumerate(ways):
        for j in range(i):
            drive.between[i, j] = _shared_impedance(way, ways[j]) + place.fault_resistance_ohm
    return drive


def fault_node(conduits: dict[str, Conduit], place: FaultPlace) -> str:
    """Name of the node where the fault meets earthed metal."""
    return conduits[place.line].stops[place.tower] if place.line else HOME


def prospective_impedances(network: SplitNetwork, sources: tuple[Source, ...]) -> dict[str, complex]:
    """Impedance of each source that was given by its current at ideal earths. [ohm]

    All of them drive their stated currents into a fault at the station with every earth at zero; what is
    missing to their voltage is their own impedance.

    Raises
    ------
    InputError
        When the line alone limits the current to less than stated.
    """
    given = tuple(s for s in sources if s.feed == "prospective")
    if not given:
        return {}
    circuit, conduits = build_passive(network, ideal_earths=True)
    circuit.to_earth(HOME, 0j)
    imposed = tuple(replace(s, feed="current") for s in given)
    solution = circuit.solve(make_drive(circuit, conduits, imposed, FaultPlace("ideal earths"), {}))
    inner, findings = {}, []
    for k, source in enumerate(given):
        assert source.current_a is not None
        assert source.voltage_v is not None
        drop = solution.drop(k)
        z = (source.voltage_v - drop) / source.current_a
        if min(z.real, z.imag) < -1e-9 * abs(source.voltage_v / source.current_a):
            message = f"source {source.name}: {source.via or 'its way'} alone does not let that current flow"
            advice = "give the current with its angle to the voltage (it lags), or a shorter line"
            findings.append(Finding("network-prospective", message, advice, path=source.path))
        inner[source.name] = z
    if findings:
        raise InputError(findings)
    return inner
