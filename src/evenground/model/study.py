"""Results: checks with three-valued verdicts, and the whole study."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from dataclasses import field as with_default
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding
from evenground.model.conductor import ConductorResult
from evenground.model.electrode import Electrode
from evenground.model.fault import FaultResult
from evenground.model.metal import DepthSection, MetalDrop, SeparateResult
from evenground.model.network import ScenarioSplit
from evenground.model.practice import RuleOutcome
from evenground.model.project import Project
from evenground.model.risk import ZoneRisk
from evenground.model.sensitivity import SensitivityRow
from evenground.model.soil import LayeredSoil, SoilResult
from evenground.provenance import Step

if TYPE_CHECKING:
    from evenground.model.lightning import LightningResult
    from evenground.model.site_test import TestsResult
    from evenground.model.surroundings import Surroundings

__all__ = [
    "Check",
    "ClosedFormResult",
    "DepthSection",
    "FieldSummary",
    "MetalDrop",
    "Place",
    "Profile",
    "SeparateResult",
    "ShockResult",
    "SoilCase",
    "StandardComparison",
    "Study",
    "SurfaceMap",
    "Verdict",
    "ZoneLimit",
    "joint_verdict",
    "urgency",
]


class Verdict(StrEnum):
    """Outcome of a check. There is no fourth value and no default."""

    PASS = "pass"
    FAIL = "fail"
    NOT_DECIDED = "not decided"


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the site. [m]"""

    x_m: float
    y_m: float
    description: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """One question that was asked and its answer.

    Attributes
    ----------
    identity : str
        Stable name, e.g. ``"touch-yard"``.
    title : str
    verdict : Verdict
    value, limit : float or None
        In ``unit``; None when not decided for lack of a number.
    unit : str
    sense : str
        ``"max"`` when the value may not exceed the limit, ``"min"`` when it may not fall below.
    place : Place or None
    scenario : str
        Governing fault scenario, empty when it has none.
    clause : str
        Standard and clause the limit comes from.
    method : str
        ``"field solution"``, ``"closed form"``, ``"thermal equation"``, ...
    governing : bool
        False for a comparison that does not decide the study.
    reason : str
        Why it is not decided, or a remark.
    """

    identity: str
    title: str
    verdict: Verdict
    value: float | None
    limit: float | None
    unit: str
    sense: str = "max"
    place: Place | None = None
    scenario: str = ""
    clause: str = ""
    method: str = ""
    governing: bool = True
    reason: str = ""

    @property
    def margin(self) -> float | None:
        """Distance to the limit as a fraction of the limit; negative when it is broken."""
        if self.value is None or self.limit is None or self.limit == 0:
            return None
        if self.sense == "max":
            return (self.limit - self.value) / self.limit
        return (self.value - self.limit) / self.limit


def joint_verdict(checks: Iterable[Check]) -> Verdict:
    """Fail when a governing check fails; else not decided when one is, or none was made; else pass."""
    outcomes = {c.verdict for c in checks if c.governing}
    if Verdict.FAIL in outcomes:
        return Verdict.FAIL
    if Verdict.NOT_DECIDED in outcomes or not outcomes:
        return Verdict.NOT_DECIDED
    return Verdict.PASS


def _is_shock(check: Check) -> bool:
    return check.unit == "V" and check.place is not None


def urgency(check: Check) -> float:
    """The smaller, the sooner to be read: the margin; without one, broken checks first, kept ones last."""
    if check.margin is not None:
        return check.margin
    return 1e9 if check.verdict is Verdict.PASS else -1e9


@dataclass(frozen=True, slots=True)
class ZoneLimit:
    """Tolerable voltages in one surface zone for one scenario. [V]

    ``outside`` and ``step_outside`` name breaches of a range of validity: checks of touch and step against
    these limits are not decided.
    ``standard`` is the key, ``clause`` and ``step_clause`` say where touch and step limit come from (a
    standard without a step limit borrows that of IEEE Std 80), ``evidence`` how well they are known.
    """

    zone: str
    scenario: str
    surface_factor: float
    touch_v: float
    step_v: float
    outside: str = ""
    standard: str = "ieee80_50kg"
    clause: str = ""
    step_clause: str = ""
    step_outside: str = ""
    evidence: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StandardComparison:
    """The worst voltages of one zone and scenario against one standard; limits None: it gives none. [V]"""

    standard: str
    title: str
    edition: str
    zone: str
    scenario: str
    touch_v: float
    touch_limit_v: float | None
    step_v: float | None
    step_limit_v: float | None
    clause: str = ""
    evidence: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class ShockResult:
    """Worst touch or step voltage in one zone for one scenario.

    ``quantity`` is ``"touch"`` or ``"step"``; ``direction_deg`` is the direction of the worst step
    from the x axis. ``change`` is the relative change in the last refinement, ``converged`` whether
    it met the tolerance. ``metal`` names what is touched when it is not the bonded metal.
    """

    quantity: str
    zone: str
    scenario: str
    value_v: float
    limit_v: float
    place: Place
    direction_deg: float | None = None
    change: float = 0.0
    converged: bool = True
    metal: str = ""


@dataclass(frozen=True, slots=True)
class FieldSummary:
    """What the report says about the field solution; ``resistance_error_ohm`` is an estimate. [ohm]

    ``node_balance`` is the largest current lost at a joint of metal with impedance, relative.
    """

    resistance_ohm: float
    resistance_error_ohm: float
    segments: int
    layers: int
    kernel_error: float
    residual: float
    energy_balance: float
    iterations: int
    method: str
    longest_segment_m: float
    notes: tuple[str, ...] = ()
    memory_bytes: int = 0
    node_balance: float | None = None


@dataclass(frozen=True, slots=True)
class ClosedFormResult:
    """Resistance by hand formulas and, per scenario, mesh and step voltage.

    ``resistance_ohm`` maps a formula's name to its value (None when outside its range, then
    ``reasons`` says why). ``mesh_v`` and ``step_v`` map the scenario. ``geometry`` holds n, Km, ...
    """

    resistivity_ohm_m: float
    resistance_ohm: dict[str, float | None]
    geometry: dict[str, float] = with_default(default_factory=dict)
    mesh_v: dict[str, float | None] = with_default(default_factory=dict)
    step_v: dict[str, float | None] = with_default(default_factory=dict)
    reasons: dict[str, str] = with_default(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SurfaceMap:
    """Surface potential of the unit solution on a raster.

    ``potential`` (ny, nx) is a fraction of the potential rise; ``touch_utilisation`` and
    ``step_utilisation`` are value over limit at that place for the governing scenario (nan outside
    the assessed area). ``zone`` is the index of the surface zone. [m, -]
    """

    x_m: NDArray[np.float64]
    y_m: NDArray[np.float64]
    potential: NDArray[np.float64]
    touch_utilisation: NDArray[np.float64]
    step_utilisation: NDArray[np.float64]
    zone: NDArray[np.int64]
    scenario: str


@dataclass(frozen=True, slots=True)
class Profile:
    """Touch and step along a straight line for one scenario. [m, V]"""

    name: str
    start_m: tuple[float, float]
    end_m: tuple[float, float]
    distance_m: NDArray[np.float64]
    potential_v: NDArray[np.float64]
    touch_v: NDArray[np.float64]
    step_v: NDArray[np.float64]
    touch_limit_v: NDArray[np.float64]
    step_limit_v: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SoilCase:
    """One soil carried through the study: as surveyed, or in a season; one of them governs. [ohm, V]"""

    name: str
    soil: LayeredSoil
    resistance_ohm: float
    gpr_v: float
    worst_touch: float
    worst_step: float
    verdict: Verdict
    governs: bool
    note: str = ""
    split_factors: dict[str, float] = with_default(default_factory=dict)


@dataclass(frozen=True)
class Study:
    """Everything a study found, complete at birth.

    ``findings`` are warnings and notes about inputs and results. ``not_checked`` lists, in words,
    what this study does not cover. ``gpr_v`` maps scenario -> earth potential rise. [V]
    With several soil cases everything from ``field`` on belongs to the governing one, whose soil is
    ``soil_used``. ``surroundings`` holds connections, fences, services, and what the study covers.
    ``split`` says where the current of each scenario goes that the network feeds; the split
    factors in ``faults`` are then computed, those in ``project`` as stated.
    """

    project: Project
    version: str
    soil: SoilResult
    faults: tuple[FaultResult, ...]
    conductors: dict[str, ConductorResult]
    electrode: Electrode
    field: FieldSummary
    closed_form: ClosedFormResult
    gpr_v: dict[str, float]
    limits: tuple[ZoneLimit, ...]
    shocks: tuple[ShockResult, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    map: SurfaceMap
    profiles: tuple[Profile, ...]
    steps: tuple[Step, ...]
    not_checked: tuple[str, ...] = ()
    quantities: dict[str, Any] = with_default(default_factory=dict)
    comparison: tuple[StandardComparison, ...] = ()
    soil_cases: tuple[SoilCase, ...] = ()
    soil_used: LayeredSoil | None = None
    separate: tuple[SeparateResult, ...] = ()
    separate_metal: Electrode = with_default(default_factory=Electrode)
    metal_drop: MetalDrop | None = None
    sections: tuple[DepthSection, ...] = ()
    surroundings: Surroundings | None = None
    risks: tuple[ZoneRisk, ...] = ()
    rules: tuple[RuleOutcome, ...] = ()
    split: tuple[ScenarioSplit, ...] = ()
    sensitivity: tuple[SensitivityRow, ...] = ()
    lightning: LightningResult | None = None
    tests: TestsResult | None = None

    @property
    def verdict(self) -> Verdict:
        """Fail when a governing check fails; else not decided when one is; else pass."""
        return joint_verdict(self.checks)

    def _worst(self, quantity: str) -> ShockResult:
        rows = [s for s in self.shocks if s.quantity == quantity]
        return max(rows, key=lambda s: s.value_v / s.limit_v)

    @property
    def worst_touch(self) -> ShockResult:
        """The touch voltage nearest to (or furthest beyond) its limit."""
        return self._worst("touch")

    @property
    def worst_step(self) -> ShockResult:
        """The step voltage nearest to (or furthest beyond) its limit."""
        return self._worst("step")

    @property
    def governing_check(self) -> Check:
        """The check that a reader should see first.

        Of the worst verdict present; then a shock check before any other, then the smallest margin.
        """
        order = {Verdict.FAIL: 0, Verdict.NOT_DECIDED: 1, Verdict.PASS: 2}
        rows = [c for c in self.checks if c.governing]
        return min(
            rows,
            key=lambda c: (order[c.verdict], not _is_shock(c), urgency(c)),
        )

    def to_json(self, *, indent: int | None = 2) -> str:
        """The study as JSON; numbers in SI, maps and profiles left out (they go to CSV)."""
        from evenground.model._serial import study_to_json

        return study_to_json(self, indent=indent)
