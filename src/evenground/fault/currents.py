"""From a fault scenario to the currents that the mat and the conductors must bear."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field

from evenground.errors import Finding, InputError, OutOfRangeError
from evenground.model.fault import FaultResult, FaultScenario, SequenceImpedances
from evenground.standards import ieee80

__all__ = ["fault_currents"]

_KINDS = {"single": "one line to earth", "double": "two lines to earth"}


@dataclass(slots=True)
class _Remarks:
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def fault_currents(scenario: FaultScenario, *, frequency_hz: float, share_later: bool = False) -> FaultResult:
    """Currents of one earth-fault scenario.

    The current is the stated one, or three times the zero-sequence current from the sequence
    impedances; growth, decrement (shock and thermal time apart) and split are applied to it. What
    share the mat really takes, and so its potential rise, is decided later, with its resistance.

    Parameters
    ----------
    scenario : FaultScenario
    frequency_hz : float
        Power frequency. [Hz]
    share_later : bool
        The split is computed later: the whole current stands for the mat's until then.

    Raises
    ------
    InputError
        With every fault of the scenario at once, each with the path of its field.
    """
    findings = _check(scenario, frequency_hz)
    if findings:
        raise InputError(findings)
    remarks = _Remarks()
    try:
        current = _current(scenario, remarks)
        x_over_r = _x_over_r(scenario)
    except OutOfRangeError as error:
        advice = "give the resistances of the sequence impedances, or state x_over_r"
        finding = _finding(scenario, "fault-impedance", str(error), "sequence", advice=advice)
        raise InputError([finding]) from error
    shock, thermal = _decrements(scenario, x_over_r, frequency_hz, remarks)
    growth = scenario.growth_factor
    _remark_inputs(scenario, remarks, share_later)
    if share_later:
        grid = shock * growth * current
    else:
        grid = ieee80.maximum_grid_current(shock, scenario.split_factor, growth, current)
    return FaultResult(
        scenario=scenario,
        earth_fault_current_a=current * growth,
        x_over_r=x_over_r,
        decrement_shock=shock,
        decrement_thermal=thermal,
        grid_current_a=grid,
        thermal_current_a=current * growth * thermal,
        warnings=tuple(remarks.warnings),
        notes=tuple(remarks.notes),
    )


def _finding(scenario: FaultScenario, code: str, message: str, *field_path: str, advice: str = "") -> Finding:
    text = f"{scenario.name}: {message}"
    return Finding(code=code, message=text, advice=advice, path=(*scenario.path, *field_path))


def _check(scenario: FaultScenario, frequency_hz: float) -> list[Finding]:
    rows: list[tuple[bool, str, str]] = []

    def positive(value: float, name: str, unit: str) -> None:
        good = math.isfinite(value) and value > 0.0
        rows.append((good, name, f"must be a finite number above zero, got {value!r} {unit}"))

    positive(scenario.voltage_v, "voltage_kv", "V")
    positive(scenario.shock_time_s, "shock_time_s", "s")
    positive(scenario.thermal_time_s, "thermal_time_s", "s")
    positive(scenario.voltage_factor, "voltage_factor", "")
    growth, split = scenario.growth_factor, scenario.split_factor
    rows.append(
        (math.isfinite(growth) and growth >= 1.0, "growth_factor", f"must be 1 or more, got {growth!r}")
    )
    rows.append((0.0 < split <= 1.0, "split_factor", f"must be above 0 and not above 1, got {split!r}"))
    known = scenario.kind in _KINDS
    rows.append((known, "kind", f"must be 'single' or 'double', got {scenario.kind!r}"))
    if scenario.current_a is not None:
        positive(scenario.current_a, "current_ka", "A")
    elif scenario.sequence is None:
        rows.append((False, "current_ka", "give the earth-fault current or the sequence impedances"))
    if scenario.x_over_r is not None:
        positive(scenario.x_over_r, "x_over_r", "")
    findings = [_finding(scenario, "fault-value", f"{n}: {text}", n) for good, n, text in rows if not good]
    if scenario.sequence is not None:
        findings += _check_sequence(scenario, scenario.sequence)
    if not (math.isfinite(frequency_hz) and frequency_hz > 0.0):
        message = f"frequency must be a finite number above zero, got {frequency_hz!r} Hz"
        findings.append(Finding(code="frequency", message=message, path=("frequency_hz",)))
    return findings


def _check_sequence(scenario: FaultScenario, sequence: SequenceImpedances) -> list[Finding]:
    findings = []
    for name in ("z1_ohm", "z2_ohm", "z0_ohm"):
        value = complex(getattr(sequence, name))
        if not cmath.isfinite(value) or value.real < 0.0:
            text = f"{name} must be finite with a resistance of zero or more, got {value!r} ohm"
            findings.append(_finding(scenario, "fault-impedance", text, "sequence", name))
    resistance = sequence.fault_resistance_ohm
    if not (math.isfinite(resistance) and resistance >= 0.0):
        text = f"fault resistance must be zero or more, got {resistance!r} ohm"
        findings.append(_finding(scenario, "fault-impedance", text, "sequence", "fault_resistance_ohm"))
    return findings


def _current(scenario: FaultScenario, remarks: _Remarks) -> float:
    """Earth-fault current before growth; warns when the other kind of fault drives more. [A]"""
    if scenario.current_a is not None:
        return scenario.current_a
    assert scenario.sequence is not None
    s = scenario.sequence
    inputs = (
        scenario.voltage_v,
        scenario.voltage_factor,
        s.z1_ohm,
        s.z2_ohm,
        s.z0_ohm,
        s.fault_resistance_ohm,
    )
    formulas = {"single": ieee80.single_line_current, "double": ieee80.double_line_current}
    own = formulas[scenario.kind](*inputs)
    other_kind = "double" if scenario.kind == "single" else "single"
    other = formulas[other_kind](*inputs)
    if other > own * (1.0 + 1e-9):
        remarks.warnings.append(
            f"{_KINDS[other_kind]} drives more current to earth ({other:.0f} A) than "
            f"{_KINDS[scenario.kind]} ({own:.0f} A), which this scenario assumes"
        )
    if s.fault_resistance_ohm > 0.0:
        remarks.warnings.append(
            f"fault resistance of {s.fault_resistance_ohm:g} ohm lowers the current; zero is cautious"
        )
    return own


def _x_over_r(scenario: FaultScenario) -> float | None:
    if scenario.x_over_r is not None:
        return scenario.x_over_r
    s = scenario.sequence
    if s is None:
        return None
    formula = ieee80.single_line_x_over_r if scenario.kind == "single" else ieee80.double_line_x_over_r
    return formula(s.z1_ohm, s.z2_ohm, s.z0_ohm, s.fault_resistance_ohm)


def _decrements(
    scenario: FaultScenario, x_over_r: float | None, frequency_hz: float, remarks: _Remarks
) -> tuple[float, float]:
    """Decrement factors for the shock and for the thermal time; 1 with a remark when not applied."""
    if x_over_r is None:
        if scenario.decrement or scenario.decrement_thermal:
            remarks.warnings.append(
                "X/R is not known, so the decrement factor is not applied (1.0); "
                "the direct-current offset would raise the currents"
            )
        return 1.0, 1.0
    if x_over_r <= 0.0:
        remarks.notes.append(f"X/R is {x_over_r:g}: no direct-current offset, decrement factor 1.0")
        return 1.0, 1.0
    time_constant = ieee80.dc_time_constant(x_over_r, frequency_hz)
    factors = []
    for applied, time_s, purpose in (
        (scenario.decrement, scenario.shock_time_s, "shock"),
        (scenario.decrement_thermal, scenario.thermal_time_s, "heating"),
    ):
        factor = ieee80.decrement_factor(time_constant, time_s)
        if not applied:
            remarks.warnings.append(
                f"decrement factor for {purpose} left out as the scenario asks; it would be {factor:.3f}"
            )
        factors.append(factor if applied else 1.0)
    return factors[0], factors[1]


def _remark_inputs(scenario: FaultScenario, remarks: _Remarks, share_later: bool) -> None:
    if scenario.thermal_time_s < scenario.shock_time_s:
        remarks.warnings.append(
            f"the thermal time ({scenario.thermal_time_s:g} s) is shorter than the shock time "
            f"({scenario.shock_time_s:g} s); back-up clearing is usually longer"
        )
    if scenario.reclosings:
        remarks.notes.append(
            f"{scenario.reclosings} unsuccessful reclosures: the times add up to {scenario.exposure_s:g} s "
            f"for the body and {scenario.heating_s:g} s for the metal; decrement factors are of one shot"
        )
    if scenario.current_a is not None and scenario.sequence is not None:
        remarks.notes.append("the stated current is used; the sequence impedances serve for X/R only")
    if share_later:
        return
    if scenario.split_factor < 1.0 and not scenario.split_source:
        remarks.warnings.append(f"the split factor {scenario.split_factor:g} has no stated source")
    if scenario.split_factor == 1.0:
        remarks.notes.append(
            "split factor 1: the whole earth-fault current is taken to leave through the mat"
        )
