"""Checks: each a question, a value, a limit, a place and one of three answers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import sqrt

from evenground.model.conductor import ConductorResult
from evenground.model.fault import FaultResult
from evenground.model.site import Assessment
from evenground.model.study import Check, ClosedFormResult, FieldSummary, ShockResult, Verdict, ZoneLimit

__all__ = ["compared", "field_doubt", "judge", "margin_doubt", "too_near", "without_offset"]

WORST_KERNEL_ERROR = 1e-3
WORST_BALANCE = 1e-3


def judge(
    shocks: Sequence[ShockResult],
    limits: Sequence[ZoneLimit],
    field: FieldSummary,
    conductors: Mapping[str, ConductorResult],
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
    closed_form: ClosedFormResult,
    assessment: Assessment,
    errors: Mapping[str, float] | None = None,
    soil_doubt: str = "",
) -> tuple[Check, ...]:
    """All checks of a study: shock, potential rise, conductors, owner's targets, hand formulas.

    ``errors`` holds the relative discretisation error of touch and step (None: that of the
    resistance), ``soil_doubt`` why the soil model can not carry a pass (empty: it can).
    """
    doubt = field_doubt(field) or soil_doubt
    unknown = without_offset(faults)
    if errors is None:
        errors = dict.fromkeys(("touch", "step"), field.resistance_error_ohm / field.resistance_ohm)
    checks = [*_shock_checks(shocks, limits, errors, doubt, unknown), _driving_voltage(faults, gpr_v)]
    checks += _owner_checks(field, gpr_v, assessment, doubt, unknown)
    checks += [check for key, row in conductors.items() for check in _conductor_checks(key, row)]
    checks += _closed_form_checks(closed_form, shocks, limits)
    return tuple(checks)


def compared(value: float, limit: float, sense: str = "max") -> Verdict:
    """Pass or fail; exactly at the limit passes."""
    held = value <= limit if sense == "max" else value >= limit  # a nan holds nothing
    return Verdict.PASS if held else Verdict.FAIL


def field_doubt(field: FieldSummary) -> str:
    """Why the field solution can not be relied on; empty when it can."""
    if not field.kernel_error <= WORST_KERNEL_ERROR:
        return (
            f"the soil kernel was fitted to {field.kernel_error:.1e} only (at most {WORST_KERNEL_ERROR:.0e})"
        )
    if not field.energy_balance <= WORST_BALANCE:
        return f"power fed in and power leaked differ by more than {WORST_BALANCE:.0e}"
    return ""


def _shock_checks(
    shocks: Sequence[ShockResult],
    limits: Sequence[ZoneLimit],
    errors: Mapping[str, float],
    doubt: str,
    unknown: set[str],
) -> list[Check]:
    checks = []
    for quantity in ("touch", "step"):
        for metal, zone in dict.fromkeys((s.metal, s.zone) for s in shocks if s.quantity == quantity):
            rows = [s for s in shocks if (s.quantity, s.metal, s.zone) == (quantity, metal, zone)]
            by_scenario = {row.scenario: row for row in limits if row.zone == zone}
            worst = max(rows, key=lambda s: s.value_v / s.limit_v)
            verdict, reason = compared(worst.value_v, worst.limit_v), ""
            reasons = [
                doubt,
                "; ".join(dict.fromkeys(filter(None, (_outside(r, quantity) for r in by_scenario.values())))),
                ""
                if worst.converged
                else f"the search for the worst place still moved by {worst.change:.1%}",
            ]
            if any(reasons):
                verdict, reason = Verdict.NOT_DECIDED, "; ".join(filter(None, reasons))
            elif verdict is Verdict.PASS:
                reason = too_near(rows, errors[quantity], unknown)
                verdict = Verdict.NOT_DECIDED if reason else verdict
            own = by_scenario[worst.scenario]
            checks.append(
                Check(
                    identity="-".join(filter(None, (quantity, metal, zone))).replace(" ", "-"),
                    title=f"{quantity.capitalize()} voltage"
                    + (f" at {metal}" if metal else "")
                    + f", {zone}",
                    verdict=verdict,
                    value=worst.value_v,
                    limit=worst.limit_v,
                    unit="V",
                    place=worst.place,
                    scenario=worst.scenario,
                    clause=own.clause if quantity == "touch" else own.step_clause,
                    method="field solution",
                    reason=reason,
                )
            )
    return checks


def _outside(row: ZoneLimit, quantity: str) -> str:
    return row.outside if quantity == "touch" else row.step_outside


def too_near(rows: Sequence[ShockResult], error: float, unknown: set[str]) -> str:
    """Why values below their limits are no pass yet; empty when they are one."""
    return margin_doubt(((row.scenario, row.value_v, row.limit_v) for row in rows), error, unknown)


def without_offset(faults: Sequence[FaultResult]) -> set[str]:
    """Scenarios whose offset counts but is not in their current, because X/R is not known."""
    return {f.scenario.name for f in faults if f.x_over_r is None and f.scenario.decrement}


def margin_doubt(rows: Iterable[tuple[str, float, float]], error: float, unknown: set[str]) -> str:
    """Why (scenario, value, limit) below the limit is no pass yet, over all rows; empty when it is one.

    Without X/R the decrement factor is not known, but it never exceeds sqrt(3), its limit for a short
    fault without damping of the offset (IEEE Std 80-2013, decrement factor).
    """
    for scenario, value, limit in rows:
        if not value * (1 + error) <= limit:
            return f"nearer to the limit than the discretisation error of about {error:.1%}"
        if scenario in unknown and not value * (1 + error) * sqrt(3) <= limit:
            return f"X/R of “{scenario}” is not known; with its offset the current may be larger"
    return ""


def _driving_voltage(faults: Sequence[FaultResult], gpr_v: Mapping[str, float]) -> Check:
    """A potential rise above the phase voltage can not be driven: then the inputs contradict."""
    rows = [(gpr_v[f.scenario.name], f.scenario.voltage_v / sqrt(3), f.scenario.name) for f in faults]
    value, limit, scenario = max(rows, key=lambda row: row[0] / row[1])
    broken = value > limit
    return Check(
        identity="driving-voltage",
        title="Consistency of inputs: potential rise below the phase voltage",
        verdict=Verdict.NOT_DECIDED if broken else Verdict.PASS,
        value=value,
        limit=limit,
        unit="V",
        scenario=scenario,
        clause="Physical bound: the network can not raise the mat above its phase voltage",
        method="consistency of inputs",
        reason=(
            "the fault current given can not flow into this resistance; recompute it with the "
            "resistance of the mat in the circuit"
            if broken
            else ""
        ),
    )


def _owner_checks(
    field: FieldSummary,
    gpr_v: Mapping[str, float],
    assessment: Assessment,
    doubt: str,
    unknown: set[str],
) -> list[Check]:
    checks = []
    error = field.resistance_error_ohm / field.resistance_ohm

    def against(values: Mapping[str, float], limit: float) -> tuple[Verdict, str]:
        verdict = compared(max(values.values()), limit)
        reason = doubt
        if not doubt and verdict is Verdict.PASS:
            reason = margin_doubt(((name, value, limit) for name, value in values.items()), error, unknown)
        return (Verdict.NOT_DECIDED if reason else verdict), reason

    if assessment.resistance_target_ohm is not None:
        target = assessment.resistance_target_ohm
        verdict, reason = against({"": field.resistance_ohm}, target)
        checks.append(
            Check(
                "resistance-target",
                "Resistance to remote earth, owner's target",
                verdict,
                field.resistance_ohm,
                target,
                "ohm",
                clause="Owner's target (a low resistance alone proves nothing about touch or step)",
                method="field solution",
                reason=reason,
            )
        )
    if assessment.gpr_limit_v is not None:
        scenario, value = max(gpr_v.items(), key=lambda item: item[1])
        verdict, reason = against(gpr_v, assessment.gpr_limit_v)
        checks.append(
            Check(
                "gpr-limit",
                "Earth potential rise, owner's limit",
                verdict,
                value,
                assessment.gpr_limit_v,
                "V",
                scenario=scenario,
                clause="Owner's limit",
                method="field solution",
                reason=reason,
            )
        )
    return checks


CONDUCTOR_CLAUSES = {
    "ieee80": "IEEE Std 80-2013, 11.3, thermal equation",
    "en50522": "EN 50522, Annex D",
    "is3043": "IS 3043, Table 6, and BS 7430: k of IEC 60364-5-54",
    "cbip_steel": "CBIP publication 223, rule for steel",
}


def _conductor_checks(key: str, row: ConductorResult) -> list[Check]:
    """Metal left at the end of life against the fault, and the new section against the minimum."""
    metal, reason = row.remaining_area_mm2, f"final temperature limited by {row.limited_by}"
    new, needed = row.installed_area_mm2, row.end_of_life_area_mm2
    if metal is None and row.stock_area_mm2 is not None:
        metal = new = row.stock_area_mm2
        needed = row.required_area_mm2
        reason = f"no section stated; the study takes the nearest stock size, {row.stock_name}"
    if metal is None:
        verdict = Verdict.NOT_DECIDED
        reason = "no section stated and no stock size is large enough; state one or use parallel conductors"
    else:
        verdict = compared(metal, needed, "min")
    thermal = Check(
        identity=f"conductor-{key}",
        title=f"Section of {key} at the end of its life",
        verdict=verdict,
        value=metal,
        limit=needed,
        unit="mm2",
        sense="min",
        scenario=row.scenario,
        clause=CONDUCTOR_CLAUSES[row.request.method],
        method="thermal equation and corrosion",
        reason=reason,
    )
    return [thermal, *_minimum_check(key, row, new)]


def _minimum_check(key: str, row: ConductorResult, new_mm2: float | None) -> list[Check]:
    if row.minimum_area_mm2 is None or new_mm2 is None:
        return []
    return [
        Check(
            identity=f"conductor-{key}-minimum",
            title=f"Section of {key}, mechanical minimum",
            verdict=compared(new_mm2, row.minimum_area_mm2, "min"),
            value=new_mm2,
            limit=row.minimum_area_mm2,
            unit="mm2",
            sense="min",
            clause="Stated by the engineer"
            if row.request.min_area_mm2
            else "EN 50522:2022, minimum dimensions",
            method="new section against the minimum",
        )
    ]


def _closed_form_checks(
    closed_form: ClosedFormResult, shocks: Sequence[ShockResult], limits: Sequence[ZoneLimit]
) -> list[Check]:
    """Hand formulas beside the field solution; they never decide the study."""
    checks = []
    for what, values, quantity in (
        ("mesh", closed_form.mesh_v, "touch"),
        ("step", closed_form.step_v, "step"),
    ):
        rows = [s for s in shocks if s.quantity == quantity]
        zone = max(rows, key=lambda s: s.value_v / s.limit_v).zone
        by_name = {row.scenario: row for row in limits if row.zone == zone}
        decided = {k: v for k, v in values.items() if v is not None}
        ratio = {k: v / _of(by_name[k], quantity) for k, v in decided.items()}
        scenario = max(ratio, key=lambda k: ratio[k]) if ratio else next(iter(values), "")
        value = decided.get(scenario)
        limit = _of(by_name[scenario], quantity) if scenario else None
        checks.append(
            Check(
                identity=f"closed-form-{what}",
                title=f"{what.capitalize()} voltage by hand formula",
                verdict=Verdict.NOT_DECIDED if value is None or limit is None else compared(value, limit),
                value=value,
                limit=limit,
                unit="V",
                scenario=scenario,
                clause="IEEE Std 80-2013, clause 16.5",
                method="closed form, uniform soil",
                governing=False,
                reason=closed_form.reasons.get(what, f"limit of the zone “{zone}”"),
            )
        )
    return checks


def _of(row: ZoneLimit, quantity: str) -> float:
    return row.touch_v if quantity == "touch" else row.step_v
