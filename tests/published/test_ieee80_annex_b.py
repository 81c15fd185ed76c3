"""IEEE Std 80-2000, Annex B, cases B.1 to B.4 (from memory, cross-checked).

The guide rounds at every step; unrounded results differ by the tolerances given with each check.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from evenground.standards import ieee80
from evenground.standards.ieee80_mat import MatGeometry, mat_resistances, mesh_and_step_voltage
from evenground.standards.materials import MATERIALS

RHO = 400.0
GRID_CURRENT_A = 1908.0


@dataclass(frozen=True)
class Case:
    geometry: MatGeometry
    resistance: float
    gpr: float
    n: float
    kii: float
    km: float
    ki: float
    lm: float
    mesh: float
    step: float | None


def mat(
    area: float, perimeter: float, x: float, y: float, length: float, rods: int, rod_length: float
) -> MatGeometry:
    return MatGeometry(
        area_m2=area,
        perimeter_m=perimeter,
        max_x_m=x,
        max_y_m=y,
        max_distance_m=math.hypot(x, y),
        conductor_length_m=length,
        spacing_m=7.0,
        depth_m=0.5,
        diameter_m=0.01,
        rod_count=rods,
        rod_length_m=rod_length,
        total_rod_length_m=rods * rod_length,
        rod_diameter_m=0.0142,
        rods_on_perimeter=rods > 0,
    )


# Printed values; the effective length (own evaluation) is not printed.
CASES = {
    "B.1": Case(
        mat(4900, 280, 70, 70, 1540, 0, 0.0), 2.78, 5304, 11, 0.57, 0.89, 2.272, 1540.0, 1002.1, None
    ),
    "B.2": Case(mat(4900, 280, 70, 70, 1540, 20, 7.5), 2.75, 5247, 11, 1, 0.77, 2.272, 1786.36, 747.4, 548.9),
    "B.3": Case(
        mat(5292, 294, 63, 84, 1659, 38, 10.0), 2.62, 4998.96, 11.35, 1, 0.77, 2.324, 2292.15, 595.8, None
    ),
    "B.4": Case(
        mat(4900, 350, 70, 105, 1575, 24, 7.5), 2.74, 5228, 12.18, 1, 0.76, 2.447, 1867.05, 761.1, 574.6
    ),
}


@pytest.fixture(params=CASES, ids=CASES)
def case(request: pytest.FixtureRequest) -> Case:
    return CASES[request.param]


def test_resistance(case: Case) -> None:
    value = mat_resistances(case.geometry, RHO).values_ohm["Sverak"]
    # 0.2 %: printed with two decimals.
    assert value == pytest.approx(case.resistance, rel=2e-3)
    assert value is not None
    assert value * GRID_CURRENT_A == pytest.approx(case.gpr, rel=2e-3)


def test_factors(case: Case) -> None:
    factors = mesh_and_step_voltage(case.geometry, RHO, GRID_CURRENT_A).factors
    assert factors["n"] == pytest.approx(case.n, rel=2e-3)  # the guide rounds n_a to n_d to two decimals
    assert factors["K_ii"] == pytest.approx(case.kii, abs=5e-3)
    assert factors["K_h"] == pytest.approx(1.225, abs=5e-4)
    assert factors["K_m"] == pytest.approx(case.km, abs=5e-3)
    assert factors["K_i"] == pytest.approx(case.ki, rel=2e-3)
    assert factors["L_M"] == pytest.approx(case.lm, abs=0.01)


def test_mesh_voltage(case: Case) -> None:
    voltages = mesh_and_step_voltage(case.geometry, RHO, GRID_CURRENT_A)
    assert not voltages.reasons
    # 0.6 %: the guide's factors are rounded to two decimals.
    assert voltages.mesh_v == pytest.approx(case.mesh, rel=6e-3)


@pytest.mark.parametrize("name", ["B.2", "B.4"])
def test_step_voltage(name: str) -> None:
    case = CASES[name]
    # 1.3 %: B.4 rounds K_s from 0.4062 to 0.41.
    assert mesh_and_step_voltage(case.geometry, RHO, GRID_CURRENT_A).step_v == pytest.approx(
        case.step, rel=1.3e-2
    )


# Unrounded evaluation made independently of this code: R, E_m, E_s.
@pytest.mark.parametrize(
    ("name", "resistance", "mesh", "step"),
    [
        ("B.1", 2.7757, 1001.61, 609.73),
        ("B.2", 2.7526, 749.06, 549.11),
        ("B.3", 2.6185, 593.61, 459.44),
        ("B.4", 2.7439, 757.18, 567.71),
    ],
)
def test_unrounded(name: str, resistance: float, mesh: float, step: float) -> None:
    geometry = CASES[name].geometry
    voltages = mesh_and_step_voltage(geometry, RHO, GRID_CURRENT_A)
    # Half of the last digit.
    assert mat_resistances(geometry, RHO).values_ohm["Sverak"] == pytest.approx(resistance, abs=6e-5)
    assert voltages.mesh_v == pytest.approx(mesh, abs=6e-3)
    assert voltages.step_v == pytest.approx(step, abs=6e-3)


@pytest.mark.parametrize(
    ("name", "km", "ki"), [("B.1", 0.89, 2.272), ("B.2", 0.77, 2.272), ("B.3", 0.77, 2.324)]
)
def test_mesh_voltage_with_the_guides_rounded_factors(name: str, km: float, ki: float) -> None:
    case = CASES[name]
    value = ieee80.mesh_voltage(RHO, GRID_CURRENT_A, km, ki, case.lm)
    assert value == pytest.approx(case.mesh, rel=5e-4)  # half of the last digit


def test_other_resistance_formulas() -> None:
    # Own evaluation to four figures: Laurent-Niemann and disc for B.1, Schwarz for B.2 and B.3.
    b1 = mat_resistances(CASES["B.1"].geometry, RHO).values_ohm
    assert b1["Laurent-Niemann"] == pytest.approx(2.792, abs=6e-4)
    assert b1["disc, lower bound"] == pytest.approx(2.532, abs=6e-4)
    assert mat_resistances(CASES["B.2"].geometry, RHO).values_ohm["Schwarz"] == pytest.approx(2.845, abs=6e-4)
    assert mat_resistances(CASES["B.3"].geometry, RHO).values_ohm["Schwarz"] == pytest.approx(2.624, abs=6e-4)


@pytest.mark.parametrize(
    ("voltage_v", "z1", "z0", "current_a", "x_over_r"),
    [
        (115e3, 4.0 + 10.0j, 10.0 + 40.0j, 3180.0, 3.33),
        (13e3, 0.085 + 1.142j, 0.034 + 1.014j, 6814.0, 16.2),
    ],
)
def test_fault_currents(
    voltage_v: float, z1: complex, z0: complex, current_a: float, x_over_r: float
) -> None:
    # Printed without decimals; X/R with three figures.
    assert ieee80.single_line_current(voltage_v, 1.0, z1, z1, z0) == pytest.approx(current_a, abs=0.5)
    assert ieee80.single_line_x_over_r(z1, z1, z0) == pytest.approx(x_over_r, rel=3e-3)


def test_source_impedance_seen_from_13_kv() -> None:
    # The printed impedance follows from the 115 kV one and the transformer (0.034 + j1.014 ohm).
    seen = (4.0 + 10.0j) * (13.0 / 115.0) ** 2 + (0.034 + 1.014j)
    assert seen == pytest.approx(0.085 + 1.142j, abs=6e-4)


def test_grid_current() -> None:
    assert ieee80.maximum_grid_current(1.0, 0.6, 1.0, 3180.0) == pytest.approx(1908.0, rel=1e-12)


def test_reflection_and_surface_factor() -> None:
    # Printed: K = -0.72, C_s = 0.74.
    assert pytest.approx(-0.72, abs=5e-3) == (RHO - 2500) / (RHO + 2500)
    assert ieee80.surface_factor(RHO, 2500.0, 0.102) == pytest.approx(0.74, abs=5e-3)


@pytest.mark.parametrize(
    ("key", "limit_c", "kcmil", "mm2", "diameter_mm"),
    [("copper_hard_drawn", 1084.0, 34.02, 17.2, 4.7), ("copper_clad_steel_wire_30", 700.0, 65.9, 33.4, 6.5)],
)
def test_conductor_sizes(key: str, limit_c: float, kcmil: float, mm2: float, diameter_mm: float) -> None:
    m = MATERIALS[key]
    area = ieee80.conductor_area_ieee(
        6814.0,
        0.5,
        m.heat_capacity_j_per_cm3_k,
        m.temperature_coefficient_per_k,
        m.resistivity_uohm_cm,
        m.k0_c,
        limit_c,
        40.0,
    )
    # 0.4 %: printed with three figures, computed from a rounded Kf.
    assert area * ieee80.KCMIL_PER_MM2 == pytest.approx(kcmil, rel=4e-3)
    assert area == pytest.approx(mm2, rel=4e-3)
    assert math.sqrt(4.0 * area / math.pi) == pytest.approx(diameter_mm, rel=5e-3)


def test_simplified_size_of_copper() -> None:
    # 6.814 x 7.06 x sqrt(0.5); printed 34.02 with a rounded root.
    assert ieee80.conductor_area_kf(6814.0, 7.06, 0.5) == pytest.approx(34.02, abs=0.01)
