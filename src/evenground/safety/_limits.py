"""Tolerable voltages of each zone and scenario, and the same voltages against other standards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.model.fault import FaultResult
from evenground.model.site import Assessment, SurfaceZone
from evenground.model.study import ShockResult, StandardComparison, ZoneLimit
from evenground.provenance import recording
from evenground.safety._person import person_of, with_person
from evenground.standards.limits import STANDARDS, LimitCase, Limits, case_for_zone, tolerable

__all__ = ["compare_standards", "standard_key", "zone_limits"]

FALLBACK = "ieee80_50kg"
TAKES_FACTOR = ("ieee80_50kg", "ieee80_70kg", "en50522_2010", "en50522_2022", "free")
"""Standards whose layer factor follows the form stated in the assessment; the others have a form of their
own unless the exact series is asked for. EN 50522 does not speak of the thickness of a cover: taking the
layer factor is the cautious reading."""
FOOTING_M = {"chippings_75mm": 0.075, "chippings_150mm": 0.150}


def standard_key(assessment: Assessment, zone: SurfaceZone) -> str:
    """Key of the limits that govern in a zone."""
    name = zone.standard or assessment.standard
    return f"ieee80_{assessment.body_mass_kg}kg" if name == "ieee80" else name


def _case(key: str, zone: SurfaceZone, time_s: float, native: float, assessment: Assessment) -> LimitCase:
    case = case_for_zone(key, zone, time_s, native)
    options = STANDARDS[key].options
    changes: dict[str, object] = {}
    if (
        case.covered
        and "surface_factor" in options
        and (key in TAKES_FACTOR or assessment.surface_factor == "exact")
    ):
        changes["surface_factor"] = assessment.surface_factor
    shoe = zone.footwear_ohm if zone.footwear_ohm is not None else assessment.footwear_ohm
    if shoe is not None and "footwear_ohm" in options:
        changes["footwear_ohm"] = shoe
    case = with_person(case, person_of(zone, assessment))
    footing = zone.footing or (assessment.footing if case.covered else None)
    if footing is not None and "footing" in options:
        changes["footing"] = footing
    return replace(case, **changes)  # type: ignore[arg-type]


def zone_limits(
    zones: Sequence[SurfaceZone],
    faults: Sequence[FaultResult],
    assessment: Assessment,
    native_resistivity_ohm_m: float,
) -> tuple[ZoneLimit, ...]:
    """Tolerable touch and step voltage in each zone for each scenario.

    A standard that gives no step limit, or none for this duration, borrows the number of IEEE Std 80
    for 50 kg; a borrowed touch limit is marked as outside the range, so that nothing is decided by it.
    """
    return tuple(
        _zone_limit(zone, fault, assessment, native_resistivity_ohm_m) for zone in zones for fault in faults
    )


def _zone_limit(zone: SurfaceZone, fault: FaultResult, assessment: Assessment, native: float) -> ZoneLimit:
    key, scenario = standard_key(assessment, zone), fault.scenario
    time = scenario.exposure_s
    with recording(f"{zone.name}, {scenario.name}"):
        own = tolerable(_case(key, zone, time, native, assessment))
        spare = own
        if own.touch_v is None or own.step_v is None:
            spare = tolerable(_case(FALLBACK, zone, time, native, assessment))
    assert spare.touch_v is not None
    assert spare.step_v is not None
    outside = list(own.outside)
    if own.touch_v is None and not outside:
        outside.append(f"{STANDARDS[key].title} gives no touch limit for {time:g} s")
    thin = FOOTING_M.get(zone.footing or assessment.footing or "", 0.0)
    if "footing" in STANDARDS[key].options and zone.resistivity_ohm_m is not None and zone.thickness_m < thin:
        outside.append(
            f"footing of {1000 * thin:.0f} mm chippings on a cover of {1000 * zone.thickness_m:.0f} mm"
        )
    borrowed = f"{STANDARDS[key].title} gives no step limit; that of {STANDARDS[FALLBACK].title} is used"
    return ZoneLimit(
        zone=zone.name,
        scenario=scenario.name,
        surface_factor=1.0 if own.surface_factor is None else own.surface_factor,
        touch_v=own.touch_v if own.touch_v is not None else spare.touch_v,
        step_v=own.step_v if own.step_v is not None else spare.step_v,
        outside="; ".join(outside),
        standard=key,
        clause=own.clause or own.source,
        step_clause=(own.clause or own.source) if own.step_v is not None else borrowed,
        evidence=own.evidence,
        notes=own.notes,
        step_outside="; ".join(own.outside if own.step_v is not None else spare.outside),
    )


def compare_standards(
    zones: Sequence[SurfaceZone],
    shocks: Sequence[ShockResult],
    faults: Sequence[FaultResult],
    assessment: Assessment,
    native_resistivity_ohm_m: float,
) -> tuple[StandardComparison, ...]:
    """The worst voltages found, set against every standard of the register. [V]

    Each standard takes what it knows of the ground, the shoes and the duration; one that refuses the
    input has no limit, and the remark says why.
    """
    worst = {(s.quantity, s.zone, s.scenario): s.value_v for s in shocks}
    by_name = {zone.name: zone for zone in zones}
    rows = []
    for (quantity, name, scenario), touch in worst.items():
        if quantity != "touch":
            continue
        fault = next(f for f in faults if f.scenario.name == scenario)
        for key, entry in STANDARDS.items():
            if key == "free" and not _stated(by_name[name], assessment):
                continue
            case = (key, by_name[name], fault.scenario.exposure_s, native_resistivity_ohm_m, assessment)
            limits = _tolerable_or_reason(*case)
            rows.append(
                StandardComparison(
                    standard=key,
                    title=entry.title,
                    edition=entry.edition,
                    zone=name,
                    scenario=scenario,
                    touch_v=touch,
                    touch_limit_v=limits.touch_v,
                    step_v=worst.get(("step", name, scenario)),
                    step_limit_v=limits.step_v,
                    clause=limits.clause or limits.source,
                    evidence=limits.evidence,
                    remark="; ".join((*limits.outside, *limits.notes)),
                )
            )
    return tuple(rows)


def _stated(zone: SurfaceZone, assessment: Assessment) -> bool:
    """Whether a free case is stated for a zone."""
    person = person_of(zone, assessment)
    return person is not None and person.complete


def _tolerable_or_reason(
    key: str, zone: SurfaceZone, time_s: float, native: float, assessment: Assessment
) -> Limits:
    try:
        return tolerable(_case(key, zone, time_s, native, assessment))
    except (OutOfRangeError, NotConvergedError) as error:
        title = STANDARDS[key].title
        return Limits(key, None, None, title, title, "from memory", outside=(str(error),))
