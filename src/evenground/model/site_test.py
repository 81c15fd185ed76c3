"""Dated site tests as a project keeps them, and what a study makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenground.errors import Finding
from evenground.model.site import Point2
from evenground.model.sitetest import (
    ContinuityReading,
    CurrentReading,
    FallReading,
    FallResult,
    GravelReading,
    InjectionResult,
    Phasor,
    Trend,
    UpkeepTask,
)
from evenground.model.soil import LayeredSoil
from evenground.model.study import Check, Verdict

if TYPE_CHECKING:
    Path = tuple[str | int, ...]

__all__ = [
    "PARTS",
    "TASK_NAMES",
    "CoupledReading",
    "FallTest",
    "InjectionTest",
    "JointReading",
    "PartOutcome",
    "SectionReading",
    "SiteTest",
    "SiteTestOutcome",
    "TestPlace",
    "TestSeries",
    "TestedSoil",
    "TestsResult",
    "UpkeepPlan",
]

PARTS = ("resistance", "touch and step", "continuity", "joints", "gravel", "buried metal")
"""Parts of a site test; the first three make a complete one."""

TASK_NAMES = (
    "visual inspection",
    "resistance",
    "continuity of risers",
    "injection with touch and step",
    "excavation",
    "gravel",
    "chemical electrodes",
)
"""Tasks of upkeep that a project file may name."""


@dataclass(frozen=True, slots=True)
class FallTest:
    """A fall-of-potential test as carried out.

    ``lead_spacing_m`` and ``frequency_hz`` describe leads that run side by side; None: no coupling is taken
    out. [m, degrees, ohm, Hz]
    """

    readings: tuple[FallReading, ...]
    current_distance_m: float
    current_bearing_deg: float = 0.0
    potential_bearing_deg: float | None = None
    resolution_ohm: float = 0.001
    uncertainty: float = 0.05
    lead_spacing_m: float | None = None
    frequency_hz: float | None = None

    @property
    def parallel(self) -> bool:
        """Whether the two leads run along one line."""
        bearing = self.potential_bearing_deg
        turn = 0.0 if bearing is None else abs((bearing - self.current_bearing_deg + 180.0) % 360.0 - 180.0)
        return turn < 1.0


@dataclass(frozen=True, slots=True)
class TestPlace:
    """Touch or step voltage read during the injection; ``at_m`` None: the place of the plan. [m, deg, V]"""

    __test__ = False

    name: str
    quantity: str
    voltage_v: Phasor
    at_m: Point2 | None = None
    direction_deg: float | None = None
    loaded_v: float | None = None


@dataclass(frozen=True, slots=True)
class InjectionTest:
    """A current injection as carried out; ``lead_*`` is the run of the remote voltage's lead beside the
    current lead. [A, V, m, Hz]"""

    current_a: float
    paths: tuple[CurrentReading, ...] = ()
    remote_voltage_v: Phasor | None = None
    places: tuple[TestPlace, ...] = ()
    background_v: float = 0.0
    resolution_v: float = 0.001
    uncertainty: float = 0.1
    lead_spacing_m: float | None = None
    lead_length_m: float | None = None
    frequency_hz: float | None = None


@dataclass(frozen=True, slots=True)
class JointReading:
    """A joint and the same length of plain conductor, read with the same probes. [milliohm, m]"""

    name: str
    joint_mohm: float
    conductor_mohm: float
    at_m: Point2 | None = None


@dataclass(frozen=True, slots=True)
class SectionReading:
    """What an excavation found: diameter of a round or strand, thickness of a strip. [mm]"""

    place: str
    conductor: str
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class SiteTest:
    """One dated test; a part that was not carried out is None or empty.

    ``soil`` is the soil on that day where it was read again, else None. ``connected`` says whether lines,
    cables and neutrals were joined to the mat; None: nobody noted it.
    """

    name: str
    date: str
    by: str = ""
    weather: str = ""
    note: str = ""
    connected: bool | None = None
    soil: LayeredSoil | None = None
    fall: FallTest | None = None
    injection: InjectionTest | None = None
    risers: tuple[ContinuityReading, ...] = ()
    riser_reference: str = ""
    riser_resolution_mohm: float = 0.001
    joints: tuple[JointReading, ...] = ()
    joint_resolution_mohm: float = 1e-4
    gravel: tuple[GravelReading, ...] = ()
    sections: tuple[SectionReading, ...] = ()
    path: Path = ()

    @property
    def year(self) -> float:
        """Date as a number; a date without day counts from its start. [years]"""
        parts = [int(p) for p in self.date.split("-")]
        month, day = [*parts, 1, 1][1:3]
        return parts[0] + (month - 1) / 12 + (day - 1) / 365.25


@dataclass(frozen=True, slots=True)
class UpkeepPlan:
    """Upkeep as the project states it: on which day, since when, what was done, what has changed.

    ``intervals_years`` replace those of the list of tasks; ``done`` maps a task to the date it was last
    done, beside what the tests themselves show. ``now`` and ``design`` go to the triggers.
    """

    as_of: str
    in_service: str
    life_years: float
    intervals_years: dict[str, float]
    done: dict[str, str]
    fault: str | None = None
    fault_current_a: float | None = None
    clearing_time_s: float | None = None
    changed: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class PartOutcome:
    """What one part of a test says; ``outcome`` is one of the four words of a test's verdict."""

    part: str
    outcome: str
    words: str


@dataclass(frozen=True, slots=True)
class CoupledReading:
    """A reading, what its coupled leads add to it, and what is left. [m, ohm]"""

    distance_m: float
    read_ohm: float
    coupled_ohm: complex
    corrected_ohm: float
    subtracted: bool


@dataclass(frozen=True, slots=True)
class TestedSoil:
    """The soil as surveyed times a factor, so that the study predicts what was measured.

    ``season_factor`` is the design resistance over that of the day.
    """

    __test__ = False

    factor: float
    soil: LayeredSoil
    reason: str


@dataclass(frozen=True, slots=True)
class SiteTestOutcome:
    """What one dated test says.

    ``verdict`` is ``"pass"``, ``"re-run with tested soil"``, ``"mitigation"`` or ``"not decided"``;
    ``why`` names what decided. [ohm, A]
    """

    verdict: str
    why: tuple[str, ...]
    date: str
    fall: FallResult | None
    injection: InjectionResult | None
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    not_tested: tuple[str, ...]
    name: str = ""
    parts: tuple[PartOutcome, ...] = ()
    predicted_ohm: float = 0.0
    season_factor: float = 1.0
    soil_of_the_day: str = ""
    coupled: tuple[CoupledReading, ...] = ()
    coupled_remote_ohm: complex | None = None
    tested_soil: TestedSoil | None = None
    resistance_agreement: Verdict = Verdict.NOT_DECIDED


@dataclass(frozen=True, slots=True)
class TestSeries:
    """One measured quantity over the tests, with its limit and trend."""

    __test__ = False

    name: str
    unit: str
    trend: Trend
    limit_words: str


@dataclass(frozen=True, slots=True)
class TestsResult:
    """All dated tests of a project, the newest last, and the state that follows.

    ``standing`` gives for each part the newest test that has it.
    """

    __test__ = False

    scenario: str
    fault_current_a: float
    design_resistance_ohm: float
    tests: tuple[SiteTestOutcome, ...]
    standing: tuple[tuple[str, str, PartOutcome], ...]
    verdict: str
    series: tuple[TestSeries, ...] = ()
    tasks: tuple[UpkeepTask, ...] = ()
    as_of: str = ""
    corrosion: tuple[Check, ...] = ()
    triggers: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
