"""Stock sizes, minimum dimensions and materials against one another and against public size tables."""

from __future__ import annotations

import math

import pytest

from evenground.standards.materials import JOINT_LIMITS, MATERIALS
from evenground.standards.minimum_sizes import minimum_dimension
from evenground.standards.reduction_factors import REDUCTION_FACTORS
from evenground.standards.stock import STOCK, StockSize, stock_sizes
from evenground.standards.surface_materials import SOILS, SURFACE_MATERIALS


def gauge_area(number: int) -> float:
    """American wire gauge (ASTM B258): diameter 0.127 mm times 92^((36 - n)/39)."""
    return math.pi / 4.0 * (0.127 * 92.0 ** ((36 - number) / 39.0)) ** 2


@pytest.mark.parametrize(
    ("name", "number"),
    [("2 AWG", 2), ("1 AWG", 1), ("1/0 AWG", 0), ("2/0 AWG", -1), ("3/0 AWG", -2), ("4/0 AWG", -3)],
)
def test_american_gauge_areas(name: str, number: int) -> None:
    size = next(s for s in STOCK if s.name == name)
    assert size.area_mm2 == pytest.approx(gauge_area(number), rel=1e-3)  # four figures


@pytest.mark.parametrize("kcmil", [250, 300, 350, 500, 750, 1000])
def test_circular_mil_areas(kcmil: int) -> None:
    # One circular mil is pi/4 (25.4 um)^2.
    size = next(s for s in STOCK if s.name == f"{kcmil} kcmil")
    assert size.area_mm2 == pytest.approx(kcmil * 1000 * math.pi / 4.0 * 0.0254**2, rel=1e-3)


def test_areas_of_annex_b_conductor() -> None:
    # US Navy practice: 2/0 AWG is 67.4 mm2 (NAVFAC MO-201).
    assert next(s for s in STOCK if s.name == "2/0 AWG").area_mm2 == pytest.approx(67.4, abs=0.05)


@pytest.mark.parametrize("size", [s for s in STOCK if s.shape == "strand"], ids=lambda s: s.name)
def test_strands_fill_their_circle_as_strands_do(size: StockSize) -> None:
    assert size.diameter_mm is not None
    fill = size.area_mm2 / (math.pi / 4.0 * size.diameter_mm**2)
    # 7 wires fill 7/9, 19 fill 19/25, 37 fill 37/49, 61 fill 61/81.
    assert 0.745 < fill < 0.785
    # The trade's name is within 6 % of the metal (IEC 60228 fixes resistance, not area).
    assert size.area_mm2 == pytest.approx(size.nominal_area_mm2, rel=0.06)


def test_names_are_unique_for_each_metal() -> None:
    keys = [(s.name, metal) for s in STOCK for metal in s.metals]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("shape", ["strand", "round", "strip"])
def test_stock_comes_in_order(shape: str) -> None:
    areas = [s.area_mm2 for s in stock_sizes("copper", shape)]
    assert len(areas) > 5
    assert areas == sorted(areas)


def test_metals_without_stock() -> None:
    assert stock_sizes("aluminium-clad steel", "strip") == ()


def test_clad_rods_of_stock_meet_the_minimum() -> None:
    row = minimum_dimension("copper-clad steel", "rod", "round")
    assert row is not None
    assert row.section_mm2 == pytest.approx(math.pi / 4.0 * 14.0**2, rel=1e-12)
    assert any(s.area_mm2 > row.section_mm2 for s in stock_sizes("copper-clad steel", "round"))


def test_no_row_is_no_minimum() -> None:
    assert minimum_dimension("aluminium", "mat", "strip") is None
    assert minimum_dimension("stainless steel", "riser", "strip") is None


def test_keys_of_the_tables() -> None:
    assert all(key == m.key for key, m in MATERIALS.items())
    assert set(JOINT_LIMITS) == {"exothermic", "welded", "brazed", "compression", "bolted"}
    # IEEE Std 80-2000, 11.3 (from memory): brazing 450 degC; pressure joints 250 to 350 degC.
    assert JOINT_LIMITS["brazed"].limit_c == 450.0
    for joint in ("bolted", "compression"):
        assert (JOINT_LIMITS[joint].limit_c, JOINT_LIMITS[joint].proved_limit_c) == (250.0, 350.0)
    assert JOINT_LIMITS["exothermic"].limit_c is None


def test_surface_materials_against_the_navy_manual_and_each_other() -> None:
    # NAVFAC MO-201, Table 3-3: crushed rock 3000 to 4000 ohm m.
    rock = next(m for m in SURFACE_MATERIALS if m.name == "crushed rock")
    assert rock.wet is not None
    assert (rock.wet.low_ohm_m, rock.wet.high_ohm_m) == (3000, 4000)
    for material in SURFACE_MATERIALS:
        for part in (material.dry, material.wet):
            assert part is None or 0.0 < part.low_ohm_m <= part.high_ohm_m
        # Water always lowers the resistivity.
        if material.dry is not None and material.wet is not None:
            assert material.wet.high_ohm_m <= material.dry.high_ohm_m


def test_soils_and_reduction_factors_are_ordered() -> None:
    # Common practice: marsh conducts best, gravel and sandstone worst; r is a share of the current.
    assert [s.low_ohm_m for _, s in SOILS] == sorted(s.low_ohm_m for _, s in SOILS)
    assert all(0.0 < r.low <= r.high < 1.0 for r in REDUCTION_FACTORS)


@pytest.mark.parametrize(
    ("metal", "shape", "names"),
    [
        # Common practice: bars and strips that suppliers of earthing material list.
        ("copper", "round", {"round 8 mm", "round 10 mm", "round 16 mm", "round 20 mm"}),
        ("copper", "strip", {"strip 25 × 3 mm", "strip 25 × 6 mm", "strip 50 × 6 mm"}),
        ("steel", "round", {"round 10 mm", "round 16 mm", "round 25 mm", "round 32 mm", "round 40 mm"}),
        ("steel", "strip", {"strip 30 × 3.5 mm", "strip 50 × 6 mm", "strip 75 × 12 mm", "strip 75 × 10 mm"}),
        ("copper-clad steel", "round", {"round 12.7 mm", "round 14.2 mm", "round 17.2 mm", "round 19.1 mm"}),
    ],
)
def test_usual_bars_and_strips(metal: str, shape: str, names: set[str]) -> None:
    assert names <= {s.name for s in stock_sizes(metal, shape)}
