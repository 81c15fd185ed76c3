"""Touch voltage at metal that is not bonded to the mat, and between it and bonded metal nearby."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from evenground.errors import Finding, Severity
from evenground.model.fault import FaultResult
from evenground.model.site import Assessment, Point2, SurfaceZone
from evenground.model.study import ShockResult, ZoneLimit
from evenground.safety._assess import scaled
from evenground.safety._search import make_raster, worst_touch
from evenground.safety._surface import Potential, Surface
from evenground.safety._zones import QUADRANT, FloatArray, ZoneIndex

__all__ = ["SeparateMetal", "assess_separate"]

HANDS_M = 2.0
"""Metal nearer than this to other metal can be touched together with it (common practice; the distance that
fences keep from bonded metal). [m]"""


@dataclass(frozen=True)
class SeparateMetal:
    """Metal at a potential of its own: its name, its share of the potential rise and its plan. [-, m]

    ``touch`` is the voltage between it and the ground for metal whose potential varies along it. [m -> -]
    """

    name: str
    share: float
    lines_m: tuple[tuple[Point2, Point2], ...]
    path: tuple[str | int, ...] = ()
    touch: Potential | None = None


def assess_separate(
    potential: Potential,
    metals: Sequence[SeparateMetal],
    bonded_m: Sequence[tuple[Point2, Point2]],
    zones: Sequence[SurfaceZone],
    limits: Sequence[ZoneLimit],
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
    assessment: Assessment,
) -> tuple[tuple[ShockResult, ...], tuple[Finding, ...]]:
    """Worst touch voltage within reach of each piece of separate metal.

    Parameters
    ----------
    potential : callable
        Surface potential at arrays x, y for a potential rise of one volt. [m -> -]
    metals : sequence of SeparateMetal
        What people can touch.
    bonded_m : sequence of (start, end)
        Metal at the potential rise, in plan. [m]
    zones, limits, faults, gpr_v, assessment
        As for :func:`~evenground.safety.assess_shocks`; ``limits`` as found by it.

    Returns
    -------
    shocks : tuple of ShockResult
        ``metal`` names the separate metal.
    findings : tuple of Finding
        Pairs of metal at different potentials within the reach of two hands.
    """
    index = ZoneIndex(zones)
    shocks: list[ShockResult] = []
    findings: list[Finding] = []
    bonded = _plan(bonded_m)
    for metal in metals:
        plan = _plan(metal.lines_m)
        area = plan.buffer(assessment.reach_m, quad_segs=QUADRANT)
        assert isinstance(area, Polygon | MultiPolygon)
        surface = Surface(potential, touch=metal.touch or _touch_of(potential, metal.share))
        raster = make_raster(surface, area, area, assessment.raster_m, inside_only=True)
        worst = worst_touch(surface, raster, area, index)
        rows = scaled("touch", worst, index, limits, faults, gpr_v)
        shocks += [replace(row, metal=metal.name) for row in rows]
        gap = plan.distance(bonded)
        if gap < HANDS_M:
            findings.append(_two_hands(metal, gap, max(gpr_v.values())))
    return tuple(shocks), tuple(findings)


def _touch_of(potential: Potential, share: float) -> Potential:
    def touch(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        return np.asarray(np.abs(share - potential(x_m, y_m)))

    return touch


def _plan(lines_m: Sequence[tuple[Point2, Point2]]) -> BaseGeometry:
    return unary_union(
        [LineString(pair) if pair[0] != pair[1] else ShapelyPoint(pair[0]) for pair in lines_m]
    )


def _two_hands(metal: SeparateMetal, gap_m: float, gpr_v: float) -> Finding:
    value = abs(1.0 - metal.share) * gpr_v
    return Finding(
        code="two-hands",
        message=(
            f"“{metal.name}” comes within {gap_m:.2f} m of bonded metal: who touches both bears up to "
            f"{value:.0f} V from hand to hand, with no ground under the feet to limit the current"
        ),
        advice=f"keep {HANDS_M:g} m apart, bond the two, or put an insulated piece between them",
        severity=Severity.WARNING,
        path=metal.path,
    )
