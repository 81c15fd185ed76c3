"""Lines and cables that leave a station: wires, spans, towers, sheaths, joints.

Positions: x across the route, height above ground positive, below ground negative. Impedances are phasors
at power frequency. The station under study is the node :data:`HOME`.
"""

from __future__ import annotations

import cmath
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite, isinf
from typing import Any

__all__ = [
    "HOME",
    "Cable",
    "Joint",
    "LineImpedances",
    "OverheadLine",
    "Sheath",
    "Wire",
    "passive",
    "positive",
    "uniform_line",
]

HOME = "station"
"""Name of the node that stands for the metal of the station under study."""

ComplexRows = tuple[tuple[complex, ...], ...]
BONDINGS = ("both_ends", "near_end", "far_end", "cross_bonded")


def positive(
    owner: str, values: Mapping[str, float], *, allow_inf: bool = False, allow_zero: bool = False
) -> None:
    """Refuse values that are not numbers above zero, naming owner and field."""
    for name, value in values.items():
        good = value > 0.0 or (allow_zero and value == 0.0)
        if not good or not (isfinite(value) or (allow_inf and isinf(value))):
            zero = "zero or more" if allow_zero else "above zero"
            finite = "" if allow_inf else " and finite"
            raise ValueError(f"{owner}: {name} must be {zero}{finite}, got {value!r}")


def passive(owner: str, name: str, value: complex) -> None:
    """Refuse impedances that are not finite or have a negative resistance."""
    if not cmath.isfinite(value) or complex(value).real < 0.0:
        text = "must be finite with a resistance of zero or more"
        raise ValueError(f"{owner}: {name} {text}, got {value!r} ohm")


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire of a line: ground wire, phase, neutral, or buried continuity conductor.

    Attributes
    ----------
    name : str
    x_m, height_m : float
        Position across the route; mean height over the span (attachment less two thirds of the sag),
        negative for a buried wire. [m]
    resistance_ohm_per_m : float
        With ``gmr_m``: resistance at power frequency and service temperature. Without: DC resistance, to
        which the skin effect of a round wire is added. [ohm/m]
    gmr_m : float or None
        Geometric mean radius, as conductor tables give it. [m]
    radius_m : float or None
        Outer radius; needed when there is no ``gmr_m``. [m]
    relative_permeability : float
        Of the wire, used without ``gmr_m`` only; steel strand 50 to 200 (common practice). [-]
    """

    name: str
    x_m: float
    height_m: float
    resistance_ohm_per_m: float
    gmr_m: float | None = None
    radius_m: float | None = None
    relative_permeability: float = 1.0

    def __post_init__(self) -> None:
        owner = f"wire {self.name}"
        positive(owner, {"resistance_ohm_per_m": self.resistance_ohm_per_m})
        positive(owner, {"relative_permeability": self.relative_permeability})
        if not isfinite(self.x_m) or not isfinite(self.height_m) or self.height_m == 0.0:
            raise ValueError(f"{owner}: x_m and height_m must be finite and height_m not zero")
        if self.gmr_m is None and self.radius_m is None:
            raise ValueError(f"{owner}: give gmr_m, or radius_m with relative_permeability")
        for name, value in (("gmr_m", self.gmr_m), ("radius_m", self.radius_m)):
            if value is not None:
                positive(owner, {name: value})


@dataclass(frozen=True, slots=True)
class LineImpedances:
    """Impedances per metre with earth return: m earthed conductors and p phase conductors. [ohm/m]

    Attributes
    ----------
    ground_ohm_per_m : (m, m) tuple of tuples
        Self and mutual impedances of ground wires, sheaths or neutrals; symmetric.
    mutual_ohm_per_m : (m, p) tuple of tuples
        Between earthed conductors (rows) and phases.
    phase_ohm_per_m : (p, p) tuple of tuples
        Of the phases; needed when a source is a voltage behind an impedance.
    phase_names : tuple of str, length p
    """

    ground_ohm_per_m: ComplexRows
    mutual_ohm_per_m: ComplexRows
    phase_ohm_per_m: ComplexRows = ((0j,),)
    phase_names: tuple[str, ...] = ("phase",)

    def __post_init__(self) -> None:
        m, p = len(self.ground_ohm_per_m), len(self.phase_names)
        for name, rows, shape in (
            ("ground_ohm_per_m", self.ground_ohm_per_m, (m, m)),
            ("mutual_ohm_per_m", self.mutual_ohm_per_m, (m, p)),
            ("phase_ohm_per_m", self.phase_ohm_per_m, (p, p)),
        ):
            if len(rows) != shape[0] or any(len(row) != shape[1] for row in rows):
                raise ValueError(f"{name}: must have {shape[0]} rows of {shape[1]}")
            if not all(cmath.isfinite(z) for row in rows for z in row):
                raise ValueError(f"{name}: every impedance must be finite")
        for name, rows in (("ground", self.ground_ohm_per_m), ("phase", self.phase_ohm_per_m)):
            size = max((abs(z) for row in rows for z in row), default=0.0)
            for i, row in enumerate(rows):
                passive(f"{name}_ohm_per_m", f"[{i}][{i}]", row[i])
                if any(abs(z - rows[j][i]) > 1e-9 * size for j, z in enumerate(row)):
                    raise ValueError(f"{name}_ohm_per_m: must be symmetric")


@dataclass(frozen=True, slots=True)
class OverheadLine:
    """An overhead line, or a feeder whose neutral is earthed at many places.

    Spans count from the near station. ``tower_resistances_ohm`` holds the footings between the spans
    (one less than spans), or as many as spans when the last one stands at the far end, in parallel to the
    far station, or alone when ``far_station`` is empty. ``inf`` is a tower without contact to earth.

    Attributes
    ----------
    name : str
    span_lengths_m : tuple of float
    tower_resistances_ohm : tuple of float
    ground_wires, phases : tuple of Wire
        Geometry; or ``given`` impedances instead.
    given : LineImpedances or None
    far_station, near_station : str
        Names of :class:`Station`, or :data:`HOME`; an empty far end is an open end.
    bonded_near, bonded_far : bool
        Ground wires joined to the station's metal at the gantry; False: insulated there.
    shielded_spans : int or None
        Ground wires over the first spans only; None: over the whole line.
    kind : str
        ``"line"`` or ``"neutral"``; used for naming paths.
    """

    name: str
    span_lengths_m: tuple[float, ...]
    tower_resistances_ohm: tuple[float, ...]
    ground_wires: tuple[Wire, ...] = ()
    phases: tuple[Wire, ...] = ()
    given: LineImpedances | None = None
    far_station: str = ""
    near_station: str = HOME
    bonded_near: bool = True
    bonded_far: bool = True
    shielded_spans: int | None = None
    kind: str = "line"
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        owner = f"line {self.name}"
        spans, towers = len(self.span_lengths_m), len(self.tower_resistances_ohm)
        if spans == 0:
            raise ValueError(f"{owner}: span_lengths_m is empty")
        for index, length in enumerate(self.span_lengths_m):
            positive(owner, {f"span_lengths_m[{index}]": length})
        for index, ohm in enumerate(self.tower_resistances_ohm):
            positive(owner, {f"tower_resistances_ohm[{index}]": ohm}, allow_inf=True)
        expected = (spans - 1, spans) if self.far_station else (spans,)
        if towers not in expected:
            wanted = " or ".join(map(str, expected))
            raise ValueError(f"{owner}: {spans} spans need {wanted} tower_resistances_ohm, got {towers}")
        if self.given is None and not self.phases:
            raise ValueError(f"{owner}: give phases (geometry) or given impedances")
        if self.given is not None and (self.phases or self.ground_wires):
            raise ValueError(f"{owner}: give geometry or given impedances, not both")
        if any(w.height_m < 0.0 for w in (*self.ground_wires, *self.phases)):
            raise ValueError(f"{owner}: a wire of an overhead line is below ground")
        if self.shielded_spans is not None and not 0 <= self.shielded_spans <= spans:
            raise ValueError(f"{owner}: shielded_spans must be 0 to {spans}, got {self.shielded_spans}")
        if self.kind not in ("line", "neutral"):
            raise ValueError(f"{owner}: kind must be 'line' or 'neutral', got {self.kind!r}")
        if self.near_station == self.far_station:
            raise ValueError(f"{owner}: far_station is the same as near_station")

    @property
    def length_m(self) -> float:
        """Whole length. [m]"""
        return sum(self.span_lengths_m)


def uniform_line(
    name: str,
    *,
    spans: int,
    span_length_m: float,
    tower_resistance_ohm: float,
    far_station: str = "",
    **rest: Any,
) -> OverheadLine:
    """An :class:`OverheadLine` with equal spans and footings; ``rest`` goes to its other fields."""
    towers = spans - 1 if far_station else spans
    return OverheadLine(
        name,
        (float(span_length_m),) * spans,
        (float(tower_resistance_ohm),) * towers,
        far_station=far_station,
        **rest,
    )


@dataclass(frozen=True, slots=True)
class Sheath:
    """Metal sheath or screen of a cable, with the core inside.

    ``radius_m`` is the mean radius of the sheath; the core's data are needed for voltage sources only.
    [m, ohm/m]
    """

    resistance_ohm_per_m: float
    radius_m: float
    core_resistance_ohm_per_m: float = 0.0
    core_gmr_m: float | None = None

    def __post_init__(self) -> None:
        positive("sheath", {"resistance_ohm_per_m": self.resistance_ohm_per_m, "radius_m": self.radius_m})
        positive("sheath", {"core_resistance_ohm_per_m": self.core_resistance_ohm_per_m}, allow_zero=True)
        if self.core_gmr_m is not None:
            positive("sheath", {"core_gmr_m": self.core_gmr_m})
            if self.core_gmr_m >= self.radius_m:
                raise ValueError(f"sheath: core_gmr_m must be below radius_m, got {self.core_gmr_m!r} m")


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint where all sheaths meet an earth electrode; counted from the near end. [m, ohm]"""

    distance_m: float
    earth_resistance_ohm: float = inf

    def __post_init__(self) -> None:
        positive("joint", {"distance_m": self.distance_m})
        positive("joint", {"earth_resistance_ohm": self.earth_resistance_ohm}, allow_inf=True)


@dataclass(frozen=True, slots=True)
class Cable:
    """A cable circuit: one common sheath (three-core) or one sheath for each core.

    Attributes
    ----------
    name : str
    length_m : float
    sheath : Sheath or None
        None with ``given``.
    positions_m : tuple of (x, depth)
        One position for a three-core cable, three for single-core cables; depth positive down. [m]
    bonding : str
        ``"both_ends"``, ``"near_end"`` or ``"far_end"`` (sheath earthed at one end only), or
        ``"cross_bonded"`` (three single-core cables; sheaths transposed at the thirds of each section
        between joints and solidly bonded at the joints and ends).
    joints : tuple of Joint
        Where all sheaths are bonded together and earthed on the way.
    continuity : Wire or None
        Earth-continuity conductor alongside, bonded at both ends and at every joint.
    far_station, near_station : str
    given : LineImpedances or None
        Measured or maker's impedances instead of sheath and positions.
    """

    name: str
    length_m: float
    far_station: str
    sheath: Sheath | None = None
    positions_m: tuple[tuple[float, float], ...] = ((0.0, 1.0),)
    bonding: str = "both_ends"
    joints: tuple[Joint, ...] = ()
    continuity: Wire | None = None
    given: LineImpedances | None = None
    near_station: str = HOME
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        owner = f"cable {self.name}"
        positive(owner, {"length_m": self.length_m})
        if (self.sheath is None) == (self.given is None):
            raise ValueError(f"{owner}: give either sheath or given")
        if self.bonding not in BONDINGS:
            raise ValueError(f"{owner}: bonding must be one of {', '.join(BONDINGS)}, got {self.bonding!r}")
        if len(self.positions_m) not in (1, 3):
            raise ValueError(f"{owner}: positions_m must be one or three, got {len(self.positions_m)}")
        for index, (_, depth) in enumerate(self.positions_m):
            positive(owner, {f"positions_m[{index}] depth": depth})
        if self.bonding == "cross_bonded" and (self.given is not None or len(self.positions_m) != 3):
            raise ValueError(f"{owner}: cross_bonded needs three positions_m and a sheath")
        if self.bonding in ("near_end", "far_end") and self.joints:
            raise ValueError(f"{owner}: a sheath earthed at one end has no earthed joints")
        if self.given is not None and self.continuity is not None:
            raise ValueError(f"{owner}: put the continuity conductor into the given impedances")
        if self.continuity is not None and self.continuity.height_m > 0.0:
            raise ValueError(f"{owner}: continuity conductor must be below ground")
        distances = [0.0, *(j.distance_m for j in self.joints), self.length_m]
        if any(b <= a for a, b in pairwise(distances)):
            raise ValueError(f"{owner}: joints must stand in order between the ends")
        if not self.far_station or self.far_station == self.near_station:
            raise ValueError(f"{owner}: far_station must be another station")
