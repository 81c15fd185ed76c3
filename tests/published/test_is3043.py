"""IS 3043 and Indian practice: worked sheets on public pages, named beside each check."""

from __future__ import annotations

import math

import pytest

from evenground.standards import ieee80, is3043
from evenground.standards.materials import MATERIALS


# scribd.com, document 385628180, "Earthing Calculations": l = 3 m, rho = 65 ohm m.
@pytest.mark.parametrize(("diameter_m", "printed"), [(0.04, 19.67), (0.05, 18.90), (0.10, 16.51)])
def test_pipe(diameter_m: float, printed: float) -> None:
    assert is3043.pipe_resistance(65, 3, diameter_m) == pytest.approx(printed, abs=6e-3)  # last digit


# Own evaluation for 100 ohm m, five figures.
def test_other_electrodes() -> None:
    assert is3043.pipe_resistance(100, 3, 0.1) == pytest.approx(25.398, abs=6e-4)
    assert is3043.strip_resistance(100, 50, 0.5, 0.05) == pytest.approx(3.8853, abs=6e-5)
    assert is3043.plate_resistance(100, 0.72) == pytest.approx(52.221, abs=6e-4)
    assert is3043.plate_resistance(100, 2.88) == pytest.approx(26.111, abs=6e-4)
    assert is3043.mat_resistance(400, 4900, 1540) == pytest.approx(2.792, abs=6e-4)


def test_current_density_and_number_of_pipes() -> None:
    # electrialstandards.blogspot.com, Feb 2014: 72.44 ohm m, 1 s: 889.419 A/m2; pipe 100 mm x 3 m: 837.83 A;
    # 59.66 pipes for 50 kA.
    density = is3043.surface_current_density(72.44, 1.0)
    assert density == pytest.approx(889.419, abs=2e-3)
    per_pipe = density * math.pi * 0.1 * 3.0
    # 0.06 %: the sheet takes pi as 3.14.
    assert per_pipe == pytest.approx(837.83, rel=6e-4)
    assert 50e3 / per_pipe == pytest.approx(59.66, rel=6e-4)


def test_galvanised_strip_by_density() -> None:
    # Same site, Jan 2014: 50 kA, 1 s, k = 80: 625 mm2; 20 years at 1 % and a factor of 1.5: 1125 mm2.
    area = is3043.conductor_area_k(50e3, 1.0, is3043.CONDUCTOR_K["steel"])
    assert area == pytest.approx(625.0, rel=1e-12)
    assert area * 1.2 * 1.5 == pytest.approx(1125.0, rel=1e-12)


def test_steel_rule_follows_from_the_thermal_equation() -> None:
    # CBIP 223: 12.15 (welded, 620 degC) and 15.7 (bolted, 310 degC) mm2 per kA and root second, from 50 degC.
    m = MATERIALS["mild_steel"]
    for rule in is3043.STEEL_RULES.values():
        area = ieee80.conductor_area_ieee(
            1000.0,
            1.0,
            m.heat_capacity_j_per_cm3_k,
            m.temperature_coefficient_per_k,
            m.resistivity_uohm_cm,
            m.k0_c,
            rule.max_temperature_c,
            50.0,
        )
        # 0.5 %: the rule has three figures.
        assert is3043.steel_area_rule(rule.factor, 1000.0, 1.0) == pytest.approx(area, rel=5e-3)


# IS 3043 Amendment 2 (2010), class table as printed on a public copy; allowances as strip sizing sheets quote
# them from CBIP publication 302.
@pytest.mark.parametrize(
    ("resistivity", "name", "fraction"),
    [
        (10, "severely corrosive", 0.30),
        (30, "moderately corrosive", 0.15),
        (80, "mildly corrosive", 0.15),
        (150, "very mildly corrosive", 0.10),
    ],
)
def test_corrosion_classes(resistivity: float, name: str, fraction: float) -> None:
    found = is3043.corrosion_class(resistivity)
    assert (found.name, found.area_fraction) == (name, fraction)
