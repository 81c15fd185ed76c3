"""Metal of a service in the ground: touch along it, and where it ends at an insulating joint."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString

from evenground.errors import OutOfRangeError
from evenground.model.services import Service
from evenground.model.study import Check, Place, ShockResult, Verdict
from evenground.safety._fence_checks import slug
from evenground.safety._fences import worst_by_zone
from evenground.safety._judge import compared, margin_doubt, without_offset
from evenground.safety._zones import ZoneIndex
from evenground.standards.limits import CURVES
from evenground.standards.limits.curves import lookup

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenground.model.site import Point2
    from evenground.safety._boundary import BoundaryCase
    from evenground.safety._zones import FloatArray

__all__ = ["TouchedMetal", "joint_checks", "metal_touched", "metallic"]

TouchedMetal = tuple[str, str, list[ShockResult]]
UTP = "en50522_2022"
HANDS_M = 2.0
"""A section of this length is out of one person's reach (common practice; as for fences). [m]"""


def metallic(service: Service) -> bool:
    """Whether the touch voltage at its metal decides: pipes, rails, sheaths."""
    return service.kind not in ("telecom", "lv supply")


def metal_touched(case: BoundaryCase, service: Service, index: ZoneIndex) -> list[TouchedMetal]:
    """Name, side and worst touch voltages along bare metal of a service, on both sides of its joint. [V]"""
    rows = []
    if service.route_m or service.remote_rods_m:
        spots = _spots(service.route_m, service.remote_rods_m, case.assessment.reach_m)
        voltage = np.abs(case.potentials[service.name] - case.field(spots[:, 0], spots[:, 1]))
        rows.append((service.name, "along", worst_by_zone(case, index, voltage, spots, service.name)))
    if service.far_end is not None:
        spots = _spots((*_far_side(service), *service.far_end.beyond_m), (), case.assessment.reach_m)
        ground = case.field(spots[:, 0], spots[:, 1])
        # what is drawn beyond may be a stub of something longer: far earth is the other bound
        metal = [0j, case.potentials.get(service.beyond_name, 0j)]
        voltage = np.max([np.abs(v - ground) for v in metal], axis=0)
        place = f"{service.name}, beyond its joint"
        rows.append((service.name, "beyond", worst_by_zone(case, index, voltage, spots, place)))
    return rows


def _far_side(service: Service) -> tuple[Point2, ...]:
    """Where metal begins again beyond the joint: as drawn, or straight on. [m]"""
    assert service.far_end is not None
    if service.far_end.beyond_m:
        return ()
    (ax, ay), (bx, by) = service.route_m[-2:]
    on = service.far_end.section_m / hypot(bx - ax, by - ay)
    return ((bx + on * (bx - ax), by + on * (by - ay)),)


def _spots(line_m: Sequence[Point2], points_m: Sequence[Point2], reach_m: float) -> FloatArray:
    """Places of feet within reach of a line and of single points. [m]"""
    turn = np.arange(16) * np.pi / 8
    circle = reach_m * np.column_stack([np.cos(turn), np.sin(turn)])
    rows = [np.asarray(p) + circle for p in (*points_m, *line_m)]
    if len(line_m) > 1:
        line = shapely.segmentize(LineString(line_m), 1.0)
        for side in (reach_m, -reach_m):
            offset = shapely.offset_curve(line, side)
            rows.append(shapely.get_coordinates(shapely.segmentize(offset, 1.0)))
    return np.vstack(rows)


def joint_checks(case: BoundaryCase, service: Service) -> list[Check]:
    """Whether one person can touch both sides of an insulating joint, and what that would do."""
    end = service.far_end
    if end is None:
        return []
    x, y = service.route_m[-1]
    head = {
        "identity": f"joint-{slug(service.name)}",
        "title": f"Service “{service.name}”, both sides of its insulating joint within reach",
        "place": Place(x, y, service.name),
    }
    if end.section_m >= HANDS_M - 1e-9:
        return [
            Check(
                verdict=Verdict.PASS,
                value=end.section_m,
                limit=HANDS_M,
                unit="m",
                sense="min",
                clause="One person reaches 2 m with both arms (common practice)",
                method="project file against rule",
                **head,  # type: ignore[arg-type]
            )
        ]
    return [_hands(case, service, head)]


def _hands(case: BoundaryCase, service: Service, head: dict[str, object]) -> Check:
    """From hand to hand across the joint, with no ground under the feet to limit the current."""
    rows: list[tuple[str, float, float]] = []
    reason = case.doubt
    across = max(1.0, abs(case.potentials[service.name] - case.potentials.get(service.beyond_name, 0j)))
    for fault in case.faults:
        name = fault.scenario.name
        try:
            rows.append((name, across * case.gpr_v[name], lookup(CURVES[UTP], fault.scenario.exposure_s)))
        except OutOfRangeError as error:
            reason = reason or f"{name}: {error}"
    worst = max(rows, key=lambda r: r[1] / r[2], default=None)
    verdict = Verdict.NOT_DECIDED if worst is None or case.doubt else compared(worst[1], worst[2])
    if verdict is Verdict.PASS:
        reason = reason or margin_doubt(rows, case.error, without_offset(case.faults))
        verdict = Verdict.NOT_DECIDED if reason else verdict
    return Check(
        verdict=verdict,
        value=worst[1] if worst else None,
        limit=worst[2] if worst else None,
        unit="V",
        scenario=worst[0] if worst else "",
        clause="EN 50522:2022, permissible touch voltage without additional resistances; from hand to hand",
        method="field solution",
        reason=reason or "a section shorter than 2 m; cover one side, or make it longer",
        **head,  # type: ignore[arg-type]
    )
