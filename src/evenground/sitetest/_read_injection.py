"""Reading a current injection: the mat's share, impedance, and voltages scaled to the fault."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from evenground.errors import Finding, Severity
from evenground.model.sitetest import (
    ExpectedPlace,
    InjectionReadings,
    InjectionResult,
    PlaceReading,
    PlaceResult,
)
from evenground.model.study import Check, Place, Verdict
from evenground.sitetest._judge import agrees, below
from evenground.sitetest._library import pass_value
from evenground.sitetest._read_fall import reading_error, without_coupling
from evenground.standards.ieee81 import scaled_voltage

__all__ = ["read_injection"]

Bounds = tuple[float | None, float | None, float | None]  # best, low, high


def read_injection(
    readings: InjectionReadings,
    expected: Sequence[ExpectedPlace] = (),
    *,
    rise_limit_v: float | None = None,
    band: float | None = None,
) -> InjectionResult:
    """Share of the current in the mat, its impedance, and every voltage scaled to the fault.

    The mat's current is the injected one less the auxiliary ones as phasors; where an angle is missing only
    bounds remain. A verdict is pass or fail only when the whole uncertain range lies on one side.
    """
    band = pass_value("band-touch").value if band is None else band
    findings: list[Finding] = []
    mat = _mat_current(readings, findings)
    remote = _remote(readings, findings)
    rise = _rise(mat, remote, readings)
    by_name = {(p.name, p.quantity): p for p in expected}
    _season(readings, findings)
    places = tuple(
        _place(p, by_name.get((p.name, p.quantity)), mat, remote, readings, band, findings)
        for p in readings.places
    )
    unread = [
        p.name
        for p in expected
        if (p.name, p.quantity) not in {(r.name, r.quantity) for r in readings.places}
    ]
    if unread:
        findings.append(
            Finding("injection-unread", f"planned but not read: {', '.join(unread)}", "", Severity.WARNING)
        )
    total = readings.total_current_a.magnitude
    impedance = _ratio(remote[0], mat[0])
    return InjectionResult(
        mat_current_a=mat[0],
        mat_current_low_a=mat[1],
        mat_current_high_a=mat[2],
        split=_ratio(mat[0], total),
        mat_impedance_ohm=impedance,
        station_impedance_ohm=_ratio(remote[0], total),
        fault_rise_v=rise[0],
        places=places,
        checks=_checks(places, by_name, rise, rise_limit_v),
        findings=tuple(findings),
        mat_impedance_low_ohm=_ratio(remote[1], mat[2]),
        mat_impedance_high_ohm=_ratio(remote[2], mat[1]),
    )


def _ratio(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None or b <= 0.0 else a / b


def _mat_current(readings: InjectionReadings, findings: list[Finding]) -> Bounds:
    total = readings.total_current_a.magnitude
    if not total > 0.0:
        findings.append(
            Finding("injection-current", f"injected current of {total:g} A", "nothing can be scaled")
        )
        return None, None, None
    known, unknown = complex(total), 0.0
    for row in readings.auxiliary:
        size = row.current_a.magnitude
        if size < 0.0 or size > total:
            findings.append(
                Finding(
                    "injection-path-large",
                    f"{row.path}: {size:g} A of {total:g} A injected",
                    "look for induced currents, the wrong range, or a loop; reverse the injection",
                    Severity.WARNING,
                )
            )
        if row.current_a.value is None:
            unknown += abs(size)
        else:
            known -= row.current_a.value
    # the error of the rest comes from the errors of all that was subtracted
    error = readings.uncertainty * math.hypot(total, *(r.current_a.magnitude for r in readings.auxiliary))
    low, high = abs(known) - unknown - error, abs(known) + unknown + error
    if unknown:
        findings.append(
            Finding(
                "injection-no-phase",
                "currents without angle leave only bounds for the mat's current",
                "read every path with its phase",
                Severity.WARNING,
            )
        )
    if readings.paths_unread:
        findings.append(
            Finding(
                "injection-paths",
                f"the currents of {', '.join(readings.paths_unread)} were not read",
                "read them with phase, or note connected: false; the mat took less than was injected",
            )
        )
        return None, None, high
    if low <= 0.0:
        findings.append(
            Finding(
                "injection-split-open",
                f"the mat's current may be anything up to {high:.3g} A",
                "the paths take nearly everything: read them more exactly, or inject nearer",
            )
        )
        return (None if unknown else abs(known)), None, high
    return (None if unknown else abs(known)), low, high


def _remote(readings: InjectionReadings, findings: list[Finding]) -> Bounds:
    """Voltage of the mat against remote earth with its bounds. [V]"""
    if readings.remote_voltage_v is None:
        return None, None, None
    volts, total = readings.remote_voltage_v, readings.total_current_a.magnitude
    if volts.magnitude < readings.resolution_v:
        findings.append(
            Finding(
                "injection-remote-resolution",
                f"remote voltage of {volts.magnitude:g} V is below the step of {readings.resolution_v:g} V",
                "inject more current",
            )
        )
        return None, None, None
    best, low, high = volts.magnitude, volts.magnitude, volts.magnitude
    error = readings.uncertainty * volts.magnitude
    if readings.coupling is not None and total > 0.0:
        per_ampere = type(volts)(volts.magnitude / total, volts.angle_deg)
        best, low, high = (v * total for v in without_coupling(per_ampere, readings.coupling))
        error = total * reading_error(per_ampere, readings.coupling, readings.uncertainty)
    slack = readings.background_v + 0.5 * readings.resolution_v + error
    return best, max(low - slack, 0.0), high + slack


def _rise(mat: Bounds, remote: Bounds, readings: InjectionReadings) -> Bounds:
    """Rise of the mat in the fault with its bounds. [V]"""
    scale = readings.fault_current_a * readings.season_factor
    best = _ratio(remote[0], mat[0])
    low, high = _ratio(remote[1], mat[2]), _ratio(remote[2], mat[1])
    return (
        None if best is None else best * scale,
        None if low is None else max(low, 0.0) * scale,
        None if high is None else high * scale,
    )


def _season(readings: InjectionReadings, findings: list[Finding]) -> None:
    if readings.season_factor != 1.0 and not readings.season_source:
        findings.append(
            Finding(
                "injection-season-source",
                f"season factor {readings.season_factor:g} without a source",
                "state the soil models of the design and of the day",
                Severity.WARNING,
            )
        )


def _place(
    reading: PlaceReading,
    expected: ExpectedPlace | None,
    mat: Bounds,
    remote: Bounds,
    readings: InjectionReadings,
    band: float,
    findings: list[Finding],
) -> PlaceResult:
    flags = _place_flags(reading, remote, readings)
    volts = abs(reading.voltage_v.magnitude)
    slack = readings.background_v + 0.5 * readings.resolution_v
    scale = readings.season_factor
    if expected is not None and expected.season_factor is not None:
        scale = expected.season_factor
    best = low = high = None
    if "impossible" not in " ".join(flags):
        fault = readings.fault_current_a
        if mat[1] is not None:
            high = scale * (volts * (1 + readings.uncertainty) + slack) * fault / mat[1]
        if mat[2] is not None:
            low = scale * max(0.0, volts * (1 - readings.uncertainty) - slack) * fault / mat[2]
        if volts < readings.resolution_v:
            low = 0.0
        elif mat[0] is not None and mat[0] > 0.0:
            best = scale * scaled_voltage(volts, mat[0], fault)
    predicted = None if expected is None else scale * expected.volts_per_ampere * readings.fault_current_a
    limit = None if expected is None else expected.limit_v
    if flags:
        findings.append(
            Finding("injection-place", f"{reading.name}: {'; '.join(flags)}", "", Severity.WARNING)
        )
    return PlaceResult(
        name=reading.name,
        quantity=reading.quantity,
        scaled_v=best,
        low_v=low,
        high_v=high,
        predicted_v=predicted,
        ratio=None if best is None or not predicted else best / predicted,
        agreement=agrees(low, high, predicted, band),
        verdict=below(low, high, limit),
        limit_v=limit,
        flags=flags,
    )


def _place_flags(reading: PlaceReading, remote: Bounds, readings: InjectionReadings) -> tuple[str, ...]:
    volts = reading.voltage_v.magnitude
    flags = []
    if volts < 0.0:
        flags.append(f"impossible: {volts:g} V")
    elif volts < readings.resolution_v:
        flags.append(f"below the resolution of {readings.resolution_v:g} V: only an upper bound")
    elif readings.background_v > 0.3 * volts:
        flags.append(f"background of {readings.background_v:g} V is a large part of the reading")
    if remote[2] is not None and volts > remote[2]:
        flags.append(f"impossible: above the rise of the whole mat, {remote[0] or 0.0:.3g} V")
    if reading.loaded_v is not None and reading.loaded_v > 1.02 * volts:
        flags.append("impossible: more with 1 kohm across than open")
    return tuple(flags)


def _checks(
    places: Sequence[PlaceResult],
    by_name: Mapping[tuple[str, str], ExpectedPlace],
    rise: Bounds,
    rise_limit_v: float | None,
) -> tuple[Check, ...]:
    checks = []
    for row in places:
        known = by_name.get((row.name, row.quantity))
        reason = "; ".join(row.flags)
        if row.limit_v is None:
            reason = "; ".join(filter(None, [reason, "no limit was given for this place"]))
        elif row.verdict is Verdict.NOT_DECIDED and row.high_v is not None:
            reason = "; ".join(
                filter(None, [reason, f"between {row.low_v or 0.0:.3g} and {row.high_v:.3g} V"])
            )
        checks.append(
            Check(
                identity=f"test-{row.quantity}-{row.name}",
                title=f"Measured {row.quantity} voltage at {row.name}, scaled to the fault",
                verdict=row.verdict,
                value=row.scaled_v if row.scaled_v is not None else row.high_v,
                limit=row.limit_v,
                unit="V",
                place=None if known is None else Place(*known.at_m, row.name),
                method="current injection",
                reason=reason,
            )
        )
    if rise_limit_v is not None:
        checks.append(
            Check(
                identity="test-rise",
                title="Measured rise of the mat, scaled to the fault",
                verdict=below(rise[1], rise[2], rise_limit_v),
                value=rise[0],
                limit=rise_limit_v,
                unit="V",
                method="current injection",
                reason="" if rise[0] is not None else "remote voltage or mat current is missing",
            )
        )
    return tuple(checks)
