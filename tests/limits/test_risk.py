"""Risk of a fatal shock: against the percentages of the curves, scipy's distributions and a simulation."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad
from scipy.optimize import brentq

from evenground.errors import OutOfRangeError
from evenground.standards.limits import (
    BODIES,
    FIBRILLATION,
    PATHS,
    BodyPath,
    Exposure,
    LimitCase,
    constant_body,
    risk_based_limits,
    shock_risk,
)
from evenground.standards.limits.risk import YEAR_S, coincidence_share, fibrillation_probability

CASE = LimitCase("iec60479_derived", 0.5)
YARD = Exposure(1.0, 0.5, 100.0, 4.0, people=5)
QUICK = settings(max_examples=25, deadline=None)


# IEC TS 60479-1 Figure 20: c1, c2, c3 are 0.14, 5 and 50 per cent (from memory).
@pytest.mark.parametrize("time_s", [0.05, 0.2, 0.5, 1.0, 3.0, 10.0])
def test_piecewise_probability_meets_the_three_curves(time_s: float) -> None:
    values = [
        fibrillation_probability(FIBRILLATION[key].at(time_s), time_s, "piecewise")
        for key in ("c1", "c2", "c3")
    ]
    assert values == pytest.approx([0.0014, 0.05, 0.5], rel=1e-9)


@pytest.mark.parametrize("time_s", [0.05, 0.2, 0.5, 1.0, 3.0, 10.0])
def test_lognormal_probability_is_the_least_squares_line_of_scipy(time_s: float) -> None:
    x = np.log([FIBRILLATION[key].at(time_s) for key in ("c1", "c2", "c3")])
    line = stats.linregress(x, stats.norm.ppf([0.0014, 0.05, 0.5]))
    for current in (0.03, 0.1, 0.4):
        expected = stats.norm.cdf(line.intercept + line.slope * math.log(current))
        assert fibrillation_probability(current, time_s) == pytest.approx(expected, rel=1e-8)
    # The three points are not quite log-normal: the line leaves them by up to 0.35 standard deviations.
    assert np.max(np.abs(line.intercept + line.slope * x - stats.norm.ppf([0.0014, 0.05, 0.5]))) < 0.5


@pytest.mark.parametrize("time_s", [0.04, 11.0])
def test_probability_has_no_value_where_the_curves_end(time_s: float) -> None:
    with pytest.raises(OutOfRangeError, match="curve c"):
        fibrillation_probability(0.1, time_s)


def test_unknown_fit_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="fit must be"):
        fibrillation_probability(0.1, 0.5, "cubic")


def test_people_below_and_above_the_table_percentages() -> None:
    # By definition of the columns (IEC TS 60479-1): 5 and 95 per cent of people lie below.
    body = BODIES["iec_2005"]
    z = stats.norm.ppf([0.05, 0.5, 0.95])
    assert body.at_quantile(np.full(3, 100.0), z) == pytest.approx([990.0, 1725.0, 3125.0], rel=1e-9)


@given(
    volts=st.floats(25.0, 3000.0),
    percentile=st.floats(5.0, 95.0),
    key=st.sampled_from(["iec_1994", "iec_2005"]),
)
@QUICK
def test_one_person_and_many_at_once_have_the_same_impedance(
    volts: float, percentile: float, key: str
) -> None:
    z = stats.norm.ppf(percentile / 100.0)
    many = BODIES[key].at_quantile(np.array([volts]), np.array([z]))[0]
    # 1e-9: two implementations of the normal quantile.
    assert BODIES[key].impedance(volts, percentile) == pytest.approx(many, rel=1e-9)


def test_probability_over_people_against_quadrature_of_scipy() -> None:
    volts, path, series = 180.0, PATHS["left hand to both feet"], 1000.0 + 150.0
    case = replace(CASE, footwear_ohm=2000.0, paths=(path,))
    body = BODIES["iec_2005"]

    def current(z: float) -> float:
        def rest(u: float) -> float:
            return u + series * u / (0.75 * float(body.at_quantile(np.array([u]), np.array([z]))[0])) - volts

        u = brentq(rest, 1e-6, volts)
        return (volts - u) / series

    def integrand(z: float) -> float:
        return fibrillation_probability(current(z), 0.5) * stats.norm.pdf(z)

    # The kink at the median is an end of both ranges.
    expected = quad(integrand, -6, 0, epsabs=1e-7)[0] + quad(integrand, 0, 6, epsabs=1e-7)[0]
    # 1e-4: trapezoids at 0.05 standard deviations, cut off at 5.
    risk = shock_risk(volts, replace(YARD), case)
    assert risk.fibrillation_probability == pytest.approx(expected, rel=1e-4)


def test_same_body_for_all_gives_the_probability_of_one_current() -> None:
    path = BodyPath("hand to both feet", 1.0, 1.0, "both")
    case = LimitCase("free", 0.5, 100.0, body=constant_body(1000.0), paths=(path,))
    risk = shock_risk(230.0, YARD, case)
    assert risk.fibrillation_probability == pytest.approx(fibrillation_probability(0.2, 0.5), rel=1e-9)


def test_the_heart_feels_less_of_another_path() -> None:
    # Right hand to feet, heart-current factor 0.8: 0.2 A are as dangerous as 0.16 A from the left hand.
    path = BodyPath("right hand to both feet", 0.8, 1.0, "both")
    case = LimitCase("free", 0.5, 100.0, body=constant_body(1000.0), paths=(path,))
    risk = shock_risk(230.0, YARD, case)
    assert risk.fibrillation_probability == pytest.approx(fibrillation_probability(0.16, 0.5), rel=1e-9)


def test_the_worst_path_counts() -> None:
    names = ("left hand to both feet", "right hand to both feet", "both hands to both feet")
    single = {
        name: shock_risk(150.0, YARD, replace(CASE, paths=(PATHS[name],))).fibrillation_probability
        for name in names
    }
    risk = shock_risk(150.0, YARD, CASE)
    assert risk.fibrillation_probability == max(single.values())
    assert risk.governing_path == max(single, key=lambda name: single[name])
    assert len(set(single.values())) == 3


def test_coincidence_against_a_simulation() -> None:
    # Two Poisson processes thrown on many years; rates far above any real ones so that the share is
    # large enough to count.
    rng = np.random.default_rng(20240817)
    years, faults_per_year, contacts_per_year = 400, 200.0, 50_000.0
    fault_s, contact_s = 2.0, 300.0
    span = years * YEAR_S
    faults = np.sort(rng.uniform(0, span, rng.poisson(faults_per_year * years)))
    contacts = np.sort(rng.uniform(0, span, rng.poisson(contacts_per_year * years)))
    # A contact meets the fault when it starts between contact_s before the fault and its end.
    met = np.searchsorted(contacts, faults + fault_s) > np.searchsorted(contacts, faults - contact_s)
    expected = coincidence_share(contacts_per_year, fault_s, contact_s)
    deviation = math.sqrt(expected * (1 - expected) / len(faults))
    assert expected > 0.3
    assert met.mean() == pytest.approx(expected, abs=4 * deviation)  # four standard deviations


def test_coincidence_for_rare_events_is_the_product_formula() -> None:
    # Common practice: rate of contact times the sum of both durations over a year.
    assert coincidence_share(100.0, 0.5, 4.0) == pytest.approx(100 * 4.5 / (365.25 * 86400), rel=1e-5)


def test_individual_and_societal_numbers_against_scipy() -> None:
    risk = shock_risk(300.0, replace(YARD, contact_rate_per_year=2e6, people=40), CASE)
    share = risk.coincidence_share * risk.fibrillation_probability
    assert risk.individual_per_year == pytest.approx(1 - math.exp(-share), rel=1e-9)
    assert risk.deaths_per_year == pytest.approx(40 * share, rel=1e-12)
    for n, per_year in risk.societal:
        # lgamma carries about 1e-13 of numbers near 100.
        assert per_year == pytest.approx(stats.binom.sf(n - 1, 40, share), rel=1e-9)
    assert risk.societal[0][0] == 1
    assert sum(rate for _, rate in risk.societal) == pytest.approx(risk.deaths_per_year, rel=1e-9)


@pytest.mark.parametrize(
    ("contacts", "band"), [(1.0, "low"), (60.0, "intermediate"), (3000.0, "intolerable")]
)
def test_bands(contacts: float, band: str) -> None:
    # Bands up to 1e-6, up to 1e-4, and above (EG-0, numbers from memory).
    risk = shock_risk(400.0, Exposure(1.0, 0.5, contacts, 4.0), CASE)
    assert risk.individual_band == band
    low, high = {"low": (0.0, 1e-6), "intermediate": (1e-6, 1e-4), "intolerable": (1e-4, 1.0)}[band]
    assert low < risk.individual_per_year <= high


def test_many_people_weigh_more_on_the_societal_side() -> None:
    alone = shock_risk(400.0, Exposure(0.1, 0.5, 10.0, 4.0, people=1), CASE)
    crowd = shock_risk(400.0, Exposure(0.1, 0.5, 10.0, 4.0, people=2000), CASE)
    assert alone.individual_band == crowd.individual_band == "low"
    assert alone.societal_band == "low"
    assert crowd.societal_band == "intolerable"


def test_a_steeper_societal_line_is_stricter_for_many_deaths_at_once() -> None:
    rare = Exposure(1e-5, 0.5, 3e5, 4.0, people=50)
    bands = [shock_risk(400.0, rare, CASE, societal_slope=slope).societal_band for slope in (0.0, 4.0)]
    assert bands == ["intermediate", "intolerable"]


@given(
    touch=st.floats(40.0, 900.0),
    more=st.floats(1.05, 2.0),
    shoe=st.floats(0.0, 4000.0),
    time_s=st.sampled_from([0.1, 0.3, 0.7, 2.0]),
)
@QUICK
def test_risk_grows_with_voltage_and_time_and_falls_with_shoes(
    touch: float, more: float, shoe: float, time_s: float
) -> None:
    def risk(volts: float, time: float, ohm: float) -> float:
        exposure = replace(YARD, fault_duration_s=time)
        return shock_risk(
            volts, exposure, replace(CASE, shock_time_s=time, footwear_ohm=ohm)
        ).individual_per_year

    base = risk(touch, time_s, shoe)
    # 1e-12: rounding, where the probability has reached one or nearly zero.
    assert risk(touch * more, time_s, shoe) >= base * (1 - 1e-12)
    assert risk(touch, time_s * 1.5, shoe) >= base * (1 - 1e-12)
    assert risk(touch, time_s, shoe + 1000.0) <= base * (1 + 1e-12)


@pytest.mark.parametrize("target", [1e-6, 3e-6])
def test_the_limit_gives_the_target_back(target: float) -> None:
    limits = risk_based_limits(CASE, YARD, target)
    assert limits.touch_v is not None
    assert limits.decided
    assert limits.evidence == "from memory"
    # The bisection stops at 1e-5 of the voltage; the probability grows with about its third power there.
    assert shock_risk(limits.touch_v, YARD, CASE).individual_per_year == pytest.approx(target, rel=1e-3)


def test_rare_contact_sets_no_limit_and_says_so() -> None:
    limits = risk_based_limits(CASE, Exposure(0.1, 0.5, 1.0, 4.0))
    assert limits.touch_v is None
    assert not limits.decided
    assert "too rarely for any voltage" in limits.notes[0]


def test_outside_the_curves_there_is_no_limit() -> None:
    limits = risk_based_limits(replace(CASE, shock_time_s=20.0), replace(YARD, fault_duration_s=20.0))
    assert limits.touch_v is None
    assert "covers" in limits.outside[0]


def test_every_assumption_has_source_and_evidence() -> None:
    risk = shock_risk(300.0, YARD, replace(CASE, footwear_ohm=2000.0))
    assert len(risk.assumptions) >= 10
    assert all(
        a.text and a.source and a.evidence in ("from memory", "derived", "stated", "found")
        for a in risk.assumptions
    )
    assert any("2000 ohm each" in a.text for a in risk.assumptions)
    # Two fits of the same three points: the difference is a measure of how well this is known.
    assert risk.fibrillation_probability_piecewise != risk.fibrillation_probability


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Exposure(0.0, 0.5, 1.0, 1.0), "fault_rate_per_year must be"),
        (lambda: Exposure(1.0, 0.5, 1.0, 1.0, people=0), "people must be"),
        (lambda: shock_risk(-1.0, YARD, CASE), "touch_v must be"),
        (lambda: shock_risk(100.0, YARD, replace(CASE, shock_time_s=1.0)), "differ"),
        (lambda: shock_risk(100.0, YARD, CASE, societal_slope=-1.0), "societal_slope"),
        (lambda: risk_based_limits(CASE, YARD, 0.0), "target_per_year must be"),
    ],
)
def test_bad_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(OutOfRangeError, match=words):
        call()  # type: ignore[operator]
