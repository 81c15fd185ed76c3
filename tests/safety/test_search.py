"""The search for worst places, against fields whose extremes are known in closed form."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from evenground.model.site import SurfaceZone
from evenground.safety._search import make_raster, worst_step, worst_touch
from evenground.safety._surface import Surface
from evenground.safety._zones import ZoneIndex

SEARCH = 2e-3  # the compass search stops when a round gains less than 2e-4; a few rounds may be left


def disc(radius_m):
    """Surface potential of a disc on the surface: V/V0 = (2/pi) asin(b/r) outside, 1 on it.

    Source: classical electrostatics, e.g. Encyclopaedia Britannica 11th ed., Electrostatics.
    """

    def potential(x, y):
        r = np.hypot(x, y)
        return np.where(
            r <= radius_m, 1.0, 2 / np.pi * np.arcsin(np.minimum(1.0, radius_m / np.maximum(r, radius_m)))
        )

    return potential


def test_worst_touch_around_a_disc_is_at_the_corner_of_the_area():
    potential, area = disc(5.0), box(-8, -8, 8, 8)
    raster = make_raster(Surface(potential), area, area, 0.5)
    found = worst_touch(Surface(potential), raster, area, ZoneIndex(()))[0]
    assert found.value == pytest.approx(1 - 2 / np.pi * np.arcsin(5 / np.hypot(8, 8)), rel=1e-6)
    assert (abs(found.x_m), abs(found.y_m)) == pytest.approx((8, 8), abs=0.01)
    assert found.converged


def test_worst_step_around_a_disc_is_one_metre_out_from_its_rim():
    potential, area = disc(5.0), box(-10, -10, 10, 10)
    raster = make_raster(Surface(potential), area, area, 0.5)
    found = worst_step(Surface(potential), raster, area, ZoneIndex(()), np.array([1.0]))[0]
    exact = 1 - 2 / np.pi * np.arcsin(5 / 6)
    assert found.value == pytest.approx(exact, rel=SEARCH)
    radius = np.hypot(found.x_m, found.y_m)
    assert radius == pytest.approx(5.5, abs=0.05)
    along = np.degrees(np.arctan2(found.y_m, found.x_m)) % 180
    turned = abs(found.direction_deg - along)
    assert min(turned, 180 - turned) < 3


@pytest.mark.parametrize("raster_m", [0.5, 1.0])
def test_a_narrow_valley_between_raster_points_is_found(raster_m):
    """A dip of known depth placed off the raster: the answer may not depend on the raster."""

    def potential(x, y):
        return 1 - 0.2 * np.exp(-((x - 3.137) ** 2 + (y + 1.713) ** 2) / 0.5)

    area = box(-10, -10, 10, 10)
    raster = make_raster(Surface(potential), area, area, raster_m)
    found = worst_touch(Surface(potential), raster, area, ZoneIndex(()))[0]
    assert found.value == pytest.approx(0.2, rel=SEARCH)
    assert (found.x_m, found.y_m) == pytest.approx((3.137, -1.713), abs=0.05)


def test_each_zone_has_its_own_worst_place():
    potential, area = disc(5.0), box(-8, -8, 8, 8)
    zones = ZoneIndex([SurfaceZone("west", ((-9, -9), (0, -9), (0, 9), (-9, 9)), 3000, 0.1)])
    found = worst_touch(Surface(potential), make_raster(Surface(potential), area, area, 0.5), area, zones)
    assert found[0].x_m == pytest.approx(-8, abs=0.01)
    assert found[1].x_m == pytest.approx(8, abs=0.01)


def test_a_step_with_feet_in_two_zones_belongs_to_the_stricter_one():
    """Common practice: a person with one foot on bare soil is not protected by the gravel under the other."""

    def potential(x, y):  # steepest at x = 0, where the zones meet
        return 0.5 - 0.25 * np.tanh(x) + 0 * y

    area = box(-6, -6, 6, 6)
    zones = ZoneIndex([SurfaceZone("gravel", ((-7, -7), (0, -7), (0, 7), (-7, 7)), 3000, 0.1)])
    found = worst_step(
        Surface(potential),
        make_raster(Surface(potential), area, area, 0.5),
        area,
        zones,
        np.array([2000.0, 300.0]),
    )
    assert found[1].value == pytest.approx(
        0.5 * np.tanh(0.5), rel=SEARCH
    )  # on the seam, counted as bare soil
    assert found[0].value < found[1].value
    assert found[0].x_m + 0.5 <= 1e-3 or abs(np.cos(np.radians(found[0].direction_deg))) < 1


def test_an_l_shaped_area_is_searched_to_its_far_corner():
    potential = disc(2.0)
    area = Polygon([(0, 0), (12, 0), (12, 4), (4, 4), (4, 12), (0, 12)])
    found = worst_touch(
        Surface(potential), make_raster(Surface(potential), area, area, 0.5), area, ZoneIndex(())
    )[0]
    assert found.value == pytest.approx(1 - 2 / np.pi * np.arcsin(2 / np.hypot(12, 4)), rel=1e-6)
