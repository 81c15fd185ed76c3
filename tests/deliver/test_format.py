"""Numbers as engineers write them. Expected texts: common practice (SI brochure, 9th edition, 5.4: space
between number and unit, no exponent where a prefix does)."""

import math

import pytest

from evenground.deliver.format import (
    format_number,
    format_percent,
    format_quantity,
    format_stated,
    format_value,
)
from evenground.deliver.parameters import describe_parameter


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (5720.0, "A", "5.720 kA"),
        (966.52, "A", "966.5 A"),
        (1486.3, "V", "1486 V"),
        (11547.0, "V", "11.55 kV"),
        (0.962, "ohm", "0.9620 Ω"),
        (12300.0, "ohm", "12.30 kΩ"),
        (3000.0, "ohm m", "3000 Ω·m"),
        (87.2717, "mm2", "87.27 mm²"),
        (-12.5, "V", "−12.50 V"),
        (0.0, "V", "0 V"),
        (None, "V", "not decided"),
        (math.nan, "V", "not decided"),
        (math.inf, "V", "∞ V"),
        (4, "", "4"),
    ],
)
def test_quantities(value, unit, text):
    assert format_quantity(value, unit) == text


def test_a_missing_number_is_never_zero():
    assert format_number(None) == format_number(math.nan) == format_percent(None) == "not decided"
    assert format_stated(None, "s") == "not decided"


def test_small_and_large_numbers_get_a_power_of_ten():
    assert format_number(3.1e-8, 2) == "3.1·10⁻⁸"
    assert format_number(4.6655e6) == "4.666·10⁶"
    assert format_value(4.6e6) == "4.6·10⁶"


def test_stated_values_keep_only_the_digits_they_have():
    assert format_stated(0.5, "s") == "0.5 s"
    assert format_stated(110_000.0, "V") == "110 kV"
    assert format_stated(3500.0, "m2") == "3500 m²"


def test_percent_and_values():
    assert format_percent(0.1234, sign=True) == "+12.3 %"
    assert format_percent(-1.144) == "−114 %"
    assert format_value(True) == "yes"
    assert format_value(0.09 - 1.2j) == "0.09 − j1.2"


def test_parameters_are_read_as_words_with_a_unit():
    assert describe_parameter("surface_resistivity_ohm_m") == ("surface resistivity", "Ω·m")
    assert describe_parameter("fault_time_s") == ("fault time", "s")
    assert describe_parameter("split_factor") == ("split factor", "")


def test_every_parameter_of_a_formula_has_words():
    from evenground.provenance import equations

    names = {p for f in equations().values() for p in f.__equation__.symbols.values()}
    assert names
    assert all(describe_parameter(name)[0] for name in names)


def test_a_rate_that_nothing_known_carries_is_not_printed_in_digits():
    assert format_quantity(5e-20, "1/year") == "below 10⁻¹² 1/year"
    assert format_quantity(2e-7, "1/year", 2) == "2.0·10⁻⁷ 1/year"
