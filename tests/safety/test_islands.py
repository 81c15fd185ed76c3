"""How far a voltage reaches from metal beyond the contours of the mat, on potentials given by formulas."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from evenground.safety._contours import contours
from evenground.safety._islands import Island, islands

MAT = [((-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0))]
GPR = 1000.0


def two_sources(x, y):
    """Point sources at the origin and 200 m east; 1000 V on a ball of 6 m, 500 V on one of 2 m
    (electrostatics; each alone falls as 1/r)."""
    return np.minimum(6.0 / np.hypot(x, y), 1.0) + np.minimum(1.0 / np.hypot(x - 200.0, y), 0.5)


def rows_of(share=0.53, plan=None, potential=two_sources, outlines=MAT):
    lines = contours(potential, outlines, GPR, "s")
    metal = [Island("rods", Point(200.0, 0.0) if plan is None else plan, share)]
    return lines, {row.voltage_v: row for row in islands(potential, metal, outlines, lines, GPR)}


def test_a_far_electrode_has_a_contour_of_its_own():
    """0.3 = 1/r + 6/(200 - r) on the side of the mat, where it is furthest."""
    lines, found = rows_of()
    r = np.roots([0.3, -(0.3 * 200 + 1 - 6), 200.0])  # 0.3 r (200 - r) = 200 - r + 6 r
    wanted = float(min(r))
    assert found[300.0].furthest_m == pytest.approx(wanted, rel=0.01)  # bisection from strides of 1.5
    assert found[300.0].around == "rods"
    assert set(found) == {300.0, 430.0}
    own = float(min(np.roots([0.3, -(0.3 * 200 + 6 - 1), 1200.0])))  # 0.3 = 6/r + 1/(200 - r)
    assert lines[0].furthest_m == pytest.approx(own - 5.0, rel=0.01)
    spots = found[300.0].points_m
    assert np.hypot(spots[:, 0] - 200.0, spots[:, 1]) == pytest.approx(found[300.0].furthest_m)


def test_nothing_above_the_line_is_left_out():
    """The line encloses every place above the voltage beyond the line of the mat: a raster sees no other."""
    _, found = rows_of(0.5, LineString([(180.0, -30.0), (220.0, 30.0)]), ridge)
    x, y = np.meshgrid(np.arange(100.0, 300.0, 1.0), np.arange(-100.0, 100.0, 1.0))
    over = ridge(x.ravel(), y.ravel()) >= 0.3
    from shapely import contains_xy

    area = LineString([(180.0, -30.0), (220.0, 30.0)]).buffer(found[300.0].furthest_m)
    assert over.any()
    assert contains_xy(area, x.ravel()[over], y.ravel()[over]).all()
    assert found[300.0].furthest_m < 1.05 * 5.0 * np.log(0.5 / 0.28)


def ridge(x, y):
    """The mat's point source and a ridge along a line, falling off as an exponential of the distance."""
    from shapely import distance, points

    gap = distance(LineString([(180.0, -30.0), (220.0, 30.0)]), points(x, y))
    return np.minimum(6.0 / np.hypot(x, y), 1.0) + 0.47 * np.exp(-gap / 5.0)


def test_metal_within_the_contour_of_the_mat_has_none_of_its_own():
    def near(x, y):
        return np.minimum(6.0 / np.hypot(x, y), 1.0) + np.minimum(0.05 / np.hypot(x - 10.0, y), 0.3)

    _, found = rows_of(0.9, Point(10.0, 0.0), near)
    assert 300.0 not in found  # the line of the mat is 20 m away
    assert 430.0 not in found  # 14 m


def test_metal_below_the_voltage_is_passed_over():
    _, found = rows_of(share=0.2)
    assert found == {}
