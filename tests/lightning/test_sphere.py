"""Rolling sphere against closed forms for one and two masts and two wires, and against brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from evenground.errors import TooLargeError
from evenground.lightning._scene import Scene, wire_points
from evenground.lightning._sphere import RollingSphere
from evenground.model.lightning import Building, Mast, ShieldWire, SphereRule, Terminals

WINDOW = np.array([[-30.0, -30.0], [30.0, 30.0]])


def sphere(terminals: Terminals, radius: float, **rule: float) -> RollingSphere:
    scene = Scene(terminals, SphereRule(radius, **rule))
    return RollingSphere(scene, WINDOW, scene.highest_m)


def mast_radius(height: float, level: float, radius: float) -> float:
    """Protected radius of one mast at a level; geometry, e.g. IEC 62305-3 Annex A."""
    return math.sqrt(height * (2 * radius - height)) - math.sqrt(level * (2 * radius - level))


@pytest.mark.parametrize("radius", [20.0, 30.0, 60.0])
@pytest.mark.parametrize("height", [8.0, 19.0])
def test_one_mast(radius: float, height: float) -> None:
    roll = sphere(Terminals(masts=(Mast("A", (3.0, -2.0), height),)), radius)
    for level in (0.5, 3.0, 6.0):
        reach = mast_radius(height, level, radius)
        turn = np.radians(np.arange(0, 360, 40))
        edge = np.column_stack(
            [3 + reach * np.cos(turn), -2 + reach * np.sin(turn), np.full(len(turn), level)]
        )
        # the polish stops at 1e-5 of the radius
        assert np.max(np.abs(roll.clearance(edge)[0])) < 1e-3
        inner, outer = edge.copy(), edge.copy()
        inner[:, :2] += 0.05 * (np.array([3.0, -2.0]) - edge[:, :2])
        outer[:, :2] -= 0.05 * (np.array([3.0, -2.0]) - edge[:, :2])
        assert np.all(roll.clearance(inner)[0] > 0)
        assert np.all(roll.clearance(outer)[0] < 0)


def test_a_mast_taller_than_the_sphere_protects_no_more() -> None:
    # the sphere touches its side at the height of its centre
    at = np.array([[5.0, 0.0]])
    low = sphere(Terminals(masts=(Mast("A", (0, 0), 20.0),)), 20.0).height_allowed(at)
    high = sphere(Terminals(masts=(Mast("A", (0, 0), 35.0),)), 20.0).height_allowed(at)
    closed = 20.0 - math.sqrt(20.0**2 - (20.0 - 5.0) ** 2)
    assert low[0] == pytest.approx(closed, abs=0.01)
    assert high[0] == pytest.approx(closed, abs=0.01)


@pytest.mark.parametrize("apart", [12.0, 24.0])
def test_two_masts(apart: float) -> None:
    """Between two masts a sphere that also touches the ground comes in from the side."""
    radius, height = 30.0, 20.0
    pair = Terminals(masts=(Mast("A", (-apart / 2, 0), height), Mast("B", (apart / 2, 0), height)))
    aside = math.sqrt(radius**2 - (apart / 2) ** 2 - (radius - height) ** 2)
    closed = radius - math.sqrt(radius**2 - aside**2)
    roll = sphere(pair, radius)
    assert roll.height_allowed(np.zeros((1, 2)))[0] == pytest.approx(closed, abs=0.005)
    # from above alone it would come less deep
    assert closed < height - (radius - math.sqrt(radius**2 - (apart / 2) ** 2))
    assert set(roll.resting_on(roll.rest(np.array([[0.0, 0.0, closed]]))[0][0])) == {"A", "B", "ground"}


def test_two_long_wires() -> None:
    """Penetration between parallel wires: p = r - sqrt(r^2 - (d/2)^2), IEC 62305-3 Annex E (from memory)."""
    wires = tuple(ShieldWire(n, (-150.0, y, 18.0), (150.0, y, 18.0)) for n, y in (("s", -14.0), ("n", 14.0)))
    roll = sphere(Terminals(wires=wires), 30.0)
    closed = 18.0 - (30.0 - math.sqrt(30.0**2 - 14.0**2))
    assert roll.height_allowed(np.zeros((1, 2)))[0] == pytest.approx(closed, abs=0.005)


def test_a_high_wire_lets_the_sphere_pass_beneath() -> None:
    wire = Terminals(wires=(ShieldWire("w", (-150.0, 0.0, 45.0), (150.0, 0.0, 45.0)),))
    assert sphere(wire, 20.0).clearance(np.array([[0.0, 0.0, 1.0]]))[0][0] < 0


def test_farther_reaching_masts() -> None:
    """A leader that strikes a mast from 1.2 S but the object and the ground from S (IEEE Std 998)."""
    radius, height, level = 25.0, 15.0, 4.0
    mast = Terminals(masts=(Mast("A", (0, 0), height),))
    reach = 1.2 * radius
    edge = math.sqrt(reach**2 - (radius - height) ** 2) - math.sqrt(level * (2 * radius - level))
    value = sphere(mast, radius, mast_factor=1.2).clearance(np.array([[edge, 0.0, level]]))[0]
    assert value[0] == pytest.approx(0.0, abs=1e-3)


def brute_force(
    terminals: Terminals, radius: float, points: NDArray[np.float64], step: float
) -> NDArray[np.float64]:
    """Distance to the nearest permitted place of a raster; terminals as dense clouds of points."""
    cloud = [np.array([(*m.at_m, z) for z in np.linspace(0, m.height_m, 60)]) for m in terminals.masts]
    for w in terminals.wires:
        share = np.linspace(0, 1, 400)[:, None]
        line = np.array(w.start_m) * (1 - share) + np.array(w.end_m) * share
        line[:, 2] -= 4 * w.sag_m * share[:, 0] * (1 - share[:, 0])  # a parabola is near enough
        cloud.append(line)
    for b in terminals.buildings:
        u = np.linspace(-0.5, 0.5, 40)
        x, y = (a.ravel() for a in np.meshgrid(u * b.length_m, u * b.width_m))
        turn = math.radians(b.angle_deg)
        plan = np.array(b.centre_m) + np.column_stack(
            [x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)]
        )
        heights = np.repeat(np.linspace(0, b.height_m, 12), len(plan))
        cloud.append(np.column_stack([np.tile(plan, (12, 1)), heights]))
    from scipy.spatial import cKDTree

    axis = np.arange(-55.0, 55.0, step)
    centres = np.stack(np.meshgrid(axis, axis, np.arange(radius, radius + 26.0, step)), axis=-1).reshape(
        -1, 3
    )
    free = cKDTree(np.vstack(cloud)).query(centres)[0] >= radius
    return np.asarray(cKDTree(centres[free]).query(points)[0])


@pytest.mark.parametrize("seed", [2, 5])
def test_brute_force(seed: int) -> None:
    rng = np.random.default_rng(seed)
    terminals = Terminals(
        masts=tuple(
            Mast(f"M{k}", (float(x), float(y)), float(h))
            for k, (x, y, h) in enumerate(
                zip(*rng.uniform(-20, 20, (2, 4)), rng.uniform(12, 22, 4), strict=True)
            )
        ),
        wires=(ShieldWire("w", (-20.0, -12.0, 20.0), (18.0, 9.0, 17.0), 1.5),),
        buildings=(Building("hall", (8.0, -14.0), 12.0, 7.0, 6.0, 25.0),),
    )
    points = np.column_stack([rng.uniform(-25, 25, (200, 2)), rng.uniform(0, 14, 200)])
    step = 1.0
    exact = sphere(terminals, 20.0).rest(points)[1]
    coarse = brute_force(terminals, 20.0, points, step)
    # a raster can only be farther away; cloud and parabola cost 0.05 m; a narrow cusp costs more steps
    assert np.all(exact < coarse + 0.05)
    assert np.median(coarse - exact) < step
    assert np.max(coarse - exact) < 2 * step


def test_catenary() -> None:
    wire = wire_points(ShieldWire("w", (0.0, 0.0, 20.0), (80.0, 60.0, 30.0), 4.0), 1.0)
    along = np.hypot(wire[:, 0], wire[:, 1])
    middle = len(wire) // 2
    assert wire[0, 2] == pytest.approx(20.0, abs=1e-9)
    assert wire[-1, 2] == pytest.approx(30.0, abs=1e-9)
    assert wire[middle, 2] == pytest.approx(25.0 - 4.0, abs=1e-9)
    # a catenary has z'' proportional to sqrt(1 + z'^2)
    first, second = np.gradient(wire[:, 2], along), np.gradient(np.gradient(wire[:, 2], along), along)
    ratio = (second / np.sqrt(1 + first**2))[5:-5]
    assert np.ptp(ratio) / np.mean(ratio) < 1e-3  # finite differences over 1 m


def test_a_site_too_wide_for_the_sphere_is_refused() -> None:
    scene = Scene(Terminals(masts=(Mast("A", (0, 0), 10.0),)), SphereRule(5.0))
    with pytest.raises(TooLargeError, match="smaller part"):
        RollingSphere(scene, np.array([[-4000.0, -4000.0], [4000.0, 4000.0]]), 10.0)
