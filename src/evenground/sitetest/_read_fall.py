"""Reading a fall-of-potential test: corrections, the resistance it stands for, what is impossible."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from evenground.errors import Finding, Severity
from evenground.model.sitetest import (
    FallReading,
    FallResult,
    FallSurvey,
    LeadCoupling,
    MatUnderTest,
    Phasor,
)
from evenground.model.study import Check, Verdict
from evenground.sitetest._fall import reading_at
from evenground.sitetest._judge import agrees, below
from evenground.sitetest._library import pass_value
from evenground.standards.ieee81 import lead_mutual_reactance, lead_mutual_resistance

__all__ = ["coupled_impedance", "read_fall", "reading_error", "without_coupling"]

_TRUSTED_RATIO = (0.6, 1.6)
_LEAST_READINGS = 3
"""Fewer readings show no profile: whether a probe stood badly can not be seen (common practice)."""
_IMPOSSIBLE = ("fall-negative", "fall-phase")


def coupled_impedance(coupling: LeadCoupling) -> complex:
    """Mutual impedance of two parallel leads. [ohm]"""
    per_metre = complex(
        lead_mutual_resistance(coupling.frequency_hz),
        lead_mutual_reactance(coupling.frequency_hz, coupling.resistivity_ohm_m, coupling.spacing_m),
    )
    return per_metre * coupling.length_m


def without_coupling(reading: Phasor, coupling: LeadCoupling | None) -> tuple[float, float, float]:
    """Magnitude freed of the coupled part, with its bounds. [ohm]

    With an angle the part is subtracted; without one the reading can be off by as much as the part is,
    and the magnitude stays with bounds of that width.
    """
    if coupling is None:
        return reading.magnitude, reading.magnitude, reading.magnitude
    part = coupled_impedance(coupling)
    if reading.value is not None:
        clean = abs(reading.value - part)
        return clean, clean, clean
    size = abs(part)
    return reading.magnitude, max(0.0, reading.magnitude - size), reading.magnitude + size


def reading_error(reading: Phasor, coupling: LeadCoupling | None, uncertainty: float) -> float:
    """Uncertainty of what is left of a reading once the coupled part is subtracted. [ohm]

    That of the reading as shown, not of the rest; the coupled part has the same share of itself, since soil
    and distance of the leads are known no better.
    """
    part = 0.0 if coupling is None or reading.value is None else abs(coupled_impedance(coupling))
    return uncertainty * math.hypot(reading.magnitude, part)


def read_fall(
    mat: MatUnderTest, survey: FallSurvey, *, target_ohm: float | None = None, band: float | None = None
) -> FallResult:
    """Resistance that a fall-of-potential test stands for, against the predicted one.

    ``mat`` is the model in the soil of the day of the test; the season factor then leads to the design.
    Every reading is divided by the ratio of reading to truth that the simulation gives at its place, so the
    whole profile counts and not one position. The spread of these values shows how well the model fits;
    their median is the result. Readings below the resolution, impossible ones, and those at places where the
    ratio is outside 0.6 to 1.6 do not count.
    """
    band = pass_value("band-resistance").value if band is None else band
    findings: list[Finding] = []
    usable = [r for r in survey.readings if _usable(r, survey, findings)]
    ratios = _ratios(mat, survey, usable)
    each, low, high = [], [], []
    for reading, ratio in zip(usable, ratios, strict=True):
        value, bottom, top = without_coupling(reading.resistance_ohm, reading.coupling)
        if not _TRUSTED_RATIO[0] <= ratio <= _TRUSTED_RATIO[1]:
            continue
        slack = 0.5 * survey.resolution_ohm
        slack += reading_error(reading.resistance_ohm, reading.coupling, survey.uncertainty)
        each.append((reading.distance_m, value, value / ratio))
        low.append((bottom - slack) / ratio)
        high.append((top + slack) / ratio)
    findings += _season_findings(survey)
    result = _median(each, low, high)
    spread = _spread([e[2] for e in each])
    if spread is not None and spread > 0.15:
        findings.append(
            Finding(
                "fall-spread",
                f"the readings stand for resistances that differ by {100 * spread:.0f} %",
                "the soil between the probes is not the model's, metal lies beside the line, or leads couple",
                Severity.WARNING,
            )
        )
    if usable and not each:
        findings.append(
            Finding(
                "fall-no-place",
                "every reading was taken where it says little of the resistance",
                "take readings between 30 and 80 % of the distance to the current probe",
            )
        )
    middle, least, most = result
    design = None if middle is None else middle * survey.season_factor
    agreement = agrees(least, most, mat.resistance_ohm, band)
    if agreement is Verdict.PASS and (doubt := _no_pass(each, findings)) is not None:
        agreement = Verdict.NOT_DECIDED
        findings.append(doubt)
    if survey.paths_connected is not False:
        agreement = Verdict.NOT_DECIDED
        findings.append(_paths_finding(survey.paths_connected))
    return FallResult(
        resistance_ohm=middle,
        low_ohm=least,
        high_ohm=most,
        design_ohm=design,
        each_ohm=tuple(each),
        spread=spread,
        agreement=agreement,
        predicted_ohm=mat.resistance_ohm,
        band=band,
        checks=_checks(result, survey, agreement, mat, target_ohm, band),
        findings=tuple(findings),
    )


def _no_pass(each: Sequence[object], findings: Sequence[Finding]) -> Finding | None:
    """Why readings that agree do not make a pass."""
    if any(f.code in _IMPOSSIBLE for f in findings):
        message = "readings that are impossible: what made them may have touched the others"
        return Finding("fall-doubt", message, "find the cause and read the profile again")
    if len(each) < _LEAST_READINGS:
        message = f"{len(each)} reading{'s' if len(each) > 1 else ''} that count: no profile to see faults in"
        return Finding("fall-few", message, f"take {_LEAST_READINGS} or more along the line")
    return None


def _usable(reading: FallReading, survey: FallSurvey, findings: list[Finding]) -> bool:
    value, angle = reading.resistance_ohm.magnitude, reading.resistance_ohm.angle_deg
    where = f"reading at {reading.distance_m:g} m"
    if value < 0.0:
        findings.append(Finding("fall-negative", f"{where}: {value:g} ohm is impossible", "check the leads"))
    elif value < survey.resolution_ohm:
        findings.append(
            Finding(
                "fall-below-resolution",
                f"{where}: {value:g} ohm is below the instrument's step of {survey.resolution_ohm:g} ohm",
                "inject current and use a tuned voltmeter",
            )
        )
    elif angle is not None and abs((angle + 180.0) % 360.0 - 180.0) > 90.0:
        findings.append(
            Finding(
                "fall-phase", f"{where}: an angle of {angle:g} degrees is impossible", "check the polarity"
            )
        )
    elif not 0.0 < reading.distance_m < 5.0 * survey.current_distance_m:
        findings.append(Finding("fall-place", f"{where}: not a place of this profile", ""))
    else:
        if value < 10.0 * survey.resolution_ohm:
            findings.append(
                Finding(
                    "fall-coarse",
                    f"{where}: {value:g} ohm is within ten steps of {survey.resolution_ohm:g} ohm",
                    "its rounding is part of the bounds given",
                    Severity.WARNING,
                )
            )
        return True
    return False


def _ratios(mat: MatUnderTest, survey: FallSurvey, usable: Sequence[FallReading]) -> list[float]:
    if not usable:
        return []
    expected = reading_at(
        mat,
        survey.current_distance_m,
        [r.distance_m for r in usable],
        current_bearing_deg=survey.current_bearing_deg,
        potential_bearing_deg=survey.potential_bearing_deg,
    )
    return [v / mat.resistance_ohm for v in expected]


def _median(
    each: list[tuple[float, float, float]], low: list[float], high: list[float]
) -> tuple[float | None, float | None, float | None]:
    """Median of the single results; its bounds hold both the readings' own and their scatter."""
    if not each:
        return None, None, None
    values = np.array([e[2] for e in each])
    middle = float(np.median(values))
    scatter = float(np.median(np.abs(values - middle))) * 1.4826
    bottom, top = float(np.median(low)) - scatter, float(np.median(high)) + scatter
    return middle, max(bottom, 0.0), top


def _spread(values: list[float]) -> float | None:
    if len(values) < 2:
        return None
    return (max(values) - min(values)) / float(np.median(values))


def _paths_finding(connected: bool | None) -> Finding:
    return Finding(
        "fall-paths" if connected else "fall-paths-unknown",
        "ground wires, sheaths or neutrals were connected: the reading is lower than the mat's resistance"
        if connected
        else "it is not noted whether ground wires, sheaths or neutrals were connected",
        "measure their currents with phase and use the injection reading",
        Severity.WARNING,
    )


def _season_findings(survey: FallSurvey) -> list[Finding]:
    if survey.season_factor == 1.0 or survey.season_source:
        return []
    return [
        Finding(
            "fall-season-source",
            f"season factor {survey.season_factor:g} without a source",
            "state the soil models of the design and of the day",
            Severity.WARNING,
        )
    ]


def _checks(
    result: tuple[float | None, float | None, float | None],
    survey: FallSurvey,
    agreement: Verdict,
    mat: MatUnderTest,
    target: float | None,
    band: float,
) -> tuple[Check, ...]:
    value, low, high = result
    ratio = None if value is None else value / mat.resistance_ohm
    checks = [
        Check(
            identity="test-resistance-agreement",
            title="Measured over predicted resistance",
            verdict=agreement,
            value=None if ratio is None else abs(ratio - 1.0),
            limit=band,
            unit="-",
            clause="common practice (from memory)",
            method="fall of potential",
            governing=False,
            reason=""
            if ratio is None
            else f"measured {value:.4g} ohm, predicted {mat.resistance_ohm:.4g} ohm",
        )
    ]
    if target is not None:
        f = survey.season_factor
        bottom, top = (None, None) if low is None or high is None else (low * f, high * f)
        verdict = below(bottom, top, target)
        reason = "no number was obtained" if value is None else _range(bottom, top)
        if survey.paths_connected is not False and verdict is Verdict.PASS:
            verdict, reason = Verdict.NOT_DECIDED, f"other paths may be part of the reading; {reason}"
        checks.append(
            Check(
                identity="test-resistance-target",
                title="Measured resistance against the owner's target",
                verdict=verdict,
                value=None if value is None else value * f,
                limit=target,
                unit="ohm",
                method="fall of potential",
                reason=reason,
            )
        )
    return tuple(checks)


def _range(low: float | None, high: float | None) -> str:
    if low is None or high is None or not math.isfinite(high):
        return ""
    return f"between {low:.4g} and {high:.4g} ohm with the uncertainty stated"
