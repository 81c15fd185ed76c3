"""Share of the earth-fault current between the mat and the metal that leaves the station."""

from __future__ import annotations

from cmath import isfinite
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from evenground.errors import Finding, InputError, NotConvergedError
from evenground.model.split import (
    HOME,
    EarthMatrix,
    FaultPlace,
    PathCurrent,
    PlaceCurrents,
    Source,
    SplitNetwork,
    SplitResult,
    SplitSweep,
    TowerPotential,
)
from evenground.split._build import Conduit, build_passive, tower_name
from evenground.split._check import check_network, check_place
from evenground.split._circuit import Branch, Circuit, CircuitSolution, Drive, Factored
from evenground.split._feed import fault_node, make_drive, place_sources, prospective_impedances

__all__ = ["PreparedSplit", "equivalent_impedance", "prepare_split", "solve_split", "sweep_fault_places"]

CHUNK = 64
"""Fault places that are solved together."""


def solve_split(
    network: SplitNetwork,
    mat_resistance_ohm: complex,
    place: FaultPlace,
    *,
    earth: EarthMatrix | None = None,
) -> SplitResult:
    """Solve one fault place: currents in every path, potential rise, split factor.

    Phasor nodal network at power frequency. Every span is a group of coupled branches with earth return;
    the fault current runs through its phase conductor and induces in the wires beside it.

    Parameters
    ----------
    network : SplitNetwork
    mat_resistance_ohm : complex
        Resistance (or impedance) of the mat alone, as the field solution gives it. [ohm]
    place : FaultPlace
    earth : EarthMatrix, optional
        Coupling through the soil between the mat and other earths.

    Raises
    ------
    InputError
        With every finding: unknown names, nothing feeds the fault, no path to earth.
    NotConvergedError
        When the equations are singular or Kirchhoff's law is not met to 1e-9.
    """
    return prepare_split(network, mat_resistance_ohm, earth=earth, places=(place,)).solve(place)


def prepare_split(
    network: SplitNetwork,
    mat_resistance_ohm: complex,
    *,
    earth: EarthMatrix | None = None,
    places: Iterable[FaultPlace] = (),
) -> PreparedSplit:
    """Build and factorise the network once, for any number of fault places.

    Parameters are those of :func:`solve_split`; ``places`` are checked with the network, so that one error
    shows everything.

    Raises
    ------
    InputError, NotConvergedError
        As :func:`solve_split`.
    """
    mat = complex(mat_resistance_ohm)
    findings = check_network(network)
    for place in places:
        findings += check_place(network, place)
    if not isfinite(mat) or not mat.real > 0.0:
        message = (
            f"mat_resistance_ohm must be finite with a resistance above zero, got {mat_resistance_ohm!r}"
        )
        findings.append(Finding("network-mat", message, path=("mat_resistance_ohm",)))
    _refuse(findings)
    circuit, conduits = build_passive(network)
    circuit.to_earth(HOME, mat)
    if earth is not None:
        _join_earths(circuit, earth, mat)
    return PreparedSplit(network, mat, circuit.factor(), conduits)


@dataclass(frozen=True)
class PreparedSplit:
    """A network with its factors; only what drives it differs from place to place."""

    network: SplitNetwork
    mat_resistance_ohm: complex
    factored: Factored
    conduits: dict[str, Conduit]
    inner: dict[tuple[str, ...], dict[str, complex]] = field(default_factory=dict)

    def solve(self, place: FaultPlace) -> SplitResult:
        """Everything about one fault place; raises as :func:`solve_split`."""
        sources, drive = self._drive(place)
        return _result(self.network, self.mat_resistance_ohm, place, sources, self.factored.solve(drive))

    def survey(self, places: Iterable[FaultPlace], watch: Iterable[str] = ()) -> tuple[PlaceCurrents, ...]:
        """The main currents and potentials of many places, solved together.

        ``watch`` names further nodes whose potential is wanted: stations, groups, joints, open sheath ends.

        Raises
        ------
        InputError, NotConvergedError
            As :func:`solve_split`.
        """
        chosen, rows = tuple(places), []
        index = self.factored.circuit.index
        names = tuple(watch)
        _refuse(
            [
                Finding("network-watch", f"{name!r} is no node of the network")
                for name in names
                if name not in index
            ]
        )
        nodes = [index[name] for name in names]
        for start in range(0, len(chosen), CHUNK):
            rows += self._survey(chosen[start : start + CHUNK], nodes)
        return tuple(rows)

    def _survey(self, places: tuple[FaultPlace, ...], watched: list[int]) -> list[PlaceCurrents]:
        circuit, rows = self.factored.circuit, []
        drives = [self._drive(place) for place in places]
        answer = self.factored.respond([drive for _, drive in drives])
        home, mat = circuit.index[HOME], circuit.earth_branch[HOME]
        local = _local_stations(self.network)
        for k, (place, (sources, _)) in enumerate(zip(places, drives, strict=True)):
            supplied = answer.supplied_a[k]
            own = [current for s, current in zip(sources, supplied, strict=True) if s.station in local]
            node = circuit.index[fault_node(self.conduits, place)]
            rows.append(
                PlaceCurrents(
                    place,
                    fault_current_a=complex(supplied.sum()),
                    local_current_a=complex(sum(own)),
                    mat_current_a=complex(answer.currents_a[mat, k]),
                    gpr_v=complex(answer.potentials_v[home, k]),
                    fault_potential_v=complex(answer.potentials_v[node, k]),
                    watched_v=tuple(complex(answer.potentials_v[n, k]) for n in watched),
                )
            )
        return rows

    def _drive(self, place: FaultPlace) -> tuple[tuple[Source, ...], Drive]:
        _refuse(check_place(self.network, place))
        sources = place_sources(self.network, place)
        names = tuple(s.name for s in sources)
        if names not in self.inner:
            self.inner[names] = prospective_impedances(self.network, sources)
        circuit = self.factored.circuit
        return sources, make_drive(circuit, self.conduits, sources, place, self.inner[names])


def sweep_fault_places(
    network: SplitNetwork,
    mat_resistance_ohm: complex,
    places: Iterable[FaultPlace] | None = None,
    *,
    earth: EarthMatrix | None = None,
    permitted_rise_v: Mapping[str, float] | None = None,
) -> SplitSweep:
    """Solve several fault places and name the governing one.

    Parameters
    ----------
    places : iterable of FaultPlace, optional
        Those of the network when left out.
    permitted_rise_v : mapping, optional
        Place name -> potential rise that its clearing time permits; every place must be named. Without it
        the highest rise need not be the worst: a lower one that lasts longer may be. [V]

    Raises
    ------
    InputError, NotConvergedError
        As :func:`solve_split`; also when there is no place, or one has no permitted rise.
    """
    chosen = tuple(network.places if places is None else places)
    if not chosen:
        raise InputError([Finding("network-place", "no fault place to solve", path=("places",))])
    if permitted_rise_v is not None:
        bad = [p.name for p in chosen if not permitted_rise_v.get(p.name, 0.0) > 0.0]
        if bad:
            message = f"no permitted rise above zero for {', '.join(bad)}"
            raise InputError([Finding("network-place", message, path=("permitted_rise_v",))])
    prepared = prepare_split(network, mat_resistance_ohm, earth=earth)
    results = tuple(prepared.solve(p) for p in chosen)
    use: tuple[float, ...] = ()
    if permitted_rise_v is not None:
        use = tuple(abs(r.gpr_v) / permitted_rise_v[r.place.name] for r in results)
    return SplitSweep(
        results,
        highest_rise=max(results, key=lambda r: abs(r.gpr_v)),
        largest_mat_current=max(results, key=lambda r: abs(r.mat_current_a)),
        largest_utilisation=results[int(np.argmax(use))] if use else None,
        utilisations=use,
    )


def equivalent_impedance(network: SplitNetwork, *, only: Iterable[str] | None = None) -> complex:
    """Impedance of all paths but the mat, seen from the station with no fault current beside them. [ohm]

    ``only`` keeps the named lines and cables. With mutual coupling it is not enough for the split: the
    fault current also induces in the wires; see ``reduction_factor``.

    Raises
    ------
    InputError
        When nothing but the mat leads from the station to earth.
    """
    _refuse(check_network(network))
    circuit, _ = build_passive(network, only=only)
    # one ampere from a node that only the earth through one ohm joins: into the station
    circuit.to_earth("injection", 1.0 + 0j)
    drive = Drive()
    ends = circuit.index["injection"], circuit.node(HOME)
    drive.add(Branch(*ends, 0j, "injection", "source", fixed_a=1.0 + 0j))
    return circuit.solve(drive).potential(HOME)


def _refuse(findings: list[Finding]) -> None:
    if findings:
        raise InputError(findings)


def _join_earths(circuit: Circuit, earth: EarthMatrix, mat: complex) -> None:
    """Replace the earths named in the matrix by its coupled ones."""
    rows = np.array(earth.resistance_ohm, dtype=float)
    findings = []
    for i, name in enumerate(earth.groups):
        if name not in circuit.earth_branch:
            findings.append(
                Finding("network-earth", f"earth matrix: {name!r} is not an earth of the network")
            )
        elif name == HOME and abs(rows[i, i] - mat) > 1e-6 * abs(mat):
            message = (
                f"earth matrix: {rows[i, i]:g} ohm for the station differs from mat_resistance_ohm {mat:g}"
            )
            findings.append(Finding("network-earth", message))
    if float(np.linalg.eigvalsh(rows)[0]) <= 0.0:
        findings.append(
            Finding("network-earth", "earth matrix: not positive definite, so not a passive earth")
        )
    _refuse(findings)
    indices = [circuit.earth_branch[name] for name in earth.groups]
    for i, index in enumerate(indices):
        old = circuit.branches[index]
        if not earth.keeps_own:
            circuit.branches[index] = Branch(old.start, old.end, complex(rows[i, i]), old.label, old.kind)
        for j in range(i):
            circuit.couple(index, indices[j], complex(rows[i, j]))


def _local_stations(network: SplitNetwork) -> set[str]:
    """The station and the earths bonded to it: a neutral there is local."""
    return {HOME} | {g.name for g in network.groups if g.bonded_to == HOME}


def _paths(solution: CircuitSolution, total: complex) -> tuple[PathCurrent, ...]:
    rows = []
    for branch, current, outward in solution.leaving(HOME):
        kind = branch.kind
        if kind == "source":
            kind = "source neutral" if outward else "fault"
        rows.append(PathCurrent(branch.label, kind, current, abs(current) / abs(total)))
    return tuple(rows)


def _towers(network: SplitNetwork, solution: CircuitSolution) -> tuple[TowerPotential, ...]:
    rows, circuit = [], solution.circuit
    for line in network.lines:
        distances = np.cumsum(line.span_lengths_m)
        for k in range(1, len(line.tower_resistances_ohm) + 1):
            name = tower_name(line.name, k)
            branch = circuit.earth_branch.get(name)
            if branch is not None:
                potential = complex(solution.potentials_v[circuit.branches[branch].start])
                current = solution.current(branch)
            elif name in circuit.index:
                potential, current = solution.potential(name), 0j
            else:
                continue
            rows.append(TowerPotential(line.name, k, float(distances[k - 1]), potential, current))
    return tuple(rows)


def _remarks(
    network: SplitNetwork,
    sources: tuple[Source, ...],
    total: complex,
    rise: complex,
) -> tuple[list[str], list[str]]:
    warnings: list[str] = []
    notes: list[str] = []
    fixed = [s for s in sources if s.feed == "current"]
    warnings += [
        f"the potential rise ({abs(rise):.0f} V) is above the voltage that drives source {s.name} "
        f"({abs(s.voltage_v):.0f} V): that current can not flow; describe the source by voltage and impedance"
        for s in fixed
        if s.voltage_v is not None and abs(rise) > abs(s.voltage_v)
    ]
    blind = [s.name for s in fixed if s.voltage_v is None]
    if blind:
        notes.append(
            f"the current of {', '.join(blind)} is imposed, whatever the station's resistance; without a "
            "driving voltage the potential rise has no upper bound"
        )
    if network.soil.layers > 1 and network.earth_return == "carson":
        notes.append("layered soil: lines see an equivalent uniform resistivity")
    several = {r.name for r in network.lines if len(r.phases) > 1}
    if any(s.phase == "farthest" and s.via in several for s in sources):
        notes.append("the phase farthest from the earthed conductors is taken to carry the current")
    if abs(total) < 1e-3 * sum(abs(s.current_a or 0j) for s in fixed):
        warnings.append("the source currents nearly cancel: check their angles")
    return warnings, notes


def _result(
    network: SplitNetwork,
    mat: complex,
    place: FaultPlace,
    sources: tuple[Source, ...],
    solution: CircuitSolution,
) -> SplitResult:
    circuit = solution.circuit
    currents = {source.name: solution.supplied(k) for k, source in enumerate(sources)}
    total = sum(currents.values(), 0j)
    if total == 0:
        raise NotConvergedError(f"fault place {place.name}: the source currents cancel; no share is defined")
    home = _local_stations(network)
    local = sum((currents[s.name] for s in sources if s.station in home), 0j)
    residuals = dict(zip(circuit.names, map(float, solution.node_residuals_a), strict=True))
    residuals["remote earth"] = solution.earth_residual_a
    warnings, notes = _remarks(network, sources, total, solution.potential(HOME))
    towers = {tower_name(line.name, k + 1) for line in network.lines for k in range(len(line.span_lengths_m))}
    earths = {n: solution.current(i) for n, i in circuit.earth_branch.items() if n not in towers}
    return SplitResult(
        place=place,
        mat_resistance_ohm=mat,
        fault_current_a=total,
        local_current_a=local,
        mat_current_a=solution.current(circuit.earth_branch[HOME]),
        gpr_v=solution.potential(HOME),
        paths=_paths(solution, total),
        towers=_towers(network, solution),
        potentials_v={n: solution.potential(n) for n in circuit.names if n not in towers},
        earth_currents_a=earths,
        source_currents_a=currents,
        worst_residual=max(residuals.values()) / abs(total),
        node_residuals_a=residuals,
        power_balance=solution.power_balance,
        warnings=tuple(warnings),
        notes=tuple(notes),
    )
