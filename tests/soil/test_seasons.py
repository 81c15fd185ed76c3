"""Seasonal states, fill and temperature."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenground.model.soil import SeasonalState
from evenground.soil import (
    LayeredSoil,
    at_temperature,
    seasonal_soil,
    seasonal_soils,
    wenner_apparent_resistivity,
    with_fill,
)

SPACINGS = [0.5, 1, 2, 5, 10, 20, 50]


@pytest.mark.parametrize(
    ("depth", "factor", "expected"),
    [
        (0.5, 20, (1419.00, 570.34, 144.00, 101.89, 100.44, 100.11, 100.02)),
        (1.0, 20, (1877.44, 1419.00, 570.34, 116.28, 101.89, 100.44, 100.07)),
        (0.3, 4, (227.44, 128.82, 104.42, 100.60, 100.15, 100.04, 100.01)),
        (0.3, 1 / 3, (50.13, 68.30, 84.42, 95.92, 98.82, 99.69, 99.95)),
    ],
    ids=["frozen 0.5 m", "frozen 1 m", "dry", "wet"],
)
def test_curves_over_a_seasonal_top(depth, factor, expected):
    """100 ohm m with its top frozen, dried or wetted; independent filter code, two decimals printed."""
    soil = seasonal_soil(LayeredSoil((100,)), SeasonalState("season", depth, factor))
    assert wenner_apparent_resistivity(SPACINGS, soil) == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize(
    ("depth", "expected"),
    [
        (0.3, (157.78, 119.56, 159.90, 242.95, 340.69, 422.71)),
        (1.5, (890.85, 602.50, 316.46, 323.36, 406.61, 462.59)),
    ],
)
def test_frozen_top_of_two_layers(depth, expected):
    """100 over 500 ohm m at 3 m, top frozen to ten times; independent filter code, two decimals printed."""
    soil = seasonal_soil(LayeredSoil((100, 500), (3,)), SeasonalState("frozen", depth, 10))
    assert soil.resistivities_ohm_m == pytest.approx((1000, 100, 500))
    assert wenner_apparent_resistivity([1, 2, 4, 8, 16, 32], soil) == pytest.approx(expected, abs=0.006)


def test_a_season_that_reaches_into_the_second_layer():
    soil = seasonal_soil(LayeredSoil((100, 500, 50), (1, 4)), SeasonalState("frozen", 2.0, 10))
    assert soil == LayeredSoil((1000, 5000, 500, 50), (1, 1, 3))


def test_a_season_that_ends_at_an_interface():
    soil = seasonal_soil(LayeredSoil((100, 500), (1,)), SeasonalState("dry", 1.0, 3))
    assert soil == LayeredSoil((300, 500), (1,))
    joined = seasonal_soil(LayeredSoil((100, 500), (1,)), SeasonalState("dry", 1.0, 5))
    assert joined == LayeredSoil((500,))


@given(
    st.lists(st.floats(1, 5000), min_size=1, max_size=4),
    st.floats(0.1, 10),
    st.floats(0.05, 20),
    st.floats(0.1, 30),
)
def test_every_depth_has_the_factor_it_should(rho, thickness, depth, factor):
    soil = LayeredSoil(tuple(rho), (thickness,) * (len(rho) - 1))
    season = seasonal_soil(soil, SeasonalState("s", depth, factor))
    for z in (0.01, 0.5 * depth, 0.99 * depth, 1.01 * depth, 2 * depth, 100.0):
        before = soil.resistivities_ohm_m[soil.layer_at(z)]
        after = season.resistivities_ohm_m[season.layer_at(z)]
        assert after == pytest.approx(before * (factor if z < depth else 1.0), rel=1e-6)


def test_named_states():
    soil = LayeredSoil((100, 50), (2,))
    soils = seasonal_soils(soil, [SeasonalState("dry", 0.5, 3), SeasonalState("wet", 0.5, 0.5)])
    assert list(soils) == ["as surveyed", "dry", "wet"]
    assert soils["as surveyed"] is soil
    with pytest.raises(ValueError, match="'dry' is given twice"):
        seasonal_soils(soil, [SeasonalState("dry", 0.5, 3), SeasonalState("dry", 1, 3)])


@pytest.mark.parametrize(
    ("fill", "removed", "expected"),
    [
        (1.0, 0.0, LayeredSoil((300, 100, 500), (1, 2))),
        (1.0, 0.5, LayeredSoil((300, 100, 500), (1, 1.5))),
        (1.0, 2.0, LayeredSoil((300, 500), (1,))),
        (0.0, 3.0, LayeredSoil((500,))),
        (0.0, 0.5, LayeredSoil((100, 500), (1.5,))),
    ],
)
def test_cut_and_fill(fill, removed, expected):
    soil = with_fill(
        LayeredSoil((100, 500), (2,)), thickness_m=fill, resistivity_ohm_m=300, removed_m=removed
    )
    assert soil == expected


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"thickness_m": -1, "resistivity_ohm_m": 100}, "thickness_m: -1"),
        ({"thickness_m": 1, "resistivity_ohm_m": 0}, "resistivity_ohm_m: 0"),
        ({"thickness_m": 1, "resistivity_ohm_m": 10, "removed_m": float("nan")}, "removed_m: nan"),
    ],
)
def test_impossible_fill(options, message):
    with pytest.raises(ValueError, match=message):
        with_fill(LayeredSoil((100,)), **options)


@pytest.mark.parametrize(("wanted", "table"), [(10, 99), (0, 138)])
def test_temperature_above_freezing(wanted, table):
    """Sandy loam with 15.2 % water: 72 ohm m at 20 degC, 99 at 10, 138 at 0 (Getting Down to Earth, table V);
    the rule is an average over soils and lies within 5 % of it."""
    assert at_temperature(72, 20, wanted) == pytest.approx(table, rel=0.05)


def test_frost_is_not_a_matter_of_temperature_alone():
    with pytest.raises(ValueError, match="state a factor"):
        at_temperature(100, 10, -5)
    with pytest.raises(ValueError, match="too far"):
        at_temperature(100, 40, 5)


@pytest.mark.parametrize(("depth", "factor"), [(0, 2), (1, 0), (float("inf"), 2), (1, float("nan"))])
def test_impossible_states(depth, factor):
    with pytest.raises(ValueError, match="is not a finite number above 0"):
        SeasonalState("x", depth, factor)
