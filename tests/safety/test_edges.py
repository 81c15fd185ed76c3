"""Edges of the cover and lines beyond reach are named, not passed over."""

import numpy as np
import pytest

from evenground.model.fault import FaultResult, FaultScenario
from evenground.model.site import Assessment, ProfileLine, SurfaceZone
from evenground.safety import assess_shocks

FAULT = FaultResult(FaultScenario("bus", 110e3, 0.5, 1.0), 3000.0, 10.0, 1.0, 1.0, 1000.0, 3000.0)
SQUARE = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))


def surface(x, y):
    """Potential that falls by 10 % of the rise per metre away from the square."""
    away = np.hypot(np.maximum(np.abs(x - 10) - 10, 0), np.maximum(np.abs(y - 10) - 10, 0))
    return np.maximum(1 - 0.1 * away, 0.0) - 0.05


def assess(stone_m, profiles=()):
    low, high = -stone_m, 20 + stone_m
    zone = SurfaceZone("yard", ((low, low), (high, low), (high, high), (low, high)), 3000.0, 0.1)
    assessment = Assessment(raster_m=1.0, profiles=profiles)
    return assess_shocks(surface, [SQUARE], [zone], [FAULT], {"bus": 1700.0}, assessment, 100.0)


def test_stone_that_ends_with_the_reach_is_named():
    """Common practice: the cover goes at least 1 m beyond what can be touched. At 1.3 m out the touch voltage
    is (0.05 + 0.13) 1700 V; the bare-soil limit of IEEE Std 80 for 50 kg, 0.5 s, 100 ohm m is 188.7 V."""
    findings = [f for f in assess(1.0).findings if f.code == "cover-edge"]
    assert len(findings) == 1
    assert "306 V against 189 V" in findings[0].message


def test_stone_well_beyond_the_reach_is_not():
    assert [f for f in assess(3.0).findings if f.code == "cover-edge"] == []


def test_a_stated_line_beyond_reach_shows_what_metal_there_would_carry():
    line = ProfileLine("gate leaf", ((10.0, 0.0), (10.0, -3.0)))
    (finding,) = [f for f in assess(3.0, (line,)).findings if f.code == "profile-beyond-reach"]
    assert "gate leaf" in finding.message
    assert f"{1700 * (0.05 + 0.3):.0f} V" in finding.message


def test_reach_is_rounded_at_corners():
    """A person reaches 1 m: at a corner that is a quarter circle, not a square (geometry)."""
    touch = [s for s in assess(3.0).shocks if s.quantity == "touch"]
    assert touch[0].value_v == pytest.approx(1700 * (0.05 + 0.1), rel=2e-3)
