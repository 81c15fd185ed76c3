"""Numbers of standards, handbooks and worked sheets, digit by digit, each against the code that uses it."""

import pytest

from evenground.field import solve
from evenground.model.electrode import Conductor, Electrode
from evenground.soil import LayeredSoil, wenner_resistivity
from evenground.standards import bs7430
from evenground.standards.surface_materials import SURFACE_MATERIALS

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("resistances", "printed"),
    [
        ((20.7, 9.87, 6.9, 4.86, 4.01, 3.08), (65, 62, 65, 61, 63, 58)),
        ((19.43, 9.55, 6.58, 5.1, 3.57, 2.92), (61, 60, 62, 64, 56, 55)),
    ],
)
def test_wenner_readings_of_an_indian_sheet(resistances, printed):
    """it.scribd.com, document 385628180, "Earthing Calculations": spacings 0.5 to 3 m, whole ohm metres."""
    for step, (resistance, rho) in enumerate(zip(resistances, printed, strict=True), start=1):
        assert round(wenner_resistivity(resistance, 0.5 * step)) == rho


def test_group_factors_of_bs_7430_as_printed():
    """BS 7430, Tables 2 and 3, as reprinted at ja.scribd.com, document 363583840."""
    line = (1.00, 1.66, 2.15, 2.54, 2.87, 3.15, 3.39, 3.61, 3.81)
    assert tuple(bs7430.LAMBDA_LINE[n] for n in range(2, 11)) == line
    square = (2.71, 4.51, 5.48, 6.14, 6.63, 7.03, 7.36, 7.65, 7.90, 8.32, 8.67, 8.96, 9.22, 9.40)
    sides = (*range(2, 11), 12, 14, 16, 18, 20)
    assert tuple(bs7430.LAMBDA_HOLLOW_SQUARE[n] for n in sides) == square


def test_surface_materials_of_ieee_80_as_printed():
    """IEEE Std 80-2000, Table 7 (from memory): dry and wet, in ohm m."""
    printed = {
        "crusher run granite with fines": ((140e6, 140e6), (1300, 1300)),
        "crusher run granite with fines, 38 mm": ((4000, 4000), (1200, 1200)),
        "granite with fines, 19 to 25 mm": (None, (6513, 6513)),
        "washed granite, 25 to 50 mm": ((1.5e6, 4.5e6), (5000, 5000)),
        "washed granite, 50 to 100 mm": ((2.6e6, 3e6), (10_000, 10_000)),
        "washed limestone": ((7e6, 7e6), (2000, 3000)),
        "washed granite, about 19 mm": ((2e6, 2e6), (10_000, 10_000)),
        "washed granite, 19 mm": ((40e6, 40e6), (5000, 5000)),
        "washed granite, pea gravel": ((7e6, 7e6), (5000, 5000)),
        "washed granite no. 57, 19 mm": ((190e6, 190e6), (8000, 8000)),
        "asphalt": ((2e6, 30e6), (10e3, 6e6)),
        "concrete": ((1e6, 1e9), (21, 100)),
    }
    ours = {
        m.name: tuple(None if r is None else (r.low_ohm_m, r.high_ohm_m) for r in (m.dry, m.wet))
        for m in SURFACE_MATERIALS
        if m.source == "IEEE Std 80-2000, Table 7"
    }
    assert ours == printed
    assert {m.evidence for m in SURFACE_MATERIALS if m.source.startswith("IEEE")} == {"from memory"}


def rods(places):
    return Electrode(
        Conductor((x * FOOT_M, y * FOOT_M, 1e-6), (x * FOOT_M, y * FOOT_M, 10 * FOOT_M), 0.0254 * 0.375)
        for x, y in places
    )


def test_the_rods_of_a_military_handbook():
    """MIL-HDBK-419A, volume 2, 1.2.2.2: one rod of 10 ft by 3/4 in in 100 ohm m, printed 32 ohm; 26 of them
    20 ft apart on a rectangle of 100 by 160 ft, 5.5 % of one rod from a chart, 1.76 ohm. The chart can be
    read to some 10 %."""
    soil = LayeredSoil((100.0,))
    one = solve(rods([(0, 0)]), soil).resistance_ohm
    assert one == pytest.approx(32.0, rel=0.015)
    edge = [(x, y) for x in range(0, 161, 20) for y in (0, 100)]
    edge += [(x, y) for x in (0, 160) for y in range(20, 100, 20)]
    assert len(edge) == 26
    together = solve(rods(edge), soil).resistance_ohm
    assert together == pytest.approx(1.76, rel=0.12)
