"""Measured against predicted: every part of a site test, and what follows from all of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from evenground.errors import EvengroundError, Finding, Severity
from evenground.model.site_test import CoupledReading, PartOutcome, SiteTestOutcome, TestedSoil
from evenground.model.sitetest import FallSurvey, InjectionReadings, LeadCoupling, PlaceReading
from evenground.model.soil import LayeredSoil
from evenground.model.study import Place, Verdict
from evenground.sitetest import (
    coupled_impedance,
    gravel_state,
    judge_joint,
    pass_value,
    read_continuity,
    read_fall,
    read_injection,
)
from evenground.sitetest._judge import agrees

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenground._study_sitetest import SiteTests
    from evenground.model.site_test import FallTest, InjectionTest, SiteTest
    from evenground.model.sitetest import FallResult, InjectionResult
    from evenground.model.study import Check, Study

__all__ = ["AGAIN", "MITIGATE", "OPEN", "PASSED", "judge_tests"]

PASSED, AGAIN, MITIGATE, OPEN = "pass", "re-run with tested soil", "mitigation", "not decided"
LITTLE = 0.5
"""A voltage below this part of the predicted one is more likely a bad contact than good soil."""
NEARLY = 0.9
"""A place with this part of the predicted voltage of the worst one stands for it."""
_NEEDED = {
    "resistance": "resistance of the mat by fall of potential",
    "touch and step": "touch and step voltages by injection",
    "continuity": "continuity of the risers",
}


def judge_tests(tests: SiteTests, test: SiteTest, study: Study | None = None) -> SiteTestOutcome:
    """Every reading of one dated test against its prediction and its limit.

    A broken limit, or a riser that is not connected, asks for mitigation. A resistance or voltage that
    lies outside the band of the prediction asks for a re-run with soil that the tests fit. What was not
    read, or may be either, leaves the outcome not decided. With the study the cover is judged too, and the
    soil that would explain the resistance is named.
    """
    fall = None if test.fall is None else read_fall(tests.mat, _survey(test, tests))
    injection = None if test.injection is None else _injection(test, tests)
    checks: list[Check] = [*(fall.checks if fall else ()), *(injection.checks if injection else ())]
    findings = [*(fall.findings if fall else ()), *(injection.findings if injection else ())]
    agreement, ratio, words = _resistance(tests, fall, injection)
    risers = _risers(tests, test, findings)
    joints = [_joint(test, k) for k in range(len(test.joints))]
    gravel = _gravel(test, study)
    checks += [*risers, *joints, *gravel]
    parts = [
        *([_of_agreement("resistance", agreement, words)] if fall or injection else []),
        *([_touch_part(injection, _not_covered(test, tests))] if injection and injection.places else []),
        *([_of_checks("continuity", risers)] if test.risers else []),
        *([_of_checks("joints", joints)] if joints else []),
        *([_of_checks("gravel", gravel)] if gravel else []),
        *([PartOutcome("buried metal", OPEN, "see the loss of metal")] if test.sections else []),
    ]
    missing = tuple(text for part, text in _NEEDED.items() if part not in {p.part for p in parts})
    verdict, why = _whole(parts, checks, missing)
    return SiteTestOutcome(
        verdict=verdict,
        why=why,
        date=test.date,
        fall=fall,
        injection=injection,
        checks=tuple(checks),
        findings=tuple(findings),
        not_tested=missing,
        name=test.name,
        parts=tuple(parts),
        predicted_ohm=tests.mat.resistance_ohm,
        season_factor=tests.season_factor,
        soil_of_the_day=tests.soil_name,
        coupled=_coupled(test, tests, fall),
        coupled_remote_ohm=_remote_part(test, tests),
        tested_soil=_tested_soil(test, study, agreement, ratio),
        resistance_agreement=agreement,
    )


def _survey(test: SiteTest, tests: SiteTests) -> FallSurvey:
    """The readings with the coupling of their leads and the season of the day."""
    fall = test.fall
    assert fall is not None
    return FallSurvey(
        readings=tuple(
            replace(r, coupling=_lead(fall, tests, min(r.distance_m, fall.current_distance_m)))
            for r in fall.readings
        ),
        current_distance_m=fall.current_distance_m,
        current_bearing_deg=fall.current_bearing_deg,
        potential_bearing_deg=fall.potential_bearing_deg,
        resolution_ohm=fall.resolution_ohm,
        uncertainty=fall.uncertainty,
        season_factor=tests.season_factor,
        season_source=tests.season_source,
        paths_connected=test.connected,
    )


def _lead(fall: FallTest, tests: SiteTests, length_m: float) -> LeadCoupling | None:
    """Coupling of leads that run side by side; the deepest layer carries most of the return current."""
    if fall.lead_spacing_m is None or fall.frequency_hz is None or not fall.parallel:
        return None
    deep = tests.mat.soil.resistivities_ohm_m[-1]
    return LeadCoupling(length_m, fall.lead_spacing_m, fall.frequency_hz, deep)


def _remote_lead(injection: InjectionTest, tests: SiteTests) -> LeadCoupling | None:
    spacing, length, hz = injection.lead_spacing_m, injection.lead_length_m, injection.frequency_hz
    if spacing is None or length is None or hz is None:
        return None
    return LeadCoupling(length, spacing, hz, tests.mat.soil.resistivities_ohm_m[-1])


def _remote_part(test: SiteTest, tests: SiteTests) -> complex | None:
    lead = None if test.injection is None else _remote_lead(test.injection, tests)
    return None if lead is None else coupled_impedance(lead)


def _coupled(test: SiteTest, tests: SiteTests, fall: FallResult | None) -> tuple[CoupledReading, ...]:
    """What the leads add to each reading that counts, and what is left of it."""
    if test.fall is None or fall is None:
        return ()
    left = {distance: value for distance, value, _ in fall.each_ohm}
    rows = []
    for reading in test.fall.readings:
        lead = _lead(test.fall, tests, min(reading.distance_m, test.fall.current_distance_m))
        if lead is not None and reading.distance_m in left:
            value = reading.resistance_ohm
            rows.append(
                CoupledReading(
                    reading.distance_m,
                    value.magnitude,
                    coupled_impedance(lead),
                    left[reading.distance_m],
                    value.angle_deg is not None,
                )
            )
    return tuple(rows)


def _injection(test: SiteTest, tests: SiteTests) -> InjectionResult:
    made = test.injection
    assert made is not None
    expected = [e for row in made.places if (e := tests.expected(row)) is not None]
    named = {(e.name, e.quantity) for e in expected}
    expected += [e for e in tests.places if (e.name, e.quantity) not in named and _planned(made)]
    from evenground.model.sitetest import Phasor

    unread = () if test.connected is False else _unread_paths(made, tests)
    readings = InjectionReadings(
        total_current_a=Phasor(made.current_a, 0.0),
        fault_current_a=tests.fault_current_a,
        auxiliary=made.paths,
        remote_voltage_v=made.remote_voltage_v,
        places=tuple(PlaceReading(p.name, p.quantity, p.voltage_v, p.loaded_v) for p in made.places),
        resolution_v=made.resolution_v,
        background_v=made.background_v,
        coupling=_remote_lead(made, tests),
        uncertainty=made.uncertainty,
        season_factor=tests.season_factor,
        season_source=tests.season_source,
        paths_unread=unread,
    )
    return read_injection(readings, expected)


def _unread_paths(made: InjectionTest, tests: SiteTests) -> tuple[str, ...]:
    """Metal that leaves the station and whose current nobody read."""
    if not tests.paths and not made.paths:
        return ("whatever lines, cables and neutrals were connected",)
    return tuple(p for p in tests.paths if p not in {a.path for a in made.paths})


def _planned(made: InjectionTest) -> bool:
    """Whether the places are those of the plan, so that unread ones are worth naming."""
    return any(p.at_m is None for p in made.places)


def _resistance(
    tests: SiteTests, fall: FallResult | None, injection: InjectionResult | None
) -> tuple[Verdict, float | None, str]:
    """Agreement of the resistance, measured over predicted, and words; the injection where the fall of
    potential can not decide because other paths were connected."""
    predicted = tests.mat.resistance_ohm
    if fall is not None and fall.agreement is not Verdict.NOT_DECIDED and fall.resistance_ohm is not None:
        ratio = fall.resistance_ohm / predicted
        return fall.agreement, ratio, f"{fall.resistance_ohm:.4g} ohm by fall of potential"
    if injection is not None and any(f.code == "injection-paths" for f in injection.findings):
        return Verdict.NOT_DECIDED, None, "other paths took part of the current and were not read"
    if injection is not None and injection.mat_impedance_ohm is not None:
        band = pass_value("band-resistance").value
        low, high = injection.mat_impedance_low_ohm, injection.mat_impedance_high_ohm
        words = f"{injection.mat_impedance_ohm:.4g} ohm by injection"
        return agrees(low, high, predicted, band), injection.mat_impedance_ohm / predicted, words
    if fall is not None and fall.resistance_ohm is not None:
        # with other paths connected the reading is theirs as well: no ratio to correct the soil with
        return Verdict.NOT_DECIDED, None, f"{fall.resistance_ohm:.4g} ohm by fall of potential"
    return Verdict.NOT_DECIDED, None, "no reading counts"


def _risers(tests: SiteTests, test: SiteTest, findings: list[Finding]) -> list[Check]:
    if not test.risers:
        return []
    if not tests.continuity:
        message = "risers were read, but nothing is known of what to expect"
        findings.append(Finding("continuity-none", message, "state equipment and conductors"))
        return []
    known = {c.riser for c in tests.continuity} | {c.reference for c in tests.continuity}
    strange = [r.riser for r in test.risers if r.riser not in known]
    if strange:
        message = f"risers that are not under equipment: {', '.join(strange)}"
        findings.append(Finding("continuity-unknown", message, "add them", Severity.WARNING))
    rows = [r for r in test.risers if r.riser in {c.riser for c in tests.continuity}]
    checks, told = read_continuity(tests.continuity, rows, resolution_mohm=test.riser_resolution_mohm)
    findings += told
    return list(checks)


def _joint(test: SiteTest, number: int) -> Check:
    row = test.joints[number]
    place = None if row.at_m is None else Place(*row.at_m, row.name)
    check = judge_joint(
        row.joint_mohm, row.conductor_mohm, resolution_mohm=test.joint_resolution_mohm, place=place
    )
    return replace(
        check, identity=f"joint-{row.name}", title=f"{row.name}: joint over equal length of conductor"
    )


def _gravel(test: SiteTest, study: Study | None) -> list[Check]:
    """Samples against the covered zone with the most demanding cover."""
    if not test.gravel or study is None:
        return []
    zones = [z for z in study.project.surface if z.resistivity_ohm_m is not None]
    if not zones:
        return []
    return list(
        gravel_state(
            test.gravel,
            design_thickness_m=max(z.thickness_m for z in zones),
            design_resistivity_ohm_m=max(z.resistivity_ohm_m or 0.0 for z in zones),
        )
    )


def _of_agreement(part: str, agreement: Verdict, words: str) -> PartOutcome:
    outcome = {Verdict.PASS: PASSED, Verdict.FAIL: AGAIN, Verdict.NOT_DECIDED: OPEN}[agreement]
    return PartOutcome(part, outcome, words)


def _not_covered(test: SiteTest, tests: SiteTests) -> tuple[str, ...]:
    """Worst places of the study of which neither they nor others nearly as bad were read."""
    rows = () if test.injection is None else test.injection.places
    read = [e for row in rows if (e := tests.expected(row)) is not None]
    return tuple(
        p.name
        for p in tests.places
        if not any(
            e.quantity == p.quantity
            and (e.name == p.name or e.limit_v == p.limit_v)
            and e.volts_per_ampere >= NEARLY * p.volts_per_ampere
            for e in read
        )
    )


def _touch_part(found: InjectionResult, missed: Sequence[str]) -> PartOutcome:
    """The places read, and what makes them no proof: far too little, or the worst place left out."""
    count = len(found.places)
    broken = [p.name for p in found.places if p.verdict is Verdict.FAIL]
    if broken:
        return PartOutcome("touch and step", MITIGATE, f"limit broken at {', '.join(broken)}")
    far = [p.name for p in found.places if p.agreement is Verdict.FAIL and _above(p.ratio)]
    if far:
        return PartOutcome("touch and step", AGAIN, f"more than predicted at {', '.join(far)}")
    unsure = [p.name for p in found.places if p.verdict is Verdict.NOT_DECIDED]
    if unsure:
        return PartOutcome("touch and step", OPEN, f"not decided at {', '.join(unsure)}")
    little = [p.name for p in found.places if p.predicted_v and (p.high_v or 0.0) < LITTLE * p.predicted_v]
    if little:
        words = (
            f"less than half of the predicted at {', '.join(little)}: look at leads and contact of the plates"
        )
        return PartOutcome("touch and step", OPEN, words)
    if missed:
        return PartOutcome("touch and step", OPEN, f"worst place not read: {', '.join(missed)}")
    return PartOutcome("touch and step", PASSED, f"{count} places within their limits")


def _above(ratio: float | None) -> bool:
    """Less than predicted is no reason to calculate again where the limit is kept."""
    return ratio is None or ratio > 1.0


def _of_checks(part: str, checks: Sequence[Check]) -> PartOutcome:
    if not checks:
        return PartOutcome(part, OPEN, "nothing to compare with")
    bad = [c.title for c in checks if c.verdict is Verdict.FAIL]
    if bad:
        return PartOutcome(part, MITIGATE, "; ".join(bad))
    unsure = [c for c in checks if c.verdict is Verdict.NOT_DECIDED]
    if unsure:
        return PartOutcome(part, OPEN, f"{len(unsure)} of {len(checks)} not decided: {unsure[0].title}")
    return PartOutcome(part, PASSED, f"{len(checks)} checks kept")


def _whole(
    parts: Sequence[PartOutcome], checks: Sequence[Check], missing: Sequence[str]
) -> tuple[str, tuple[str, ...]]:
    """The worst part decides; what a complete test lacks leaves it open."""
    broken = [c.title for c in checks if c.governing and c.verdict is Verdict.FAIL]
    if broken:
        return MITIGATE, tuple(broken)
    for outcome in (MITIGATE, AGAIN):
        found = [p for p in parts if p.outcome == outcome]
        if found:
            return outcome, tuple(f"{p.part}: {p.words}" for p in found)
    open_ = [f"{p.part}: {p.words}" for p in parts if p.outcome == OPEN and p.part != "buried metal"]
    open_ += [f"not tested: {m}" for m in missing]
    return (OPEN, tuple(open_)) if open_ else (PASSED, ())


def _tested_soil(
    test: SiteTest, study: Study | None, agreement: Verdict, ratio: float | None
) -> TestedSoil | None:
    """Soil of the day where it was read and agrees, else that of the prediction times the ratio."""
    if study is None or ratio is None:
        return None
    surveyed = study.soil.soil
    if test.soil is not None and agreement is Verdict.PASS:
        return TestedSoil(
            1.0, test.soil, "soil as read on the day of the test, which the resistance agrees with"
        )
    base = test.soil or surveyed
    try:
        soil = LayeredSoil(tuple(ratio * r for r in base.resistivities_ohm_m), base.thicknesses_m)
    except (ValueError, EvengroundError):
        return None
    start = "soil as read on the day" if test.soil is not None else "soil as surveyed"
    reason = f"{start}, every layer times {ratio:.3g}: measured over predicted resistance"
    return TestedSoil(ratio, soil, reason)
