"""IEEE Std 80-2000, Annex C: earth-return terms (equations found), Table C.1 (from memory, cross-checked)."""

from __future__ import annotations

import math

import pytest

from evenground.standards.ieee80_split import (
    EQUIVALENT_IMPEDANCE_LOW,
    EQUIVALENT_IMPEDANCE_TOWERS_100,
    MILE_KM,
    earth_return_depth,
    earth_return_reactance,
    earth_return_resistance,
    endless_ladder_approximate,
    endless_ladder_impedance,
    split_factor_from_impedance,
)


def test_earth_return_resistance_is_carsons() -> None:
    # Carson: pi^2 f 1e-4 ohm/km for one wire, three times that in the zero sequence.
    per_km = earth_return_resistance(60.0) / MILE_KM
    assert earth_return_resistance(60.0) == pytest.approx(0.2862, abs=5e-5)
    assert per_km == pytest.approx(0.1778, abs=1e-4)
    assert per_km == pytest.approx(3.0 * math.pi**2 * 60.0 * 1e-4, rel=2e-3)  # 0.00477 has three figures


def test_earth_return_reactance_agrees_with_the_equivalent_depth() -> None:
    # x_e is 3 omega mu0/(2 pi) ln(D_e / 1 ft) per mile; D_e from the other formula.
    f, rho = 60.0, 100.0
    per_metre = 3.0 * 2.0 * math.pi * f * 2e-7 * math.log(earth_return_depth(rho, f) / 0.3048)
    # 0.3 %: the printed constants are rounded to four figures.
    assert earth_return_reactance(f, rho) == pytest.approx(per_metre * 1000.0 * MILE_KM, rel=3e-3)


def test_equivalent_depth() -> None:
    # Common practice: 931 m for 100 ohm m and 50 Hz.
    assert earth_return_depth(100.0, 50.0) == pytest.approx(931.3, abs=0.1)


def _parallel(*impedances: complex) -> complex:
    return 1.0 / sum(1.0 / z for z in impedances)


def test_table_c1_rows_are_parallel_combinations() -> None:
    low = EQUIVALENT_IMPEDANCE_LOW
    feeder = 1.0 / (1.0 / low[1, 2] - 1.0 / low[1, 1])
    # 1 % and 2 %: differences of rounded entries.
    assert abs(feeder - low[0, 1]) < 0.015 * abs(feeder)
    assert abs(_parallel(low[1, 2], feeder / 2.0) - low[1, 4]) < 0.01 * abs(low[1, 4])
    for table in (low, EQUIVALENT_IMPEDANCE_TOWERS_100):
        assert abs(table[1, 1] / 2.0 - table[2, 2]) < 0.015 * abs(table[2, 2])
        assert abs(table[1, 1] / 4.0 - table[4, 4]) < 0.02 * abs(table[4, 4])


def test_table_c1_second_column() -> None:
    high = EQUIVALENT_IMPEDANCE_TOWERS_100
    feeder = 1.0 / (1.0 / high[1, 2] - 1.0 / high[1, 1])
    # 3 %: differences of entries with three figures.
    assert abs(_parallel(high[1, 2], feeder / 2.0) - high[1, 4]) < 0.03 * abs(high[1, 4])


@pytest.mark.parametrize(("mat_ohm", "share"), [(0.5, 0.692), (1.0, 0.523), (2.5, 0.299), (10.0, 0.094)])
def test_split_factor(mat_ohm: float, share: float) -> None:
    # Own evaluation for one line and one feeder, three decimals.
    value = split_factor_from_impedance(EQUIVALENT_IMPEDANCE_LOW[1, 1], mat_ohm)
    assert value == pytest.approx(share, abs=6e-4)


def test_endless_ladder() -> None:
    # Own evaluation, four decimals; span 0.3 + j0.7 ohm, towers 10 ohm.
    span, tower = 0.3 + 0.7j, 10.0
    assert endless_ladder_impedance(span, tower) == pytest.approx(2.4494 + 1.8950j, abs=8e-5)
    assert endless_ladder_approximate(span, tower) == pytest.approx(2.4539 + 1.8692j, abs=8e-5)
    # A ladder built from 400 pieces must come to the same.
    z = span + tower
    for _ in range(400):
        z = span + _parallel(tower, z)
    assert endless_ladder_impedance(span, tower) == pytest.approx(z, rel=1e-12)
