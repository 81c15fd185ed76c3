"""Measured against predicted: every part of a site test, and what follows from all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenground.model.study import Check, Verdict
from evenground.sitetest import read_continuity, read_fall, read_injection

if TYPE_CHECKING:
    from evenground._sitetest_form import Readings
    from evenground._study_sitetest import SiteTests
    from evenground.errors import Finding
    from evenground.model.sitetest import FallResult, InjectionResult

__all__ = ["Outcome", "judge_tests"]


@dataclass(frozen=True)
class Outcome:
    """What the tests say.

    ``verdict`` is ``"pass"``, ``"re-run with tested soil"``, ``"mitigation"`` or ``"not decided"``;
    ``why`` names what decided.
    """

    verdict: str
    why: tuple[str, ...]
    date: str
    fall: FallResult | None
    injection: InjectionResult | None
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    not_tested: tuple[str, ...]


def judge_tests(tests: SiteTests, readings: Readings) -> Outcome:
    """Every reading against its prediction and its limit.

    A broken limit, or a riser that is not connected, asks for mitigation. A resistance or voltage that
    lies outside the band of the prediction asks for a re-run with soil that the tests fit. What was not
    read, or may be either, leaves the outcome not decided.
    """
    fall = injection = None
    checks: list[Check] = []
    findings: list[Finding] = []
    if readings.fall is not None:
        fall = read_fall(tests.mat, readings.fall)
        checks += fall.checks
        findings += fall.findings
    if readings.injection is not None:
        injection = read_injection(readings.injection, tests.places)
        checks += injection.checks
        findings += injection.findings
    if readings.risers and tests.continuity:
        found = read_continuity(tests.continuity, readings.risers)
        checks += found[0]
        findings += found[1]
    missing = []
    if fall is None:
        missing.append("resistance of the mat by fall of potential")
    if injection is None:
        missing.append("touch and step voltages by injection")
    if not readings.risers:
        missing.append("continuity of the risers")
    agreements = [fall.agreement] if fall else []
    agreements += [p.agreement for p in injection.places] if injection else []
    verdict, why = _joint(checks, agreements, missing)
    return Outcome(
        verdict, why, readings.date, fall, injection, tuple(checks), tuple(findings), tuple(missing)
    )


def _joint(checks: list[Check], agreements: list[Verdict], missing: list[str]) -> tuple[str, tuple[str, ...]]:
    broken = [c.title for c in checks if c.governing and c.verdict is Verdict.FAIL]
    if broken:
        return "mitigation", tuple(broken)
    if Verdict.FAIL in agreements:
        return "re-run with tested soil", ("measured and predicted differ by more than the band",)
    undecided = [c.title for c in checks if c.governing and c.verdict is Verdict.NOT_DECIDED]
    if Verdict.NOT_DECIDED in agreements:
        undecided.append("measured against predicted")
    undecided += [f"not tested: {m}" for m in missing]
    if undecided:
        return "not decided", tuple(undecided)
    return "pass", ()
