"""Tables of IEEE Std 80-2000 (and 2013 where said), all from memory and cross-checked with one another."""

from __future__ import annotations

import pytest

from evenground.standards import ieee80
from evenground.standards.materials import MATERIALS, Material


def kf(material: Material, max_temperature_c: float | None = None) -> float:
    return ieee80.conductor_kf(
        material.heat_capacity_j_per_cm3_k,
        material.temperature_coefficient_per_k,
        material.resistivity_uohm_cm,
        material.k0_c,
        material.fusing_temperature_c if max_temperature_c is None else max_temperature_c,
        40.0,
    )


# Table 2 of the 2000 edition; the two rows "_2013" from Table 2 of the 2013 edition. From memory.
TABLE_2 = {
    "copper_annealed": 7.00,
    "copper_hard_drawn": 7.06,
    "copper_clad_steel_wire_40": 10.45,
    "copper_clad_steel_wire_30": 12.06,
    "copper_clad_steel_rod_20": 14.64,
    "aluminium_ec": 12.12,
    "aluminium_5005": 12.41,
    "aluminium_6201": 12.47,
    "aluminium_clad_steel_wire": 17.20,
    "steel_1020": 15.95,
    "stainless_clad_steel_rod": 14.72,
    "zinc_coated_steel_rod": 28.96,
    "stainless_steel_304": 30.05,
    "steel_1020_2013": 18.39,
    "aluminium_clad_steel_wire_2013": 17.26,
}


@pytest.mark.parametrize(("key", "printed"), list(TABLE_2.items()))
def test_table_1_constants_give_the_kf_of_table_2(key: str, printed: float) -> None:
    # 0.1 %: Kf is printed with four figures, the constants with three.
    assert kf(MATERIALS[key]) == pytest.approx(printed, rel=1e-3)
    assert MATERIALS[key].kf == printed


def test_hard_drawn_copper_limited_to_250_degrees() -> None:
    assert kf(MATERIALS["copper_hard_drawn"], 250.0) == pytest.approx(11.78, rel=1e-3)


@pytest.mark.parametrize("material", MATERIALS.values(), ids=MATERIALS)
def test_k0_is_the_reciprocal_of_the_coefficient_less_twenty(material: Material) -> None:
    # 0.6 degC: K0 is printed without decimals, the coefficient with three figures.
    assert 1.0 / material.temperature_coefficient_per_k - 20.0 == pytest.approx(material.k0_c, abs=0.6)


# Resistivity from conductivity: 1.7241 microohm cm for 100 % IACS (IEC 60028).
@pytest.mark.parametrize("material", MATERIALS.values(), ids=MATERIALS)
def test_conductivity_and_resistivity_belong_together(material: Material) -> None:
    # 2.5 %: conductivities are nominal, those of clad metals most of all.
    expected = 172.41 / material.conductivity_percent
    assert material.resistivity_uohm_cm == pytest.approx(expected, rel=2.5e-2)


# Sizes per kA for one second, 40 degC to fusing; own evaluation of Eq. (37), to four figures.
@pytest.mark.parametrize(
    ("key", "limit_c", "area_mm2"),
    [
        ("copper_annealed", 1083, 3.548),
        ("copper_hard_drawn", 1084, 3.579),
        ("copper_hard_drawn", 250, 5.969),
        ("copper_clad_steel_wire_40", 1084, 5.297),
        ("copper_clad_steel_wire_30", 1084, 6.113),
        ("aluminium_ec", 657, 6.139),
        ("steel_1020", 1510, 8.082),
        ("zinc_coated_steel_rod", 419, 14.675),
        ("stainless_steel_304", 1400, 15.225),
    ],
)
def test_section_per_kiloampere(key: str, limit_c: float, area_mm2: float) -> None:
    m = MATERIALS[key]
    constants = (
        m.heat_capacity_j_per_cm3_k,
        m.temperature_coefficient_per_k,
        m.resistivity_uohm_cm,
        m.k0_c,
        limit_c,
        40.0,
    )
    value = ieee80.conductor_area_ieee(1000.0, 1.0, *constants)
    assert value == pytest.approx(area_mm2, abs=6e-4)  # half of the last digit
    # The simplified form is the same equation in other units.
    kcmil = ieee80.conductor_area_kf(1000.0, ieee80.conductor_kf(*constants), 1.0)
    assert kcmil / ieee80.KCMIL_PER_MM2 == pytest.approx(value, rel=1e-12)
    assert ieee80.conductor_time_ieee(1000.0, value, *constants) == pytest.approx(1.0, rel=1e-12)


# Table 10, 60 Hz: columns X/R 10, 20, 30, 40.
TABLE_10 = {
    0.00833: (1.576, 1.648, 1.675, 1.688),
    0.05: (1.232, 1.378, 1.462, 1.515),
    0.10: (1.125, 1.232, 1.316, 1.378),
    0.20: (1.064, 1.125, 1.181, 1.232),
    0.30: (1.043, 1.085, 1.125, 1.163),
    0.40: (1.033, 1.064, 1.095, 1.125),
    0.50: (1.026, 1.052, 1.077, 1.101),
    0.75: (1.018, 1.035, 1.052, 1.068),
    1.00: (1.013, 1.026, 1.039, 1.052),
}


@pytest.mark.parametrize("time_s", TABLE_10)
@pytest.mark.parametrize(("column", "x_over_r"), list(enumerate((10.0, 20.0, 30.0, 40.0))))
def test_table_10_decrement_factor(time_s: float, column: int, x_over_r: float) -> None:
    value = ieee80.decrement_factor(ieee80.dc_time_constant(x_over_r, 60.0), time_s)
    # 0.05 %: half of the last printed digit; half a cycle is printed as 0.00833 s.
    assert value == pytest.approx(TABLE_10[time_s][column], rel=5e-4)


# The same at 50 Hz, own evaluation to four decimals.
@pytest.mark.parametrize(
    ("time_s", "expected"),
    [
        (0.1, (1.1479, 1.2685, 1.3555, 1.4172)),
        (0.5, (1.0313, 1.0618, 1.0913, 1.1201)),
        (1.0, (1.0158, 1.0313, 1.0467, 1.0618)),
    ],
)
def test_decrement_factor_at_50_hz(time_s: float, expected: tuple[float, ...]) -> None:
    values = [ieee80.decrement_factor(ieee80.dc_time_constant(x, 50.0), time_s) for x in (10, 20, 30, 40)]
    assert values == pytest.approx(expected, abs=6e-5)  # half of the last digit


def test_x_over_r_of_a_line_to_earth_fault() -> None:
    # Worked numbers on industrialmonitordirect.com, article on X/R in fault calculations: printed 5.66.
    value = ieee80.single_line_x_over_r(0.016 + 0.077j, 0.016 + 0.077j, 0.0007 + 0.031j)
    assert value == pytest.approx(5.66, abs=5e-3)
    assert value == pytest.approx(0.185 / 0.0327, rel=1e-12)


# rho, rho_s, h_s: empirical, image series, series of 1986. Own evaluation, four decimals.
CS_ROWS = [
    (400, 2500, 0.102, 0.7429, 0.7555, 0.6341),
    (100, 3000, 0.10, 0.7000, 0.7003, 0.5415),
    (100, 3000, 0.15, 0.7769, 0.7880, 0.6907),
    (1000, 3000, 0.10, 0.7931, 0.8140, 0.7318),
    (100, 3000, 0.05, 0.5421, 0.5174, 0.2417),
    (10, 10000, 0.05, 0.5268, 0.4961, 0.2065),
]


@pytest.mark.parametrize(("rho", "rho_s", "h_s", "empirical", "exact", "old"), CS_ROWS)
def test_surface_factors(
    rho: float, rho_s: float, h_s: float, empirical: float, exact: float, old: float
) -> None:
    from evenground.standards.handbook_1986 import surface_factor_1986

    # Half of the last digit.
    assert ieee80.surface_factor(rho, rho_s, h_s) == pytest.approx(empirical, abs=6e-5)
    assert ieee80.surface_factor_exact(rho, rho_s, h_s) == pytest.approx(exact, abs=6e-5)
    assert surface_factor_1986(rho, rho_s, h_s) == pytest.approx(old, abs=6e-5)


def test_the_empirical_factor_leaves_its_five_percent_for_a_thin_layer() -> None:
    # The guide calls the empirical form good to 5 %; own evaluation finds 6.2 % here.
    error = ieee80.surface_factor(10, 10000, 0.05) / ieee80.surface_factor_exact(10, 10000, 0.05) - 1.0
    assert 0.06 < error < 0.065


# rho, rho_s, h_s or a rounded factor, t_s: touch 50, touch 70, step 50, step 70. Own evaluation of
# Eq. (27) to (33); the values for the rounded factor 0.74 and 70 kg (838.2, 2686.6) are printed in Annex B.
LIMITS = [
    (400, 2500, 0.102, None, 0.5, 621.04, 840.55, 1992.02, 2696.10),
    (400, 2500, 0.102, 0.74, 0.5, 619.28, 838.2, 1984.99, 2686.6),
    (100, 3000, 0.10, None, 0.5, 680.80, 921.43, 2231.06, 3019.63),
    (100, 3000, 0.15, None, 1.0, 521.55, 705.90, 1738.22, 2352.58),
    (50, 3000, 0.10, None, 0.2, 1070.41, 1448.74, 3503.47, 4741.77),
    (300, 3000, 0.10, None, 0.5, 696.08, 942.10, 2292.16, 3102.32),
    (100, 100, 0.10, 1.0, 0.5, 188.66, 255.34, 262.48, 355.25),
]


@pytest.mark.parametrize(("rho", "rho_s", "h_s", "factor", "time_s", "t50", "t70", "s50", "s70"), LIMITS)
def test_tolerable_voltages(
    rho: float,
    rho_s: float,
    h_s: float,
    factor: float | None,
    time_s: float,
    t50: float,
    t70: float,
    s50: float,
    s70: float,
) -> None:
    cs = ieee80.surface_factor(rho, rho_s, h_s) if factor is None else factor
    light, heavy = ieee80.body_constant(50), ieee80.body_constant(70)
    values = [ieee80.tolerable_touch_voltage(cs, rho_s, k, time_s) for k in (light, heavy)]
    values += [ieee80.tolerable_step_voltage(cs, rho_s, k, time_s) for k in (light, heavy)]
    # 6e-5: half a unit of the last digit of 838.2.
    assert values == pytest.approx([t50, t70, s50, s70], rel=6e-5)


def test_metal_to_metal() -> None:
    # Eq. (34) at 0.5 s: 164.0 and 222.0 V (own evaluation, one decimal).
    assert ieee80.metal_to_metal_touch_voltage(0.116, 0.5) == pytest.approx(164.0, abs=0.06)
    assert ieee80.metal_to_metal_touch_voltage(0.157, 0.5) == pytest.approx(222.0, abs=0.06)


def test_body_current_of_dalziel() -> None:
    # Dalziel and Lee, "Reevaluation of lethal electric currents", abstract: 116/sqrt(T) mA for 50 kg.
    assert ieee80.tolerable_body_current(ieee80.body_constant(50), 0.25) == pytest.approx(0.232, rel=1e-12)
