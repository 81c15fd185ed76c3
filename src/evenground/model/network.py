"""What leaves the station and what feeds its faults, as the project describes it; and what came of it.

The circuit itself stands in :mod:`evenground.model.split`; here is what joins it to the fault scenarios.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import isinf

from evenground.model.coupling import CouplingEffect, PlacedEarth
from evenground.model.soil import LayeredSoil
from evenground.model.split import HOME, Cable, EarthGroup, FaultPlace, OverheadLine, SplitResult, Station
from evenground.model.split_routes import LineImpedances

__all__ = [
    "Contribution",
    "Feeder",
    "Network",
    "PlaceRow",
    "ScenarioSplit",
    "TableCheck",
    "WatchedEarth",
    "reduced_route",
]

UNCOUNTED_OHM = 1e6
"""Impedance of a route's earth-wire chain that is not stated: it takes its induced current and nothing
else."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one feeder gives to one fault.

    Attributes
    ----------
    fault : str
        Name of the fault of the project.
    current_a : float or None
        3I0 of this feeder for a fault in the station, before growth; None: what the others leave. [A]
    x_over_r : float or None
        Of this current; None: that of the fault.
    impedance_ohm : complex or None
        Instead of a current: (Z1 + Z2 + Z0)/3 of the source without the route it comes by. [ohm]
    """

    fault: str
    current_a: float | None = None
    x_over_r: float | None = None
    impedance_ohm: complex | None = None
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class Feeder:
    """An earthed neutral: of a far station, or of a transformer of this one.

    Attributes
    ----------
    name : str
    station : str
        Far station, :data:`~evenground.model.split.HOME`, or the group of an own neutral earth.
    via : str
        Line or cable that brings the current; empty for a transformer of this station.
    imposed : bool
        The currents flow whatever the earths do; False: they are those of ideal earths, and the voltage
        behind them drives them through the real ones.
    phase : str
        ``"farthest"``, ``"mean"`` or the name of a phase of ``via``.
    neutral : str
        ``"solid"``, ``"impedance"`` or ``"isolated"``.
    contributions : tuple of Contribution
    """

    name: str
    station: str = HOME
    via: str = ""
    imposed: bool = False
    phase: str = "farthest"
    neutral: str = "solid"
    contributions: tuple[Contribution, ...] = ()
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class Network:
    """Everything the project says about the metal that leaves the station.

    ``levels_v`` holds the nominal voltage of routes by name; with ``along_routes`` each fault is also set at
    every tower, joint and far end of the routes of its voltage. ``places`` are further places; their
    ``scenario`` names the fault. ``soil`` is the ground for the earth return, None: the surveyed one.
    ``reduced`` names the routes that are described by a reduction factor only. ``placed`` are the earths
    with a place in plan, which are coupled with the mat through the soil.
    """

    lines: tuple[OverheadLine, ...] = ()
    cables: tuple[Cable, ...] = ()
    stations: tuple[Station, ...] = ()
    groups: tuple[EarthGroup, ...] = ()
    feeders: tuple[Feeder, ...] = ()
    places: tuple[FaultPlace, ...] = ()
    levels_v: dict[str, float] = field(default_factory=dict)
    along_routes: bool = True
    earth_return: str = "auto"
    soil: LayeredSoil | None = None
    reduced: dict[str, float] = field(default_factory=dict)
    path: tuple[str | int, ...] = ("network",)
    placed: tuple[PlacedEarth, ...] = ()

    def nodes_of(self, name: str) -> tuple[str, ...]:
        """Nodes of the circuit that metal named after a station, another earth or a cable belongs to.

        Of a cable with sheaths earthed at one end these are the open ends, else its far station.
        """
        for cable in self.cables:
            if cable.name != name:
                continue
            if cable.bonding in ("near_end", "far_end"):
                end = "far" if cable.bonding == "near_end" else "near"
                count = len(cable.positions_m) if cable.given is None else len(cable.given.ground_ohm_per_m)
                return tuple(f"{name}/{end} end of sheath {k + 1}" for k in range(count))
            return (cable.far_station,)
        return (name,)

    @property
    def earths_ohm(self) -> dict[str, complex]:
        """Stated impedance of every earth: towers and poles, earthed joints, far stations, other earths."""
        rows: dict[str, complex] = {s.name: complex(s.impedance_ohm) for s in self.stations}
        rows |= {g.name: complex(g.resistance_ohm) for g in self.groups}
        for line in self.lines:
            feet = enumerate(line.tower_resistances_ohm, start=1)
            rows |= {f"{line.name}/{k}": complex(ohm) for k, ohm in feet if not isinf(ohm)}
        for cable in self.cables:
            joints = ((k, j.earth_resistance_ohm) for k, j in enumerate(cable.joints, start=1))
            rows |= {f"{cable.name}/joint {k}": complex(ohm) for k, ohm in joints if not isinf(ohm)}
        return rows

    def contributions(self, fault: str) -> Iterator[tuple[Feeder, Contribution]]:
        """Every feeder of a fault with what it gives."""
        for feeder in self.feeders:
            for row in feeder.contributions:
                if row.fault == fault:
                    yield feeder, row

    def fault_places(self, fault: str, voltage_v: float) -> tuple[FaultPlace, ...]:
        """The station first, then the places stated for a fault, then those along routes of its voltage.

        A tower without any contact to earth is no place for an earth fault and is passed over.
        """
        rows = {"in the station": FaultPlace("in the station")}
        rows |= {p.name: p for p in self.places if p.scenario == fault}
        routes: list[OverheadLine | Cable] = [*self.lines, *self.cables] if self.along_routes else []
        for route in routes:
            level = self.levels_v.get(route.name)
            if level is None or abs(level - voltage_v) > 0.01 * voltage_v or route.near_station != HOME:
                continue
            for name, stop in _stops(route):
                rows.setdefault(name, FaultPlace(name, route.name, stop, path=route.path))
        return tuple(rows.values())


def _stops(route: OverheadLine | Cable) -> Iterator[tuple[str, int]]:
    """Names and numbers of the places along a route where a fault finds earth."""
    if isinstance(route, Cable):
        for k in range(1, len(route.joints) + 1):
            yield f"{route.name}, joint {k}", k
        yield f"{route.name}, far end", len(route.joints) + 1
        return
    spans = len(route.span_lengths_m)
    wired = spans if route.shielded_spans is None else route.shielded_spans
    earthed = len(route.ground_wires) if route.given is None else len(route.given.ground_ohm_per_m)
    for k, ohm in enumerate(route.tower_resistances_ohm, start=1):
        if not isinf(ohm) or (k <= wired and earthed):
            yield f"{route.name}, {'pole' if route.kind == 'neutral' else 'tower'} {k}", k
    if route.far_station and len(route.tower_resistances_ohm) < spans:
        yield f"{route.name}, far end", spans


def reduced_route(
    name: str, reduction_factor: float, chain_ohm: complex | None, far_station: str
) -> OverheadLine:
    """A route known only by its reduction factor r and the impedance of its earth-wire chain.

    One branch from the station to remote earth: impedance Z, coupled with the fault current by (1 - r) Z,
    so that with 3I0 of this route the station's metal gives r 3I0 to the mat in parallel with Z. [ohm]

    Raises
    ------
    ValueError
        When r is not above 0 and at most 1.
    """
    if not 0.0 < reduction_factor <= 1.0:
        raise ValueError(f"line {name}: reduction_factor must be above 0 and at most 1")
    z = UNCOUNTED_OHM + 0j if chain_ohm is None else complex(chain_ohm)
    induced = 1.0 - reduction_factor
    given = LineImpedances(((z,),), ((induced * z,),), ((induced**2 * z,),))
    return OverheadLine(name, (1.0,), (), given=given, far_station=far_station)


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One fault place in short; currents are rms of the phasors, before the decrement factor. [A, V, m]

    ``tower_rise_v`` is the potential of the faulted tower, joint or far earth, None in the station.
    """

    place: str
    route: str
    distance_m: float
    fault_current_a: float
    local_current_a: float
    mat_current_a: float
    split_factor: float
    gpr_v: float
    tower_rise_v: float | None = None
    governs: bool = False


@dataclass(frozen=True, slots=True)
class WatchedEarth:
    """Potential of an earth away from the station that some service belongs to, over all fault places.

    ``potential_v`` is its highest, for a fault at ``place``; ``apart_v`` the largest voltage between it and
    the station's metal, for a fault at ``apart_place``. Sizes of phasors, before the decrement factor. [V]
    """

    name: str
    potential_v: float
    place: str
    apart_v: float
    apart_place: str


@dataclass(frozen=True, slots=True)
class TableCheck:
    """Estimate of IEEE Std 80, Annex C, beside the computed split factor. [ohm, -]

    ``computed`` is the share of the current from afar for a fault in the station, ``remark`` says how the
    two agree.
    """

    lines: int
    feeders: int
    impedance_ohm: complex
    derived: bool
    split_factor: float
    computed: float
    ratio: float
    remark: str


@dataclass(frozen=True, slots=True)
class ScenarioSplit:
    """Where the current of one fault scenario goes, for one soil.

    Attributes
    ----------
    scenario : str
    result : SplitResult
        Of the governing place: every path, potential and residual; before the decrement factor.
    places : tuple of PlaceRow
        All places that were solved, the station first.
    prospective_current_a : float
        3I0 of the fault study with growth, earths taken as ideal. [A]
    driving_voltage_v : float
        Phase to earth. [V]
    stated_factor : float or None
        Split factor that the project states beside its network.
    reduction_factors : dict
        Route -> size of its reduction factor (EN 50522), for comparison with lists and measurements.
    table : TableCheck or None
    notes : tuple of str
    coupling : CouplingEffect or None
        What the coupling with placed earths changes; None: none is placed.
    watched : tuple of WatchedEarth
        Earths that a service of the project takes its potential from.
    """

    scenario: str
    result: SplitResult
    places: tuple[PlaceRow, ...]
    prospective_current_a: float
    driving_voltage_v: float
    stated_factor: float | None = None
    reduction_factors: dict[str, float] = field(default_factory=dict)
    table: TableCheck | None = None
    notes: tuple[str, ...] = ()
    coupling: CouplingEffect | None = None
    watched: tuple[WatchedEarth, ...] = ()
