"""The dated site tests of a project in its study: each judged, what stands now, series, upkeep."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import sqrt
from typing import TYPE_CHECKING

from evenground._sitetest_verdict import AGAIN, MITIGATE, OPEN, PASSED, judge_tests
from evenground._study_sitetest import prepare_site_tests
from evenground.errors import EvengroundError, Finding, Severity
from evenground.model.site_test import PARTS, PartOutcome, TestSeries, TestsResult
from evenground.model.sitetest import CorrosionReading, SeriesPoint, SiteChange
from evenground.model.soil import SoilChoice
from evenground.model.study import Check, Verdict
from evenground.sitetest import TASKS, corrosion_state, due_tasks, pass_value, reassessment_triggers, trend

if TYPE_CHECKING:
    from evenground._study_sitetest import SiteTests
    from evenground.model.conductor import ConductorRequest, ConductorResult
    from evenground.model.project import Project
    from evenground.model.site_test import SiteTest, SiteTestOutcome, TestedSoil, UpkeepPlan
    from evenground.model.sitetest import UpkeepTask
    from evenground.model.soil import LayeredSoil
    from evenground.model.study import Study

    PlanKey = tuple[LayeredSoil | None, str]

__all__ = ["VERDICTS", "judged_tests", "with_buried_metal", "with_site_tests", "with_tested_soil"]

VERDICTS = {
    PASSED: Verdict.PASS,
    MITIGATE: Verdict.FAIL,
    AGAIN: Verdict.NOT_DECIDED,
    OPEN: Verdict.NOT_DECIDED,
}
_NEEDED = PARTS[:3]
_TASK_OF = {
    "resistance": "resistance",
    "touch and step": "injection with touch and step",
    "continuity": "continuity of risers",
    "gravel": "gravel",
    "buried metal": "excavation",
}


def with_site_tests(study: Study, plans: Mapping[PlanKey, SiteTests] | None = None) -> Study:
    """The study with its dated site tests judged and its upkeep; itself when the project has neither.

    A governing check says how the tests stand: for each part the newest test that has it counts. ``plans``
    are plans made before, by soil of the day and reference riser.
    """
    project = study.project
    if not project.tests and project.upkeep is None:
        return study
    result = judged_tests(study, plans)
    checks: list[Check] = []
    if project.tests:
        checks.append(_standing_check(result))
    checks += result.corrosion
    told = [*result.findings, *result.triggers]
    return replace(study, tests=result, checks=(*study.checks, *checks), findings=(*study.findings, *told))


def judged_tests(study: Study, known: Mapping[PlanKey, SiteTests] | None = None) -> TestsResult:
    """Every dated test of the project against the study, the newest last."""
    project = study.project
    plans = dict(known or {})
    outcomes = []
    for test in project.tests:
        key = (test.soil, test.riser_reference)
        if key not in plans:
            plans[key] = prepare_site_tests(
                study, soil_of_the_day=test.soil, riser_reference=test.riser_reference
            )
        outcomes.append(judge_tests(plans[key], test, study))
    outcomes, corrosion = _buried(study, outcomes)
    standing = _standing(outcomes)
    first = next(iter(plans.values()), None)
    series = _series(study, project.tests, outcomes)
    tasks = _tasks(project.upkeep, outcomes)
    return TestsResult(
        scenario=study.worst_touch.scenario,
        fault_current_a=0.0 if first is None else first.fault_current_a,
        design_resistance_ohm=study.field.resistance_ohm,
        tests=tuple(outcomes),
        standing=standing,
        verdict=_joint(standing),
        series=series,
        tasks=tasks,
        as_of="" if project.upkeep is None else project.upkeep.as_of,
        corrosion=corrosion,
        triggers=_triggers(study, outcomes),
        notes=() if first is None else first.notes,
        findings=_findings(project.tests, outcomes, tasks),
    )


def with_tested_soil(project: Project, tested: TestedSoil) -> Project:
    """The project with the soil that the test agrees with instead of its survey; seasons stay."""
    choice = SoilChoice(select="given", given=tested.soil, reason=tested.reason)
    return replace(project, soil_choice=choice)


def _standing(outcomes: Sequence[SiteTestOutcome]) -> tuple[tuple[str, str, PartOutcome], ...]:
    """Part -> name and date of the newest test that has it, and its outcome.

    A test that leaves open what an earlier one found to need mitigation does not lift it.
    """
    rows = []
    for part in PARTS:
        found = [
            (part, f"{o.name}, {o.date}", p) for o in reversed(outcomes) for p in o.parts if p.part == part
        ]
        decided = next((row for row in found if row[2].outcome != OPEN), None)
        if decided is not None and decided[2].outcome == MITIGATE:
            rows.append(decided)
        elif found:
            rows.append(found[0])
        elif part in _NEEDED:
            rows.append((part, "never", PartOutcome(part, OPEN, "not tested")))
    return tuple(rows)


def _joint(standing: Sequence[tuple[str, str, PartOutcome]]) -> str:
    found = {row.outcome for _, _, row in standing}
    return next((word for word in (MITIGATE, AGAIN, OPEN) if word in found), PASSED)


def _standing_check(result: TestsResult) -> Check:
    words = [
        f"{part} ({when}): {p.outcome}, {p.words}" for part, when, p in result.standing if p.outcome != PASSED
    ]
    return Check(
        identity="site-tests",
        title="Site tests as they stand",
        verdict=VERDICTS[result.verdict],
        value=None,
        limit=None,
        unit="",
        clause="measured against predicted",
        method="site tests",
        reason="; ".join(words) or f"newest: {result.tests[-1].name}, {result.tests[-1].date}",
    )


def _findings(
    tests: Sequence[SiteTest], outcomes: Sequence[SiteTestOutcome], tasks: Sequence[UpkeepTask]
) -> tuple[Finding, ...]:
    """What the tests flag, with the name of the test and its place in the project file."""
    rows = []
    for test, outcome in zip(tests, outcomes, strict=True):
        for f in outcome.findings:
            severity = Severity.NOTE if f.severity is Severity.NOTE else Severity.WARNING
            message = f"test {test.name}, {test.date}: {f.message}"
            rows.append(replace(f, message=message, severity=severity, path=f.path or test.path))
    late = [t.name for t in tasks if t.overdue]
    if late:
        message = f"upkeep overdue: {', '.join(late)}"
        rows.append(Finding("upkeep-overdue", message, "", Severity.WARNING, path=("upkeep",)))
    return tuple(rows)


def _series(
    study: Study, tests: Sequence[SiteTest], outcomes: Sequence[SiteTestOutcome]
) -> tuple[TestSeries, ...]:
    """Measured quantities over the years, each against what it must keep."""
    rows: list[TestSeries] = []
    values: list[SeriesPoint] = []
    for test, outcome in zip(tests, outcomes, strict=True):
        value = _measured(outcome)
        if value is not None:
            values.append(SeriesPoint(test.year, outcome.season_factor * value, test.name))
    if values:
        rise = pass_value("rise-change").value
        limit = (1.0 + rise) * values[0].value
        words = f"{100 * rise:.0f} % above the first test, IS 3043"
        rows.append(TestSeries("Resistance in the design season", "ohm", trend(values, limit), words))
    shocks = _share_points(tests, outcomes)
    if shocks:
        rows.append(TestSeries("Highest touch or step over its limit", "", trend(shocks, 1.0), "limit"))
    risers = [
        SeriesPoint(t.year, max(r.resistance_mohm for r in t.risers), t.name) for t in tests if t.risers
    ]
    if risers:
        limit = pass_value("continuity-good").value
        rows.append(TestSeries("Highest riser to riser", "mohm", trend(risers, limit), "to be watched above"))
    covers = [z.thickness_m for z in study.project.surface if z.resistivity_ohm_m is not None]
    gravel = [SeriesPoint(t.year, min(g.thickness_m for g in t.gravel), t.name) for t in tests if t.gravel]
    if gravel and covers:
        least = trend(gravel, max(covers), sense="min")
        rows.append(TestSeries("Thinnest sample of the cover", "m", least, "design"))
    return tuple(rows)


def _measured(outcome: SiteTestOutcome) -> float | None:
    """Resistance of the mat on the day: by fall of potential when it was alone, else by injection. [ohm]"""
    fall, injection = outcome.fall, outcome.injection
    if fall is not None and fall.resistance_ohm is not None and fall.agreement is not Verdict.NOT_DECIDED:
        return fall.resistance_ohm
    return None if injection is None else injection.mat_impedance_ohm


def _share_points(tests: Sequence[SiteTest], outcomes: Sequence[SiteTestOutcome]) -> list[SeriesPoint]:
    rows = []
    for test, outcome in zip(tests, outcomes, strict=True):
        places = () if outcome.injection is None else outcome.injection.places
        shares = [p.scaled_v / p.limit_v for p in places if p.scaled_v is not None and p.limit_v]
        if shares:
            rows.append(SeriesPoint(test.year, max(shares), test.name))
    return rows


def _tasks(plan: UpkeepPlan | None, outcomes: Sequence[SiteTestOutcome]) -> tuple[UpkeepTask, ...]:
    """Every task with its due date; what a test did counts as done on its date, unless it left it open."""
    if plan is None:
        return ()
    done = dict(plan.done)
    for outcome in outcomes:
        for part in outcome.parts:
            task, day = _TASK_OF.get(part.part), outcome.date + "-01" * (2 - outcome.date.count("-"))
            told = part.outcome != OPEN or (part.part == PARTS[0] and _measured(outcome) is not None)
            if task is not None and told and day <= plan.as_of:
                done[task] = max(done.get(task, ""), day)
    tasks = [replace(t, interval_years=plan.intervals_years.get(t.name, t.interval_years)) for t in TASKS]
    wanted = [
        t
        for t in tasks
        if t.name != "chemical electrodes" or t.name in done or t.name in plan.intervals_years
    ]
    # what was never done since the start counts from the day the metal was laid
    first = {t.name: done.get(t.name, plan.in_service) for t in wanted}
    rows = due_tasks(first, plan.as_of, wanted)
    return tuple(r if r.name in done else replace(r, last_done="") for r in rows)


def _buried(study: Study, outcomes: list[SiteTestOutcome]) -> tuple[list[SiteTestOutcome], tuple[Check, ...]]:
    """Metal found in excavations against the allowance for corrosion, kind by kind."""
    project, plan = study.project, study.project.upkeep
    checks: list[Check] = []
    for key, sized in study.conductors.items():
        found = [
            CorrosionReading(t.year, f"{s.place}, {t.date}", s.thickness_mm)
            for t in project.tests
            for s in t.sections
            if s.conductor == key
        ]
        if found:
            checks.append(_corrosion(key, sized, found, plan))
    if not checks:
        return outcomes, ()
    worst = _metal_part(checks)
    return [_with_metal(o, worst) for o in outcomes], tuple(checks)


def _with_metal(outcome: SiteTestOutcome, metal: PartOutcome) -> SiteTestOutcome:
    """A test that excavated with what the metal found says; its verdict is no better than that."""
    if all(p.part != metal.part for p in outcome.parts):
        return outcome
    parts = tuple(metal if p.part == metal.part else p for p in outcome.parts)
    words = f"{metal.part}: {metal.words}"
    if metal.outcome == MITIGATE:
        why = (*outcome.why, words) if outcome.verdict == MITIGATE else (words,)
        return replace(outcome, parts=parts, verdict=MITIGATE, why=why)
    if metal.outcome == OPEN and outcome.verdict in (PASSED, OPEN):
        return replace(outcome, parts=parts, verdict=OPEN, why=(*outcome.why, words))
    return replace(outcome, parts=parts)


def with_buried_metal(study: Study, outcome: SiteTestOutcome) -> SiteTestOutcome:
    """One test of the project with the metal found in all excavations judged."""
    return _buried(study, [outcome])[0][0]


def _metal_part(checks: Sequence[Check]) -> PartOutcome:
    bad = [c for c in checks if c.verdict is Verdict.FAIL]
    if bad:
        return PartOutcome("buried metal", MITIGATE, "; ".join(f"{c.title}: {c.reason}" for c in bad))
    unsure = [c for c in checks if c.verdict is Verdict.NOT_DECIDED]
    if unsure:
        return PartOutcome("buried metal", OPEN, unsure[0].reason)
    return PartOutcome("buried metal", PASSED, "; ".join(c.reason for c in checks))


def _corrosion(
    key: str, sized: ConductorResult, found: Sequence[CorrosionReading], plan: UpkeepPlan | None
) -> Check:
    request = sized.request
    new = _thickness(request)
    life = request.life_years if plan is None or not plan.life_years else plan.life_years
    identity, title = f"corrosion-{key}", f"Conductor {key}: what is left at the end of the design life"
    reason = ""
    if plan is None:
        reason = "state upkeep with in_service: the age of the metal is not known"
    elif new is None:
        reason = "the section installed is not stated"
    elif not life:
        reason = "no design life is stated"
    if reason or new is None or plan is None:
        return Check(identity, title, Verdict.NOT_DECIDED, None, None, "mm", "min", reason=reason)
    try:
        check = corrosion_state(
            found,
            installed_year=_year(plan.in_service),
            installed_thickness_mm=new,
            needed_thickness_mm=_needed(sized, new),
            life_years=life,
        )
    except EvengroundError as error:
        return Check(identity, title, Verdict.NOT_DECIDED, None, None, "mm", "min", reason=str(error))
    allowed = 2.0 * request.corrosion_rate_mm_per_year
    sides = "thickness" if request.shape == "strip" else "diameter"
    words = f"{check.reason} of {sides}; the design allows for {allowed:.3g} mm a year"
    return replace(check, identity=identity, title=title, reason=words)


def _thickness(request: ConductorRequest) -> float | None:
    """Size that an excavation measures: thickness of a strip, diameter of anything else. [mm]"""
    return request.thickness_mm if request.shape == "strip" else request.diameter_mm


def _needed(sized: ConductorResult, new_mm: float) -> float:
    """Size at which the section is what the end of life asks for. [mm]

    A strip loses thickness, a round or strand diameter; the share of metal in a strand stays.
    """
    area = sized.installed_area_mm2
    if not area:
        return new_mm
    share = min(sized.end_of_life_area_mm2 / area, 1.0)
    return new_mm * (share if sized.request.shape == "strip" else sqrt(share))


def _year(day: str) -> float:
    year, month, number = (int(p) for p in day.split("-"))
    return year + (month - 1) / 12 + (number - 1) / 365.25


def _triggers(study: Study, outcomes: Sequence[SiteTestOutcome]) -> tuple[Finding, ...]:
    """What has changed since the design: network and site as stated, resistance as measured."""
    plan = study.project.upkeep
    if plan is None:
        return ()
    design: dict[str, float | str | None] = {}
    now: dict[str, float | str | None] = {}
    fault = next((f for f in study.faults if f.scenario.fault_name == plan.fault), None)
    if fault is not None:
        if plan.fault_current_a is not None:
            design["fault_current_a"], now["fault_current_a"] = (
                fault.earth_fault_current_a,
                plan.fault_current_a,
            )
        if plan.clearing_time_s is not None:
            design["clearing_time_s"] = fault.scenario.shock_time_s
            now["clearing_time_s"] = plan.clearing_time_s
    values = [(o, v) for o in outcomes if (v := _measured(o)) is not None]
    if len(values) > 1:
        design["mat_resistance_ohm"], now["mat_resistance_ohm"] = (
            round(o.season_factor * v, 4) for o, v in (values[0], values[-1])
        )
    for what, note in plan.changed:
        design[what], now[what] = "as designed", note
    found = reassessment_triggers(SiteChange(design, now))
    return tuple(replace(f, severity=Severity.WARNING, path=("upkeep",)) for f in found)
