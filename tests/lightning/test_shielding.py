"""Objects, contours, sections, mast heights, the fixed angle, and strikes per year."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from evenground.errors import InputError, OutOfRangeError
from evenground.lightning import (
    assess_shielding,
    equivalent_angle_deg,
    exposure,
    inside_cones,
    insulation_rule,
    level_rule,
    required_mast_height,
)
from evenground.model.lightning import (
    Building,
    ContourRequest,
    ExposureRequest,
    Mast,
    ProtectedObject,
    ShieldingRequest,
    ShieldWire,
    SphereRule,
    Terminals,
)
from evenground.model.study import Verdict
from evenground.standards.ieee998 import share_above

MAST = Terminals(masts=(Mast("A", (0.0, 0.0), 20.0),))


def reach(height: float, level: float, radius: float) -> float:
    return math.sqrt(height * (2 * radius - height)) - math.sqrt(level * (2 * radius - level))


def test_objects_of_one_mast() -> None:
    edge = reach(20.0, 5.0, 30.0)
    request = ShieldingRequest(
        MAST,
        (
            ProtectedObject("near", ((edge - 0.5, 0.0, 5.0),)),
            ProtectedObject("far", ((edge + 0.5, 0.0, 5.0),)),
            ProtectedObject("just", ((edge, 0.0, 5.0),)),
        ),
        level_rule("II"),
        cone_angle_deg=45.0,
    )
    result = assess_shielding(request)
    assert [c.verdict for c in result.checks] == [Verdict.PASS, Verdict.FAIL, Verdict.NOT_DECIDED]
    near, far, just = result.objects
    assert near.protected
    assert not far.protected
    assert just.clearance_m == pytest.approx(0.0, abs=1e-3)
    assert near.resting_on == ("A", "ground")
    assert just.height_allowed_m == pytest.approx(5.0, abs=0.01)
    # the simple method knows no sphere: 45 degrees from 20 m reach 15 m at 5 m
    assert near.cone_protected
    assert edge + 0.5 < 15.0
    assert far.cone_protected


def test_box_is_searched_at_its_worst_corner() -> None:
    box = Building("tx", (6.0, 2.0), 5.0, 3.0, 4.0, 20.0)
    thing = assess_shielding(
        ShieldingRequest(MAST, (ProtectedObject("tx", box=box),), level_rule("II"))
    ).objects[0]
    turn = math.radians(20.0)
    corners = [
        (
            6 + u * 2.5 * math.cos(turn) - v * 1.5 * math.sin(turn),
            2 + u * 2.5 * math.sin(turn) + v * 1.5 * math.cos(turn),
        )
        for u in (-1, 1)
        for v in (-1, 1)
    ]
    far = max(math.hypot(*c) for c in corners)
    # clearance of a point from the sphere that touches tip and ground: geometry in the plane through the mast
    centre = math.sqrt(20.0 * 40.0)
    expected = math.hypot(centre - far, 30.0 - 4.0) - 30.0
    assert thing.clearance_m == pytest.approx(expected, abs=1e-3)
    assert math.hypot(*thing.worst_point_m[:2]) == pytest.approx(far, abs=1e-6)


def test_contours_and_section() -> None:
    request = ShieldingRequest(
        MAST,
        (),
        level_rule("II"),
        contours=ContourRequest((0.0, 5.0), (((-20.0, 0.0), (20.0, 0.0)),), (-32.0, -32.0, 32.0, 32.0), 1.0),
    )
    result = assess_shielding(request)
    for contour in result.contours:
        radius = reach(20.0, contour.height_m, 30.0)
        # straight lines on a raster of 1 m
        assert contour.area_m2 == pytest.approx(math.pi * radius**2, rel=0.01)
        ring = np.array(contour.polygons_m[0][0])
        assert np.max(np.abs(np.hypot(ring[:, 0], ring[:, 1]) - radius)) < 0.15
    section = result.elevations[0]
    for along, height in zip(section.distances_m, section.heights_m, strict=True):
        x = abs(along - 20.0)
        centre = math.sqrt(20.0 * 40.0)
        assert height == pytest.approx(30.0 - math.sqrt(30.0**2 - (centre - x) ** 2), abs=0.01)


def test_required_mast_height() -> None:
    level, away, radius = 5.0, 9.0, 30.0
    request = ShieldingRequest(
        Terminals(masts=(Mast("A", (0.0, 0.0), 8.0),)),
        (ProtectedObject("p", ((away, 0.0, level),)),),
        level_rule("II"),
    )
    # closed form: sqrt(h (2r - h)) = away + sqrt(z (2r - z))
    side = away + math.sqrt(level * (2 * radius - level))
    closed = radius - math.sqrt(radius**2 - side**2)
    assert required_mast_height(request, "A", tolerance_m=0.05) == pytest.approx(closed, abs=0.06)
    beyond = replace(request, objects=(ProtectedObject("p", ((20.0, 0.0, level),)),))
    assert required_mast_height(beyond, "A", up_to_m=50.0) is None
    with pytest.raises(InputError, match="no mast called 'B'"):
        required_mast_height(request, "B")


def test_taller_terminals_never_protect_less() -> None:
    thing = (ProtectedObject("bus", ((-8.0, 3.0, 6.0), (8.0, 3.0, 6.0))),)
    values = []
    for height in (14.0, 17.0, 20.0, 24.0):
        masts = Terminals(masts=(Mast("A", (-10.0, 0.0), height), Mast("B", (10.0, 0.0), height)))
        values.append(
            assess_shielding(ShieldingRequest(masts, thing, level_rule("I"))).objects[0].clearance_m
        )
    assert all(b >= a - 1e-4 for a, b in pairwise(values))


def test_rule_from_insulation_level() -> None:
    rule = insulation_rule(950, 300)
    assert rule.radius_m == pytest.approx(28.25, abs=0.01)  # IEEE Std 998, from memory
    assert rule.current_ka == pytest.approx(6.967, abs=1e-3)


def test_cone_and_equivalent_angle() -> None:
    points = np.array([[9.9, 0.0, 10.0], [10.1, 0.0, 10.0]])
    assert inside_cones(MAST, points, 45.0).tolist() == [True, False]
    tent = Terminals(wires=(ShieldWire("w", (-20.0, 0.0, 15.0), (20.0, 0.0, 15.0)),))
    points = np.array([[3.0, 5.7, 5.0], [3.0, 5.9, 5.0]])
    assert inside_cones(tent, points, 30.0).tolist() == [True, False]
    assert equivalent_angle_deg(30.0, 30.0) == pytest.approx(45.0, rel=1e-12)
    with pytest.raises(OutOfRangeError, match="between 0 and 90"):
        inside_cones(MAST, points, 95.0)
    with pytest.raises(OutOfRangeError, match="height"):
        equivalent_angle_deg(31.0, 30.0)


def test_bad_requests_name_everything() -> None:
    with pytest.raises(InputError, match="no object") as caught:
        assess_shielding(ShieldingRequest(MAST, (), SphereRule(20.0), sampling_m=0.0))
    assert {f.code for f in caught.value.findings} == {"shielding-raster", "shielding-nothing-asked"}
    with pytest.raises(ValueError, match="radius_m: -1"):
        SphereRule(-1.0)


def test_strikes_to_one_mast() -> None:
    """A mast takes the leaders within sqrt(h (2r - h)) of it: integral over the currents by quadrature."""
    from scipy.integrate import quad

    result = exposure(ExposureRequest(MAST, (), flash_density_per_km2_year=4.0, raster_m=0.5))

    def area(current: float) -> float:
        r = 8 * current**0.65
        return math.pi * (20.0 * (2 * r - 20.0) if r > 20.0 else r**2)

    def density(current: float) -> float:
        return (share_above(current - 0.01) - share_above(current + 0.01)) / 0.02

    expected = 4e-6 * quad(lambda i: area(i) * density(i), 0.05, 300.0, limit=200)[0]
    # 29 bins of current, raster of 1/40 of the reach, and strokes above 200 kA in one bin
    assert result.terminals_per_year == pytest.approx(expected, rel=0.02)
    assert result.objects_per_year == 0.0
    assert result.collection_area_m2 == pytest.approx(math.pi * 60.0**2, rel=1e-3)


def test_weak_strokes_pass_the_shield_and_strong_ones_do_not() -> None:
    masts = Terminals(
        masts=tuple(
            Mast(n, p, 18.0) for n, p in zip("ABCD", ((0, 0), (30, 0), (30, 30), (0, 30)), strict=True)
        )
    )
    bus = ProtectedObject("bus", ((3.0, 15.0, 9.0), (27.0, 15.0, 9.0)))
    result = exposure(ExposureRequest(masts, (bus,), 2.0, critical_current_ka=6.0))
    exposed = [a for i, a in zip(result.currents_ka, result.exposed_area_m2, strict=True) if i > 30.0]
    assert max(exposed) == 0.0
    assert result.exposed_area_m2[0] > 0.0
    assert result.object_critical_per_year is not None
    assert result.object_critical_per_year < result.objects_per_year
    bare = exposure(ExposureRequest(Terminals(), (bus,), 2.0))
    assert bare.objects_per_year > 10.0 * result.objects_per_year


def test_exposure_refuses_nonsense() -> None:
    with pytest.raises(InputError, match="flash_density_per_km2_year: -1"):
        exposure(ExposureRequest(MAST, (), -1.0))
