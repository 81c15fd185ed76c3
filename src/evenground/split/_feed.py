"""The routes of the fault current: from each source's neutral through phase conductors to the fault."""

from __future__ import annotations

from dataclasses import dataclass, replace

from evenground.errors import Finding, InputError
from evenground.model.split import HOME, FaultPlace, Source, SplitNetwork
from evenground.split._build import Conduit, build_passive, tower_name
from evenground.split._circuit import Branch, Circuit

__all__ = ["add_feeds", "place_sources", "prospective_impedances"]


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
    if fault_line is not None and source.via == place.line:
        chosen = fault_line.chosen(place.phase)
        return [_Stretch(fault_line, place.tower, len(fault_line.sections), -1, chosen)]
    way = []
    if source.via:
        conduit = conduits[source.via]
        way.append(_Stretch(conduit, 0, len(conduit.sections), -1, conduit.chosen(source.phase)))
    if fault_line is not None:
        way.append(_Stretch(fault_line, 0, place.tower, 1, fault_line.chosen(place.phase)))
    return way


def _self_impedance(way: list[_Stretch]) -> complex:
    total = 0j
    for s in way:
        length = sum(section.length_m for section in s.conduit.sections[s.first : s.last])
        total += s.conduit.phase_between(s.chosen, s.chosen) * length
    return total


def _shared_impedance(a: list[_Stretch], b: list[_Stretch]) -> complex:
    """Of the stretches that two currents have in common."""
    total = 0j
    for s in a:
        for t in b:
            if s.conduit.name != t.conduit.name:
                continue
            pieces = s.conduit.sections[max(s.first, t.first) : min(s.last, t.last)]
            length = sum(section.length_m for section in pieces)
            between = s.conduit.phase_between(s.chosen, t.chosen)
            total += s.direction * t.direction * between * length
    return total


def _couple_wires(circuit: Circuit, branch: int, way: list[_Stretch]) -> None:
    for s in way:
        mutual = s.conduit.mutual_to(s.chosen) * s.direction
        for section in s.conduit.sections[s.first : s.last]:
            for other, row in zip(section.branches, section.rows, strict=True):
                circuit.couple(branch, other, complex(mutual[row]) * section.length_m)


def add_feeds(
    circuit: Circuit,
    conduits: dict[str, Conduit],
    sources: tuple[Source, ...],
    place: FaultPlace,
    inner_ohm: dict[str, complex],
) -> dict[str, int]:
    """Add one branch for each source, coupled with the wires along its way and with the other sources.

    ``inner_ohm`` holds the impedance of sources of feed ``"prospective"``. Returns source name -> branch.
    """
    fault = circuit.node(_fault_node(place))
    ways = [_stretches(source, place, conduits) for source in sources]
    branches = {}
    for source, way in zip(sources, ways, strict=True):
        own = source.impedance_ohm if source.feed == "voltage" else inner_ohm.get(source.name, 0j)
        fixed = source.feed == "current"
        branches[source.name] = circuit.add(
            Branch(
                circuit.node(source.station),
                fault,
                complex(own or 0j) + _self_impedance(way) + place.fault_resistance_ohm,
                source.name,
                "source",
                emf_v=0j if fixed else complex(source.voltage_v or 0j),
                fixed_a=complex(source.current_a or 0j) if fixed else None,
            )
        )
        _couple_wires(circuit, branches[source.name], way)
    indices = list(branches.values())
    for i, way in enumerate(ways):
        for j in range(i):
            shared = _shared_impedance(way, ways[j]) + place.fault_resistance_ohm
            circuit.couple(indices[i], indices[j], shared)
    return branches


def _fault_node(place: FaultPlace) -> str:
    return tower_name(place.line, place.tower) if place.line else HOME


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
    branches = add_feeds(circuit, conduits, imposed, FaultPlace("ideal earths"), {})
    solution = circuit.solve()
    inner, findings = {}, []
    for source in given:
        assert source.current_a is not None
        assert source.voltage_v is not None
        drop = complex(solution.driving_v[branches[source.name]])
        z = (source.voltage_v - drop) / source.current_a
        if min(z.real, z.imag) < -1e-9 * abs(source.voltage_v / source.current_a):
            message = f"source {source.name}: {source.via or 'its way'} alone does not let that current flow"
            advice = "give the current with its angle to the voltage (it lags), or a shorter line"
            findings.append(Finding("network-prospective", message, advice, path=(*source.path, "current_a")))
        inner[source.name] = z
    if findings:
        raise InputError(findings)
    return inner
