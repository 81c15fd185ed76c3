"""Between field and safety: which share of each fault's current the mat takes, for the mat of this soil."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt
from typing import TYPE_CHECKING

from evenground._study_coupling import coupling_effect, fence_places, mat_places, nearby_fault
from evenground.errors import Finding, InputError, OutOfRangeError
from evenground.model.network import (
    Contribution,
    Feeder,
    Network,
    PlaceRow,
    ScenarioSplit,
    TableCheck,
    WatchedEarth,
)
from evenground.model.split import FaultPlace, PlaceCurrents, Source, SplitNetwork
from evenground.provenance import recording
from evenground.split import (
    PreparedSplit,
    lagging_current,
    line_impedances,
    prepare_split,
    route_reduction_factor,
    split_factor_from_impedance,
    table_estimate,
)
from evenground.split.wires import cable_impedances
from evenground.standards import ieee80

if TYPE_CHECKING:
    from evenground.model.coupling import CouplingEffect, SoilCoupling
    from evenground.model.fault import FaultResult
    from evenground.model.project import Project
    from evenground.model.soil import LayeredSoil
    from evenground.model.split import SplitResult

__all__ = ["share_currents"]

SUM_TOLERANCE = 0.02
"""Contributions may miss the fault's current by this share (rounded figures of a fault study)."""
NOTHING = 1e-9
"""Share of the mat below which nothing but rounding enters the soil: every source is local."""
POOR_FOOTING_OHM = 39.0
"""Geometric mean of the footings of 15 and 100 ohm for which Annex C gives its two columns."""


def share_currents(
    project: Project,
    faults: Sequence[FaultResult],
    surveyed: LayeredSoil,
    resistance_ohm: float,
    coupling: SoilCoupling | None = None,
) -> tuple[tuple[FaultResult, ...], tuple[ScenarioSplit, ...]]:
    """The faults with the share of this mat, and where their currents go; as they are without a network.

    Parameters
    ----------
    surveyed : LayeredSoil
        Ground for the earth return, unless the network states its own.
    resistance_ohm : float
        Of the mat in the soil of this case. [ohm]
    coupling : SoilCoupling, optional
        Resistances through the soil between the mat and the placed earths of the network.

    Raises
    ------
    InputError
        When nothing feeds a fault, its contributions do not add up, or the network does not hang together.
    NotConvergedError
        From the network's solution.
    """
    network = project.network
    if network is None:
        return tuple(faults), ()
    rows: list[FaultResult] = []
    found: dict[str, ScenarioSplit] = {}
    findings: list[Finding] = []
    for fault in faults:
        scenario, name = fault.scenario, fault.scenario.fault_name
        given = list(network.contributions(name))
        if not given and scenario.split_stated:
            rows.append(fault)
            continue
        try:
            if name not in found:
                found[name] = _one_fault(project, network, fault, surveyed, resistance_ohm, coupling)
            rows.append(_with_share(fault, found[name]))
        except InputError as error:
            findings += [f for f in error.findings if f not in findings]
    if findings:
        raise InputError(findings)
    splits = [
        replace(found[f.scenario.fault_name], scenario=f.scenario.name)
        for f in faults
        if f.scenario.fault_name in found
    ]
    return tuple(rows), tuple(splits)


def _one_fault(
    project: Project,
    network: Network,
    fault: FaultResult,
    surveyed: LayeredSoil,
    resistance_ohm: float,
    coupling: SoilCoupling | None,
) -> ScenarioSplit:
    scenario = fault.scenario
    name = scenario.fault_name
    circuit = SplitNetwork(
        project.frequency_hz,
        network.soil or surveyed,
        lines=network.lines,
        cables=network.cables,
        stations=network.stations,
        groups=network.groups,
        sources=_sources(network, fault),
        earth_return=network.earth_return,
    )
    places = network.fault_places(name, scenario.voltage_v)
    earth = None if coupling is None else coupling.matrix
    prepared = prepare_split(circuit, resistance_ohm, earth=earth, places=places)
    names = dict.fromkeys(s.network_earth for s in project.installation.services if s.network_earth)
    nodes = {name: network.nodes_of(name) for name in names}
    survey = prepared.survey(places, [n for row in nodes.values() for n in row])
    # a rise lowered by neighbours leaves touch voltages as high as the mat's own current makes them
    worst = max(survey, key=lambda row: max(abs(row.gpr_v), abs(row.mat_current_a * resistance_ohm)))
    result = prepared.solve(worst.place)
    return ScenarioSplit(
        scenario=scenario.name,
        result=result,
        places=tuple(_row(network, row, row is worst) for row in survey),
        prospective_current_a=fault.earth_fault_current_a,
        driving_voltage_v=_driving_v(fault),
        stated_factor=scenario.split_factor if scenario.split_stated else None,
        reduction_factors=_reduction_factors(network, circuit),
        table=_table(network, prepared, survey[0]),
        notes=_notes(network, result, fault),
        watched=_watched(nodes, survey),
        coupling=None if coupling is None else _effect(project, coupling, prepared, result, places),
    )


def _effect(
    project: Project,
    coupling: SoilCoupling,
    prepared: PreparedSplit,
    result: SplitResult,
    places: Sequence[FaultPlace],
) -> CouplingEffect:
    """The governing place once more, every earth standing alone; and the faults at placed towers."""
    circuit, place = prepared.network, result.place
    alone = prepare_split(circuit, result.mat_resistance_ohm, places=(place,)).solve(place)
    spots = mat_places(project), fence_places(project)
    near = {e.name for e in coupling.earths}
    own = [p for p in places if p != place and near & {f"{p.line}/{p.tower}", f"{p.line}/joint {p.tower}"}]
    faults = tuple(nearby_fault(coupling, prepared.solve(p), *spots) for p in own)
    return replace(coupling_effect(coupling, result, alone, *spots), nearby=faults)


def _watched(nodes: dict[str, tuple[str, ...]], survey: Sequence[PlaceCurrents]) -> tuple[WatchedEarth, ...]:
    """For every name the fault places with its highest potential and with the most between it and the mat."""
    rows, first = [], 0
    for name, own in nodes.items():
        part = slice(first, first + len(own))
        first += len(own)
        highest = [max(abs(v) for v in row.watched_v[part]) for row in survey]
        apart = [max(abs(v - row.gpr_v) for v in row.watched_v[part]) for row in survey]
        a, b = highest.index(max(highest)), apart.index(max(apart))
        rows.append(WatchedEarth(name, highest[a], survey[a].place.name, apart[b], survey[b].place.name))
    return tuple(rows)


def _driving_v(fault: FaultResult) -> float:
    return fault.scenario.voltage_factor * fault.scenario.voltage_v / sqrt(3.0)


def _sources(network: Network, fault: FaultResult) -> tuple[Source, ...]:
    """The feeders of a fault as sources: stated currents with growth, or the impedance behind them."""
    scenario, name = fault.scenario, fault.scenario.fault_name
    given = list(network.contributions(name))
    if not given:
        text = f"{name}: nothing under network feeds it, and no split_factor is stated"
        advice = "name it under contributions of a source or transformer, or state its split_factor"
        raise InputError([Finding("network-feed", text, advice, path=scenario.path)])
    growth, volts = scenario.growth_factor, complex(_driving_v(fault))
    phasors, open_ones = _phasors(given, fault)
    if open_ones:
        phasors[open_ones[0].name] = _rest(given, open_ones[0], phasors, fault)
    elif not any(c.impedance_ohm is not None for _, c in given):
        _compare_sum(fault, phasors, given[0][1].path)
    rows = []
    for feeder, row in given:
        z = None if row.impedance_ohm is None else row.impedance_ohm / growth
        feed = "voltage" if z is not None else "current" if feeder.imposed else "prospective"
        current = phasors.get(feeder.name)
        where = (feeder.name, feeder.station, feeder.via)
        rows.append(Source(*where, feed, current, volts, z, feeder.phase, row.path))
    return tuple(rows)


def _rest(
    given: Sequence[tuple[Feeder, Contribution]],
    taker: Feeder,
    phasors: dict[str, complex],
    fault: FaultResult,
) -> complex:
    """What the stated currents leave of the fault's current. [A]"""
    name, growth = fault.scenario.fault_name, fault.scenario.growth_factor
    total, others = _total(fault, given[0][1].path), sum(phasors.values(), 0j)
    text = ""
    if any(row.impedance_ohm is not None for _, row in given):
        text = f"{name}: beside impedance_ohm no current can be left open"
    elif ((total - others) * total.conjugate()).real < 1e-3 * abs(total) ** 2:
        text = (
            f"{name}: nothing is left for {taker.name}, the others give {abs(others) / growth:.0f} A of the "
            f"fault's {abs(total) / growth:.0f} A"
        )
    if text:
        path = (*taker.path, "contributions")
        raise InputError([Finding("network-feed", text, f"give current_ka of {taker.name}", path=path)])
    return total - others


def _phasors(
    given: Sequence[tuple[Feeder, Contribution]], fault: FaultResult
) -> tuple[dict[str, complex], list[Feeder]]:
    """Stated currents with growth and angle, and the feeders whose current is left open."""
    phasors: dict[str, complex] = {}
    open_ones = []
    for feeder, row in given:
        if row.impedance_ohm is not None:
            continue
        if row.current_a is None:
            open_ones.append(feeder)
            continue
        ratio = _ratio(fault, row.path) if row.x_over_r is None else row.x_over_r
        phasors[feeder.name] = lagging_current(fault.scenario.growth_factor * row.current_a, ratio)
    return phasors, open_ones


def _ratio(fault: FaultResult, path: tuple[str | int, ...]) -> float:
    if fault.x_over_r is None:
        text = f"{fault.scenario.name}: the angle of the current is not known"
        advice = "give x_over_r of the fault or of the contribution"
        raise InputError([Finding("network-angle", text, advice, path=path)])
    return fault.x_over_r


def _total(fault: FaultResult, path: tuple[str | int, ...]) -> complex:
    return lagging_current(fault.earth_fault_current_a, _ratio(fault, path))


def _compare_sum(fault: FaultResult, phasors: dict[str, complex], path: tuple[str | int, ...]) -> None:
    total, stated = abs(sum(phasors.values())), fault.earth_fault_current_a
    if abs(total - stated) > SUM_TOLERANCE * stated:
        growth = fault.scenario.growth_factor
        text = (
            f"{fault.scenario.name}: the contributions add up to {total / growth:.0f} A, "
            f"the fault's current is {stated / growth:.0f} A"
        )
        advice = "make them agree, or leave current_ka of one contribution out: it takes the rest"
        raise InputError([Finding("network-sum", text, advice, path=path)])


def _with_share(fault: FaultResult, split: ScenarioSplit) -> FaultResult:
    """The fault with the computed share; the metal is still sized for the whole prospective current."""
    result = split.result
    current = abs(result.fault_current_a)
    grid = 0.0
    if result.split_factor > NOTHING:
        with recording(fault.scenario.name):
            grid = ieee80.maximum_grid_current(fault.decrement_shock, result.split_factor, 1.0, current)
    source = f"computed from the network; fault {result.place.name}"
    mat_alone = abs(result.mat_current_a * result.mat_resistance_ohm)
    return replace(
        fault,
        scenario=replace(fault.scenario, split_factor=result.split_factor, split_source=source),
        earth_fault_current_a=current,
        grid_current_a=grid,
        # neighbours of the other sign lower metal and ground alike: never below 1
        soil_rise=max(abs(result.gpr_v) / mat_alone, 1.0) if grid and split.coupling is not None else 1.0,
    )


def _row(network: Network, row: PlaceCurrents, governs: bool) -> PlaceRow:
    place, fault = row.place, abs(row.fault_current_a)
    return PlaceRow(
        place=place.name,
        route=place.line,
        distance_m=_distance_m(network, place),
        fault_current_a=fault,
        local_current_a=abs(row.local_current_a),
        mat_current_a=abs(row.mat_current_a),
        split_factor=abs(row.mat_current_a) / fault,
        gpr_v=abs(row.gpr_v),
        tower_rise_v=abs(row.fault_potential_v) if place.line else None,
        governs=governs,
    )


def _distance_m(network: Network, place: FaultPlace) -> float:
    for line in network.lines:
        if line.name == place.line:
            return sum(line.span_lengths_m[: place.tower])
    for cable in network.cables:
        if cable.name == place.line:
            return [*(j.distance_m for j in cable.joints), cable.length_m][place.tower - 1]
    return 0.0


def _reduction_factors(network: Network, circuit: SplitNetwork) -> dict[str, float]:
    """Size of the reduction factor of each long route, for the phase that its earthed metal helps least."""
    found = dict(network.reduced)
    soil, frequency = circuit.soil, circuit.frequency_hz
    data = {
        r.name: line_impedances(r, soil, frequency, network.earth_return)
        for r in network.lines
        if r.name not in network.reduced
    }
    data |= {c.name: cable_impedances(c, soil, frequency, network.earth_return) for c in network.cables}
    for name, row in data.items():
        if row.ground_ohm_per_m:
            phases = range(len(row.phase_names))
            found[name] = max(abs(route_reduction_factor(row, phase)) for phase in phases)
    return found


def _table(network: Network, prepared: PreparedSplit, home: PlaceCurrents) -> TableCheck | None:
    """Annex C beside the network, when there are lines or neutrals and a current from afar."""
    wired = [r for r in network.lines if r.ground_wires or r.given is not None]
    lines = sum(r.kind == "line" for r in wired)
    feeders = len(wired) - lines
    remote = abs(home.fault_current_a - home.local_current_a)
    resistance = prepared.mat_resistance_ohm.real
    if not wired or remote < 1e-9 * abs(home.fault_current_a):
        return None
    feet = sorted(ohm for r in wired for ohm in r.tower_resistances_ohm)
    try:
        poor = bool(feet) and feet[len(feet) // 2] > POOR_FOOTING_OHM
        row = table_estimate(lines, feeders, poor_earths=poor)
    except OutOfRangeError:
        return None
    with recording("estimate of Annex C"):
        share = split_factor_from_impedance(row.impedance_ohm, resistance)
    computed = abs(home.mat_current_a) / remote
    near = 0.5 <= computed / share <= 2.0
    remark = "same order as the table" if near else "more than a factor of two from the table"
    if network.cables:
        remark += "; the table knows no cables"
    return TableCheck(
        lines, feeders, row.impedance_ohm, row.derived, share, computed, computed / share, remark
    )


def _notes(network: Network, result: SplitResult, fault: FaultResult) -> tuple[str, ...]:
    notes = [*result.notes]
    actual, ideal = abs(result.fault_current_a), fault.earth_fault_current_a
    if actual < 0.99 * ideal and not result.place.line:
        notes.append(
            f"the real earths lower the fault current from {ideal:.0f} A to {actual:.0f} A; metal is sized "
            f"for {ideal:.0f} A"
        )
    if result.place.line:
        notes.append(
            "contributions are stated for a fault in the station; away from it the routes change them"
        )
    if network.reduced:
        names = ", ".join(network.reduced)
        notes.append(f"by reduction factor only (EN 50522), taken as real numbers: {names}")
    isolated = [f.name for f in network.feeders if f.neutral == "isolated"]
    if isolated:
        notes.append(f"isolated neutral, no earth-fault current: {', '.join(isolated)}")
    return tuple(notes)
