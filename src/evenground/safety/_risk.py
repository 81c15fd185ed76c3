"""Risk of a fatal shock at the worst places, beside or instead of the touch limit of a standard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import expm1, sqrt

from evenground.errors import Finding, NotConvergedError, OutOfRangeError, Severity
from evenground.model.fault import FaultResult
from evenground.model.person import Exposure
from evenground.model.risk import ScenarioRisk, ZoneRisk
from evenground.model.site import Assessment, SurfaceZone
from evenground.model.study import Check, FieldSummary, ShockResult, Verdict
from evenground.provenance import recording
from evenground.safety._fence_checks import slug
from evenground.safety._judge import field_doubt
from evenground.safety._person import person_of, with_person
from evenground.standards.limits import Exposure as Meeting
from evenground.standards.limits import (
    LimitCase,
    ShockRisk,
    case_for_zone,
    risk_band,
    risk_based_limits,
    shock_risk,
)
from evenground.standards.limits._ground import ground
from evenground.standards.limits.risk import HIGH_PER_YEAR, LOW_PER_YEAR, societal_rates

__all__ = ["assess_risks", "with_risks"]

ORDER = ("low", "intermediate", "intolerable")
CLAUSE = (
    "Probability of fibrillation times coincidence; bands up to 1e-6 and above 1e-4 a year "
    "(Australian guide EG-0, from memory)"
)


def assess_risks(
    zones: Sequence[SurfaceZone],
    shocks: Sequence[ShockResult],
    faults: Sequence[FaultResult],
    assessment: Assessment,
    native_resistivity_ohm_m: float,
    error: float = 0.0,
    left_out: Sequence[str] = (),
) -> tuple[ZoneRisk, ...]:
    """Risk in every zone for which an exposure is stated; none without one.

    Parameters
    ----------
    zones, shocks, faults, assessment
        As found, those of fences, gates and services included; the worst touch voltage of a zone counts for
        every contact in it.
    native_resistivity_ohm_m : float
        Soil under the feet where no cover lies. [ohm m]
    error : float
        Relative discretisation error of the touch voltage, added to it.
    left_out : sequence of str
        Metal that people may touch and for which no voltage at a place was found, each with the reason.
    """
    by_name = {z.name: z for z in zones}
    # without X/R the offset of the current is not known, but never above this
    offset = {f.scenario.name: sqrt(3) for f in faults if f.x_over_r is None and f.scenario.decrement}
    rows = []
    for name in dict.fromkeys(s.zone for s in shocks if s.quantity == "touch"):
        zone = by_name.get(name, SurfaceZone(name))
        exposure = zone.exposure or assessment.exposure
        if exposure is None:
            continue
        own = [s for s in shocks if (s.quantity, s.zone) == ("touch", name)]
        worst: dict[str, float] = {}
        for s in own:
            value = s.value_v * (1 + error) * offset.get(s.scenario, 1.0)
            worst[s.scenario] = max(value, worst.get(s.scenario, 0.0))
        risk = _zone_risk(zone, exposure, worst, faults, assessment, native_resistivity_ohm_m)
        rows.append(replace(risk, assumptions=(*risk.assumptions, *_scope(own, left_out))))
    return tuple(rows)


def _scope(own: Sequence[ShockResult], left_out: Sequence[str]) -> list[str]:
    """What the contacts of a zone are with, and what is not in its risk."""
    metal = dict.fromkeys(s.metal for s in own if s.metal)
    rows = [
        "every contact in the zone with the bonded metal or with a separate electrode, fence, gate or "
        "service is taken to be at its worst place for touch (on the safe side); steps are not in the risk"
    ]
    if metal:
        rows.append(f"metal of the zone in the risk beside the bonded one: {'; '.join(metal)}")
    if left_out:
        rows.append(f"not in the risk of any zone: {'; '.join(left_out)}")
    return rows


def _case(zone: SurfaceZone, time_s: float, native: float, assessment: Assessment) -> LimitCase:
    case = case_for_zone("iec60479_derived", zone, time_s, native)
    shoe = zone.footwear_ohm if zone.footwear_ohm is not None else assessment.footwear_ohm
    if case.covered:
        case = replace(case, surface_factor=assessment.surface_factor)
    factor, rho = ground(case, "empirical")  # once: the risk asks for the same ground many times
    case = replace(
        case,
        native_resistivity_ohm_m=factor * rho,
        surface_resistivity_ohm_m=None,
        surface_thickness_m=0.0,
        surface_factor=None,
        footwear_ohm=shoe,
    )
    return with_person(case, person_of(zone, assessment))


def _zone_risk(
    zone: SurfaceZone,
    exposure: Exposure,
    touch_v: Mapping[str, float],
    faults: Sequence[FaultResult],
    assessment: Assessment,
    native: float,
) -> ZoneRisk:
    found: list[tuple[ScenarioRisk, ShockRisk]] = []
    reason = ""
    for fault in faults:
        scenario = fault.scenario
        rate = scenario.faults_per_year or exposure.faults_per_year
        assert rate is not None, "the project file has been checked"
        meeting = Meeting(
            rate,
            scenario.exposure_s,
            exposure.contacts_per_year,
            exposure.contact_duration_s,
            exposure.people,
        )
        try:
            with recording(f"risk, {zone.name}, {scenario.name}"):
                case = _case(zone, scenario.exposure_s, native, assessment)
                found.append(_scenario(scenario.name, touch_v[scenario.name], meeting, case, exposure))
        except (OutOfRangeError, NotConvergedError) as error:
            reason = f"{scenario.name}: {error}"
    return _joined(zone.name, exposure, found, reason)


def _scenario(
    name: str, touch_v: float, meeting: Meeting, case: LimitCase, exposure: Exposure
) -> tuple[ScenarioRisk, ShockRisk]:
    risk = shock_risk(touch_v, meeting, case, societal_slope=exposure.societal_slope)
    fatal = max(risk.fibrillation_probability, risk.fibrillation_probability_piecewise)
    row = ScenarioRisk(
        scenario=name,
        touch_v=touch_v,
        faults_per_year=meeting.fault_rate_per_year,
        duration_s=meeting.fault_duration_s,
        fibrillation=risk.fibrillation_probability,
        fibrillation_piecewise=risk.fibrillation_probability_piecewise,
        coincidence=risk.coincidence_share,
        individual_per_year=-expm1(-meeting.fault_rate_per_year * risk.coincidence_share * fatal),
        governing_path=risk.governing_path,
        low_v=risk_based_limits(case, meeting).touch_v,
    )
    return row, risk


def _joined(
    zone: str, exposure: Exposure, found: Sequence[tuple[ScenarioRisk, ShockRisk]], reason: str
) -> ZoneRisk:
    """All faults of one zone together; one that can not be computed leaves the whole not decided."""
    rows = tuple(row for row, _ in found)
    rate = sum(
        r.faults_per_year * r.coincidence * max(r.fibrillation, r.fibrillation_piecewise) for r in rows
    )
    societal: dict[int, float] = {}
    for row in rows:
        share = row.coincidence * max(row.fibrillation, row.fibrillation_piecewise)
        for count, per_year in societal_rates(row.faults_per_year, exposure.people, share):
            societal[count] = societal.get(count, 0.0) + per_year
    individual = risk_band(-expm1(-rate))
    group = max(
        (risk_band(v, n**-exposure.societal_slope) for n, v in societal.items()),
        key=ORDER.index,
        default="low",
    )
    bands = ("not decided",) * 3 if reason else (individual, group, max(individual, group, key=ORDER.index))
    texts = [f"{a.text} ({a.source}; {a.evidence})" for _, risk in found[:1] for a in risk.assumptions]
    if exposure.reason:
        texts.append(f"rates: {exposure.reason} (stated by the engineer)")
    return ZoneRisk(
        zone=zone,
        governs=exposure.governs,
        contacts_per_year=exposure.contacts_per_year,
        contact_duration_s=exposure.contact_duration_s,
        people=exposure.people,
        scenarios=rows,
        individual_per_year=None if reason else -expm1(-rate),
        individual_band=bands[0],
        societal_band=bands[1],
        band=bands[2],
        deaths_per_year=None if reason else rate * exposure.people,
        societal=() if reason else tuple(sorted(societal.items())),
        assumptions=tuple(texts),
        reason=reason,
    )


def with_risks(
    checks: Sequence[Check],
    risks: Sequence[ZoneRisk],
    shocks: Sequence[ShockResult],
    field: FieldSummary,
    soil_doubt: str = "",
) -> tuple[tuple[Check, ...], tuple[Finding, ...]]:
    """The checks with those of the risk, and what has to be said about it.

    Where the risk governs, the touch limit of the standard becomes a comparison. Where the touch voltages
    can not be relied on nothing passes.
    """
    moving = {s.zone for s in shocks if s.quantity == "touch" and not s.converged}
    doubt = field_doubt(field) or soil_doubt
    kept, findings = list(checks), []
    for risk in risks:
        identity = f"touch-{risk.zone.replace(' ', '-')}"
        if risk.governs:
            kept = [
                replace(c, governing=False, reason=_joined_words(c.reason, "judged by risk instead"))
                if c.identity == identity or _all_judged(c, shocks, risks)
                else c
                for c in kept
            ]
            findings.append(_finding(risk, next((c for c in kept if c.identity == identity), None)))
        own = "the search for the worst place still moved" if risk.zone in moving else ""
        kept.append(_check(risk, doubt or own))
    return tuple(kept), tuple(findings)


def _all_judged(check: Check, shocks: Sequence[ShockResult], risks: Sequence[ZoneRisk]) -> bool:
    """Whether a check of touch at a fence, gate or service lies in zones judged by risk only."""
    if not check.governing or not check.identity.startswith("touch-"):
        return False
    zones = {s.zone for s in shocks if s.metal and f"touch-{slug(s.metal)}" == check.identity}
    return bool(zones) and zones <= {r.zone for r in risks if r.governs}


def _joined_words(*parts: str) -> str:
    return "; ".join(p for p in parts if p)


def _finding(risk: ZoneRisk, touch: Check | None) -> Finding:
    share = (
        ""
        if touch is None or touch.margin is None
        else f"; touch is at {1 - touch.margin:.0%} of the standard's limit"
    )
    return Finding(
        "risk-governs",
        f"Zone “{risk.zone}” is judged by the risk of a fatal shock, not by the touch limit of the standard"
        f"{share}",
        "somebody must accept that; the law or the owner may not",
        severity=Severity.WARNING,
        path=("assessment", "exposure"),
    )


def _check(risk: ZoneRisk, doubt: str) -> Check:
    words = {
        "low": "low band, on the assumptions listed",
        "intermediate": "between the bands: to be reduced as far as practicable, which somebody must judge",
        "intolerable": "above the band that is tolerated",
        "not decided": risk.reason,
    }[risk.band]
    verdict = {"low": Verdict.PASS, "intolerable": Verdict.FAIL}.get(risk.band, Verdict.NOT_DECIDED)
    if doubt and verdict is Verdict.PASS:
        verdict, words = Verdict.NOT_DECIDED, doubt
    bands = f"one person: {risk.individual_band}; {risk.people} people together: {risk.societal_band}"
    return Check(
        identity=f"risk-{risk.zone.replace(' ', '-')}",
        title=f"Risk of a fatal shock, {risk.zone}: {risk.band}{'' if risk.reason else ' band'}",
        verdict=verdict,
        value=risk.individual_per_year,
        limit=HIGH_PER_YEAR if risk.band == "intolerable" else LOW_PER_YEAR,
        unit="1/year",
        scenario=max(risk.scenarios, key=lambda r: r.individual_per_year).scenario if risk.scenarios else "",
        clause=CLAUSE,
        method="risk of fibrillation and coincidence",
        governing=risk.governs,
        reason=_joined_words(words, bands),
    )
