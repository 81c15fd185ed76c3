"""The network that shares an earth-fault current with the mat, and what came of it.

Lines and cables stand in :mod:`evenground.model.split_routes` and are offered here as well. Currents of
the fault are earth-fault currents 3I0, phasors, rms. Potentials are measured against remote earth.
"""

from __future__ import annotations

import cmath
from dataclasses import dataclass
from math import isfinite

from evenground.model.soil import LayeredSoil
from evenground.model.split_routes import (
    HOME,
    Cable,
    Joint,
    LineImpedances,
    OverheadLine,
    Sheath,
    Wire,
    passive,
    positive,
    uniform_line,
)

__all__ = [
    "HOME",
    "Cable",
    "EarthGroup",
    "EarthMatrix",
    "FaultPlace",
    "Joint",
    "LineImpedances",
    "OverheadLine",
    "PathCurrent",
    "PlaceCurrents",
    "Sheath",
    "Source",
    "SplitNetwork",
    "SplitResult",
    "SplitSweep",
    "Station",
    "TowerPotential",
    "Wire",
    "uniform_line",
]

FEEDS = ("current", "voltage", "prospective")


@dataclass(frozen=True, slots=True)
class Station:
    """A far station: impedance of its whole earthing system, with what else hangs on it. [ohm]"""

    name: str
    impedance_ohm: complex
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        if not self.name or self.name == HOME:
            raise ValueError(f"station: the name {self.name!r} is not free")
        passive(f"station {self.name}", "impedance_ohm", self.impedance_ohm)


@dataclass(frozen=True, slots=True)
class EarthGroup:
    """Another earthing group of the site: fence, separate neutral earth, neighbour.

    ``bonded_to`` names a station or group to which it is joined through ``bond_ohm``; empty: not joined.
    """

    name: str
    resistance_ohm: float
    bonded_to: str = ""
    bond_ohm: complex = 0j
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        if not self.name or self.name == HOME:
            raise ValueError(f"earth group: the name {self.name!r} is not free")
        positive(f"earth group {self.name}", {"resistance_ohm": self.resistance_ohm})
        passive(f"earth group {self.name}", "bond_ohm", self.bond_ohm)


@dataclass(frozen=True, slots=True)
class EarthMatrix:
    """Resistances through the soil between groups, as a field solution gives them. [ohm]

    ``groups`` are :data:`HOME`, names of groups or far stations, or towers written ``"line/3"``.
    ``resistance_ohm[i][j]`` is the potential of group i for one ampere leaving group j. The diagonal
    replaces the resistances stated elsewhere; with ``keeps_own`` only the coupling is taken, and the stated
    impedances stay, reactance included (the diagonal is then their resistance).
    """

    groups: tuple[str, ...]
    resistance_ohm: tuple[tuple[float, ...], ...]
    keeps_own: bool = False

    def __post_init__(self) -> None:
        n = len(self.groups)
        if len(set(self.groups)) != n:
            raise ValueError("earth matrix: groups must differ")
        rows = self.resistance_ohm
        if len(rows) != n or any(len(row) != n for row in rows):
            raise ValueError(f"earth matrix: resistance_ohm must be {n} by {n}")
        for i in range(n):
            positive("earth matrix", {f"resistance_ohm[{i}][{i}]": rows[i][i]})
            for j in range(i):
                a, b = rows[i][j], rows[j][i]
                if not isfinite(a) or abs(a - b) > 1e-6 * rows[i][i]:
                    raise ValueError(f"earth matrix: resistance_ohm[{i}][{j}] and [{j}][{i}] must agree")
                if a * a >= rows[i][i] * rows[j][j]:
                    raise ValueError(f"earth matrix: resistance_ohm[{i}][{j}] is too large for its diagonal")


@dataclass(frozen=True, slots=True)
class Source:
    """An earthed neutral that feeds the fault.

    Attributes
    ----------
    name : str
    station : str
        Where its neutral is earthed: a station, a group, or :data:`HOME` for a local transformer, whose
        current comes home through metal.
    via : str
        Line or cable that brings its current to :data:`HOME`; empty for a local one.
    feed : str
        ``"current"``: ``current_a`` flows whatever the station's resistance. ``"voltage"``: ``voltage_v``
        behind ``impedance_ohm``; the current follows from the network. ``"prospective"``: ``voltage_v``
        behind that impedance which gives ``current_a`` for a fault at HOME with ideal earths.
    current_a : complex or None
        3I0 of this source, phasor. [A]
    voltage_v : complex or None
        Phase to earth, with its voltage factor. [V]
    impedance_ohm : complex or None
        (Z1 + Z2 + Z0)/3 of the source without the line named in ``via``. [ohm]
    phase : str
        Phase conductor of ``via`` that carries the current: ``"farthest"`` (from the earthed conductors,
        the cautious one), ``"mean"`` (transposed line) or a phase's name.
    """

    name: str
    station: str
    via: str = ""
    feed: str = "current"
    current_a: complex | None = None
    voltage_v: complex | None = None
    impedance_ohm: complex | None = None
    phase: str = "farthest"
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        owner = f"source {self.name}"
        if self.feed not in FEEDS:
            raise ValueError(f"{owner}: feed must be one of {', '.join(FEEDS)}, got {self.feed!r}")
        needed = {
            "current": ("current_a",),
            "voltage": ("voltage_v", "impedance_ohm"),
            "prospective": ("current_a", "voltage_v"),
        }[self.feed]
        for name in needed:
            if getattr(self, name) is None:
                raise ValueError(f"{owner}: feed {self.feed!r} needs {name}")
        for name in ("current_a", "voltage_v"):
            value = getattr(self, name)
            if value is not None and (not cmath.isfinite(value) or value == 0):
                raise ValueError(f"{owner}: {name} must be finite and not zero, got {value!r}")
        if self.impedance_ohm is not None:
            passive(owner, "impedance_ohm", self.impedance_ohm)


@dataclass(frozen=True, slots=True)
class FaultPlace:
    """Where the fault is and who feeds it.

    ``line`` and ``tower`` (counted from the near station, from 1) place it on a line; without them it is
    at :data:`HOME`. ``sources`` empty: all sources. ``phase`` is the faulted phase of that line, as in
    :class:`Source`. ``scenario`` names the fault scenario it belongs to.
    """

    name: str
    line: str = ""
    tower: int = 0
    sources: tuple[str, ...] = ()
    fault_resistance_ohm: float = 0.0
    phase: str = "farthest"
    scenario: str = ""
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        owner = f"fault place {self.name}"
        if bool(self.line) != (self.tower > 0) or self.tower < 0:
            raise ValueError(f"{owner}: give line and tower (1 or more) together, or neither")
        positive(owner, {"fault_resistance_ohm": self.fault_resistance_ohm}, allow_zero=True)


@dataclass(frozen=True, slots=True)
class SplitNetwork:
    """All metallic paths that leave the station, and what feeds the faults.

    ``earth_return`` is ``"auto"`` (Carson's series for uniform soil, the layered integral otherwise),
    ``"carson"``, ``"deri"`` or ``"layered"``.
    """

    frequency_hz: float
    soil: LayeredSoil
    lines: tuple[OverheadLine, ...] = ()
    cables: tuple[Cable, ...] = ()
    stations: tuple[Station, ...] = ()
    groups: tuple[EarthGroup, ...] = ()
    sources: tuple[Source, ...] = ()
    places: tuple[FaultPlace, ...] = ()
    earth_return: str = "auto"

    def __post_init__(self) -> None:
        positive("network", {"frequency_hz": self.frequency_hz})
        if self.earth_return not in ("auto", "carson", "deri", "layered"):
            raise ValueError(f"network: earth_return {self.earth_return!r} is not known")


@dataclass(frozen=True, slots=True)
class PathCurrent:
    """Current in one path that leaves the station's metal.

    ``kind`` is ``"mat"``, ``"ground wire"``, ``"neutral"``, ``"sheath"``, ``"continuity conductor"``,
    ``"bond"``, ``"source neutral"`` or ``"fault"``. ``current_a`` is positive away from the station's metal
    (the fault current comes in, so it is negative there). ``share`` is its size over that of the fault
    current; shares are sizes of phasors and do not add up to one.
    """

    name: str
    kind: str
    current_a: complex
    share: float


@dataclass(frozen=True, slots=True)
class PlaceCurrents:
    """One fault place in short: fault current, its local part, mat current, potential of the station and
    of the metal at the fault, and of the nodes that were asked for. [A, V]"""

    place: FaultPlace
    fault_current_a: complex
    local_current_a: complex
    mat_current_a: complex
    gpr_v: complex
    fault_potential_v: complex
    watched_v: tuple[complex, ...] = ()


@dataclass(frozen=True, slots=True)
class TowerPotential:
    """Potential and earth current of one tower or neutral earth; ``number`` counts from the near end.
    [m, V, A]"""

    line: str
    number: int
    distance_m: float
    potential_v: complex
    earth_current_a: complex


@dataclass(frozen=True, slots=True)
class SplitResult:
    """Where the current of one fault place goes.

    Attributes
    ----------
    place : FaultPlace
    mat_resistance_ohm : complex
    fault_current_a : complex
        3I0 of all sources at the fault. [A]
    local_current_a : complex
        Part of it whose neutral is earthed on the station's metal: for a fault in the station it
        circulates in metal and enters no earth. [A]
    mat_current_a : complex
        From the mat into the soil; with coupled groups, from the mat alone. [A]
    gpr_v : complex
        Potential of the station's metal. [V]
    paths : tuple of PathCurrent
    towers : tuple of TowerPotential
    potentials_v : dict
        Far stations, groups, open sheath ends and the fault place. [V]
    earth_currents_a : dict
        Current into the soil at the mat, each far station and each group. [A]
    source_currents_a : dict
        [A]
    worst_residual : float
        Largest breach of Kirchhoff's current law at a node over the fault current.
    node_residuals_a : dict
        Breach at each named node and at remote earth. [A]
    power_balance : float
        Power given less power taken, over the power given.
    warnings, notes : tuple of str
    """

    place: FaultPlace
    mat_resistance_ohm: complex
    fault_current_a: complex
    local_current_a: complex
    mat_current_a: complex
    gpr_v: complex
    paths: tuple[PathCurrent, ...]
    towers: tuple[TowerPotential, ...]
    potentials_v: dict[str, complex]
    earth_currents_a: dict[str, complex]
    source_currents_a: dict[str, complex]
    worst_residual: float
    node_residuals_a: dict[str, float]
    power_balance: float
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def split_complex(self) -> complex:
        """Mat current over the whole fault current, with its angle. [-]"""
        return self.mat_current_a / self.fault_current_a

    @property
    def split_factor(self) -> float:
        """Share of the whole fault current that leaves through the mat. [-]"""
        return abs(self.split_complex)

    @property
    def remote_split_factor(self) -> float | None:
        """The same over the current of remote sources only; None when all of it is local. [-]"""
        remote = self.fault_current_a - self.local_current_a
        return abs(self.mat_current_a / remote) if abs(remote) > 1e-12 * abs(self.fault_current_a) else None


@dataclass(frozen=True, slots=True)
class SplitSweep:
    """Results of several fault places, and which of them governs.

    ``highest_rise`` has the largest potential rise, ``largest_mat_current`` the largest current into the
    soil, ``largest_utilisation`` the largest rise over what the place allows, when that was given.
    """

    results: tuple[SplitResult, ...]
    highest_rise: SplitResult
    largest_mat_current: SplitResult
    largest_utilisation: SplitResult | None = None
    utilisations: tuple[float, ...] = ()
