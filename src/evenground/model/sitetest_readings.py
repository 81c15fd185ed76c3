"""What was read in field tests, and what it says."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenground.errors import Finding
from evenground.model.sitetest_plan import Phasor
from evenground.model.study import Check, Verdict

__all__ = [
    "ContinuityReading",
    "CurrentReading",
    "FallReading",
    "FallResult",
    "FallSurvey",
    "InjectionReadings",
    "InjectionResult",
    "LeadCoupling",
    "PlaceReading",
    "PlaceResult",
]


def _need(row: object, positive: tuple[str, ...], from_zero: tuple[str, ...]) -> None:
    """Refuse numbers that would turn a verdict round: signs, and an uncertainty outside 0 to 1."""
    for name in (*positive, *from_zero, "uncertainty"):
        value = getattr(row, name)
        low = value > 0 if name in positive else value >= 0
        if not (math.isfinite(value) and low and (name != "uncertainty" or value < 1)):
            raise ValueError(f"{name}: {value} is out of its range")


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
    paths_unread : tuple of str
        Paths that were connected and not read: the mat took some unknown part, less than was injected or,
        when currents circulate, more.
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
    paths_unread: tuple[str, ...] = ()

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
    mat_impedance_low_ohm: float | None = None
    mat_impedance_high_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class ContinuityReading:
    """A continuity reading. [milliohm]"""

    riser: str
    resistance_mohm: float
    test_current_a: float | None = None
