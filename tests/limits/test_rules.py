"""Rules by country and lasting voltages: the data files and their loader."""

from __future__ import annotations

import math
from dataclasses import fields

import pytest

from evenground.errors import OutOfRangeError
from evenground.standards.limits import CountryRule, country_rules, voltage_limits
from evenground.standards.limits.rules import read_table

COLUMNS = tuple(f.name for f in fields(CountryRule))
HEADER = ",".join(COLUMNS)


def rule(key: str) -> CountryRule:
    return next(r for r in country_rules() if r.key == key)


# NEC 250.194; Canadian code 36-312; British fence practice; IS 3043; Indian test register; and others.
@pytest.mark.parametrize(
    ("key", "sense", "value", "unit"),
    [
        ("us_nec_fence_bond_spacing", "max", 50, "m"),
        ("us_nec_fence_distance", "max", 5, "m"),
        ("canada_fence_inside", "min", 1, "m"),
        ("canada_fence_tap_spacing", "max", 12, "m"),
        ("uk_fence_separate_distance", "min", 2, "m"),
        ("uk_fence_rod_spacing", "max", 50, "m"),
        ("india_equipment_connections", "min", 2, "connections"),
        ("india_neutral_connections", "min", 2, "connections"),
        ("india_resistance_substation", "max", 1, "ohm"),
        ("india_resistance_ht", "max", 2, "ohm"),
        ("india_resistance_lt", "max", 5, "ohm"),
        ("india_resistance_tower", "max", 10, "ohm"),
        ("china_depth", "min", 0.6, "m"),
        ("china_gis_ties", "min", 4, "connections"),
        ("us_west_coast_depth", "min", 0.46, "m"),
        ("gulf_depth", "min", 0.8, "m"),
        ("india_corrosion_severe", "is", 30, "%"),
        ("uk_cold_site", "max", 430, "V"),
        ("europe_step", "max", 20, "U_Tp"),
    ],
)
def test_rules_that_were_seen_in_print(key: str, sense: str, value: float, unit: str) -> None:
    found = rule(key)
    assert (found.sense, found.value, found.unit) == (sense, value, unit)
    assert found.evidence == "found"


def test_what_is_only_remembered_is_marked() -> None:
    for key in (
        "china_mast_distance",
        "china_rise",
        "europe_depth",
        "uk_cold_site_reliable",
        "india_rail_bond_spacing",
    ):
        assert rule(key).evidence == "from memory"


def test_feet_and_gauges_were_turned_right() -> None:
    # 1 ft = 0.3048 m; 2/0 AWG is 67.4 mm2, 4/0 AWG 107 mm2 (ASTM B258 wire table).
    assert rule("us_fence_ring_offset").value == pytest.approx(3 * 0.3048, rel=0.02)
    assert rule("us_rural_fence_spacing").value == pytest.approx(75 * 0.3048, rel=0.02)
    assert rule("us_west_coast_depth").value == pytest.approx(1.5 * 0.3048, rel=0.01)
    diameter = 0.127 * 92 ** ((36 + 1) / 39)  # gauge -1 is 2/0 [mm]
    assert rule("canada_fence_conductor").value == pytest.approx(math.pi / 4 * diameter**2, rel=1e-3)
    diameter = 0.127 * 92 ** ((36 + 3) / 39)
    assert rule("us_conductor").value == pytest.approx(math.pi / 4 * diameter**2, rel=3e-3)


def test_selection() -> None:
    assert {r.country for r in country_rules("India")} == {"India"}
    fences = country_rules(topic="fence")
    assert {"United Kingdom", "USA", "Canada", "India"} <= {r.country for r in fences}
    assert country_rules("Canada", "fence") == tuple(r for r in fences if r.country == "Canada")
    assert len(country_rules()) > 70
    with pytest.raises(OutOfRangeError, match="unknown country 'Atlantis'"):
        country_rules("Atlantis")
    with pytest.raises(OutOfRangeError, match="unknown topic 'colour'"):
        country_rules(topic="colour")


# EMF-Portal, limit values for electrical injuries (found); ITU-T and IEEE 367/487 (from memory).
def test_lasting_and_transferred_voltages() -> None:
    limits = {v.key: v for v in voltage_limits()}
    assert limits["lasting_touch"].voltage_v == 50
    assert limits["lasting_touch_children"].voltage_v == 25
    assert limits["lasting_touch_dc"].voltage_v == 120
    assert limits["lasting_touch_dc_children"].voltage_v == 60
    assert math.isinf(limits["lasting_touch"].longest_s)
    assert (limits["tt_short"].voltage_v, limits["tt_short"].longest_s) == (1200, 5)
    assert (limits["tt_long"].voltage_v, limits["tt_long"].evidence) == (250, "from memory")
    assert (limits["telecom_general"].voltage_v, limits["telecom_reliable"].voltage_v) == (430, 650)
    assert limits["telecom_reliable"].longest_s == 0.2
    assert limits["zone_of_influence"].voltage_v == 300


GOOD = "Mars,depth,mars_depth,min,0.6,,m,depth of the mat,invented for this test,from memory"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", "header must be"),
        (HEADER + "\nMars,depth", "line 2: 2 fields instead of 10"),
        (HEADER + "\n" + GOOD.replace("0.6", "deep"), "line 2, value: 'deep' is not a number"),
        (HEADER + "\n" + GOOD.replace("0.6", "nan"), "line 2, value: 'nan' is not a number"),
        (HEADER + "\n" + GOOD + "\n" + GOOD, "line 3: key 'mars_depth' is there twice"),
        (HEADER + "\n" + GOOD.replace("from memory", "trust me"), "evidence must be one of"),
        (HEADER + "\n" + GOOD.replace("invented for this test", ""), "names no source"),
        (HEADER + "\n" + GOOD.replace(",min,", ",near,"), "unknown sense 'near'"),
        (HEADER + "\n" + GOOD.replace(",min,", ",,"), "sense and value go together"),
        (HEADER + "\n" + GOOD.replace("0.6,,m", "0.6,,"), "has no unit"),
        (HEADER + "\n" + GOOD.replace("0.6,,", "0.6,0.4,"), "range upside down"),
    ],
)
def test_bad_tables_are_refused(line: str, words: str) -> None:
    with pytest.raises(OutOfRangeError, match=words):
        read_table(line, CountryRule, COLUMNS, ("value", "upper"))


def test_a_good_row_is_read() -> None:
    (row,) = read_table(HEADER + "\n" + GOOD, CountryRule, COLUMNS, ("value", "upper"))
    assert (row.value, row.upper, row.unit) == (0.6, None, "m")
