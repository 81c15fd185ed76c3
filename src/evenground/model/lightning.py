"""Lightning: what shields, what is to be shielded, current shapes, and what the electrode does with them.

Heights are above the ground, which is flat at 0; electrodes keep z as depth, positive down.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from evenground.errors import Finding
from evenground.model._numbers import above_zero
from evenground.model.electrode import Electrode, Point3
from evenground.model.lightning_impulse import (
    CurrentWave,
    EffectiveSize,
    FrequencySoil,
    HeidlerTerm,
    HeidlerWave,
    ImpulseRequest,
    ImpulseResult,
    MeasuredWave,
    OscillationWave,
    PublishedSize,
    WireMetal,
)
from evenground.model.lightning_shielding import (
    Building,
    ContourRequest,
    ElevationEnvelope,
    ExposureRequest,
    ExposureResult,
    Mast,
    ObjectShielding,
    ProtectedObject,
    RequiredHeight,
    ShieldingRequest,
    ShieldingResult,
    ShieldWire,
    SphereRule,
    Terminals,
    ZoneContour,
)
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
    "MastTop",
    "MeasuredWave",
    "ObjectShielding",
    "OscillationWave",
    "ProtectedObject",
    "PublishedSize",
    "RequiredHeight",
    "ShieldWire",
    "ShieldingRequest",
    "ShieldingResult",
    "SphereRule",
    "Terminals",
    "TransformerPlace",
    "WireMetal",
    "ZoneContour",
]


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
        above_zero(
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

    ``level`` 1 to 4 asks for the electrode length of that protection level. ``listed_rods`` are its own rods
    by the equipment list, which need not be drawn; a note about the
    list says so when they are not.
    """

    name: str
    at_m: Point3
    down_conductors: int = 1
    level: int | None = None
    listed_rods: int = 0


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


@dataclass(frozen=True, slots=True)
class MastTop:
    """Voltage of a mast's top against remote soil: that of its foot and the fall along the mast. [V, ohm, uH]

    ``top_v`` is None where the front is too short for the mast to count as an inductance.
    """

    name: str
    foot_v: float
    top_v: float | None
    surge_impedance_ohm: float
    inductance_uh: float
    reason: str = ""


@dataclass(frozen=True, eq=False)
class LightningResult:
    """Everything found, with checks and findings for the report."""

    shielding: ShieldingResult | None
    exposure: ExposureResult | None
    impulses: tuple[ImpulseResult, ...]
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    impulse_names: tuple[str, ...] = ()
    mast_tops: tuple[MastTop, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """Fail when a governing check fails, not decided when one is open, else pass."""
        verdicts = {c.verdict for c in self.checks if c.governing}
        if Verdict.FAIL in verdicts:
            return Verdict.FAIL
        if Verdict.NOT_DECIDED in verdicts or not verdicts:
            return Verdict.NOT_DECIDED
        return Verdict.PASS
