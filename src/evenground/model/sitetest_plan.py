"""The plan of field tests: what is simulated, what is expected, the sheets to be filled in."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding
from evenground.model.electrode import Point3
from evenground.model.site import Point2
from evenground.model.soil import LayeredSoil

__all__ = [
    "AuxiliaryPath",
    "ContinuityItem",
    "ExpectedPlace",
    "FallSimulation",
    "FieldSheet",
    "FieldTestPlan",
    "Instrument",
    "MatUnderTest",
    "PassValue",
    "Phasor",
    "PlanRequest",
    "ProbePosition",
    "Riser",
    "SheetTable",
]

Floats = NDArray[np.float64]
SurfacePotential = Callable[[Floats], Floats]


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

    ``limit_v`` is the tolerable (prospective) voltage there in the fault. [V] ``season_factor`` is the
    voltage per ampere in the soil of the design over that in the soil of the day; None: as the resistance.
    """

    name: str
    quantity: str
    at_m: Point2
    volts_per_ampere: float
    limit_v: float | None = None
    season_factor: float | None = None


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
