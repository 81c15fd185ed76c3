"""Results about what is bonded to the mat and what leaves the site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding
from evenground.model.site import Point2
from evenground.model.study import Check, FieldSummary, Place, ShockResult

__all__ = [
    "Boundary",
    "Connection",
    "Contour",
    "CoverageRow",
    "FencePiece",
    "FenceProfile",
    "RiserDuty",
    "Suggestion",
    "Surroundings",
    "Touched",
    "Transfer",
]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Connection:
    """One rule for the connection of one piece of equipment, and what the file says about it.

    ``outcome`` is ``"kept"``, ``"broken"``, ``"not stated"``, or ``"advice"`` when a rule that only advises
    is not kept. ``wanted`` and ``drawn`` are words.
    """

    tag: str
    kind: str
    rule: str
    wanted: str
    drawn: str
    outcome: str
    source: str
    evidence: str
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class RiserDuty:
    """A kind of lead with its joint at the frame, at the full fault current.

    ``area_mm2`` is the metal left at the end of life, ``needed_mm2`` what the thermal equation asks for.
    [mm2, A, s, degC]
    """

    conductor: str
    joint: str
    items: tuple[str, ...]
    scenario: str
    current_a: float
    time_s: float
    final_temperature_c: float
    limited_by: str
    needed_mm2: float
    area_mm2: float | None


@dataclass(frozen=True, slots=True)
class Touched:
    """Worst touch voltage of one piece of metal on one side, in one zone, for one scenario. [V]

    ``side`` is ``"inside"`` or ``"outside"`` of a closed fence, ``"near"`` (to the mat) or ``"far"`` of an
    open one, ``"swing"`` of a gate.
    """

    name: str
    side: str
    zone: str
    scenario: str
    value_v: float
    limit_v: float
    place: Place


@dataclass(frozen=True)
class FenceProfile:
    """Touch voltage along a piece of fence at the reach, both sides, for the governing scenario. [m, V]

    ``sides`` are the words for the two.
    """

    name: str
    scenario: str
    fence_v: float
    distance_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    inside_v: FloatArray
    outside_v: FloatArray
    inside_limit_v: FloatArray
    outside_limit_v: FloatArray
    sides: tuple[str, str] = ("inside", "outside")


@dataclass(frozen=True, slots=True)
class FencePiece:
    """A piece of metal without interruption, with its own potential.

    ``potential`` is a fraction of the potential rise of the mat: 1 for bonded metal, what floating metal
    takes up otherwise. ``resistance_ohm`` is its own earth resistance (None when bonded). [m, ohm]
    """

    name: str
    fence: str
    bonding: str
    points_m: tuple[Point2, ...]
    closed: bool
    potential: float
    resistance_ohm: float | None = None
    distance_m: float | None = None


@dataclass(frozen=True, slots=True)
class Transfer:
    """One service and what it carries off or on the site, for the worst scenario. [V]

    ``disposal`` as in the file; ``value_v`` is the voltage against ``limit_v`` (None: nothing to compare);
    ``meaning`` says what it is, ``local_v`` the surface potential where it crosses.
    """

    name: str
    kind: str
    disposal: str
    scenario: str
    meaning: str
    value_v: float | None
    limit_v: float | None
    clause: str
    evidence: str
    local_v: float | None = None
    remark: str = ""
    reason: str = ""
    by: str = ""


@dataclass(frozen=True)
class Contour:
    """Line of equal surface potential round the site for one scenario.

    ``nearest_m`` and ``furthest_m`` are distances of the line from the edge of the mat, ``beyond_m`` the
    distance looked at where the voltage is still exceeded there. All three None: the surface at the edge is
    below the voltage everywhere. With ``beyond_m`` the line lies, at least in part, further away than that;
    ``furthest_m`` is then None, and ``nearest_m`` too when it does so all round.

    ``around`` names the fence or service that carries the voltage beyond the line of the mat; distances are
    then from that metal, and the points are a line that encloses what is above the voltage there. [V, m]
    """

    voltage_v: float
    scenario: str
    nearest_m: float | None
    furthest_m: float | None
    points_m: FloatArray
    used_for: str
    source: str
    evidence: str
    beyond_m: float | None = None
    around: str = ""


@dataclass(frozen=True)
class Boundary:
    """Fences, gates, services and contours of one soil case.

    ``shocks`` are the touch voltages of every zone at fences, gates and services, ``metal`` their name;
    ``solution`` is the field solution of mat and other metal together (None: there is no other metal),
    ``error`` the relative error of the voltages at that metal.
    """

    pieces: tuple[FencePiece, ...] = ()
    touched: tuple[Touched, ...] = ()
    profiles: tuple[FenceProfile, ...] = ()
    swings: tuple[tuple[str, tuple[Point2, ...]], ...] = ()
    transfers: tuple[Transfer, ...] = ()
    contours: tuple[Contour, ...] = ()
    checks: tuple[Check, ...] = ()
    findings: tuple[Finding, ...] = ()
    shocks: tuple[ShockResult, ...] = ()
    solution: FieldSummary | None = None
    error: float = 0.0


@dataclass(frozen=True, slots=True)
class CoverageRow:
    """One subject of the completeness page.

    ``status`` is ``"covered"``, ``"partly covered"``, ``"not applicable"``, ``"covered elsewhere"``,
    ``"open"``.
    """

    subject: str
    status: str
    how: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """What one change does, computed on the real model.

    ``touch``, ``step`` and ``fence`` are value over limit after the change (fence None: there is none);
    ``helps`` is how much the largest of them falls, as a fraction of its value before. ``passes``: touch,
    step and fences pass in the governing soil, with the error of refined segments, the largest offset where
    X/R is unknown, and limits within their range; other checks and other soils are not asked.
    """

    name: str
    change: str
    touch: float
    step: float
    fence: float | None
    resistance_ohm: float
    helps: float
    passes: bool
    remark: str = ""


@dataclass(frozen=True)
class Surroundings:
    """Everything a study says beyond the mat itself.

    ``boundary`` belongs to the governing soil case (None: an older study).
    """

    boundary: Boundary | None = None
    connections: tuple[Connection, ...] = ()
    duties: tuple[RiserDuty, ...] = ()
    coverage: tuple[CoverageRow, ...] = ()
    suggestions: tuple[Suggestion, ...] = ()
