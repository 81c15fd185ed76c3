"""Dwight, AIEE Transactions 55 (1936); constants as transcribed from IEEE Std 142, Table 13.

The samples come from an independent numerical solution with uniform leakage (straight thin wires,
potential averaged along the wire), to five figures.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from evenground.standards import dwight

WIRES: list[tuple[Callable[..., float], float, float]] = [
    (dwight.straight_wire_resistance, 4.8093, 4.8094),
    (dwight.right_angle_resistance, 4.9536, 4.9537),
    (dwight.three_point_star_resistance, 3.6439, 3.6438),
    (dwight.four_point_star_resistance, 3.0908, 3.0908),
    (dwight.six_point_star_resistance, 2.5697, 2.5697),
    (dwight.eight_point_star_resistance, 2.3265, 2.3268),
]


@pytest.mark.parametrize(("formula", "expected", "numerical"), WIRES, ids=[f.__name__ for f, *_ in WIRES])
def test_wires_and_stars(formula: Callable[..., float], expected: float, numerical: float) -> None:
    value = formula(100, 20, 0.005, 0.5)
    assert value == pytest.approx(expected, abs=6e-5)
    assert value == pytest.approx(numerical, rel=2e-4)  # the paper's constants have three or four figures


def test_rod() -> None:
    assert dwight.rod_resistance(100, 3, 0.008) == pytest.approx(33.493, abs=6e-4)


def test_ring() -> None:
    value = dwight.ring_resistance(100, 20, 0.01, 0.5)
    assert value == pytest.approx(3.5620, abs=6e-5)
    assert value == pytest.approx(3.5617, rel=2e-4)


@pytest.mark.parametrize(("spacing", "far", "near"), [(6, 17.9953, 18.0047), (3, 19.5758, 18.9367)])
def test_two_rods_both_forms(spacing: float, far: float, near: float) -> None:
    assert dwight.two_rods_far_resistance(100, 3, 0.008, spacing) == pytest.approx(far, abs=6e-5)
    assert dwight.two_rods_near_resistance(100, 3, 0.008, spacing) == pytest.approx(near, abs=6e-5)


@pytest.mark.parametrize(
    ("spacing", "expected", "numerical"),
    [(3, 18.9367, 18.9398), (1.5, 20.2317, 20.2352), (1, 21.1089, 21.1124)],
)
def test_two_rods_near(spacing: float, expected: float, numerical: float) -> None:
    value = dwight.two_rods_near_resistance(100, 3, 0.008, spacing)
    assert value == pytest.approx(expected, abs=6e-5)
    assert value == pytest.approx(numerical, rel=2e-4)


@pytest.mark.parametrize(
    ("s", "horizontal", "vertical", "numerical"),
    [(1, 32.208, 33.692, 31.984), (2, 28.847, 29.056, 28.828), (4, 26.972, 26.999, 26.969)],
)
def test_round_plates(s: float, horizontal: float, vertical: float, numerical: float) -> None:
    value = dwight.horizontal_plate_resistance(100, 0.5, s / 2.0)
    assert value == pytest.approx(horizontal, abs=6e-4)
    assert value == pytest.approx(numerical, rel=7.5e-3)  # the series ends early when the plate is shallow
    assert dwight.vertical_plate_resistance(100, 0.5, s / 2.0) == pytest.approx(vertical, abs=6e-4)


def test_both_plates_meet_at_depth() -> None:
    # At great depth only the monopole image is left: rho/(8a) + rho/(4 pi s).
    values = [
        f(100, 0.5, 50.0) for f in (dwight.horizontal_plate_resistance, dwight.vertical_plate_resistance)
    ]
    assert values[0] == pytest.approx(values[1], rel=1e-5)
