"""Free cases against IEEE Std 80 and EN 50522; the risk against its own parts and a simulation."""

import dataclasses
from math import expm1

import numpy as np
import pytest

from evenground.model.fault import FaultResult, FaultScenario
from evenground.model.person import Exposure, OwnPath, Person
from evenground.model.site import Assessment, SurfaceZone
from evenground.model.study import Check, FieldSummary, Place, ShockResult, Verdict
from evenground.safety import assess_risks, compare_standards, with_risks, zone_limits
from evenground.standards.limits import BODIES, FIBRILLATION

BUS = FaultResult(FaultScenario("bus", 110e3, 0.5, 1.0), 3180.0, 3.33, 1.0, 1.0, 1908.0, 3180.0)
LINE = dataclasses.replace(BUS, scenario=FaultScenario("line", 110e3, 0.2, 1.0))
YARD = SurfaceZone("yard", None, 2500.0, 0.102)
BARE = SurfaceZone("bare")
IEEE = Person("fixed", 1000.0, current="square_root", constant_as=0.116, paths=("left hand to both feet",))
STRAIGHT = OwnPath("hand to both feet", 1.0, 1.0)
GOOD = FieldSummary(1.0, 1e-3, 100, 2, 1e-9, 1e-9, 1e-9, 3, "dense", 1.0)


def limit(person, zone=BARE, **options):
    (row,) = zone_limits([zone], [BUS], Assessment(standard="free", person=person, **options), 400.0)
    return row


@pytest.mark.parametrize("zone", [BARE, YARD], ids=["bare", "covered"])
def test_a_free_case_with_the_person_of_ieee_80_gives_its_limits(zone):
    """IEEE Std 80-2013, Eq. (29), (32): 1000 ohm, 0.116/sqrt(t), both feet in parallel or in series."""
    person = dataclasses.replace(IEEE, paths=(), own_paths=(STRAIGHT,))
    row = limit(person, zone)
    (ieee,) = zone_limits([zone], [BUS], Assessment(), 400.0)
    assert row.touch_v == pytest.approx(ieee.touch_v, rel=1e-9)
    assert row.step_v == pytest.approx(ieee.step_v, rel=1e-9)
    assert row.standard == "free"
    assert row.step_clause == row.clause  # nothing is borrowed


def test_a_free_case_with_the_four_paths_gives_the_curve_of_en_50522():
    """EN 50522:2010, Table B.3: 220 V at 0.5 s and 117 V at 1 s (journal page quoting the table), body 50 %,
    curve c2, mean of four paths with 0.7 for hand to hand; feet and hands bare on soil of no resistance."""
    person = Person(
        "iec_2005",
        current="c2",
        paths=(
            "left hand to both feet",
            "right hand to both feet",
            "both hands to both feet",
            "hand to hand",
        ),
        combine="mean",
    )
    (row,) = zone_limits([BARE], [BUS], Assessment(standard="free", person=person), 1e-6)
    assert row.touch_v == pytest.approx(220.0, rel=0.005)


def test_shoes_of_the_zone_count_in_a_free_case():
    person = dataclasses.replace(IEEE, paths=(), own_paths=(STRAIGHT,))
    shod = dataclasses.replace(BARE, footwear_ohm=4000.0)
    gain = limit(person, shod).touch_v - limit(person).touch_v
    assert gain == pytest.approx(2000.0 * 0.116 / 0.5**0.5, rel=1e-9)


def test_the_worst_path_governs_unless_the_mean_is_asked_for():
    paths = ("left hand to both feet", "hand to hand")
    person = Person("iec_2005", current="c2", paths=paths)
    both = limit(person).touch_v
    single = [limit(dataclasses.replace(person, paths=(p,))).touch_v for p in paths]
    assert both == min(single)


def test_stated_points_of_current_are_read_on_double_logarithmic_paper():
    person = Person(
        "fixed", 1000.0, current="points", current_points=((0.25, 0.4), (1.0, 0.1)), own_paths=(STRAIGHT,)
    )
    (row,) = zone_limits([BARE], [BUS], Assessment(standard="free", person=person), 1e-9)
    assert row.touch_v == pytest.approx(200.0, rel=1e-6)  # half way between 0.25 and 1 s: 0.2 A


def test_a_duration_outside_the_stated_points_is_not_decided():
    person = Person(
        "fixed", 1000.0, current="points", current_points=((0.01, 0.4), (0.1, 0.1)), own_paths=(STRAIGHT,)
    )
    assert "not 0.5 s" in limit(person).outside


def test_the_comparison_shows_a_stated_free_case():
    shocks = [ShockResult("touch", "bare", "bus", 300.0, 400.0, Place(1, 1))]
    rows = compare_standards([BARE], shocks, [BUS], Assessment(person=IEEE), 400.0)
    assert any(r.standard == "free" and r.touch_limit_v for r in rows)
    rows = compare_standards([BARE], shocks, [BUS], Assessment(), 400.0)
    assert not any(r.standard == "free" for r in rows)


def touch(value, fault=BUS, zone="yard"):
    return ShockResult("touch", zone, fault.scenario.name, value, 840.0, Place(1, 1))


EXPOSED = Exposure(1000.0, 5.0, people=4, faults_per_year=0.5)


def risks(value=700.0, exposure=EXPOSED, faults=(BUS,), **options):
    shocks = [touch(value, f) for f in faults]
    return assess_risks([YARD], shocks, faults, Assessment(exposure=exposure), 400.0, **options)


def test_without_an_exposure_there_is_no_risk():
    assert assess_risks([YARD], [touch(700.0)], [BUS], Assessment(), 400.0) == ()


def test_the_risk_is_the_product_of_its_three_parts():
    (risk,) = risks()
    (row,) = risk.scenarios
    meets = -expm1(-1000.0 * 5.5 / 31_557_600.0)  # Poisson contacts against one fault, by hand
    assert row.coincidence == pytest.approx(meets, rel=1e-9)
    worse = max(row.fibrillation, row.fibrillation_piecewise)
    assert risk.individual_per_year == pytest.approx(-expm1(-0.5 * meets * worse), rel=1e-9)
    assert risk.deaths_per_year == pytest.approx(4 * 0.5 * meets * worse, rel=1e-9)


def test_the_rates_meet_a_simulation_of_faults_and_contacts():
    """Common practice: count coincidences in random years. 20 000 years, so 3 % at one standard deviation."""
    rng = np.random.default_rng(5)
    busy = Exposure(20_000.0, 300.0, faults_per_year=2.0)
    (risk,) = risks(exposure=busy)
    year = 31_557_600.0
    met = faults = 0
    for _ in range(1500):
        starts = rng.uniform(0, year, rng.poisson(20_000.0))
        for time in rng.uniform(0, year, rng.poisson(2.0)):
            faults += 1
            met += bool(np.any((starts < time + 0.5) & (starts + 300.0 > time)))
    assert met / faults == pytest.approx(risk.scenarios[0].coincidence, rel=0.08)


def test_several_faults_add_up():
    (both,) = risks(faults=(BUS, LINE))
    alone = [risks(faults=(f,))[0].individual_per_year for f in (BUS, LINE)]
    assert both.individual_per_year == pytest.approx(sum(alone), rel=1e-4)


def test_a_fault_may_have_a_rate_of_its_own():
    rare = dataclasses.replace(BUS, scenario=dataclasses.replace(BUS.scenario, faults_per_year=0.05))
    assert risks(faults=(rare,))[0].individual_per_year == pytest.approx(
        risks()[0].individual_per_year / 10, rel=1e-3
    )


def test_the_error_of_the_field_and_an_unknown_offset_make_the_risk_larger():
    plain = risks()[0].individual_per_year
    assert risks(error=0.05)[0].scenarios[0].touch_v == pytest.approx(735.0)
    unknown = dataclasses.replace(BUS, x_over_r=None)
    assert risks(faults=(unknown,))[0].individual_per_year > plain


def test_a_duration_that_the_curves_do_not_know_is_not_decided():
    slow = dataclasses.replace(BUS, scenario=dataclasses.replace(BUS.scenario, shock_time_s=20.0))
    (risk,) = risks(faults=(slow,))
    assert (risk.band, risk.individual_per_year) == ("not decided", None)
    assert "20 s" in risk.reason


TOUCH = Check("touch-yard", "Touch voltage, yard", Verdict.FAIL, 900.0, 840.0, "V")


def checked(value, **exposure):
    found = risks(value, exposure=dataclasses.replace(EXPOSED, **exposure))
    return with_risks([TOUCH], found, [touch(value)], GOOD)


def test_beside_a_standard_the_risk_informs_and_decides_nothing():
    checks, findings = checked(900.0)
    assert [c.governing for c in checks] == [True, False]
    assert findings == ()


def test_where_the_risk_governs_the_limit_becomes_a_comparison_and_a_warning_says_so():
    checks, findings = checked(900.0, governs=True, reason="owner's decision")
    assert [c.governing for c in checks] == [False, True]
    assert "107% of the standard's limit" in findings[0].message


@pytest.mark.parametrize(
    ("rate", "verdict", "band"),
    [
        (1e-5, Verdict.PASS, "low"),
        (0.5, Verdict.NOT_DECIDED, "intermediate"),
        (500.0, Verdict.FAIL, "intolerable"),
    ],
)
def test_the_three_bands_are_the_three_verdicts(rate, verdict, band):
    """Bands up to 1e-6 and above 1e-4 a year: Australian guide EG-0 (from memory)."""
    checks, _ = checked(900.0, faults_per_year=rate, people=1)
    assert checks[-1].verdict is verdict
    assert band in checks[-1].title
    assert "people together" in checks[-1].reason


def test_a_low_risk_on_a_doubtful_field_is_not_decided():
    found = risks(900.0, exposure=dataclasses.replace(EXPOSED, faults_per_year=1e-5))
    checks, _ = with_risks([TOUCH], found, [touch(900.0)], dataclasses.replace(GOOD, kernel_error=0.1))
    assert checks[-1].verdict is Verdict.NOT_DECIDED


def test_names_of_bodies_curves_and_paths_are_those_of_the_project_file():
    from evenground.project._schema_person import PathName, PersonFile
    from evenground.standards.limits import PATHS

    assert set(PathName.__args__) == set(PATHS)
    fields = PersonFile.model_fields
    assert set(BODIES) < set(str(fields["body"].annotation).split("'"))
    assert set(FIBRILLATION) < set(str(fields["current"].annotation).split("'"))
