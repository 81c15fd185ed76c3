"""Verdicts: three values, never a guess."""

import dataclasses

import pytest

from evenground.model.fault import FaultResult, FaultScenario
from evenground.model.site import Assessment, SurfaceZone
from evenground.model.study import (
    Check,
    ClosedFormResult,
    FieldSummary,
    Place,
    ShockResult,
    Study,
    Verdict,
    ZoneLimit,
)
from evenground.safety import judge, zone_limits

FIELD = FieldSummary(2.5, 0.0025, 500, 1, 1e-6, 1e-12, 1e-10, 1, "dense", 3.5)
SCENARIO = FaultScenario("bus", 110e3, 0.5, 1.0)
FAULT = FaultResult(SCENARIO, 3180.0, 3.33, 1.0, 1.0, 1908.0, 3180.0)
NOTHING = ClosedFormResult(400.0, {}, {}, {"bus": None}, {"bus": None}, {"mesh": "no mat", "step": "no mat"})


def checks(value_v, limit_v=840.0, field=FIELD, outside="", gpr_v=5300.0, **more):
    shocks = [
        ShockResult("touch", "yard", "bus", value_v, limit_v, Place(1, 1), **more),
        ShockResult("step", "yard", "bus", 100.0, 2000.0, Place(1, 1), 0.0),
    ]
    limits = [ZoneLimit("yard", "bus", 0.74, limit_v, 2000.0, outside)]
    rows = judge(shocks, limits, field, {}, [FAULT], {"bus": gpr_v}, NOTHING, Assessment())
    return {c.identity: c for c in rows}


def test_a_value_above_its_limit_fails_and_says_where():
    check = checks(1000.0)["touch-yard"]
    assert check.verdict is Verdict.FAIL
    assert check.margin == pytest.approx(-160 / 840, rel=1e-12)
    assert check.place is not None
    assert check.scenario == "bus"


def test_a_value_well_below_passes():
    assert checks(700.0)["touch-yard"].verdict is Verdict.PASS


def test_nearer_to_the_limit_than_the_error_is_not_decided():
    check = checks(839.9)["touch-yard"]
    assert check.verdict is Verdict.NOT_DECIDED
    assert "discretisation error" in check.reason


def test_a_search_that_still_moves_is_not_decided():
    assert checks(100.0, change=0.05, converged=False)["touch-yard"].verdict is Verdict.NOT_DECIDED


def test_a_poor_kernel_is_not_decided():
    poor = dataclasses.replace(FIELD, kernel_error=0.01)
    check = checks(100.0, field=poor)["touch-yard"]
    assert check.verdict is Verdict.NOT_DECIDED
    assert "kernel" in check.reason


def test_a_limit_outside_its_formula_is_not_decided():
    assert checks(100.0, outside="E_touch needs t <= 3")["touch-yard"].verdict is Verdict.NOT_DECIDED


def test_a_rise_above_the_phase_voltage_is_not_decided():
    check = checks(100.0, gpr_v=70e3)["driving-voltage"]
    assert check.verdict is Verdict.NOT_DECIDED
    assert "can not flow" in check.reason


def test_hand_formulas_outside_their_range_do_not_decide_the_study():
    check = checks(100.0)["closed-form-mesh"]
    assert check.verdict is Verdict.NOT_DECIDED
    assert not check.governing
    assert check.reason == "no mat"


def test_limits_of_the_annex_b_example():
    """IEEE Std 80-2000, Annex B: 70 kg, 0.5 s, 400 / 2500 ohm m, 0.102 m: 838.2 V and 2686.6 V.

    From memory, cross-checked; the guide rounds the surface-layer factor to two digits (0.74 for
    0.7429), hence 0.4 %.
    """
    zone = SurfaceZone("yard", None, 2500.0, 0.102)
    (row,) = zone_limits([zone], [FAULT], Assessment(body_mass_kg=70), 400.0)
    assert row.touch_v == pytest.approx(838.2, rel=4e-3)
    assert row.step_v == pytest.approx(2686.6, rel=4e-3)
    assert row.outside == ""


def test_a_time_beyond_the_guide_is_marked():
    """IEEE Std 80, 5.1: the body-current limit holds from 0.03 s to 3 s."""
    slow = dataclasses.replace(FAULT, scenario=dataclasses.replace(SCENARIO, shock_time_s=5.0))
    (row,) = zone_limits([SurfaceZone("yard")], [slow], Assessment(), 100.0)
    assert "t <= 3" in row.outside


def test_a_count_that_is_kept_never_comes_before_a_voltage():
    """Of passing checks the reader sees the shock voltage with the smallest margin first."""
    from types import SimpleNamespace

    def check(identity, value, limit, unit):
        place = Place(0.0, 0.0)
        return Check(identity, identity, Verdict.PASS, value, limit, unit, place=place)

    rows = (check("bonds", 0.0, 0.0, ""), check("touch", 90.0, 100.0, "V"), check("step", 10.0, 100.0, "V"))
    assert Study.governing_check.fget(SimpleNamespace(checks=rows)).identity == "touch"


@pytest.mark.parametrize(
    ("x_over_r", "limit_v", "verdict"),
    [
        (None, 1.7 * 5300.0, Verdict.NOT_DECIDED),
        (3.33, 1.7 * 5300.0, Verdict.PASS),
        (None, 1.8 * 5300.0, Verdict.PASS),
        (None, 5000.0, Verdict.FAIL),
    ],
)
def test_the_owners_limit_of_the_rise_counts_an_unknown_offset(x_over_r, limit_v, verdict):
    """The decrement factor is at most sqrt(3) = 1.73 (IEEE Std 80-2013, decrement factor); a second scenario
    with a higher rise and no offset may not hide the one whose X/R is not known."""
    shocks = [ShockResult(q, "yard", "bus", 1.0, 840.0, Place(1, 1)) for q in ("touch", "step")]
    limits = [ZoneLimit("yard", "bus", 0.74, 840.0, 2000.0, "")]
    other = dataclasses.replace(FAULT, scenario=dataclasses.replace(SCENARIO, name="long", decrement=False))
    faults = [dataclasses.replace(FAULT, x_over_r=x_over_r), other]
    wanted = Assessment(gpr_limit_v=limit_v)
    rows = judge(shocks, limits, FIELD, {}, faults, {"bus": 5300.0, "long": 5301.0}, NOTHING, wanted)
    (check,) = [c for c in rows if c.identity == "gpr-limit"]
    assert check.verdict is verdict
    assert ("X/R of “bus”" in check.reason) is (verdict is Verdict.NOT_DECIDED)
