"""Services that cross the boundary: what each carries off or on the site, against the limit for its kind."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString, Point

from evenground.errors import Finding, OutOfRangeError, Severity
from evenground.model.fault import FaultResult
from evenground.model.services import Service
from evenground.model.study import Check, Verdict
from evenground.model.surroundings import Transfer
from evenground.provenance import recording
from evenground.safety._far_ends import TouchedMetal, joint_checks, metal_touched, metallic
from evenground.safety._fence_checks import FLOATING_ERROR, slug, touch_check
from evenground.safety._judge import compared, margin_doubt, without_offset
from evenground.safety._zones import ZoneIndex
from evenground.standards.limits import (
    CURVES,
    equipment_stress_voltage,
    tn_rise_limit,
    tt_rise_limit,
    voltage_limits,
)
from evenground.standards.limits.curves import lookup

if TYPE_CHECKING:
    from evenground.safety._boundary import BoundaryCase

__all__ = ["assess_services"]

NOT_STATED = "withstand_v is not stated"
UTP = "en50522_2022"
"""Curve of the permissible touch voltage that the TN rule of EN 50522 multiplies."""


@dataclass(frozen=True)
class _Row:
    """One service in one scenario. [V]"""

    scenario: str
    value_v: float
    limit_v: float | None
    clause: str
    evidence: str
    remark: str = ""


def assess_services(
    case: BoundaryCase, index: ZoneIndex
) -> tuple[tuple[Transfer, ...], list[Check], tuple[Finding, ...], list[TouchedMetal]]:
    """Every service with what it carries, the checks on it, findings, and touch voltages at its metal."""
    transfers, checks, findings = [], [], []
    touched: list[TouchedMetal] = []
    for service in case.installation.services:
        transfer, check = _one(case, service)
        transfers.append(transfer)
        if check is not None:
            checks.append(check)
        own = metal_touched(case, service, index)
        touched += own
        checks += [touch_check(name, side, shocks, case) for name, side, shocks in own]
        checks += joint_checks(case, service)
        findings += _remarks(case, service)
    return tuple(transfers), checks, tuple(findings), touched


def _one(case: BoundaryCase, service: Service) -> tuple[Transfer, Check | None]:
    rows = [_solved_row(case, service, f) for f in case.faults]
    lacking = [r for r in rows if r.limit_v is None]
    worst = max(lacking or rows, key=lambda r: r.value_v / (r.limit_v or 1.0))
    meaning = _meaning(service)
    local = None
    if service.crosses_m is not None:
        x, y = service.crosses_m
        local = float(abs(case.field(np.array([x]), np.array([y]))[0])) * case.gpr_v[worst.scenario]
    if service.disposal == "no metal":
        worst = replace(worst, value_v=0.0, limit_v=None, clause="", evidence="")
    transfer = Transfer(
        name=service.name,
        kind=service.kind,
        disposal=service.disposal,
        scenario="" if service.disposal == "no metal" else worst.scenario,
        meaning=meaning,
        value_v=None if service.disposal == "no metal" else worst.value_v,
        limit_v=worst.limit_v,
        clause=worst.clause,
        evidence=worst.evidence,
        local_v=local,
        remark="" if service.disposal == "no metal" else worst.remark,
        reason=service.reason,
        by=service.by,
    )
    return transfer, _check(case, service, rows, worst, meaning)


def _share(case: BoundaryCase, service: Service) -> float:
    """Voltage carried, or across the isolation, as a fraction of the potential rise.

    The potential computed for metal outside counts only when its far electrodes are stated. A route alone
    may be a stub of something longer: bonded, it then carries the whole rise; isolated, the metal outside
    may be at the potential of far earth, and the isolation bears the whole rise at least.
    """
    outside = case.potentials.get(service.name)
    if service.disposal == "isolated" and outside is not None:
        across = abs(1.0 - outside)
        return across if service.remote_rods_m else max(across, 1.0)
    if service.disposal == "bonded" and outside is not None and service.remote_rods_m:
        return abs(outside)
    return 1.0


def _solved_row(case: BoundaryCase, service: Service, fault: FaultResult) -> _Row:
    """One scenario: voltages from the field, or from the network for metal of another station."""
    name = fault.scenario.name
    if not service.network_earth or service.disposal == "open":
        return _row(case, service, fault, _share(case, service) * case.gpr_v[name])
    found = case.from_network.get((service.name, name))
    if found is None:
        row = _row(case, service, fault, case.gpr_v[name])
        return replace(row, limit_v=None, remark="no source of the network feeds this fault")
    isolated = service.disposal == "isolated"
    row = _row(case, service, fault, found.apart_v if isolated else found.potential_v)
    place = found.apart_place if isolated else found.place
    remark = f"potential of {service.network_earth} from the network, fault {place}"
    return replace(row, remark="; ".join(filter(None, (remark, row.remark))))


def _error(case: BoundaryCase, service: Service) -> float:
    """Relative error of that share: of the field, and of the potential that metal outside takes up."""
    if not service.remote_rods_m:
        return case.error
    return max(case.error, FLOATING_ERROR * abs(case.potentials[service.name]) / _share(case, service))


def _decided_along(service: Service) -> bool:
    """Whether the touch voltage along its own metal decides instead of the voltage carried."""
    return metallic(service) and bool(service.remote_rods_m)


def _meaning(service: Service) -> str:
    if service.disposal == "no metal":
        return "nothing is carried"
    if service.disposal == "isolated":
        return "across the isolation"
    if service.disposal == "open":
        return "potential rise, if it is bonded"
    if service.far_end is not None:
        return "across its insulating joint"
    if service.network_earth:
        return f"at {service.network_earth}, from the network"
    return "carried to its far end" if not service.remote_rods_m else "at its far electrodes"


def _check(case: BoundaryCase, service: Service, rows: list[_Row], worst: _Row, meaning: str) -> Check | None:
    if service.disposal == "no metal" or (service.disposal == "bonded" and _decided_along(service)):
        return None
    decided = service.disposal != "open" and worst.limit_v is not None and not case.doubt
    verdict, reason = Verdict.NOT_DECIDED, worst.remark
    if decided and worst.limit_v is not None:
        verdict = compared(worst.value_v, worst.limit_v)
        doubt = ""
        if verdict is Verdict.PASS:
            stated = [(r.scenario, r.value_v, r.limit_v) for r in rows if r.limit_v is not None]
            doubt = margin_doubt(stated, _error(case, service), without_offset(case.faults))
        elif _end_unstated(service):
            doubt = "where its metal ends is not stated; a route alone proves nothing about its far end"
        if doubt:
            verdict, reason = Verdict.NOT_DECIDED, "; ".join(filter(None, (doubt, worst.remark)))
    reasons = {
        "open": f"its disposal is left open; bonded, it would carry {worst.value_v:.0f} V",
        "isolated": worst.remark if service.network_earth and service.withstand_v else NOT_STATED,
        "bonded": worst.remark,
    }
    return Check(
        identity=f"transfer-{slug(service.name)}",
        title=f"Service “{service.name}” ({service.kind}), {meaning}",
        verdict=verdict,
        value=worst.value_v if decided else None,
        limit=worst.limit_v if decided else None,
        unit="V",
        scenario=worst.scenario,
        clause=worst.clause,
        method="field solution",
        reason=reason if decided else case.doubt or reasons[service.disposal],
    )


def _end_unstated(service: Service) -> bool:
    """Whether bare metal is drawn, but not where it ends."""
    held = service.disposal == "bonded" and metallic(service) and service.far_end is None
    return held and bool(service.route_m) and not service.remote_rods_m


def _row(case: BoundaryCase, service: Service, fault: FaultResult, carried_v: float) -> _Row:
    """What one scenario puts on a service, and what it bears."""
    scenario = fault.scenario
    if service.far_end is not None:
        bears, length = service.far_end.withstand_v, LineString(service.route_m).length
        remark = f"carries the rise along {length:.0f} m to its joint; metal beyond taken at far earth"
        remark = remark if bears is not None else f"withstand_v of its joint is not stated; {remark}"
        return _Row(scenario.name, carried_v, bears, "Withstand voltage as stated", "stated", remark)
    if service.disposal == "isolated":
        stress = carried_v
        remark = ""
        if service.route_m and not service.remote_rods_m:
            remark = "its far end is not stated: metal outside taken at the potential of far earth"
        if service.kind == "lv supply":
            stress += service.line_to_neutral_v
            added = f"potential rise and {service.line_to_neutral_v:g} V of the supply added"
            remark = "; ".join(filter(None, (added, remark)))
        return _Row(
            scenario.name, stress, service.withstand_v, "Withstand voltage as stated", "stated", remark
        )
    if service.kind == "telecom":
        return _telecom(service, fault, carried_v)
    if service.kind == "lv supply":
        return _low_voltage(service, fault, carried_v)
    return _metal(service, fault, carried_v, case)


def _telecom(service: Service, fault: FaultResult, carried_v: float) -> _Row:
    known = {v.key: v for v in voltage_limits()}
    limit = known["telecom_general"]
    reliable = known["telecom_reliable"]
    if service.reliable and fault.scenario.exposure_s <= reliable.longest_s:
        limit = reliable
    return _Row(fault.scenario.name, carried_v, limit.voltage_v, limit.source, limit.evidence)


def _low_voltage(service: Service, fault: FaultResult, carried_v: float) -> _Row:
    name, time = fault.scenario.name, fault.scenario.exposure_s
    with recording(f"{service.name}, {name}"):
        if service.system == "tt":
            limit = tt_rise_limit(time)
            stress = service.line_to_neutral_v + carried_v
            borne = equipment_stress_voltage(service.line_to_neutral_v, time)
            remark = f"stress of low-voltage equipment {stress:.0f} V of {borne:.0f} V"
            evidence = "found" if time <= 5.0 else "from memory"
            return _Row(name, carried_v, limit, "EN 50522, Table 2, TT system", evidence, remark)
        if service.system == "tn":
            try:
                limit = tn_rise_limit(service.tn_factor, lookup(CURVES[UTP], time))
            except OutOfRangeError as error:
                return _Row(name, carried_v, None, "EN 50522, Table 2, TN system", "from memory", str(error))
            remark = f"{service.tn_factor:g} times the permissible touch voltage of EN 50522:2022"
            return _Row(name, carried_v, limit, "EN 50522, Table 2, TN system", "from memory", remark)
    return _Row(name, carried_v, None, "EN 50522, Table 2", "from memory", "system (tt or tn) is not stated")


def _metal(service: Service, fault: FaultResult, carried_v: float, case: BoundaryCase) -> _Row:
    """Pipes, rails, sheaths: the touch voltage at the far end decides, on bare ground."""
    name = fault.scenario.name
    bare = ZoneIndex(case.zones).zones[-1].name
    row = next(r for r in case.limits if r.zone == bare and r.scenario == name)
    if row.outside:
        return _Row(name, carried_v, None, row.clause, row.evidence, row.outside)
    remark = f"touched at the far end, ground there “{bare}” and at the potential of far earth"
    return _Row(name, carried_v, row.touch_v, row.clause, row.evidence, remark)


def _remarks(case: BoundaryCase, service: Service) -> list[Finding]:
    """What a reviewer would ask about one service."""
    rows = []
    path = (*service.path, "disposal") if service.path else ()
    if service.disposal == "open":
        text = f"service “{service.name}” ({service.kind}) crosses the boundary and is not disposed of"
        advice = "isolate it at the boundary, use something without metal, or bond it and prove its far end"
        rows.append(Finding("service-open", text, advice, Severity.WARNING, path))
    ended = service.remote_rods_m or service.far_end is not None or service.network_earth
    if service.disposal == "bonded" and not ended:
        text = (
            f"service “{service.name}” carries the whole potential rise off the site; nothing is stated "
            "about its far end"
        )
        advice = "give its far electrodes, or isolate it; a route alone says nothing about where it ends"
        rows.append(Finding("service-carries-all", text, advice, Severity.WARNING, path))
    if service.disposal == "isolated" and service.kind in ("pipe", "rail"):
        near = [
            e.tag
            for e in case.installation.equipment
            if service.crosses_m is not None and Point(service.crosses_m).distance(Point(e.x_m, e.y_m)) < 2.0
        ]
        if near:
            text = f"equipment {', '.join(near)} stands within 2 m of the isolation of “{service.name}”"
            rows.append(
                Finding(
                    "service-within-reach",
                    text,
                    "keep both sides out of one person's reach",
                    Severity.WARNING,
                    path,
                )
            )
    return rows
