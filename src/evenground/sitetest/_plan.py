"""The test plan: probe places from the simulation, and every sheet to be filled in."""

from __future__ import annotations

import math

from evenground.errors import Finding, InputError, Severity
from evenground.model.sitetest import (
    FallSimulation,
    FieldSheet,
    FieldTestPlan,
    PlanRequest,
    SheetTable,
)
from evenground.sitetest._fall import far_reference_ratio, simulate_fall
from evenground.sitetest._library import INSTRUMENTS, PASS_VALUES, SAFETY, WEATHER

__all__ = ["plan_test"]

_MULTIPLES = (1.5, 2.0, 3.0, 4.0, 5.0, 6.5, 8.0, 10.0)


def plan_test(request: PlanRequest) -> FieldTestPlan:
    """Plan of all field tests of a mat, with expected readings and acceptance values.

    Raises
    ------
    InputError
        When the leads are too short to leave the mat, or a number is not above 0.
    """
    _check(request)
    ratios = tuple(
        (m * request.mat.diagonal_m, _far(request, m * request.mat.diagonal_m)) for m in _MULTIPLES
    )
    distance, findings = _distance(request, ratios)
    fall = simulate_fall(
        request.mat,
        distance,
        current_bearing_deg=request.current_bearing_deg,
        potential_bearing_deg=request.potential_bearing_deg,
        band=request.band,
    )
    findings += _fall_findings(request, fall)
    findings += _voltage_findings(request)
    return FieldTestPlan(
        fall=fall,
        far_ratio_by_distance=ratios,
        sheets=_sheets(request, fall),
        instruments=INSTRUMENTS,
        safety=SAFETY,
        weather=WEATHER,
        pass_values=PASS_VALUES,
        findings=tuple(findings),
    )


def _check(request: PlanRequest) -> None:
    findings = []
    numbers = {"band": request.band, "test_current_a": request.test_current_a}
    for name in ("current_distance_m", "longest_lead_m", "fault_current_a"):
        value = getattr(request, name)
        if value is not None:
            numbers[name] = value
    for name, value in numbers.items():
        if not (math.isfinite(value) and value > 0):
            findings.append(Finding("plan-number", f"{name}: {value} is not a finite number above 0"))
    share = sum((abs(p.expected_share) for p in request.paths), 0.0)
    if any(not math.isfinite(abs(p.expected_share)) for p in request.paths) or share > 3.0:
        findings.append(Finding("plan-shares", "expected_share: shares of the paths are not plausible"))
    if findings:
        raise InputError(findings)


def _far(request: PlanRequest, distance: float) -> float:
    return far_reference_ratio(request.mat, distance, request.current_bearing_deg)


def _distance(request: PlanRequest, ratios: tuple[tuple[float, float], ...]) -> tuple[float, list[Finding]]:
    """Distance of the current probe: given, or the first at which the far reference is good enough."""
    if request.current_distance_m is not None:
        return request.current_distance_m, []
    longest = request.longest_lead_m or math.inf
    for distance, ratio in ratios:
        if abs(ratio - 1.0) <= request.band and distance <= longest:
            return distance, []
    fitting = [d for d, _ in ratios if d <= longest]
    distance = fitting[-1] if fitting else longest
    return distance, [
        Finding(
            "plan-short-lead",
            f"with {distance:.3g} m to the current probe a far reference reads "
            f"{100 * (_far(request, distance) - 1):+.1f} %",
            "use the simulated place of the potential probe, or correct by the simulated ratio",
            Severity.WARNING,
        )
    ]


def _fall_findings(request: PlanRequest, fall: FallSimulation) -> list[Finding]:
    findings = [Finding("plan-note", note, "", Severity.NOTE) for note in fall.notes]
    low = min((abs(p.expected_ohm) for p in fall.positions), default=math.inf)
    if low < 0.01:
        findings.append(
            Finding(
                "plan-small-resistance",
                f"readings down to {low:.2g} ohm are expected",
                "steps of 0.001 ohm are too coarse: inject current and measure with phase",
                Severity.WARNING,
            )
        )
    if fall.potential_bearing_deg == fall.current_bearing_deg and request.mat.resistance_ohm < 0.5:
        findings.append(
            Finding(
                "plan-coupled-leads",
                "the leads run beside each other and the resistance is small",
                "lay the potential lead at right angles, or read with phase and correct",
                Severity.WARNING,
            )
        )
    return findings


def _voltage_findings(request: PlanRequest) -> list[Finding]:
    mat_current = request.test_current_a * abs(1.0 - sum((p.expected_share for p in request.paths), 0j))
    small = [p.name for p in request.places if p.volts_per_ampere * mat_current < 0.01]
    if not small:
        return []
    return [
        Finding(
            "plan-small-voltage",
            f"less than 10 mV is expected at {', '.join(small)}",
            "raise the test current, or use a voltmeter tuned to the test frequency",
            Severity.WARNING,
        )
    ]


def _sheets(request: PlanRequest, fall: FallSimulation) -> tuple[FieldSheet, ...]:
    sheets = [_cover_sheet(), _fall_sheet(fall), _injection_sheet(request)]
    if request.places:
        sheets.append(_place_sheet(request))
    if request.continuity:
        sheets.append(_continuity_sheet(request))
    if request.joints:
        sheets.append(_joint_sheet(request.joints))
    if request.gravel_area_m2:
        sheets.append(_gravel_sheet(request, request.gravel_area_m2))
    return tuple(sheets)


def _cover_sheet() -> FieldSheet:
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (name, None)
        for name in (
            "Site and drawing with revision",
            "Calculation with revision",
            "Date, time, persons",
            "Lines, cables and neutrals connected during the test",
            "Rain in the last seven days",
            "Air and soil temperature, frost",
            "Instruments with number and calibration date",
        )
    )
    return FieldSheet(
        "Conditions",
        "What a later reader must know",
        SAFETY,
        (SheetTable("Record", ("what", "entry"), rows),),
        WEATHER,
    )


def _fall_sheet(fall: FallSimulation) -> FieldSheet:
    stand = (
        "no place along this line reads the true resistance: correct every reading by the ratio"
        if fall.stand_m is None
        else f"stand the potential probe at {fall.stand_m:.1f} m "
        f"({100 * (fall.stand_share or 0):.1f} % of the distance to the current probe)"
    )
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (
            round(p.distance_m, 1),
            round(p.at_m[0], 1),
            round(p.at_m[1], 1),
            p.expected_ohm,
            p.ratio,
            None,
            None,
        )
        for p in fall.positions
    )
    table = SheetTable(
        f"Current probe at {fall.current_distance_m:.1f} m, x {fall.current_at_m[0]:.1f} m, "
        f"y {fall.current_at_m[1]:.1f} m",
        ("distance m", "x m", "y m", "expected ohm", "reading/truth", "read ohm", "angle deg"),
        rows,
    )
    after = (
        f"61.8 % would read {_off(fall.uniform_rule_ratio)}",
        "slope method: "
        + ("no result" if fall.slope_ratio is None else f"would find {_off(fall.slope_ratio)}"),
        f"far reference at right angles and equal distance would read {_off(fall.far_reference_ratio)}",
        "Take the whole profile; reverse the leads and repeat one reading.",
    )
    return FieldSheet("Fall of potential", "Resistance of the mat", (stand,), (table,), after)


def _injection_sheet(request: PlanRequest) -> FieldSheet:
    total = request.test_current_a
    mat_share = 1.0 - sum((p.expected_share for p in request.paths), 0j)
    rows: list[tuple[str | float | None, ...]] = [("injected", total, 0.0, None, None)]
    for path in request.paths:
        share = path.expected_share
        rows.append(
            (path.name, abs(share) * total, math.degrees(math.atan2(share.imag, share.real)), None, None)
        )
    rows.append(("mat, what is left", abs(mat_share) * total, _angle(mat_share), None, None))
    rise = abs(mat_share) * total * request.mat.resistance_ohm
    volts = SheetTable(
        "Remote voltage",
        ("what", "expected V", "read V", "angle deg"),
        (("mat to remote", rise, None, None),),
    )
    currents = SheetTable(
        "Currents", ("path", "expected A", "expected deg", "read A", "read deg"), tuple(rows)
    )
    return FieldSheet(
        "Current injection",
        "Impedance, split of the current, rise of the mat",
        ("Read the voltage at the test frequency without injection first.",),
        (currents, volts),
        ("Reverse the injection once; the mean of both removes what the mains induces.",),
    )


def _angle(value: complex) -> float:
    return math.degrees(math.atan2(value.imag, value.real))


def _place_sheet(request: PlanRequest) -> FieldSheet:
    mat = request.test_current_a * abs(1.0 - sum((p.expected_share for p in request.paths), 0j))
    rows: list[tuple[str | float | None, ...]] = []
    for place in sorted(request.places, key=lambda p: -p.volts_per_ampere):
        worst: float | None = None
        if place.limit_v is not None and request.fault_current_a:
            worst = place.limit_v * mat / request.fault_current_a
        expected = place.volts_per_ampere * mat
        rows.append((place.name, place.quantity, *place.at_m, expected, worst, None, None))
    columns = ("place", "what", "x m", "y m", "expected V", "tolerable V", "open V", "1 kohm V")
    return FieldSheet(
        "Touch and step voltage",
        "The worst places of the calculation, and where the site differs from the drawing",
        ("Foot plates of 200 cm2 with wet cloth, 500 N on each; step over 1 m.",),
        (SheetTable(f"At {request.test_current_a:g} A injected", columns, tuple(rows)),),
        ("Add handles, gates, fence corners outside, taps and lamps that are not in the list.",),
    )


def _continuity_sheet(request: PlanRequest) -> FieldSheet:
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (c.reference, c.riser, c.expected_mohm, c.investigate_mohm, None, None) for c in request.continuity
    )
    columns = ("from", "riser", "expected mohm", "look into above mohm", "read mohm", "current A")
    return FieldSheet(
        "Continuity", "Every riser", ("Four wires, 10 A or more.",), (SheetTable("Risers", columns, rows),)
    )


def _joint_sheet(count: int) -> FieldSheet:
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (float(k + 1), None, None, None, None) for k in range(count)
    )
    columns = ("no.", "place", "joint mohm", "conductor of equal length mohm", "ratio")
    return FieldSheet(
        "Joints", "Accessible joints", ("Micro-ohmmeter.",), (SheetTable("Joints", columns, rows),)
    )


def _gravel_sheet(request: PlanRequest, area: float) -> FieldSheet:
    count = max(5, math.ceil(area / 500.0))
    rows: tuple[tuple[str | float | None, ...], ...] = tuple(
        (float(k + 1), None, request.gravel_thickness_m, None, request.gravel_resistivity_ohm_m, None, None)
        for k in range(count)
    )
    columns = ("no.", "place", "design m", "found m", "design ohm m wet", "found ohm m wet", "fines")
    return FieldSheet(
        "Gravel",
        f"{count} samples: one for each 500 m2, five at least (common practice)",
        ("Sample to the full depth; wet with water of the site, let drain for ten minutes.",),
        (SheetTable("Samples", columns, rows),),
    )


def _off(ratio: float) -> str:
    """Reading over truth as a signed percentage, without a sign on nothing."""
    percent = round(100 * (ratio - 1), 1)
    return f"{percent:+.1f} %" if percent else "0.0 %"
