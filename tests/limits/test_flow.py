"""Design flow of EN 50522 and when step matters.

Rows 2 U_Tp and 4 U_Tp: forum discussion of EN 50522 (found). 20 U_Tp: Giornale dell'installatore elettrico,
Feb-Mar 2025, p. 20 (found).
"""

from __future__ import annotations

from typing import Any

import pytest

from evenground.errors import OutOfRangeError
from evenground.model.study import Verdict
from evenground.standards.limits import design_flow, step_threshold

PASS, FAIL, OPEN = Verdict.PASS, Verdict.FAIL, Verdict.NOT_DECIDED


@pytest.mark.parametrize(
    ("rise_v", "more", "route", "verdict"),
    [
        (440.0, {}, "rise", PASS),
        (440.1, {}, "measures", OPEN),
        (880.0, {"measures_in_place": True}, "measures", PASS),
        (880.0, {"measures_in_place": False}, "measures", OPEN),
        (880.1, {"measures_in_place": True}, "touch voltage", OPEN),
        (5000.0, {}, "touch voltage", OPEN),
        (5000.0, {"touch_v": 220.0}, "touch voltage", PASS),
        (5000.0, {"touch_v": 220.1}, "touch voltage", FAIL),
        (5000.0, {"touch_v": 500.0, "touch_limit_v": 720.0}, "touch voltage", PASS),
        (600.0, {"touch_v": 300.0}, "touch voltage", FAIL),
        (5000.0, {"global_system": True}, "global system", PASS),
    ],
)
def test_routes(rise_v: float, more: dict[str, Any], route: str, verdict: Verdict) -> None:
    flow = design_flow(rise_v, 220.0, **more)
    assert (flow.route, flow.verdict) == (route, verdict)
    assert (flow.simple_limit_v, flow.measures_limit_v) == (440.0, 880.0)
    assert flow.reason


def test_a_high_touch_voltage_is_mentioned_where_the_route_does_not_ask_for_it() -> None:
    flow = design_flow(800.0, 220.0, measures_in_place=True, touch_v=350.0)
    assert flow.verdict is PASS
    assert "350 V is above 220 V" in flow.reason


def test_step_matters_above_twenty_times() -> None:
    assert step_threshold(225.0) == 4500.0
    assert not design_flow(4500.0, 225.0).step_needed
    assert design_flow(4501.0, 225.0).step_needed


@pytest.mark.parametrize(
    "bad", [{"rise_v": 0.0}, {"permissible_touch_voltage_v": float("nan")}, {"touch_v": -1.0}]
)
def test_bad_voltages_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError, match="must be a finite number above zero"):
        design_flow(**({"rise_v": 1000.0, "permissible_touch_voltage_v": 220.0} | bad))  # type: ignore[arg-type]
