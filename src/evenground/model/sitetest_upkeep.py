"""As built, sites without drawings, and upkeep over the years."""

from __future__ import annotations

from dataclasses import dataclass, field

from evenground.model.electrode import Point3
from evenground.model.sitetest_readings import PlaceResult
from evenground.model.soil import LayeredSoil
from evenground.model.study import Check, Verdict

__all__ = [
    "AsBuiltDelta",
    "CorrosionReading",
    "ElectrodeChange",
    "EnvelopeResult",
    "GravelReading",
    "KnownTests",
    "SeriesPoint",
    "SiteChange",
    "Trend",
    "UpkeepTask",
]


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
