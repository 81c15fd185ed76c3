"""The bundle of hand formulas: ranges, reasons, limits and scaling."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenground.errors import OutOfRangeError
from evenground.provenance import recording
from evenground.standards import ieee80
from evenground.standards.ieee80_mat import MatGeometry, mat_resistances, mesh_and_step_voltage

SQUARE = MatGeometry(4900, 280, 70, 70, 70 * math.sqrt(2), 1540, 7, 0.5, 0.01)


def test_everything_applies_to_an_ordinary_mat() -> None:
    assert not mat_resistances(SQUARE, 400.0).reasons
    assert not mesh_and_step_voltage(SQUARE, 400.0, 1908.0).reasons


@pytest.mark.parametrize(
    ("change", "mesh_reason", "step_reason"),
    [
        ({"depth_m": 0.1}, "0.25 <= h", "0.25 < h"),
        ({"depth_m": 3.0}, "h <= 2.5", "h < 2.5"),
        ({"spacing_m": 2.0}, "D > 2.5", "D > 2.5"),
        ({"diameter_m": 0.2}, r"d < 0.25\*h", None),
        ({"conductor_length_m": 4000.0}, "n <= 25", "n <= 25"),
    ],
)
def test_reasons_outside_the_range(
    change: dict[str, float], mesh_reason: str | None, step_reason: str | None
) -> None:
    result = mesh_and_step_voltage(dataclasses.replace(SQUARE, **change), 400.0, 1908.0)
    for value, name, reason in (
        (result.mesh_v, "mesh", mesh_reason),
        (result.step_v, "step", step_reason),
    ):
        if reason is None:
            assert value is not None
        else:
            assert value is None
            assert reason.replace("\\", "") in result.reasons[name]


def test_a_shallow_mat_has_no_sverak_but_the_other_formulas() -> None:
    result = mat_resistances(dataclasses.replace(SQUARE, depth_m=0.1), 400.0)
    assert result.values_ohm["Sverak"] is None
    assert "0.25 <= h" in result.reasons["Sverak"]
    assert result.values_ohm["Laurent-Niemann"] == pytest.approx(2.792, abs=6e-4)
    assert result.values_ohm["Schwarz"] is not None


def test_schwarz_needs_the_diameter_of_the_rods() -> None:
    rods = dataclasses.replace(SQUARE, rod_count=4, rod_length_m=3.0, total_rod_length_m=12.0)
    result = mat_resistances(rods, 400.0)
    assert result.values_ohm["Schwarz"] is None
    assert "diameter of the rods" in result.reasons["Schwarz"]


def test_schwarz_beyond_the_curves() -> None:
    long = dataclasses.replace(SQUARE, max_x_m=700.0, max_y_m=7.0)
    assert "x <= 8" in mat_resistances(long, 400.0).reasons["Schwarz"]
    small = MatGeometry(4, 8, 2, 2, 2.83, 12, 1, 1.0, 0.01)
    assert "sqrt(A)/6" in mat_resistances(small, 400.0).reasons["Schwarz"]


def test_curves_of_schwarz_at_their_depths() -> None:
    # IEEE Std 80-2000, Figure 25 (from memory): curves A, B, C at x = 3; halfway between A and B the mean.
    area = 900.0
    depths = (0.0, 3.0, 5.0)
    assert [ieee80.schwarz_k1(3.0, h, area) for h in depths] == pytest.approx([1.29, 1.05, 0.98], rel=1e-12)
    assert [ieee80.schwarz_k2(3.0, h, area) for h in depths] == pytest.approx([5.95, 4.98, 4.25], rel=1e-12)
    assert ieee80.schwarz_k1(3.0, 1.5, area) == pytest.approx(1.17, rel=1e-12)
    # The handbook of Sheldrake gives 1.15 and 4.75 for a square; curve B.
    assert ieee80.schwarz_k1(1.0, 3.0, area) == pytest.approx(1.15, rel=1e-12)
    assert ieee80.schwarz_k2(1.0, 3.0, area) == pytest.approx(4.75, rel=7e-3)


@pytest.mark.parametrize("resistivity", [0.0, -5.0, math.nan, math.inf])
def test_impossible_soil(resistivity: float) -> None:
    with pytest.raises(OutOfRangeError, match="resistivity_ohm_m"):
        mat_resistances(SQUARE, resistivity)


@given(scale=st.floats(0.1, 10.0), rho=st.floats(1.0, 1e4))
def test_linear_in_resistivity_and_current(scale: float, rho: float) -> None:
    one = mat_resistances(SQUARE, rho).values_ohm
    more = mat_resistances(SQUARE, rho * scale).values_ohm
    for name, value in one.items():
        assert value is not None
        assert more[name] == pytest.approx(value * scale, rel=1e-9)
    single = mesh_and_step_voltage(SQUARE, rho, 1000.0)
    double = mesh_and_step_voltage(SQUARE, rho, 1000.0 * scale)
    assert single.mesh_v is not None
    assert double.mesh_v == pytest.approx(single.mesh_v * scale, rel=1e-9)


@given(scale=st.floats(0.5, 20.0))
def test_resistances_scale_with_size(scale: float) -> None:
    # R is homogeneous of degree -1 in all lengths; Sverak's and Schwarz's formulas keep that.
    s = scale
    big = ieee80.mat_resistance_sverak(100.0, 4900.0 * s**2, 1540.0 * s, 0.5 * s)
    assert big * s == pytest.approx(ieee80.mat_resistance_sverak(100.0, 4900.0, 1540.0, 0.5), rel=1e-9)
    grid = ieee80.schwarz_grid(100.0, 1540.0 * s, 0.005 * s, 0.5 * s, 4900.0 * s**2, 1.2, 4.8)
    assert grid * s == pytest.approx(
        ieee80.schwarz_grid(100.0, 1540.0, 0.005, 0.5, 4900.0, 1.2, 4.8), rel=1e-9
    )


def test_the_disc_is_a_lower_bound() -> None:
    values = mat_resistances(SQUARE, 400.0).values_ohm
    disc = values.pop("disc, lower bound")
    assert disc is not None
    assert all(v is not None and v > disc for v in values.values())


def test_rods_in_the_middle_only() -> None:
    rods = dataclasses.replace(SQUARE, rod_count=4, rod_length_m=7.5, total_rod_length_m=30.0)
    inner = mesh_and_step_voltage(rods, 400.0, 1908.0)
    outer = mesh_and_step_voltage(dataclasses.replace(rods, rods_on_perimeter=True), 400.0, 1908.0)
    assert inner.factors["K_ii"] == pytest.approx(0.5701, abs=6e-5)
    assert inner.factors["L_M"] == pytest.approx(1570.0, rel=1e-12)
    assert outer.factors["K_ii"] == 1.0
    assert outer.mesh_v is not None
    assert inner.mesh_v is not None
    assert outer.mesh_v < inner.mesh_v


def test_steps_are_recorded_without_a_breach() -> None:
    with recording("mat") as sheet:
        mat_resistances(SQUARE, 400.0)
        mesh_and_step_voltage(SQUARE, 400.0, 1908.0)
    assert {"R_g", "K_m", "E_m", "K_s", "E_s", "n"} <= {step.info.symbol for step in sheet.steps}
    assert not sheet.outside


def test_schwarz_with_too_large_a_mutual_resistance() -> None:
    with pytest.raises(OutOfRangeError, match="too large"):
        ieee80.schwarz_combined(1.0, 1.0, 1.5)


def test_step_and_mesh_factor_against_each_other_for_wide_spacing() -> None:
    # K_s tends to 1/(2 pi h) when the spacing grows without end.
    assert ieee80.step_factor(1e9, 0.5, 4.0) == pytest.approx(1.0 / math.pi, rel=1e-6)


def test_too_dense_for_the_mesh_factor() -> None:
    with pytest.raises(OutOfRangeError, match="too dense"):
        ieee80.mesh_factor(0.1, 0.5, 0.05, 400.0, 1.0, 1.2)
