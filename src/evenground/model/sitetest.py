"""Field tests: what is planned, what was read, what it says, and what upkeep makes of it over the years."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding
from evenground.model.electrode import Point3
from evenground.model.site import Point2
from evenground.model.soil import LayeredSoil
from evenground.model.study import Check, Verdict

__all__ = [
    "AsBuiltDelta",
    "AuxiliaryPath",
    "ContinuityItem",
    "ContinuityReading",
    "CorrosionReading",
    "CurrentReading",
    "ElectrodeChange",
    "EnvelopeResult",
    "ExpectedPlace",
    "FallReading",
    "FallResult",
    "FallSimulation",
    "FallSurvey",
    "FieldSheet",
    "FieldTestPlan",
    "GravelReading",
    "InjectionReadings",
    "InjectionResult",
    "Instrument",
    "KnownTests",
    "LeadCoupling",
    "MatUnderTest",
    "PassValue",
    "Phasor",
    "PlaceReading",
    "PlaceResult",
    "PlanRequest",
    "ProbePosition",
    "Riser",
    "SeriesPoint",
    "SheetTable",
    "SiteChange",
    "Trend",
    "UpkeepTask",
]

Floats = NDArray[np.float64]
SurfacePotential = Callable[[Floats], Floats]


def _need(row: object, positive: tuple[str, ...], from_zero: tuple[str, ...]) -> None:
    """Refuse numbers that would turn a verdict round: signs, and an uncertainty outside 0 to 1."""
    for name in (*positive, *from_zero, "uncertainty"):
        value = getattr(row, name)
        low = value > 0 if name in positive else value >= 0
        if not (math.isfinite(value) and low and (name != "uncertainty" or value < 1)):
            raise ValueError(f"{name}: {value} is out of its range")


@dataclass(frozen=True, slots=True)
class Phasor:
    """Magnitude (rms) and angle against the test current; angle None when it was not read. [degrees]"""

    magnitude: float
    angle_deg: float | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.magnitude) or (
            self.angle_deg is not None and not math.isfinite(self.angle_deg)
        ):
            raise ValueError("magnitude, angle_deg: must be finite numbers")

    @property
    def value(self) -> complex | None:
        """As a complex number; None without angle."""
        if self.angle_deg is None:
            return None
        return cmath.rect(self.magnitude, math.radians(self.angle_deg))


@dataclass(frozen=True, slots=True)
class PassValue:
    """A value in use for acceptance, with where it comes from.

    ``sense`` is ``"max"`` or ``"min"``. Values differ between countries and owners: ask for the client's.
    """

    identity: str
    quantity: str
    value: float
    unit: str
    sense: str
    meaning: str
    source: str
    evidence: str


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument and what it must be able to do."""

    name: str
    purpose: str
    requirement: str
    resolution: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class MatUnderTest:
    """The mat as the design sees it, for the simulation of a test.

    Attributes
    ----------
    resistance_ohm : float
        [ohm]
    potential_v_per_a : callable
        Points (n, 3) with z as depth -> potential for one ampere through the mat. [m -> V/A]
    soil : LayeredSoil
        Soil between the probes.
    origin_m : (x, y)
        Where distances are measured from. [m]
    diagonal_m : float
        Largest extent of all metal under test. [m]
    """

    resistance_ohm: float
    potential_v_per_a: SurfacePotential
    soil: LayeredSoil
    origin_m: Point2
    diagonal_m: float

    def __post_init__(self) -> None:
        for name in ("resistance_ohm", "diagonal_m"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{name}: {value} is not a finite number above 0")


@dataclass(frozen=True, slots=True)
class ProbePosition:
    """One place of the potential probe and what it should read there. [m, ohm]"""

    distance_m: float
    at_m: Point2
    expected_ohm: float
    ratio: float
    """Reading over true resistance."""


@dataclass(frozen=True, slots=True)
class FallSimulation:
    """A fall-of-potential test simulated with the real mat in the real soil.

    Attributes
    ----------
    current_distance_m, current_bearing_deg, potential_bearing_deg : float
        Bearings count from the x axis, anticlockwise. [m, degrees]
    current_at_m : (x, y)
        [m]
    positions : tuple of ProbePosition
    stand_m : float or None
        Distance at which the potential probe reads the true resistance; None when there is none. [m]
    stand_share : float or None
        The same as a share of the current probe's distance.
    stand_low_m, stand_high_m : float or None
        Between these the reading is within ``band`` of the truth. [m]
    band : float
    all_stands_m : tuple of float
        Every such distance, when there is more than one. [m]
    uniform_rule_ratio : float
        Reading over truth if the probe stood at 61.8 %.
    slope_ratio : float or None
        Result over truth of the slope method with readings at 20, 40 and 60 %; None where it has no result.
    far_reference_ratio : float
        Reading over truth with the potential probe at the distance of the current probe, at right angles.
    notes : tuple of str
    """

    current_distance_m: float
    current_bearing_deg: float
    potential_bearing_deg: float
    current_at_m: Point2
    positions: tuple[ProbePosition, ...]
    stand_m: float | None
    stand_share: float | None
    stand_low_m: float | None
    stand_high_m: float | None
    band: float
    all_stands_m: tuple[float, ...]
    uniform_rule_ratio: float
    slope_ratio: float | None
    far_reference_ratio: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AuxiliaryPath:
    """A path beside the mat (ground wire, sheath, neutral) with its expected share of the test current."""

    name: str
    expected_share: complex


@dataclass(frozen=True, slots=True)
class ExpectedPlace:
    """A place where touch or step voltage is to be read, with the value for one ampere in the mat. [V/A]

    ``limit_v`` is the tolerable (prospective) voltage there in the fault. [V]
    """

    name: str
    quantity: str
    at_m: Point2
    volts_per_ampere: float
    limit_v: float | None = None


@dataclass(frozen=True, slots=True)
class Riser:
    """A connection above ground: where it meets the buried metal, and its own length. [m]"""

    name: str
    at_m: Point3
    tail_m: float = 0.0


@dataclass(frozen=True, slots=True)
class ContinuityItem:
    """Continuity between the reference riser and another one: expected and tolerable. [milliohm]"""

    riser: str
    reference: str
    expected_mohm: float
    investigate_mohm: float


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A printed form: columns with units, and rows; None is a blank to be filled in."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str | float | None, ...], ...]


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """One sheet of the test plan."""

    title: str
    purpose: str
    before: tuple[str, ...]
    tables: tuple[SheetTable, ...]
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What is to be tested.

    ``current_distances_m`` None: several multiples of the diagonal are simulated and the smallest whose far
    reference is within ``band`` is chosen. ``lead_bearing_deg`` are the bearings of the current and of the
    potential lead. ``conductor_area_mm2`` and ``metal_resistivity_ohm_m`` are for the expected continuity.
    """

    mat: MatUnderTest
    current_bearing_deg: float = 0.0
    potential_bearing_deg: float | None = None
    current_distance_m: float | None = None
    longest_lead_m: float | None = None
    band: float = 0.02
    test_current_a: float = 10.0
    fault_current_a: float | None = None
    paths: tuple[AuxiliaryPath, ...] = ()
    places: tuple[ExpectedPlace, ...] = ()
    continuity: tuple[ContinuityItem, ...] = ()
    joints: int = 0
    gravel_area_m2: float | None = None
    gravel_thickness_m: float | None = None
    gravel_resistivity_ohm_m: float | None = None


@dataclass(frozen=True, slots=True)
class FieldTestPlan:
    """The plan: simulations, sheets to print, instruments, rules and acceptance values."""

    fall: FallSimulation
    far_ratio_by_distance: tuple[tuple[float, float], ...]
    sheets: tuple[FieldSheet, ...]
    instruments: tuple[Instrument, ...]
    safety: tuple[str, ...]
    weather: tuple[str, ...]
    pass_values: tuple[PassValue, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class LeadCoupling:
    """Parallel run of the current and the potential lead. [m, m, Hz, ohm m]"""

    length_m: float
    spacing_m: float
    frequency_hz: float
    resistivity_ohm_m: float


@dataclass(frozen=True, slots=True)
class FallReading:
    """One reading of a fall-of-potential test. [m, ohm]"""

    distance_m: float
    resistance_ohm: Phasor
    coupling: LeadCoupling | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class FallSurvey:
    """A whole fall-of-potential test as carried out.

    ``season_factor`` is design resistance over that on the day of the test, from the soil models of both;
    ``season_source`` says where it comes from. ``uncertainty`` is the relative uncertainty of a reading.
    ``paths_connected``: whether ground wires, sheaths or neutrals were connected; None when nobody noted it.
    Then the reading is that of all of them together, and no pass follows from it.
    """

    readings: tuple[FallReading, ...]
    current_distance_m: float
    current_bearing_deg: float = 0.0
    potential_bearing_deg: float | None = None
    resolution_ohm: float = 0.001
    uncertainty: float = 0.05
    season_factor: float = 1.0
    season_source: str = ""
    paths_connected: bool | None = None

    def __post_init__(self) -> None:
        _need(self, ("current_distance_m", "season_factor"), ("resolution_ohm",))


@dataclass(frozen=True, slots=True)
class FallResult:
    """Outcome of a fall-of-potential test.

    Attributes
    ----------
    resistance_ohm, low_ohm, high_ohm : float or None
        Of the mat on the day, and its bounds; None when no reading can be used. [ohm]
    design_ohm : float or None
        The same for the design season. [ohm]
    each_ohm : tuple of (distance, corrected reading, resistance it stands for)
        [m, ohm, ohm]
    spread : float or None
        Relative spread of the resistances that the single readings stand for.
    agreement : Verdict
        Whether the measured and the predicted resistance agree within the band.
    predicted_ohm, band : float
    checks : tuple of Check
    findings : tuple of Finding
    """

    resistance_ohm: float | None
    low_ohm: float | None
    high_ohm: float | None
    design_ohm: float | None
    each_ohm: tuple[tuple[float, float, float], ...]
    spread: float | None
    agreement: Verdict
    predicted_ohm: float
    band: float
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class CurrentReading:
    """Current in an auxiliary path, positive when it leaves the station. [A]"""

    path: str
    current_a: Phasor


@dataclass(frozen=True, slots=True)
class PlaceReading:
    """Voltage read at a place, open circuit. ``loaded_v`` is that with 1 kilohm across. [V]"""

    name: str
    quantity: str
    voltage_v: Phasor
    loaded_v: float | None = None


@dataclass(frozen=True, slots=True)
class InjectionReadings:
    """A current injection as carried out.

    Attributes
    ----------
    total_current_a : Phasor
        Injected current, the reference of all angles. [A]
    auxiliary : tuple of CurrentReading
    remote_voltage_v : Phasor or None
        Of the mat against remote earth. [V]
    places : tuple of PlaceReading
    fault_current_a : float
        Current that the mat takes in the fault, decrement included. [A]
    resolution_v : float
        Of the voltmeter. [V]
    background_v : float
        Voltage read at the test frequency without injection. [V]
    coupling : LeadCoupling or None
        Of the lead that measures the remote voltage.
    uncertainty : float
    season_factor : float
        Design over day of the test.
    season_source : str
    """

    total_current_a: Phasor
    fault_current_a: float
    auxiliary: tuple[CurrentReading, ...] = ()
    remote_voltage_v: Phasor | None = None
    places: tuple[PlaceReading, ...] = ()
    resolution_v: float = 1e-3
    background_v: float = 0.0
    coupling: LeadCoupling | None = None
    uncertainty: float = 0.1
    season_factor: float = 1.0
    season_source: str = ""

    def __post_init__(self) -> None:
        _need(self, ("fault_current_a", "season_factor"), ("resolution_v", "background_v"))


@dataclass(frozen=True, slots=True)
class PlaceResult:
    """A voltage scaled to the fault. [V]

    ``ratio`` is measured over predicted per ampere in the mat, None without a prediction.
    """

    name: str
    quantity: str
    scaled_v: float | None
    low_v: float | None
    high_v: float | None
    predicted_v: float | None
    ratio: float | None
    agreement: Verdict
    verdict: Verdict
    limit_v: float | None
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class InjectionResult:
    """Outcome of an injection. [A, ohm, V]

    ``mat_current_a`` with ``mat_current_low_a`` and ``mat_current_high_a`` is what is left for the mat.
    """

    mat_current_a: float | None
    mat_current_low_a: float | None
    mat_current_high_a: float | None
    split: float | None
    mat_impedance_ohm: float | None
    station_impedance_ohm: float | None
    fault_rise_v: float | None
    places: tuple[PlaceResult, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class ContinuityReading:
    """A continuity reading. [milliohm]"""

    riser: str
    resistance_mohm: float
    test_current_a: float | None = None


@dataclass(frozen=True, slots=True)
class ElectrodeChange:
    """A length of metal that differs between design and as built. ``kind`` is missing, added or moved. [m]"""

    kind: str
    conductor: str
    start_m: Point3
    end_m: Point3
    length_m: float
    depth_difference_m: float = 0.0


@dataclass(frozen=True, slots=True)
class AsBuiltDelta:
    """Design against as built. [m]"""

    changes: tuple[ElectrodeChange, ...]
    design_length_m: float
    built_length_m: float
    missing_length_m: float
    added_length_m: float
    re_run_needed: bool
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True, slots=True)
class KnownTests:
    """What is known of an existing site without drawings.

    Attributes
    ----------
    resistance_ohm, resistance_uncertainty : float
        Measured resistance of the mat and its relative uncertainty. [ohm]
    fault_current_a, fault_current_upper_a : float
        Current that the mat takes in the fault, best and largest. [A]
    soil : LayeredSoil or None
    radius_m, depth_m : float or None
        Of a circle around everything that may be buried, and down to where. [m]
    places : tuple of PlaceResult
        Places that were read, scaled to the fault.
    places_random : bool
        Whether they were drawn at random from all places people can reach, not picked.
    limit_v : float or None
        Tolerable touch voltage of the worst surface on the site. [V]
    risers_tested, risers_connected : int
    paths_excluded : bool
        Whether ground wires, sheaths, neutrals and pipes were off, or their currents subtracted, when the
        resistance was measured. Without it nothing passes.
    """

    resistance_ohm: float
    resistance_uncertainty: float
    fault_current_a: float
    fault_current_upper_a: float
    soil: LayeredSoil | None = None
    radius_m: float | None = None
    depth_m: float | None = None
    places: tuple[PlaceResult, ...] = ()
    places_random: bool = False
    limit_v: float | None = None
    risers_tested: int = 0
    risers_connected: int = 0
    paths_excluded: bool = False


@dataclass(frozen=True, slots=True)
class EnvelopeResult:
    """What tests alone allow to say. Every statement names what it rests on.

    ``exceed_share_upper`` is the share of places that may exceed the largest one read, at ``confidence``.
    """

    rise_low_v: float
    rise_high_v: float
    touch_upper_v: float
    exceed_share_upper: float | None
    confidence: float
    least_resistance_ohm: float | None
    statements: tuple[str, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class UpkeepTask:
    """Something to be done at an interval. [years]"""

    name: str
    interval_years: float
    what: str
    source: str
    evidence: str
    last_done: str = ""
    due: str = ""
    overdue: bool | None = None


@dataclass(frozen=True, slots=True)
class CorrosionReading:
    """Section found in an excavation. [mm]"""

    year: float
    place: str
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class GravelReading:
    """A sample of the cover: thickness and resistivity of the wet sample, share of fines. [m, ohm m, -]"""

    place: str
    thickness_m: float
    wet_resistivity_ohm_m: float | None = None
    fouled: bool = False


@dataclass(frozen=True, slots=True)
class SeriesPoint:
    """One value of a series over years."""

    year: float
    value: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Trend:
    """A straight line through a series.

    ``crossing_year`` is where the line meets the limit, ``crossing_early`` where its upper (or lower) bound
    does; None when it does not within 100 years. ``change_from_first`` is relative, None when the first
    value is 0. ``verdict`` speaks of the latest value.
    """

    points: tuple[SeriesPoint, ...]
    slope_per_year: float | None
    slope_uncertainty: float | None
    limit: float
    sense: str
    crossing_year: float | None
    crossing_early: float | None
    change_from_first: float | None
    verdict: Verdict
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SiteChange:
    """State of the site at design and now, for the triggers of a re-assessment. None: not known."""

    design: dict[str, float | str | None] = field(default_factory=dict)
    now: dict[str, float | str | None] = field(default_factory=dict)
