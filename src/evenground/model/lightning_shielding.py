"""What shields, what is to be shielded, and what the shielding study returns; heights above flat ground."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from evenground.model._numbers import above_zero
from evenground.model.electrode import Point3
from evenground.model.site import Point2
from evenground.model.study import Check

__all__ = [
    "Building",
    "ContourRequest",
    "ElevationEnvelope",
    "ExposureRequest",
    "ExposureResult",
    "Mast",
    "ObjectShielding",
    "ProtectedObject",
    "RequiredHeight",
    "ShieldWire",
    "ShieldingRequest",
    "ShieldingResult",
    "SphereRule",
    "Terminals",
    "ZoneContour",
]


@dataclass(frozen=True, slots=True)
class Mast:
    """A vertical mast, rod or pole: its foot in plan and the height of its tip above ground. [m]"""

    name: str
    at_m: Point2
    height_m: float

    def __post_init__(self) -> None:
        above_zero(height_m=self.height_m)


@dataclass(frozen=True, slots=True)
class ShieldWire:
    """An overhead earth wire, or a beam of a gantry when ``sag_m`` is 0.

    ``sag_m`` is the vertical distance from the chord to the wire at midspan; the wire hangs as a catenary.
    The supports are not part of it: add masts. Ends are (x, y, height above ground). [m]
    """

    name: str
    start_m: Point3
    end_m: Point3
    sag_m: float = 0.0

    def __post_init__(self) -> None:
        above_zero(start_height_m=self.start_m[2], end_height_m=self.end_m[2])
        if not (isfinite(self.sag_m) and self.sag_m >= 0):
            raise ValueError(f"sag_m: {self.sag_m} is not a finite number from 0")
        if self.start_m[:2] == self.end_m[:2]:
            raise ValueError(f"wire {self.name}: both ends stand on one place; use a mast")


@dataclass(frozen=True, slots=True)
class Building:
    """A box: centre in plan, sides along its own axes, turned by an angle from the x axis. [m, degrees]"""

    name: str
    centre_m: Point2
    length_m: float
    width_m: float
    height_m: float
    angle_deg: float = 0.0

    def __post_init__(self) -> None:
        above_zero(length_m=self.length_m, width_m=self.width_m, height_m=self.height_m)


@dataclass(frozen=True, slots=True)
class Terminals:
    """Everything that takes strokes on purpose.

    Name a building here only when its roof bears the stroke (own air termination or earthed metal).
    """

    masts: tuple[Mast, ...] = ()
    wires: tuple[ShieldWire, ...] = ()
    buildings: tuple[Building, ...] = ()


@dataclass(frozen=True, slots=True)
class ProtectedObject:
    """Something that must not be struck: points (x, y, height), joined in order when ``joined``. [m]

    A bus is a line of points; a transformer is a box (see ``box``), whose top edges are searched.
    """

    name: str
    points_m: tuple[Point3, ...] = ()
    joined: bool = True
    box: Building | None = None

    def __post_init__(self) -> None:
        if not self.points_m and self.box is None:
            raise ValueError(f"object {self.name}: give points or a box")


@dataclass(frozen=True, slots=True)
class SphereRule:
    """The rolling sphere.

    Attributes
    ----------
    radius_m : float
        Striking distance to objects, wires and the ground. [m]
    mast_factor : float
        How much farther a mast reaches; 1 treats all alike and is the careful choice.
    current_ka : float or None
        Peak current that this radius stands for. [kA]
    source, evidence : str
    """

    radius_m: float
    mast_factor: float = 1.0
    current_ka: float | None = None
    source: str = ""
    evidence: str = ""

    def __post_init__(self) -> None:
        above_zero(radius_m=self.radius_m, mast_factor=self.mast_factor)


@dataclass(frozen=True, slots=True)
class ContourRequest:
    """Drawings wanted: heights of the plan contours, sections in plan, and the raster. [m]

    ``window_m`` is (x from, y from, x to, y to); None: around the terminals.
    """

    heights_m: tuple[float, ...] = ()
    sections_m: tuple[tuple[Point2, Point2], ...] = ()
    window_m: tuple[float, float, float, float] | None = None
    raster_m: float = 1.0


@dataclass(frozen=True, slots=True)
class ShieldingRequest:
    """What shields what, by which rule.

    ``cone_angle_deg`` adds the simple fixed-angle method for comparison; ``sampling_m`` is the distance of
    the searched points on lines and boxes. ``needed_clearance_m`` is kept free between sphere and object.
    """

    terminals: Terminals
    objects: tuple[ProtectedObject, ...]
    rule: SphereRule
    cone_angle_deg: float | None = None
    contours: ContourRequest = ContourRequest()
    sampling_m: float = 1.0
    needed_clearance_m: float = 0.0


@dataclass(frozen=True, slots=True)
class ObjectShielding:
    """Shielding of one object at its worst point.

    Attributes
    ----------
    name : str
    protected : bool
        The sphere stays off it by more than the clearance needed.
    clearance_m : float
        Least distance between the sphere and the object; negative when the sphere reaches over it. [m]
    worst_point_m : (x, y, height)
        [m]
    sphere_centre_m : (x, y, height)
        Where the sphere rests then. [m]
    height_allowed_m : float
        How high something could stand at the worst place. [m]
    resting_on : tuple of str
        What the sphere rests on there.
    cone_protected : bool or None
        By the fixed-angle method; None when it was not asked for.
    """

    name: str
    protected: bool
    clearance_m: float
    worst_point_m: Point3
    sphere_centre_m: Point3
    height_allowed_m: float
    resting_on: tuple[str, ...] = ()
    cone_protected: bool | None = None


@dataclass(frozen=True, slots=True)
class ZoneContour:
    """Protected area at one height: polygons as (outer ring, holes...), rings closed. [m]"""

    height_m: float
    polygons_m: tuple[tuple[tuple[Point2, ...], ...], ...]
    area_m2: float


@dataclass(frozen=True, slots=True)
class ElevationEnvelope:
    """Greatest protected height along a section: distance from its start, and height. [m]"""

    start_m: Point2
    end_m: Point2
    distances_m: tuple[float, ...]
    heights_m: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RequiredHeight:
    """How high a mast, or all of them together, must be for every object; None: no height does it. [m]

    ``stated_m`` is the height in the project, None where the masts differ.
    """

    masts: str
    stated_m: float | None
    required_m: float | None


@dataclass(frozen=True, slots=True)
class ShieldingResult:
    """``numerical_error_m`` bounds the raster's share in a clearance before polishing. [m]"""

    rule: SphereRule
    objects: tuple[ObjectShielding, ...]
    contours: tuple[ZoneContour, ...] = ()
    elevations: tuple[ElevationEnvelope, ...] = ()
    checks: tuple[Check, ...] = ()
    numerical_error_m: float = 0.0
    heights: tuple[RequiredHeight, ...] = ()


@dataclass(frozen=True, slots=True)
class ExposureRequest:
    """Strikes per year from flash density and the distribution of peak currents.

    The striking distance is factor*I^exponent; ``median_ka`` is the median of the peak currents.
    """

    terminals: Terminals
    objects: tuple[ProtectedObject, ...]
    flash_density_per_km2_year: float
    median_ka: float = 31.0
    factor: float = 8.0
    exponent: float = 0.65
    mast_factor: float = 1.0
    critical_current_ka: float | None = None
    raster_m: float = 1.0
    source: str = "IEEE Std 998-1996, electrogeometric model"


@dataclass(frozen=True, slots=True)
class ExposureResult:
    """Strikes per year, by what they meet first. [1/a]

    ``object_critical_per_year`` counts only strokes above the critical current (those that the insulation
    does not bear); None without one. ``collection_area_m2`` is 3 times the height around every part.
    """

    terminals_per_year: float
    objects_per_year: float
    object_critical_per_year: float | None
    each_object_per_year: tuple[tuple[str, float], ...]
    currents_ka: tuple[float, ...]
    exposed_area_m2: tuple[float, ...]
    collection_area_m2: float
    collection_strikes_per_year: float
