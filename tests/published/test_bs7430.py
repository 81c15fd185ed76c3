"""BS 7430, IEEE Std 142 and MIL-HDBK-419A: rods and groups of rods."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenground.standards import bs7430, dwight, ieee142


def test_rod_of_the_kenton_sheet() -> None:
    # scribd.com, document 363583840, "Earthing Resistance BS": L 2.4, d 0.016, rho 100:
    # 40.4066 with pi = 3.14.
    value = bs7430.rod_resistance(100, 2.4, 0.016)
    assert value * math.pi / 3.14 == pytest.approx(40.4066, abs=5e-5)
    assert value == pytest.approx(40.3861, abs=5e-5)
    assert bs7430.rod_spacing_ratio(100, value, 5.0) == pytest.approx(0.0788, abs=5e-5)


def test_a_blog_leaves_the_one_out() -> None:
    # electrialstandards.blogspot.com prints 156.19 ohm for L 4, d 12.5 mm, rho 500: ln(8L/d) without the -1.
    value = bs7430.rod_resistance(500, 4, 0.0125)
    assert value == pytest.approx(136.23, abs=0.01)
    assert value + 500 / (2 * math.pi * 4) == pytest.approx(156.19, abs=0.1)  # the blog rounds in between


def test_line_table_is_near_the_mean_of_reciprocal_distances() -> None:
    for n, printed in bs7430.LAMBDA_LINE.items():
        computed = 2.0 * sum(1.0 / i for i in range(2, n + 1))
        # 1.4 %: the table rounds and weighs the inner rods otherwise.
        assert printed == pytest.approx(computed, rel=1.4e-2), n


def hollow_square(n: int) -> list[tuple[float, float]]:
    last = n - 1
    return [(i, j) for i in range(n) for j in range(n) if i in (0, last) or j in (0, last)]


@pytest.mark.parametrize("n", list(bs7430.LAMBDA_HOLLOW_SQUARE))
def test_hollow_square_table_from_point_rods_at_one_potential(n: int) -> None:
    ratio = 0.2
    points = np.array(hollow_square(n), dtype=float)
    assert len(points) == 4 * (n - 1)
    distance = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1))
    with np.errstate(divide="ignore"):
        matrix = np.where(distance > 0.0, ratio / distance, 1.0)
    relative = 1.0 / np.linalg.solve(matrix, np.ones(len(points))).sum()
    factor = (relative * len(points) - 1.0) / ratio
    # 0.55 %: two decimals printed, and the last entry (n = 20) 0.5 % low.
    assert bs7430.LAMBDA_HOLLOW_SQUARE[n] == pytest.approx(factor, rel=5.5e-3)


@pytest.mark.parametrize(
    ("count", "factor", "expected"),
    [
        (2, bs7430.LAMBDA_LINE[2], 21.785),
        (3, bs7430.LAMBDA_LINE[3], 15.223),
        (4, bs7430.LAMBDA_LINE[4], 11.807),
        (10, bs7430.LAMBDA_LINE[10], 5.2514),
        (12, bs7430.LAMBDA_HOLLOW_SQUARE[4], 4.8191),
    ],
)
def test_parallel_rods(count: int, factor: float, expected: float) -> None:
    # Own evaluation for the rod of the sheet at 5 m, five figures.
    single = bs7430.rod_resistance(100, 2.4, 0.016)
    ratio = bs7430.rod_spacing_ratio(100, single, 5.0)
    assert bs7430.parallel_rods_resistance(single, count, factor, ratio) == pytest.approx(expected, rel=5e-5)


def test_strips_of_three_sources() -> None:
    # 50 m, depth 0.5, width 0.025, rho 100; own evaluation, four figures.
    p, q = bs7430.STRIP_1998_CONSTANTS["single"]
    assert bs7430.strip_resistance_1998(100, 50, 0.025, 0.5, p, q) == pytest.approx(3.788, abs=6e-4)
    shape = bs7430.STRIP_2011_SHAPE["strip"]
    assert bs7430.strip_resistance_2011(100, 50, 0.5, 0.025, shape) == pytest.approx(3.469, abs=6e-4)
    assert dwight.horizontal_strip_resistance(100, 25, 0.025, 0.003, 0.5) == pytest.approx(3.873, abs=6e-4)
    # The sheet's 3.348 ohm has a quarter of the argument, ln(L^2/(2 w h)) - 1, and pi = 3.14.
    less = bs7430.strip_resistance_1998(100, 50, 0.025, 0.5, p, q - math.log(4.0))
    assert less * math.pi / 3.14 == pytest.approx(3.348, abs=5e-4)


def test_military_handbook_rod() -> None:
    # MIL-HDBK-419A vol. 2, 1.2.2.2: rod 10 ft x 3/4 in in 100 ohm m: 32 ohm.
    value = dwight.rod_resistance(100, 3.048, 0.0254 * 0.375)
    assert value == pytest.approx(32.14, abs=6e-3)
    assert round(value) == 32


def test_plate() -> None:
    assert bs7430.plate_resistance(100, 0.72) == pytest.approx(52.221, abs=6e-4)  # own evaluation


def test_group_factors_of_ieee_142() -> None:
    # From memory: 24 rods 2.16. Two rods one length apart, by Dwight's pair formula, give 1.13 to 1.16.
    assert ieee142.rod_group_resistance(24.0, 24, ieee142.ROD_GROUP_FACTORS[24]) == pytest.approx(
        2.16, rel=1e-12
    )
    factors = list(ieee142.ROD_GROUP_FACTORS.values())
    assert factors == sorted(factors)
    single = dwight.rod_resistance(100, 3, 0.008)
    pair = dwight.two_rods_near_resistance(100, 3, 0.008, 3)
    # 3 %: the factor holds for rods of any thickness.
    assert 2.0 * pair / single == pytest.approx(ieee142.ROD_GROUP_FACTORS[2], rel=3e-2)
