"""Ways in which a study could pass though it should not; each was found by trying."""

import dataclasses

import numpy as np
import pytest

from evenground.errors import InputError
from evenground.model.fault import FaultResult, FaultScenario
from evenground.model.site import Assessment, SurfaceZone
from evenground.model.study import ClosedFormResult, FieldSummary, Place, ShockResult, Verdict, ZoneLimit
from evenground.safety import assess_shocks, judge, zone_limits

FAULT = FaultResult(FaultScenario("bus", 110e3, 0.5, 1.0), 3000.0, 10.0, 1.0, 1.0, 1000.0, 3000.0)
SQUARE = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
FIELD = FieldSummary(2.5, 0.0025, 500, 1, 1e-6, 1e-12, 1e-10, 1, "dense", 3.5)
NOTHING = ClosedFormResult(400.0, {}, {}, {"bus": None}, {"bus": None}, {})


def box(x0, y0, x1, y1):
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def flat(x, y):
    return 0.8 + 0 * x * y


def verdict(value_v, fault=FAULT, errors=None, soil_doubt="", limit_v=840.0):
    shocks = [
        ShockResult("touch", "yard", "bus", value_v, limit_v, Place(1, 1)),
        ShockResult("step", "yard", "bus", 1.0, 2000.0, Place(1, 1), 0.0),
    ]
    limits = [ZoneLimit("yard", "bus", 0.74, limit_v, 2000.0)]
    rows = judge(
        shocks, limits, FIELD, {}, [fault], {"bus": 5000.0}, NOTHING, Assessment(), errors, soil_doubt
    )
    return next(c for c in rows if c.identity == "touch-yard")


def test_a_gap_in_the_cover_narrower_than_the_raster_is_found():
    """Bare ground of 0.3 m between two areas of stone: people step there (common practice)."""
    zones = [
        SurfaceZone("west", box(-5, -5, 10.05, 25), 3000.0, 0.1),
        SurfaceZone("east", box(10.35, -5, 25, 25), 3000.0, 0.1),
    ]
    result = assess_shocks(flat, [SQUARE], zones, [FAULT], {"bus": 1000.0}, Assessment(raster_m=1.0), 100.0)
    assert {s.zone for s in result.shocks if s.quantity == "touch"} == {"west", "east", "bare soil"}
    assert {s.zone for s in result.shocks if s.quantity == "step"} >= {"bare soil"}


def test_steps_are_looked_at_around_metal_outside_the_mats():
    """A rod at the end of a run far from the mat: the ground is steepest there."""

    def near_rod(x, y):
        return 0.5 / (1 + np.hypot(x - 60, y - 10))

    args = ([SQUARE], [], [FAULT], {"bus": 1000.0}, Assessment(raster_m=1.0), 100.0)
    with_metal = assess_shocks(near_rod, *args, [((20.0, 10.0), (60.0, 10.0))])
    step = max((s for s in with_metal.shocks if s.quantity == "step"), key=lambda s: s.value_v)
    assert step.place.x_m == pytest.approx(60, abs=1)
    assert step.value_v == pytest.approx(1000 * (0.5 - 0.25), rel=2e-3)


def test_a_drawn_zone_can_not_take_the_name_of_the_bare_ground():
    zones = [SurfaceZone("bare soil", box(0, 0, 5, 5), 3000.0, 0.1)]
    with pytest.raises(InputError, match="two surface zones are called"):
        assess_shocks(flat, [SQUARE], zones, [FAULT], {"bus": 1000.0}, Assessment(), 100.0)


def test_zones_after_an_open_one_never_count():
    zones = [SurfaceZone("all", None, 3000.0, 0.1), SurfaceZone("corner", box(0, 0, 5, 5))]
    result = assess_shocks(flat, [SQUARE], zones, [FAULT], {"bus": 1000.0}, Assessment(raster_m=1.0), 100.0)
    assert {s.zone for s in result.shocks} == {"all"}


def test_chippings_do_not_protect_on_bare_ground():
    """A footing belongs to a cover: bare ground keeps the limit of soil."""
    stone = SurfaceZone("stone", None, 3000.0, 0.15)
    both = Assessment(standard="bs7430_na", footing="chippings_150mm")
    (on_stone,) = zone_limits([stone], [FAULT], both, 100.0)
    (on_soil,) = zone_limits([SurfaceZone("bare soil")], [FAULT], both, 100.0)
    (plain,) = zone_limits([SurfaceZone("bare soil")], [FAULT], Assessment(standard="bs7430_na"), 100.0)
    assert on_soil.touch_v == plain.touch_v < on_stone.touch_v
    thin = dataclasses.replace(stone, thickness_m=0.05)
    (row,) = zone_limits([thin], [FAULT], both, 100.0)
    assert "cover of 50 mm" in row.outside


def test_unknown_x_over_r_is_no_pass_when_the_offset_could_break_the_limit():
    """IEEE Std 80: Df = sqrt(1 + Ta/tf (1 - exp(-2 tf/Ta))) stays below sqrt(3)."""
    unknown = dataclasses.replace(FAULT, x_over_r=None)
    assert verdict(700.0).verdict is Verdict.PASS
    assert verdict(700.0, unknown).verdict is Verdict.NOT_DECIDED
    assert "X/R" in verdict(700.0, unknown).reason
    assert verdict(480.0, unknown).verdict is Verdict.PASS
    assert verdict(900.0, unknown).verdict is Verdict.FAIL


def test_the_error_of_the_voltage_itself_guards_the_pass():
    assert verdict(800.0, errors={"touch": 0.04, "step": 0.0}).verdict is Verdict.PASS
    assert verdict(800.0, errors={"touch": 0.06, "step": 0.0}).verdict is Verdict.NOT_DECIDED


def test_a_soil_model_that_misses_the_readings_carries_no_pass():
    assert verdict(100.0, soil_doubt="the soil model misses the readings").verdict is Verdict.NOT_DECIDED


def test_a_nan_is_never_a_pass():
    assert verdict(float("nan")).verdict is not Verdict.PASS
    assert verdict(100.0, errors={"touch": float("nan"), "step": 0.0}).verdict is Verdict.NOT_DECIDED


def test_a_thin_cover_counts_as_thin_for_en_50522_too():
    rows = [
        zone_limits([SurfaceZone("z", None, 3000.0, t)], [FAULT], Assessment(standard="en50522_2022"), 100.0)[
            0
        ]
        for t in (0.02, 0.05, 0.10)
    ]
    assert rows[0].touch_v < rows[1].touch_v < rows[2].touch_v


def test_a_borrowed_step_limit_keeps_its_range():
    """IEEE Std 80 holds from 0.03 s to 3 s."""
    slow = dataclasses.replace(FAULT, scenario=dataclasses.replace(FAULT.scenario, shock_time_s=5.0))
    (row,) = zone_limits([SurfaceZone("bare soil")], [slow], Assessment(standard="en50522_2010"), 100.0)
    assert row.outside == ""
    assert "t <= 3" in row.step_outside


def away(x, y):
    return 1 / (1 + np.hypot(np.maximum(np.abs(x - 10) - 10, 0), np.maximum(np.abs(y - 10) - 10, 0)))


def test_reach_is_used():
    def near(reach):
        result = assess_shocks(
            away,
            [SQUARE], [], [FAULT], {"bus": 100.0}, Assessment(raster_m=1.0, reach_m=reach), 100.0,
        )  # fmt: skip
        return next(s.value_v for s in result.shocks if s.quantity == "touch")

    assert near(1.0) == pytest.approx(50.0, rel=2e-3)
    assert near(2.0) == pytest.approx(100 * 2 / 3, rel=2e-3)
