"""Lightning: what shields, what is to be shielded, current shapes, and what the electrode does with them.

Heights are above the ground, which is flat at 0; electrodes keep z as depth, positive down.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding
from evenground.model.electrode import Electrode, Point3
from evenground.model.site import Point2
from evenground.model.study import Check, Verdict

__all__ = [
    "ArresterPlace",
    "Building",
    "ContourRequest",
    "CurrentWave",
    "EffectiveSize",
    "ElevationEnvelope",
    "ExposureRequest",
    "ExposureResult",
    "FrequencySoil",
    "HeidlerTerm",
    "HeidlerWave",
    "ImpulseRequest",
    "ImpulseResult",
    "LightningRequest",
    "LightningResult",
    "Mast",
    "MastConnection",
    "MeasuredWave",
    "ObjectShielding",
    "OscillationWave",
    "ProtectedObject",
    "PublishedSize",
    "ShieldWire",
    "ShieldingRequest",
    "ShieldingResult",
    "SphereRule",
    "Terminals",
    "TransformerPlace",
    "WireMetal",
    "ZoneContour",
]

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not (isfinite(value) and value > 0):
            raise ValueError(f"{name}: {value} is not a finite number above 0")


@dataclass(frozen=True, slots=True)
class Mast:
    """A vertical mast, rod or pole: its foot in plan and the height of its tip above ground. [m]"""

    name: str
    at_m: Point2
    height_m: float

    def __post_init__(self) -> None:
        _above_zero(height_m=self.height_m)


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
        _above_zero(start_height_m=self.start_m[2], end_height_m=self.end_m[2])
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
        _above_zero(length_m=self.length_m, width_m=self.width_m, height_m=self.height_m)


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
        _above_zero(radius_m=self.radius_m, mast_factor=self.mast_factor)


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
class ShieldingResult:
    """``numerical_error_m`` bounds the raster's share in a clearance before polishing. [m]"""

    rule: SphereRule
    objects: tuple[ObjectShielding, ...]
    contours: tuple[ZoneContour, ...] = ()
    elevations: tuple[ElevationEnvelope, ...] = ()
    checks: tuple[Check, ...] = ()
    numerical_error_m: float = 0.0


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


@dataclass(frozen=True, slots=True)
class FrequencySoil:
    """Uniform soil over frequency.

    Attributes
    ----------
    resistivity_ohm_m : float
        At low frequency. [ohm m]
    relative_permittivity : float
        Used without dispersion.
    dispersion : str
        ``"none"``, ``"cigre 781"``, ``"alipio-visacro mean"``, ``"alipio-visacro relatively conservative"``
        or ``"alipio-visacro conservative"``.
    """

    resistivity_ohm_m: float
    relative_permittivity: float = 10.0
    dispersion: str = "cigre 781"

    def __post_init__(self) -> None:
        _above_zero(
            resistivity_ohm_m=self.resistivity_ohm_m, relative_permittivity=self.relative_permittivity
        )


@dataclass(frozen=True, slots=True)
class WireMetal:
    """Metal of the conductors; copper by default. [ohm m, -]"""

    resistivity_ohm_m: float = 1.78e-8
    relative_permeability: float = 1.0

    def __post_init__(self) -> None:
        _above_zero(
            resistivity_ohm_m=self.resistivity_ohm_m, relative_permeability=self.relative_permeability
        )


@dataclass(frozen=True, slots=True)
class HeidlerTerm:
    """One term I0/eta x^n/(1 + x^n) exp(-t/t2), x = t/t1. [A, s, s, -]"""

    amplitude_a: float
    front_time_constant_s: float
    tail_time_constant_s: float
    steepness: float = 2.0

    def __post_init__(self) -> None:
        _above_zero(
            amplitude_a=self.amplitude_a,
            front_time_constant_s=self.front_time_constant_s,
            tail_time_constant_s=self.tail_time_constant_s,
            steepness=self.steepness,
        )


@dataclass(frozen=True, slots=True)
class HeidlerWave:
    """A stroke as a sum of Heidler terms."""

    name: str
    terms: tuple[HeidlerTerm, ...]
    source: str = ""
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class MeasuredWave:
    """A current as recorded: times from 0, rising, and values. [s, A]"""

    name: str
    times_s: tuple[float, ...]
    currents_a: tuple[float, ...]
    source: str = ""

    def __post_init__(self) -> None:
        if len(self.times_s) != len(self.currents_a) or len(self.times_s) < 3:
            raise ValueError(f"wave {self.name}: needs at least three times, each with a current")
        if any(b <= a for a, b in zip(self.times_s, self.times_s[1:], strict=False)):
            raise ValueError(f"wave {self.name}: times must rise")
        if self.times_s[0] < 0 or not all(isfinite(v) for v in (*self.times_s, *self.currents_a)):
            raise ValueError(f"wave {self.name}: times from 0 and finite currents are needed")


@dataclass(frozen=True, slots=True)
class OscillationWave:
    """A switching transient: a sine that dies out, i = I exp(-t/t_d) sin(2 pi f t). [A, Hz, s]"""

    name: str
    amplitude_a: float
    frequency_hz: float
    decay_s: float
    source: str = ""

    def __post_init__(self) -> None:
        _above_zero(amplitude_a=self.amplitude_a, frequency_hz=self.frequency_hz, decay_s=self.decay_s)


CurrentWave = HeidlerWave | MeasuredWave | OscillationWave


@dataclass(frozen=True, slots=True)
class ImpulseRequest:
    """A current shape driven into an electrode at one place.

    Attributes
    ----------
    electrode : Electrode
    injection_m : (x, y, depth)
        Must lie within ``snap_m`` of the metal. [m]
    soil : FrequencySoil
    wave : CurrentWave
    metal : WireMetal
    watch_m : tuple of (name, (x, y, depth))
        Other places: on the metal (within ``snap_m``) its potential, elsewhere that of the soil. [m]
    segment_m : float or None
        Longest segment; None: from the front of the wave. [m]
    ionisation_v_per_m : float or None
        Critical gradient of the soil; None: no ionisation, which is the careful choice. [V/m]
    per_decade : int
        Solved frequencies per decade.
    propagation : bool
        False for power-frequency and slow switching transients, see the documentation.
    snap_m : float
        [m]
    """

    electrode: Electrode
    injection_m: Point3
    soil: FrequencySoil
    wave: CurrentWave
    metal: WireMetal = WireMetal()
    watch_m: tuple[tuple[str, Point3], ...] = ()
    segment_m: float | None = None
    ionisation_v_per_m: float | None = None
    per_decade: int = 8
    propagation: bool = True
    snap_m: float = 0.05


@dataclass(frozen=True, slots=True)
class PublishedSize:
    """Effective length or size of a published formula, with the ranges that these inputs break."""

    name: str
    value: float
    unit: str
    source: str
    outside: tuple[str, ...] = ()
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class EffectiveSize:
    """How an impulse impedance stops falling as an electrode grows.

    ``effective_m`` is the size whose low-frequency resistance equals the impedance of the largest electrode;
    None, with ``reason``, when the impedance had not stopped falling (``saturated`` False). [m, ohm]
    """

    sizes_m: tuple[float, ...]
    resistances_ohm: tuple[float, ...]
    impedances_ohm: tuple[float, ...]
    saturated: bool
    effective_m: float | None
    reason: str = ""


@dataclass(frozen=True, eq=False)
class ImpulseResult:
    """Answer of the electrode in time.

    Attributes
    ----------
    resistance_ohm : float
        At low frequency, all metal at one potential. [ohm]
    impulse_impedance_ohm : float
        Peak voltage over peak current, which need not come at the same time. [ohm]
    impulse_coefficient : float
        Impulse impedance over resistance.
    peak_current_a, peak_voltage_v : float
        [A, V]
    front_time_us, peak_time_us : float
        1.25 times the time from 10 to 90 % of the peak current; time from the start to the peak. [us]
    times_s, current_a, voltage_v : arrays of equal length
        At the place of injection. [s, A, V]
    watch_v : mapping
        Name -> voltage in time. [V]
    watch_peak_v, watch_difference_v : mappings
        Name -> largest potential, and largest difference to the place of injection. [V]
    frequencies_hz, impedance_ohm : arrays
        Solved frequencies and the impedance there. [Hz, ohm]
    peak_leakage_a_per_m : array
        Largest leakage of every segment. [A/m]
    peak_gradient_v_per_m : float
        Largest field at the surface of the metal, before ionisation. [V/m]
    ionised_radius_m : array or None
        Radius of every segment with ionisation. [m]
    charge_c, action_a2s : float
        Integral of the current and of its square over the window computed. [C, A2 s]
    segments : int
    published : tuple of PublishedSize
    notes : tuple of str
        What limits the result.
    """

    resistance_ohm: float
    impulse_impedance_ohm: float
    impulse_coefficient: float
    peak_current_a: float
    peak_voltage_v: float
    front_time_us: float
    peak_time_us: float
    times_s: Floats
    current_a: Floats
    voltage_v: Floats
    watch_v: dict[str, Floats]
    watch_peak_v: dict[str, float]
    watch_difference_v: dict[str, float]
    frequencies_hz: Floats
    impedance_ohm: Complexes
    peak_leakage_a_per_m: Floats
    peak_gradient_v_per_m: float
    ionised_radius_m: Floats | None
    charge_c: float
    action_a2s: float
    segments: int
    published: tuple[PublishedSize, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ArresterPlace:
    """A surge arrester and what it protects.

    Attributes
    ----------
    name, protects : str
    protective_level_kv : float
        Residual voltage at the nominal discharge current. [kV]
    withstand_kv : float
        Lightning impulse withstand voltage of the equipment. [kV]
    distance_m : float
        From the arrester's terminal to that of the equipment. [m]
    line_lead_m, earth_lead_m : float
        Length of the leads on both sides. [m]
    steepness_kv_per_us : float
        Of the incoming surge. [kV/us]
    current_steepness_ka_per_us : float
        Of the current through the arrester. [kA/us]
    own_rods : int
        Rods at its foot.
    tied_to_mat : bool or None
        None: not known.
    safety_factor : float
        For internal insulation, 1.15 by default.
    inductance_uh_per_m : float
        [uH/m]
    at_m : (x, y) or None
    """

    name: str
    protects: str
    protective_level_kv: float
    withstand_kv: float
    distance_m: float
    line_lead_m: float
    earth_lead_m: float
    steepness_kv_per_us: float
    current_steepness_ka_per_us: float = 10.0
    own_rods: int = 0
    tied_to_mat: bool | None = None
    safety_factor: float = 1.15
    inductance_uh_per_m: float = 1.0
    at_m: Point2 | None = None

    def __post_init__(self) -> None:
        for name in ("distance_m", "line_lead_m", "earth_lead_m", "own_rods"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                raise ValueError(f"arrester {self.name}: {name} {value} is not a finite number from 0")
        _above_zero(
            protective_level_kv=self.protective_level_kv,
            withstand_kv=self.withstand_kv,
            steepness_kv_per_us=self.steepness_kv_per_us,
            current_steepness_ka_per_us=self.current_steepness_ka_per_us,
            safety_factor=self.safety_factor,
            inductance_uh_per_m=self.inductance_uh_per_m,
        )


@dataclass(frozen=True, slots=True)
class MastConnection:
    """Where the down conductor of a mast or gantry meets the buried metal. [m]

    ``level`` 1 to 4 asks for the electrode length of that protection level.
    """

    name: str
    at_m: Point3
    down_conductors: int = 1
    level: int | None = None


@dataclass(frozen=True, slots=True)
class TransformerPlace:
    """Where the earth connection of a transformer meets the buried metal. [m]"""

    name: str
    at_m: Point3


@dataclass(frozen=True, slots=True)
class LightningRequest:
    """All parts of the lightning chapter; leave out what is not asked."""

    shielding: ShieldingRequest | None = None
    exposure: ExposureRequest | None = None
    arresters: tuple[ArresterPlace, ...] = ()
    masts: tuple[MastConnection, ...] = ()
    transformers: tuple[TransformerPlace, ...] = ()
    electrode: Electrode | None = None
    resistivity_ohm_m: float | None = None
    mat_resistance_ohm: float | None = None
    impulses: tuple[ImpulseRequest, ...] = ()


@dataclass(frozen=True, eq=False)
class LightningResult:
    """Everything found, with checks and findings for the report."""

    shielding: ShieldingResult | None
    exposure: ExposureResult | None
    impulses: tuple[ImpulseResult, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """Fail when a governing check fails, not decided when one is open, else pass."""
        verdicts = {c.verdict for c in self.checks if c.governing}
        if Verdict.FAIL in verdicts:
            return Verdict.FAIL
        if Verdict.NOT_DECIDED in verdicts or not verdicts:
            return Verdict.NOT_DECIDED
        return Verdict.PASS
