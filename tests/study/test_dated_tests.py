"""Dated site tests in a study: synthetic readings of a known mat are read back and judged."""

from cmath import phase
from dataclasses import replace
from math import degrees, isclose

import pytest

from evenground._sitetest_verdict import judge_tests
from evenground._study_sitetest import prepare_site_tests
from evenground._study_tests import with_tested_soil
from evenground.deliver._report_tests import proof_on_site
from evenground.deliver.plots import study_figures
from evenground.model.site_test import (
    FallTest,
    InjectionTest,
    SectionReading,
    SiteTest,
    TestPlace,
    UpkeepPlan,
)
from evenground.model.sitetest import (
    ContinuityReading,
    CurrentReading,
    FallReading,
    GravelReading,
    LeadCoupling,
    Phasor,
)
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.project import parse_project, starter_text
from evenground.sitetest import coupled_impedance, simulate_fall
from evenground.study import run_study, with_site_tests

EQUIPMENT = """
equipment:
  - {tag: T1, kind: transformer, at_m: [10, 10], voltage_kv: 20, connections: 2}
  - {tag: Q1, kind: disconnector, at_m: [20, 10], voltage_kv: 20, connections: 2}
"""


@pytest.fixture(scope="module")
def study():
    text = starter_text("substation").replace("\nconductors:", EQUIPMENT + "\nconductors:", 1)
    small = text.replace("[[0, 0], [60, 0], [60, 40], [0, 40]]", "[[0, 0], [30, 0], [30, 20], [0, 20]]", 1)
    return run_study(parse_project(small))


@pytest.fixture(scope="module")
def tests(study):
    return prepare_site_tests(study, potential_bearing_deg=90.0)


def fall(tests, scale=1.0, **more):
    positions = tests.plan.fall.positions
    readings = tuple(FallReading(p.distance_m, Phasor(scale * p.expected_ohm)) for p in positions)
    return FallTest(readings, tests.plan.fall.current_distance_m, 0.0, 90.0, **more)


def injection(tests, scale=1.0, paths=(), at_m=None):
    """10 A, of which the paths take their part; the rest goes through the mat."""
    mat = abs(10 - sum(p.current_a.value for p in paths))
    places = tuple(
        TestPlace(p.name, p.quantity, Phasor(scale * mat * p.volts_per_ampere), at_m) for p in tests.places
    )
    remote = Phasor(scale * mat * tests.mat.resistance_ohm, 0.0)
    return InjectionTest(10.0, tuple(paths), remote, places, uncertainty=0.03)


def dated(name, date, **parts):
    return SiteTest(name=name, date=date, connected=parts.pop("connected", False), **parts)


def complete(tests, name, date, scale=1.0, **more):
    risers = (ContinuityReading("Q1", 1.1 * tests.continuity[0].expected_mohm),)
    made = {"fall": fall(tests, scale), "injection": injection(tests, scale), "risers": risers} | more
    return dated(name, date, **made)


def with_tests(study, *rows, plan=None, upkeep=None):
    """The study with these tests; ``plan`` is the one in the soil as surveyed, made once."""
    made = {} if plan is None else {(None, ""): plan}
    project = replace(study.project, tests=rows, upkeep=upkeep)
    return with_site_tests(replace(study, project=project), made)


def test_split_measured_with_phase_gives_the_mat_back(study, tests):
    """Kirchhoff: what the paths carry away as phasors does not pass the mat."""
    paths = (CurrentReading("north line", Phasor(3.0, -25.0)), CurrentReading("sheath", Phasor(1.5, 10.0)))
    test = dated("split", "2030-05-01", connected=True, injection=injection(tests, paths=paths))
    found = judge_tests(tests, test, study)
    assert isclose(found.injection.mat_impedance_ohm, tests.mat.resistance_ohm, rel_tol=1e-9)  # rounding only
    assert isclose(found.injection.split, abs(10 - sum(p.current_a.value for p in paths)) / 10, rel_tol=1e-9)
    assert all(isclose(p.ratio, 1.0, rel_tol=1e-9) for p in found.injection.places)


def test_coupled_leads_are_taken_out_and_shown(tests, study):
    """Readings made with the mutual impedance of Carson's first terms (Bell System Technical Journal 5,
    1926; checked against tables elsewhere) added as a phasor are freed of it again."""
    deep = tests.mat.soil.resistivities_ohm_m[-1]
    deep = tests.mat.soil.resistivities_ohm_m[-1]
    line = simulate_fall(tests.mat, 300.0)
    readings = tuple(
        FallReading(p.distance_m, _plus(p.expected_ohm, p.distance_m, deep)) for p in line.positions
    )
    side = FallTest(readings, line.current_distance_m, 0.0, 0.0, lead_spacing_m=2.0, frequency_hz=105.0)
    found = judge_tests(tests, dated("coupled", "2030-05-01", fall=side), study)
    assert isclose(found.fall.resistance_ohm, tests.mat.resistance_ohm, rel_tol=1e-6)
    assert all(row.subtracted and row.coupled_ohm.imag > 0 for row in found.coupled)
    bare = replace(side, lead_spacing_m=None, frequency_hz=None)
    raw = judge_tests(tests, dated("not told", "2030-05-01", fall=bare), study)
    assert raw.coupled == ()
    assert raw.fall.resistance_ohm > found.fall.resistance_ohm


def _plus(expected, distance, deep):
    shown = expected + coupled_impedance(LeadCoupling(distance, 2.0, 105.0, deep))
    return Phasor(abs(shown), degrees(phase(shown)))


def test_a_complete_test_that_agrees_leaves_the_study_its_verdict(study, tests):
    done = with_tests(study, complete(tests, "commissioning", "2027-05-18"), plan=tests)
    (check,) = [c for c in done.checks if c.identity == "site-tests"]
    broken = [c for c in done.tests.tests[0].checks if c.governing and c.verdict is Verdict.FAIL]
    assert (check.verdict is Verdict.FAIL) == bool(broken)
    assert done.tests.tests[0].tested_soil.factor == pytest.approx(1.0, abs=1e-3)
    assert isclose(done.tests.tests[0].fall.resistance_ohm, tests.mat.resistance_ohm, rel_tol=1e-9)


def test_the_newest_test_of_each_part_counts(study, tests):
    first = complete(tests, "commissioning", "2027-05-18")
    later = dated("risers", "2032-06-01", risers=(ContinuityReading("Q1", 4000.0),))
    done = with_tests(study, first, later, plan=tests)
    rows = {part: (when, p.outcome) for part, when, p in done.tests.standing}
    assert rows["continuity"] == ("risers, 2032-06-01", "mitigation")
    assert rows["resistance"] == ("commissioning, 2027-05-18", "pass")
    assert next(c for c in done.checks if c.identity == "site-tests").verdict is Verdict.FAIL


def test_what_was_never_tested_is_open(study, tests):
    gravel = dated("gravel", "2030-01-01", gravel=(GravelReading("yard", 0.02),))
    done = with_tests(study, gravel, plan=tests)
    assert ("resistance", "never") in {(part, when) for part, when, _ in done.tests.standing}


def test_a_soil_of_the_day_is_what_the_readings_are_held_against(study, tests):
    """Uniform factor on every layer: the resistance scales with it (Laplace's equation is linear)."""
    day = LayeredSoil(
        tuple(1.5 * r for r in tests.mat.soil.resistivities_ohm_m), tests.mat.soil.thicknesses_m
    )
    test = replace(complete(tests, "dry day", "2031-08-01", 1.5), soil=day)
    outcome = with_tests(study, test).tests.tests[0]
    assert outcome.resistance_agreement is Verdict.PASS
    assert isclose(outcome.season_factor, 1 / 1.5, rel_tol=1e-4)  # kernel is fitted anew
    assert outcome.tested_soil.soil == day
    again = with_tested_soil(study.project, outcome.tested_soil)
    assert again.soil_choice.given == day


def test_unread_paths_leave_the_resistance_open(study, tests):
    """Without the split nothing follows for the mat alone (IEEE Std 81-2012, from memory)."""
    with_paths = replace(tests, paths=("north line: earth wire",))
    test = dated("live", "2030-05-01", connected=True, injection=injection(tests))
    found = judge_tests(with_paths, test, study)
    assert found.resistance_agreement is Verdict.NOT_DECIDED
    assert any(f.code == "injection-paths" for f in found.findings)


def test_places_stated_by_hand_get_prediction_and_limit(study, tests):
    """Far outside a step is next to nothing, on bare soil; in a mesh touch is below the rise."""
    made = InjectionTest(
        10.0,
        places=(
            TestPlace("far", "step", Phasor(0.001), (400.0, 400.0)),
            TestPlace("mesh", "touch", Phasor(1.0), (2.5, 2.5)),
        ),
    )
    found = judge_tests(tests, dated("by hand", "2030-05-01", injection=made), study).injection
    far, mesh = found.places
    assert far.predicted_v < 0.01 * mesh.predicted_v
    assert 0 < mesh.predicted_v < tests.mat.resistance_ohm * tests.fault_current_a
    assert far.limit_v == tests.limits_v["bare soil", "step"]


PLAN = UpkeepPlan(
    as_of="2033-01-01",
    in_service="2027-01-01",
    life_years=40.0,
    intervals_years={"gravel": 1.0},
    done={"visual inspection": "2032-12-01"},
    fault="20 kV",
    changed=(("fence", "moved"),),
)


def test_upkeep_series_and_triggers(study, tests):
    """IS 3043: a rise of the resistance by more than 20 % is looked into."""
    rows = (
        complete(tests, "commissioning", "2027-05-18"),
        complete(tests, "five years", "2032-05-18", 1.24, gravel=(GravelReading("yard", 0.09, 2500.0),)),
    )
    rows = (rows[0], replace(rows[1], sections=(SectionReading("corner", "mat", 9.0),)))
    done = with_tests(study, *rows, upkeep=PLAN, plan=tests)
    series = {s.name: s for s in done.tests.series}
    assert series["Resistance in the design season"].trend.verdict is Verdict.FAIL
    assert isclose(series["Resistance in the design season"].trend.change_from_first, 0.24, abs_tol=1e-6)
    codes = {f.code for f in done.tests.triggers}
    assert {"trigger-mat-resistance-ohm", "trigger-fence"} <= codes
    due = {t.name: t for t in done.tests.tasks}
    assert due["resistance"].last_done == "2032-05-18"
    assert due["gravel"].due == "2033-05-18"  # a year of 365.25 days after the test
    assert due["excavation"].last_done == "2032-05-18"
    assert "chemical electrodes" not in due
    chapter = proof_on_site(done)
    words = str(chapter)
    for text in ("Over the years", "Upkeep", "five years", "moved"):
        assert text in words
    assert "site-tests" in study_figures(done)


def test_one_test_has_no_picture_over_the_years(study, tests):
    done = with_tests(study, complete(tests, "commissioning", "2027-05-18"), plan=tests)
    assert "site-tests" not in study_figures(done)
    assert proof_on_site(study) is None


def test_metal_lost_faster_than_allowed_for_is_found(study, tests):
    """Loss carried on at a constant rate, common practice: 3 mm in 6 years leave nothing after 40."""
    new = study.conductors["mat"].request
    size = new.diameter_mm if new.shape != "strip" else new.thickness_mm
    test = dated("dig", "2033-01-01", sections=(SectionReading("corner", "mat", size - 3.0),))
    done = with_tests(study, test, upkeep=PLAN, plan=tests)
    (check,) = done.tests.corrosion
    assert check.verdict is Verdict.FAIL
    assert check.identity == "corrosion-mat"
