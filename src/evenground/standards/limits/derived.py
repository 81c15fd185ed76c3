"""Touch and step voltage worked out from the body: IEC TS 60479-1 as in EN 50522 Annex B, and freer."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.errors import OutOfRangeError
from evenground.provenance import equation, recording
from evenground.standards._checks import need, need_positive
from evenground.standards.en50522 import touch_voltage_with_resistance
from evenground.standards.limits._ground import ground, standing_resistance
from evenground.standards.limits.body import (
    BODIES,
    EN_PATHS,
    FIBRILLATION,
    PATHS,
    BodyModel,
    BodyPath,
    body_voltage,
)
from evenground.standards.limits.curves import TimeCurve, lookup
from evenground.standards.limits.shapes import LimitCase, Limits, weakest

__all__ = [
    "PathVoltage",
    "body_current",
    "derived_limits",
    "path_voltages",
    "permissible_body_voltage",
    "series_voltage",
]


@dataclass(frozen=True, slots=True)
class PathVoltage:
    """One path: current through it, voltage across the body, prospective voltage with everything in series.
    [A, V, V]"""

    path: BodyPath
    current_a: float
    body_v: float
    prospective_v: float


@equation(
    "U_v",
    "V",
    source="IEC TS 60479-1 with resistances in series: Ohm's law",
    symbols="U_B I_B H_F R",
    form="U_B + I_B/H_F*R",
    name="prospective voltage of one path",
)
def series_voltage(
    body_voltage_v: float, body_current_a: float, heart_factor: float, series_resistance_ohm: float
) -> float:
    """Voltage before anybody touches: across the body plus across shoes and standing surface. [V]"""
    need_positive(body_voltage_v=body_voltage_v, body_current_a=body_current_a, heart_factor=heart_factor)
    need(0.0 <= series_resistance_ohm < 1e15, f"series resistance {series_resistance_ohm!r} ohm")
    return body_voltage_v + body_current_a / heart_factor * series_resistance_ohm


def body_of(case: LimitCase) -> BodyModel:
    """The body model of a case; by default IEC TS 60479-1:2005."""
    body = case.body if case.body is not None else "iec_2005"
    if isinstance(body, str):
        need(body in BODIES, f"body must be one of {', '.join(BODIES)}, got {body!r}")
        return BODIES[body]
    return body


def current_of(case: LimitCase) -> TimeCurve:
    """The curve of body current of a case; by default c2."""
    curve = case.current if case.current is not None else "c2"
    if isinstance(curve, str):
        need(curve in FIBRILLATION, f"current must be one of {', '.join(FIBRILLATION)}, got {curve!r}")
        return FIBRILLATION[curve]
    return curve


@equation(
    "I_B",
    "A",
    source="IEC TS 60479-1, Figure 20 (or the stated curve)",
    symbols="curve t",
    text="the curve's points, straight between them on double logarithmic paper",
    evidence="from memory",
    name="body current for a duration",
)
def body_current(curve: TimeCurve, shock_time_s: float) -> float:
    """Current left hand to feet for a duration. [A]

    Raises
    ------
    OutOfRangeError
        For a duration that the curve does not cover.
    """
    need_positive(shock_time_s=shock_time_s)
    return lookup(curve, shock_time_s)


def path_voltages(
    case: LimitCase, factor: float = 1.0, resistivity_ohm_m: float | None = None
) -> tuple[PathVoltage, ...]:
    """Each path of a case for its duration; shoes default to none. [A, V]

    ``factor`` and ``resistivity_ohm_m`` describe the standing surface (None: native soil).
    """
    current = body_current(current_of(case), case.shock_time_s)
    body, rho = body_of(case), resistivity_ohm_m or case.native_resistivity_ohm_m
    rows = []
    for path in case.paths or EN_PATHS:
        across = body_voltage(current, path, body, case.body_percentile)
        series = path.series_resistance_ohm(case.footwear_ohm or 0.0, factor * rho)
        rows.append(
            PathVoltage(
                path,
                current / path.heart_factor,
                across,
                series_voltage(across, current, path.heart_factor, series),
            )
        )
    return tuple(rows)


@equation(
    "U_Tp",
    "V",
    source="EN 50522, Annex B, with any body, path and percentile",
    symbols="U k",
    text="sum over the paths of voltage factor k times voltage U across the body, over the number of paths",
    evidence="from memory, cross-checked",
    name="permissible voltage across the body, mean of paths",
)
def permissible_body_voltage(body_v: tuple[float, ...], voltage_factor: tuple[float, ...]) -> float:
    """Mean over the paths; with the four of EN 50522 this is its U_Tp. [V]"""
    need(
        0 < len(body_v) == len(voltage_factor), "give one voltage and one factor for each path, at least one"
    )
    return sum(k * u for u, k in zip(body_v, voltage_factor, strict=True)) / len(body_v)


def _step(case: LimitCase, factor: float, resistivity_ohm_m: float) -> tuple[float, str]:
    """Prospective step voltage and a remark on it."""
    path = case.step_path or PATHS["foot to foot"]
    current = body_current(current_of(case), case.shock_time_s)
    across = body_voltage(current, path, body_of(case), case.body_percentile)
    series = path.series_resistance_ohm(case.footwear_ohm or 0.0, factor * resistivity_ohm_m)
    remark = (
        f"step looks at fibrillation only, with heart-current factor {path.heart_factor:g}: "
        f"{current / path.heart_factor:.3g} A from foot to foot"
    )
    if path.heart_factor < 1.0:
        remark += " would burn, and a person who falls is no longer on this path"
    return series_voltage(across, current, path.heart_factor, series), remark


def derived_limits(case: LimitCase) -> Limits:
    """Limits from body impedance, paths and fibrillation current.

    ``combine="mean"`` gives U_vTp = mean over paths + R_a I_B as EN 50522; ``"worst"`` solves each path with
    its own series resistance and takes the lowest. The layer factor defaults to the empirical one, because a
    thin cover counted as endless would give too much.
    """
    notes: list[str] = []
    with recording(f"{case.standard}, {case.shock_time_s:g} s") as sheet:
        factor, rho = ground(case, "empirical")
        reasons: list[str] = []
        touch: float | None = None
        step: float | None = None
        try:
            rows = path_voltages(case, factor, rho)
            if case.combine == "mean":
                extra = standing_resistance(case.footwear_ohm or 0.0, factor, rho)
                current = body_current(current_of(case), case.shock_time_s)
                mean = permissible_body_voltage(
                    tuple(r.body_v for r in rows), tuple(r.path.voltage_factor for r in rows)
                )
                touch = touch_voltage_with_resistance(mean, extra, current)
            else:
                worst = min(rows, key=lambda r: r.prospective_v)
                touch = worst.prospective_v
                notes.append(f"governing path: {worst.path.name}")
            step, remark = _step(case, factor, rho)
            notes.append(remark)
        except OutOfRangeError as error:
            reasons.append(str(error))
    body, curve = body_of(case), current_of(case)
    notes.append(f"body: {body.title}, {case.body_percentile:g} % do not exceed; current: {curve.title}")
    if curve.note:
        notes.append(f"{curve.title}: {curve.note}")
    if case.footwear_ohm is None:
        notes.append("bare feet")
    return Limits(
        case.standard,
        touch,
        step,
        source=f"{body.source}; {curve.source}",
        clause="body impedance, paths and fibrillation current; EN 50522, Annex B for the mean over paths",
        evidence=weakest((body.evidence, curve.evidence)),
        notes=tuple(notes),
        outside=(*reasons, *sheet.outside),
        surface_factor=factor,
    )
