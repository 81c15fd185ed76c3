"""From the network section of the file to the shapes: SI units, each refusal with its place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import chain
from math import inf
from typing import TypeVar

from evenground.errors import Finding, InputError
from evenground.model.network import Contribution, Feeder, Network, reduced_route
from evenground.model.soil import LayeredSoil
from evenground.model.split import HOME, EarthGroup, FaultPlace, Station
from evenground.model.split_routes import Cable, Joint, LineImpedances, OverheadLine, Sheath, Wire
from evenground.project._convert_places import to_placed
from evenground.project._explain import Path
from evenground.project._schema_network import (
    CableFile,
    ContinuityFile,
    ContributionFile,
    DeepSoilFile,
    GivenImpedanceFile,
    GroupFile,
    LineFile,
    NetworkFile,
    PlaceFile,
    SheathFile,
    SourceFile,
    StationFile,
    TransformerFile,
    WireFile,
)
from evenground.standards.line_wires import LINE_WIRES

__all__ = ["to_network"]

KILO, MILLI = 1e3, 1e-3
PER_KM = 1e-3
T = TypeVar("T")


def to_network(file: NetworkFile | None) -> Network | None:
    """The network in SI units.

    Raises
    ------
    InputError
        With every refusal of a shape, each with the path of its entry.
    """
    if file is None:
        return None
    findings: list[Finding] = []

    def made(path: Path, make: Callable[..., T], *given: object) -> list[T]:
        try:
            return [make(*given, path)]
        except ValueError as error:
            findings.append(Finding("network-value", f"{error}", path=path))
            return []

    lines: list[OverheadLine] = []
    for kind, rows in (("line", file.lines), ("neutral", file.neutrals)):
        for i, row in enumerate(rows):
            lines += made(("network", f"{kind}s", i), _line, row, kind)
    cables = [made(("network", "cables", i), _cable, c) for i, c in enumerate(file.cables)]
    stations = [made(("network", "stations", i), _station, s) for i, s in enumerate(file.stations)]
    groups = [made(("network", "groups", i), _group, g) for i, g in enumerate(file.groups)]
    reduced = {r.name: r.reduction_factor for r in (*file.lines, *file.neutrals) if r.reduction_factor}
    soil = made(("network", "soil"), _soil, file.soil) if file.soil else []
    if findings:
        raise InputError(findings)
    levels = {r.name: r.voltage_kv for r in (*file.lines, *file.neutrals)}
    levels |= {c.name: c.voltage_kv for c in file.cables}
    return Network(
        lines=tuple(lines),
        cables=tuple(chain.from_iterable(cables)),
        stations=(*chain.from_iterable(stations), *(Station(_remote(name), 0j) for name in reduced)),
        groups=tuple(chain.from_iterable(groups)),
        feeders=_feeders(file, reduced),
        places=_places(file),
        levels_v={name: kv * KILO for name, kv in levels.items() if kv is not None},
        along_routes=file.faults_along_routes,
        earth_return=file.earth_return,
        soil=soil[0] if soil else None,
        reduced=reduced,
        placed=to_placed(file),
    )


def _remote(route: str) -> str:
    return f"remote earth of {route}"


def _soil(file: DeepSoilFile, path: Path) -> LayeredSoil:
    return LayeredSoil(tuple(file.resistivities_ohm_m), tuple(file.thicknesses_m))


def _station(file: StationFile, path: Path) -> Station:
    return Station(file.name, complex(*file.impedance_ohm), path)


def _group(file: GroupFile, path: Path) -> EarthGroup:
    return EarthGroup(file.name, file.resistance_ohm, file.bonded_to, complex(*file.bond_ohm), path)


def _wire(file: WireFile) -> Wire:
    if file.type is not None:
        row = LINE_WIRES[file.type]
        return Wire(
            file.name,
            file.x_m,
            file.height_m,
            row.resistance_ohm_per_km * PER_KM,
            radius_m=row.diameter_mm * MILLI / 2,
            relative_permeability=row.relative_permeability,
        )
    ohm = file.resistance_ohm_per_km or file.dc_resistance_ohm_per_km or 0.0
    return Wire(
        file.name,
        file.x_m,
        file.height_m,
        ohm * PER_KM,
        gmr_m=None if file.gmr_mm is None else file.gmr_mm * MILLI,
        radius_m=None if file.radius_mm is None else file.radius_mm * MILLI,
        relative_permeability=file.relative_permeability,
    )


def _given(file: GivenImpedanceFile | None) -> LineImpedances | None:
    if file is None:
        return None
    own, mutual, phase = (
        complex(*pair) * PER_KM
        for pair in (file.self_ohm_per_km, file.mutual_ohm_per_km, file.phase_ohm_per_km)
    )
    return LineImpedances(((own,),), ((mutual,),), ((phase,),))


def _line(file: LineFile, kind: str, path: Path) -> OverheadLine:
    if file.reduction_factor is not None:
        ladder = None if file.chain_ohm is None else complex(*file.chain_ohm)
        line = reduced_route(file.name, file.reduction_factor, ladder, _remote(file.name))
        return replace(line, kind=kind, path=path)
    lengths = file.span_lengths_m or ([file.spans.length_m] * file.spans.count if file.spans else [])
    towers = len(lengths) - 1 if file.far_station else len(lengths)
    feet = file.tower_resistances_ohm
    if feet is None:
        feet = [file.tower_resistance_ohm] * towers
    return OverheadLine(
        name=file.name,
        span_lengths_m=tuple(lengths),
        tower_resistances_ohm=tuple(inf if ohm is None else ohm for ohm in feet),
        ground_wires=tuple(_wire(w) for w in file.ground_wires),
        phases=tuple(_wire(w) for w in file.phases),
        given=_given(file.given),
        far_station=file.far_station,
        bonded_near=file.bonded_here,
        bonded_far=file.bonded_far,
        shielded_spans=file.shielded_spans,
        kind=kind,
        path=path,
    )


def _sheath(file: SheathFile | None) -> Sheath | None:
    if file is None:
        return None
    return Sheath(
        file.resistance_ohm_per_km * PER_KM,
        file.radius_mm * MILLI,
        file.core_resistance_ohm_per_km * PER_KM,
        None if file.core_gmr_mm is None else file.core_gmr_mm * MILLI,
    )


def _continuity(file: ContinuityFile | None) -> Wire | None:
    if file is None:
        return None
    ohm = file.dc_resistance_ohm_per_km * PER_KM
    return Wire(file.name, file.x_m, -file.depth_m, ohm, radius_m=file.radius_mm * MILLI)


def _cable(file: CableFile, path: Path) -> Cable:
    return Cable(
        name=file.name,
        length_m=file.length_m,
        far_station=file.far_station,
        sheath=_sheath(file.sheath),
        positions_m=tuple((row[0], row[1]) for row in file.positions_m),
        bonding=file.bonding,
        joints=tuple(
            Joint(j.distance_m, inf if j.earth_resistance_ohm is None else j.earth_resistance_ohm)
            for j in file.joints
        ),
        continuity=_continuity(file.continuity),
        given=_given(file.given),
        path=path,
    )


def _contribution(file: ContributionFile, path: Path) -> Contribution:
    return Contribution(
        file.fault,
        None if file.current_ka is None else file.current_ka * KILO,
        file.x_over_r,
        None if file.impedance_ohm is None else complex(*file.impedance_ohm),
        path,
    )


def _given_to(file: SourceFile | TransformerFile, path: Path) -> tuple[Contribution, ...]:
    return tuple(_contribution(c, (*path, "contributions", k)) for k, c in enumerate(file.contributions))


def _feeders(file: NetworkFile, reduced: dict[str, float]) -> tuple[Feeder, ...]:
    rows = []
    for i, s in enumerate(file.sources):
        path: Path = ("network", "sources", i)
        station = _remote(s.via) if s.via in reduced else s.station
        given = _given_to(s, path)
        rows.append(Feeder(s.name, station, s.via, s.imposed, s.phase, "solid", given, path))
    for i, t in enumerate(file.transformers):
        path = ("network", "transformers", i)
        at = HOME if t.neutral_at == "station" else t.neutral_at
        given = _given_to(t, path)
        rows.append(Feeder(t.name, at, "", t.imposed, "farthest", t.neutral, given, path))
    return tuple(rows)


def _places(file: NetworkFile) -> tuple[FaultPlace, ...]:
    rows = []
    cables = {c.name: len(c.joints) + 1 for c in file.cables}
    for i, p in enumerate(file.fault_places):
        path: Path = ("network", "fault_places", i)
        rows += [
            FaultPlace(
                _place_name(p, stop, cables),
                p.route,
                stop,
                fault_resistance_ohm=p.fault_resistance_ohm,
                scenario=p.fault,
                path=path,
            )
            for stop in p.stops
        ]
    return tuple(rows)


def _place_name(file: PlaceFile, stop: int, cables: dict[str, int]) -> str:
    through = f" through {file.fault_resistance_ohm:g} ohm" if file.fault_resistance_ohm else ""
    if file.route in cables:
        end = stop == cables[file.route]
        return f"{file.route}, {'far end' if end else f'joint {stop}'}{through}"
    return f"{file.route}, tower {stop}{through}"
