"""Site tests whose readings are no proof: none of them ends as a pass."""

from dataclasses import replace
from math import isclose

import pytest

from evenground._sitetest_verdict import judge_tests
from evenground._study_sitetest import prepare_site_tests
from evenground._study_tests import with_buried_metal
from evenground.model.site_test import (
    FallTest,
    InjectionTest,
    SectionReading,
    SiteTest,
    TestPlace,
    UpkeepPlan,
)
from evenground.model.sitetest import FallReading, Phasor
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.project import parse_project, starter_text
from evenground.study import run_study, with_site_tests

UPKEEP = UpkeepPlan("2033-06-01", "2027-01-01", 40.0, {}, {})


@pytest.fixture(scope="module")
def study():
    text = starter_text("substation")
    return run_study(
        parse_project(
            text.replace("[[0, 0], [60, 0], [60, 40], [0, 40]]", "[[0, 0], [30, 0], [30, 20], [0, 20]]")
        )
    )


@pytest.fixture(scope="module")
def tests(study):
    """The fault's current is set so low that every place keeps its limit."""
    found = prepare_site_tests(study, potential_bearing_deg=90.0)
    worst = max(p.volts_per_ampere / p.limit_v for p in found.places)
    return replace(found, fault_current_a=0.5 / worst)


def injected(tests, scale=1.0, places=None):
    rows = tests.places if places is None else places
    read = tuple(TestPlace(p.name, p.quantity, Phasor(scale * 10 * p.volts_per_ampere)) for p in rows)
    remote = Phasor(10 * tests.mat.resistance_ohm, 0.0)
    return InjectionTest(10.0, (), remote, read, uncertainty=0.03)


def part(outcome, name):
    return next(p for p in outcome.parts if p.part == name)


def made_of(**parts):
    return SiteTest(name="one", date="2030-05-01", connected=parts.pop("connected", False), **parts)


def test_readings_as_predicted_pass(tests, study):
    found = judge_tests(tests, made_of(injection=injected(tests)), study)
    assert part(found, "touch and step").outcome == "pass"


def test_a_reading_far_too_low_is_no_proof(tests, study):
    """A plate without contact reads next to nothing; common practice: the contact is checked first."""
    found = judge_tests(tests, made_of(injection=injected(tests, 0.1)), study)
    assert part(found, "touch and step").outcome == "not decided"
    assert "contact" in part(found, "touch and step").words


def test_the_worst_place_must_be_read(tests, study):
    (least, *_) = sorted(tests.places, key=lambda p: p.volts_per_ampere)
    found = judge_tests(tests, made_of(injection=injected(tests, places=[least])), study)
    assert part(found, "touch and step").outcome == "not decided"
    assert "worst place not read" in part(found, "touch and step").words


@pytest.mark.parametrize("connected", [True, None])
def test_without_the_split_no_voltage_passes(tests, study, connected):
    """Kirchhoff: what the paths took did not pass the mat, and its voltages in the fault are higher."""
    found = judge_tests(tests, made_of(connected=connected, injection=injected(tests)), study)
    assert part(found, "touch and step").outcome == "not decided"
    assert all(p.high_v is None and p.verdict is not Verdict.PASS for p in found.injection.places)


@pytest.mark.parametrize(("kept", "extra"), [(2, ()), (12, (Phasor(-0.3),)), (12, (Phasor(0.3, 150.0),))])
def test_few_or_impossible_readings_do_not_pass(tests, study, kept, extra):
    line = tests.plan.fall
    rows = [FallReading(p.distance_m, Phasor(p.expected_ohm)) for p in line.positions[-kept:]]
    rows += [FallReading(0.5 * line.current_distance_m + 1.0, value) for value in extra]
    made = FallTest(tuple(rows), line.current_distance_m, 0.0, 90.0)
    found = judge_tests(tests, made_of(fall=made), study)
    assert isclose(found.fall.resistance_ohm, tests.mat.resistance_ohm, rel_tol=1e-9)
    assert part(found, "resistance").outcome == "not decided"


@pytest.mark.parametrize(("share", "verdict"), [(0.3, "mitigation"), (10.0, "not decided")])
def test_metal_lost_or_grown_decides_the_test_that_found_it(study, tests, share, verdict):
    """Three tenths left after three years is too thin; ten times the size is a reading in the wrong unit."""
    new = study.conductors["mat"].request
    size = new.diameter_mm if new.shape != "strip" else new.thickness_mm
    dug = made_of(sections=(SectionReading("corner", "mat", share * size),))
    project = replace(study.project, tests=(dug,), upkeep=UPKEEP)
    whole = replace(study, project=project)
    outcome = with_buried_metal(whole, judge_tests(tests, dug, whole))
    assert outcome.verdict == verdict
    assert any("buried metal" in words for words in outcome.why)


def test_an_open_reading_does_not_lift_an_earlier_failure(study, tests):
    bad = made_of(injection=injected(tests, 5.0))
    later = replace(made_of(connected=True, injection=injected(tests)), name="two", date="2031-05-01")
    project = replace(study.project, tests=(bad, later), upkeep=UPKEEP)
    done = with_site_tests(replace(study, project=project), {(None, ""): tests})
    (row,) = [r for r in done.tests.standing if r[0] == "touch and step"]
    assert (row[1], row[2].outcome) == ("one, 2030-05-01", "mitigation")
    done_on = {t.name: t.last_done for t in done.tests.tasks}
    assert done_on["injection with touch and step"] == "2030-05-01"  # the later one told nothing


def test_each_place_has_its_own_season(study):
    """Uniform factor on every layer: the same for all places (Laplace's equation is linear). A dry top layer
    alone: voltages on the surface follow the top, the resistance the deep soil (IEEE Std 80, seasons)."""
    soil = study.soil_used
    assert soil.layers == 2
    rho = soil.resistivities_ohm_m
    whole = prepare_site_tests(
        study, soil_of_the_day=LayeredSoil(tuple(r / 1.4 for r in rho), soil.thicknesses_m)
    )
    assert all(p.season_factor == pytest.approx(1.4, rel=1e-3) for p in whole.places)  # kernel fitted anew
    wet = prepare_site_tests(study, soil_of_the_day=LayeredSoil((rho[0] / 2, rho[1]), soil.thicknesses_m))
    touch = next(p for p in wet.places if p.quantity == "touch")
    assert abs(touch.season_factor - wet.season_factor) > 0.03
    found = judge_tests(wet, made_of(injection=injected(wet)), study).injection
    row = next(p for p in found.places if p.name == touch.name)
    assert row.ratio == pytest.approx(1.0, rel=1e-9)  # measured as predicted on the day: season on both sides
    shock = next(s for s in study.shocks if s.scenario == wet.scenario and f"touch {s.zone}" == touch.name)
    assert row.scaled_v == pytest.approx(shock.value_v, rel=1e-3)  # and it is the voltage of the study
