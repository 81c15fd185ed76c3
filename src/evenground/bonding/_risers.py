"""Leads from equipment to the mat: each must bear the full fault current by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from evenground.model.conductor import ConductorRequest, ConductorResult
from evenground.model.fault import FaultResult
from evenground.model.installation import EquipmentItem
from evenground.model.surroundings import RiserDuty

__all__ = ["RiserGroup", "duty_of", "riser_groups"]

NO_FAULT_CURRENT = ("door", "pipe", "rail", "cable trench", "building")
"""Metal on which no high-voltage conductor is mounted: its bonds equalise and carry no fault current."""


@dataclass(frozen=True, slots=True)
class RiserGroup:
    """Leads of one kind with one kind of joint at the frame, to be sized at full current."""

    request: ConductorRequest
    items: tuple[str, ...]
    faults: tuple[FaultResult, ...]


def riser_groups(
    items: Sequence[EquipmentItem],
    conductors: Mapping[str, ConductorRequest],
    faults: Sequence[FaultResult],
) -> tuple[RiserGroup, ...]:
    """Group the leads by conductor and joint.

    The current is not shared between the separate connections of one frame, since either may be the one
    that is left. An item with a voltage takes the faults of that voltage, any other item all faults.
    """
    groups: dict[tuple[str, str], list[EquipmentItem]] = {}
    for item in items:
        request = conductors.get(item.conductor)
        if request is None or item.kind in NO_FAULT_CURRENT:
            continue
        groups.setdefault((item.conductor, item.joint or request.joint or ""), []).append(item)
    found = []
    for (key, joint), members in groups.items():
        seen = {f.scenario.name: f for item in members for f in _faults_of(item, faults)}
        request = replace(conductors[key], current_share=1.0, joint=joint or conductors[key].joint)
        tags = tuple(item.tag or item.kind for item in members)
        found.append(RiserGroup(request, tags, tuple(f for f in faults if f.scenario.name in seen)))
    return tuple(found)


def _faults_of(item: EquipmentItem, faults: Sequence[FaultResult]) -> Sequence[FaultResult]:
    """A transformer joins two voltages, so it sees all faults."""
    if item.voltage_kv is None or item.kind == "transformer":
        return faults
    own = [f for f in faults if abs(f.scenario.voltage_v / 1000 - item.voltage_kv) < 1e-6 * item.voltage_kv]
    return own or faults


def duty_of(group: RiserGroup, result: ConductorResult) -> RiserDuty:
    """One row of the table of leads."""
    area = result.remaining_area_mm2
    if area is None:
        area = result.stock_area_mm2
    return RiserDuty(
        conductor=result.request.role,
        joint=result.request.joint or "",
        items=group.items,
        scenario=result.scenario,
        current_a=result.current_a,
        time_s=result.time_s,
        final_temperature_c=result.final_temperature_c,
        limited_by=result.limited_by,
        needed_mm2=result.end_of_life_area_mm2,
        area_mm2=area,
    )
