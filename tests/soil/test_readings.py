"""Apparent resistivity from readings: geometry, probe depth, cross-checks, flags."""

import math
import random

import pytest

from evenground.errors import InputError, Severity
from evenground.model.soil import ArrayKind, SoilChoice, SoilReading, Traverse
from evenground.provenance import NAMESPACE, info, recording
from evenground.soil import (
    apparent_resistivity,
    driven_rod_resistivity,
    four_probe_factor,
    four_probe_resistivity,
    interpret_soil,
    process_readings,
    schlumberger_resistivity,
    wenner_resistivity,
)
from evenground.soil._arrays import POINT_DEPTH_PER_LENGTH

WENNER, SCHLUMBERGER = ArrayKind.WENNER, ArrayKind.SCHLUMBERGER


def one(reading, array=WENNER, **common):
    return process_readings([Traverse("T", array, (reading,), **common)])


# --- geometry ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "resistance", "expected"),
    [(3, 0, 10, 188.50), (3, 0.3, 10, 191.74), (1, 0.3, 10, 71.515), (5, 0.5, 2, 63.914)],
)
def test_wenner_with_points_at_a_depth(a, b, resistance, expected):
    """IEEE Std 81, finite depth (from memory, cross-checked against image theory); printed digits."""
    assert wenner_resistivity(resistance, a, b) == pytest.approx(expected, rel=3e-5)


@pytest.mark.parametrize(
    ("share", "factor"),
    [
        (0.05, 1.00435789),
        (0.1, 1.01722976),
        (0.2, 1.06588632),
        (0.3, 1.13820056),
        (0.5, 1.31597443),
        (1, 1.68446527),
    ],
)
def test_depth_correction_table(share, factor):
    """K over 2 pi a for point electrodes at depth b in uniform soil, from the images; nine digits."""
    assert wenner_resistivity(1.0, 1.0, share) / (2 * math.pi) == pytest.approx(factor, rel=1e-8)


@pytest.mark.parametrize("share", [0.05, 0.1, 0.2, 0.5])
def test_a_driven_probe_acts_as_a_point_at_0_575_of_its_length(share):
    """Mutual resistance of vertical lines with uniform current (image method, checked by double quadrature):
    R_m = rho/(2 pi L) [ln((2L + sqrt(4L^2 + d^2))/d) + d/(2L) - sqrt(1 + (d/2L)^2)]."""

    def mutual(length, d):
        root = math.sqrt(4 * length**2 + d**2)
        inner = math.log((2 * length + root) / d) + d / (2 * length) - math.hypot(1, d / (2 * length))
        return inner / (2 * math.pi * length)

    resistance = 2 * (mutual(share, 1.0) - mutual(share, 2.0))
    reading = SoilReading(spacing_m=1.0, resistance_ohm=resistance, probe_depth_m=share)
    assert apparent_resistivity(reading, WENNER) == pytest.approx(
        1.0, rel=2e-3
    )  # 0.2 % at L = a/2, else less
    assert abs(wenner_resistivity(resistance, 1.0, share) - 1.0) > 10 * abs(
        wenner_resistivity(resistance, 1.0, POINT_DEPTH_PER_LENGTH * share) - 1.0
    )  # the driven length itself over-corrects


@pytest.mark.parametrize(("outer", "inner"), [(10, 1), (50, 5), (1.5, 0.5)])
def test_schlumberger_factor(outer, inner):
    """pi (L^2 - b^2)/(2b), the exact factor of the array (potential theory)."""
    exact = math.pi * (outer**2 - inner**2) / (2 * inner)
    assert schlumberger_resistivity(1.0, outer, inner) == pytest.approx(exact, rel=1e-14)


def test_schlumberger_with_equal_spaces_is_wenner():
    """AB/2 = 1.5a, MN/2 = a/2, probe depth included."""
    assert schlumberger_resistivity(2.0, 4.5, 1.5, 0.3) == pytest.approx(
        wenner_resistivity(2.0, 3.0, 0.3), rel=1e-14
    )


def test_any_four_probes():
    """Schlumberger-Palmer with c = 9, d = 2 m (IEEE Std 81, from memory, cross-checked):
    rho = pi c (c + d) R/d = 77.754 ohm m for 0.5 ohm."""
    factor = four_probe_factor((0.0, 9.0, 11.0, 20.0))
    assert factor * 0.5 == pytest.approx(77.754, rel=1e-5)
    assert four_probe_factor((0, 3, 6, 9)) == pytest.approx(2 * math.pi * 3, rel=1e-14)
    with pytest.raises(ValueError, match="same place"):
        four_probe_factor((0, 0, 1, 2))
    with pytest.raises(ValueError, match="no voltage"):
        four_probe_factor((-1.0, 0.5, 0.5 + 1e-11, 2.0))


def test_driven_rod_inverts_the_resistance_of_a_rod():
    """Dwight 1936: R = rho/(2 pi L) (ln(4L/a) - 1) = 33.493 ohm for 100 ohm m, 3 m, radius 8 mm."""
    assert driven_rod_resistivity(33.493, 3.0, 0.016) == pytest.approx(100.0, rel=2e-5)


def test_four_probes_at_a_depth_are_the_named_arrays():
    assert four_probe_resistivity(2.0, 0, 3, 6, 9, 0.2) == pytest.approx(
        wenner_resistivity(2.0, 3.0, 0.2), rel=1e-14
    )
    assert four_probe_resistivity(2.0, -10, -1, 1, 10, 0.2) == pytest.approx(
        schlumberger_resistivity(2.0, 10.0, 1.0, 0.2), rel=1e-14
    )
    # leads of the potential probes exchanged: the sign of the voltage turns, the resistivity does not
    assert four_probe_resistivity(2.0, 0, 6, 3, 9) == pytest.approx(wenner_resistivity(2.0, 3.0), rel=1e-14)


def test_a_survey_with_unequal_spacings():
    """A road in the way: readings over 100/500 ohm m, 3 m, from the image series."""
    k, h = (500 - 100) / 600, 3.0

    def potential(r):
        return 1 / r + 2 * sum(k**n / math.hypot(r, 2 * n * h) for n in range(1, 400))

    rows = []
    for stretch in (0.5, 1, 2, 4, 8, 16):
        c1, p1, p2, c2 = (stretch * x for x in (0.0, 1.0, 2.5, 4.5))
        volts = potential(p1 - c1) - potential(c2 - p1) - potential(p2 - c1) + potential(c2 - p2)
        rows.append(SoilReading(positions_m=(c1, p1, p2, c2), resistance_ohm=100 * volts / (2 * math.pi)))
    result = interpret_soil([Traverse("U", ArrayKind.FOUR_PROBE, tuple(rows))], SoilChoice("two_layer"))
    assert result.soil.resistivities_ohm_m == pytest.approx((100, 500), rel=1e-4)  # stopping rule of the fit
    assert result.soil.thicknesses_m == pytest.approx((3.0,), rel=1e-4)
    assert result.readings[0].place == "U, probes at 0, 0.5, 1.25, 2.25 m"
    assert result.readings[1].position_m == pytest.approx(1.5)
    assert set(result.curves_ohm_m) == {"uniform", "two layers"}


@pytest.mark.parametrize(
    ("positions", "words"),
    [
        (None, "without positions_m"),
        ((0, 1, 2), "not four finite numbers"),
        ((0, 1, 1, 2), "two probes stand at the same place"),
        ((0, 1, 2, math.inf), "not four finite numbers"),
    ],
)
def test_impossible_positions(positions, words):
    reading = SoilReading(positions_m=positions, resistance_ohm=1.0)
    with pytest.raises(InputError, match=words):
        apparent_resistivity(reading, "four_probe")


@pytest.mark.parametrize("function", [wenner_resistivity, schlumberger_resistivity, driven_rod_resistivity])
def test_printed_forms_are_what_is_computed(function):
    details = info(function)
    rng = random.Random(3)
    for _ in range(20):
        values = [
            rng.uniform(0.1, 50.0),
            rng.uniform(5.0, 50.0),
            rng.uniform(0.1, 4.0),
            rng.uniform(0.0, 0.5),
        ]
        values = values[: len(details.symbols)]
        printed = eval(
            details.form, {"__builtins__": {}}, NAMESPACE | dict(zip(details.symbols, values, strict=True))
        )
        assert function(*values) == pytest.approx(printed, rel=1e-12)


def test_printed_form_of_four_probes():
    details = info(four_probe_resistivity)
    values = (3.0, -2.0, 0.5, 4.0, 11.0, 0.3)
    printed = eval(
        details.form, {"__builtins__": {}}, NAMESPACE | dict(zip(details.symbols, values, strict=True))
    )
    assert four_probe_resistivity(*values) == pytest.approx(printed, rel=1e-12)


def test_each_reading_is_noted_on_the_sheet(surveys):
    with recording() as sheet:
        process_readings([surveys.wenner({1: 20.0, 2: 9.0}, key="resistance_ohm")])
    assert [step.value for step in sheet.steps] == pytest.approx([40 * math.pi, 36 * math.pi], rel=1e-12)
    assert all("IEEE Std 81" in step.info.source for step in sheet.steps)


# --- published surveys ------------------------------------------------------------------------------------


def test_resistances_of_the_tnb_manual_give_its_resistivities(surveys):
    """TNB Substation Design Manual, table B-3; computed with pi = 3.142 and two decimals: 0.025 ohm m."""
    printed = (
        (132.59, 136.02, 137.75, 122.92, 128.66, 127.06, 140.26, 136.50),
        (125.68, 131.59, 126.56, 137.05, 129.80, 128.19, 130.08, 135.14),
    )
    for rows, expected in zip(surveys.tnb, printed, strict=True):
        readings, findings = process_readings([surveys.wenner(rows, key="resistance_ohm")])
        assert not findings
        assert [r.apparent_resistivity_ohm_m for r in readings] == pytest.approx(expected, abs=0.025)


def test_slips_in_field_files_are_found(surveys):
    """The only row of three published files with voltages whose printed result is off by more than 2 %:
    Mawlamyine 1, AB/2 = 100 m with MN/2 = 10 m, where K V/I is 520.3 and the file says 452.79."""
    files = ("Mawlamyine_data_locations_1", "Mawlamyine_data_locations_2", "Aung_San_Feb_07_raw")
    readings, findings = process_readings([surveys.field_survey(f"{f}.csv") for f in files])
    assert len(readings) == 26 + 29 + 24
    assert [f.code for f in findings] == ["soil-stated-resistivity"]
    assert findings[0].severity is Severity.WARNING
    assert findings[0].path == ("soil", "traverses", 0, "readings", 12)
    assert "452.8 ohm m, recomputed 520.3 ohm m" in findings[0].message
    assert "recomputed value is used" in findings[0].advice
    row = next(r for r in readings if r.flags)
    assert row.position_m == 100
    assert row.half_potential_m == 10
    assert row.apparent_resistivity_ohm_m == pytest.approx(520.25, rel=1e-3)  # V and I have four digits


def test_a_slip_of_three_percent_is_found():
    """A row of the third sounding there: K V/I 109.08 against 106.17 printed, AB/2 = 90, MN/2 = 5 m."""
    factor = math.pi * (90**2 - 5**2) / 10
    reading = SoilReading(
        half_current_m=90,
        half_potential_m=5,
        resistance_ohm=109.08 / factor,
        apparent_resistivity_ohm_m=106.17,
    )
    rows, findings = one(reading, SCHLUMBERGER)
    assert [f.code for f in findings] == ["soil-stated-resistivity"]
    assert "+2.7%" in findings[0].message
    assert rows[0].apparent_resistivity_ohm_m == pytest.approx(109.08, rel=1e-12)


def test_the_last_row_of_a_wenner_file_that_is_not_wenner(surveys):
    """Aung San 7 February, AB/2 = 142 m, MN/2 = 48 m: only the general factor gives the printed 221.64."""
    readings, _ = process_readings([surveys.field_survey("Aung_San_Feb_07_raw.csv")])
    assert readings[-1].apparent_resistivity_ohm_m == pytest.approx(221.64, rel=2e-3)  # K printed to 0.2 %


# --- contradictions and doubts ------------------------------------------------------------------------------


def test_a_stated_resistivity_that_took_any_usual_account_of_depth_is_accepted():
    for depth in (0.0, 0.575 * 0.3, 0.3):
        stated = wenner_resistivity(10.0, 1.0, depth)
        _, findings = one(
            SoilReading(
                spacing_m=1.0, resistance_ohm=10.0, apparent_resistivity_ohm_m=stated, probe_depth_m=0.3
            )
        )
        assert "soil-stated-resistivity" not in {f.code for f in findings}


@pytest.mark.parametrize(
    ("factor", "hint"),
    [
        (100.0, "looks like ohm cm"),
        (0.3048, "look like feet"),
        (1 / 0.3048, "computed with spacings in feet"),
        (1 / 3, "AB = 3a"),
        (1.5, "computed with AB/2 instead of a"),
    ],
)
def test_slips_of_unit_are_named(factor, hint):
    """1 ft = 0.3048 m; ohm cm against ohm m; AB or AB/2 written for a."""
    stated = factor * 2 * math.pi * 3 * 10
    _, findings = one(SoilReading(spacing_m=3, resistance_ohm=10, apparent_resistivity_ohm_m=stated))
    assert findings[0].severity is Severity.ERROR
    assert hint in findings[0].advice


def test_resistance_against_voltage_over_current():
    reading = SoilReading(spacing_m=2, resistance_ohm=10.0, voltage_v=2.2, current_a=0.2, path=("r", 0))
    _, findings = one(reading)
    assert [f.code for f in findings] == ["soil-ohms-law"]
    assert "voltage over current is 11 ohm (+10.0%)" in findings[0].message
    with pytest.raises(InputError, match="voltage over current"):
        apparent_resistivity(reading, "wenner")


@pytest.mark.parametrize(
    ("reading", "array", "words"),
    [
        (SoilReading(resistance_ohm=1.0), WENNER, "without spacing_m"),
        (SoilReading(half_current_m=5, resistance_ohm=1.0), SCHLUMBERGER, "without half_potential_m"),
        (SoilReading(spacing_m=2.0), WENNER, "without a measured value"),
        (SoilReading(spacing_m=2.0, voltage_v=1.0), WENNER, "voltage and current must come together"),
        (SoilReading(spacing_m=2.0, resistance_ohm=-3.0), WENNER, "resistance_ohm is -3"),
        (SoilReading(spacing_m=math.nan, resistance_ohm=3.0), WENNER, "spacing_m is nan"),
        (SoilReading(spacing_m=2.0, resistance_ohm=3.0, probe_depth_m=2.0), WENNER, "probes driven 2 m"),
        (
            SoilReading(half_current_m=5, half_potential_m=5, resistance_ohm=1),
            SCHLUMBERGER,
            "MN/2 is not below AB/2",
        ),
        (SoilReading(spacing_m=1.0, resistance_ohm=2e4), WENNER, "apparent resistivity 1.26e[+]05"),
        (SoilReading(spacing_m=1.0, resistance_ohm=0.01), WENNER, "apparent resistivity 0.0628"),
    ],
)
def test_impossible_readings(reading, array, words):
    with pytest.raises(InputError, match=words):
        apparent_resistivity(reading, array)


def test_all_findings_come_at_once():
    rows = (
        SoilReading(spacing_m=1, resistance_ohm=-1, path=("a",)),
        SoilReading(spacing_m=2, path=("b",)),
        SoilReading(spacing_m=3, resistance_ohm=5, path=("c",)),
    )
    readings, findings = process_readings([Traverse("T", WENNER, rows)])
    assert [f.path for f in findings] == [("a",), ("b",)]
    assert [r.path for r in readings] == [("c",)]


def test_a_reading_left_out_gives_warnings_only():
    readings, findings = one(SoilReading(spacing_m=1, resistance_ohm=-1, use=False))
    assert readings == ()
    assert [f.severity for f in findings] == [Severity.WARNING]
    assert findings[0].message.endswith("(not used)")


def test_deep_probes_and_coarse_readings_are_flagged():
    """a/20: MIL-HDBK-419A and common practice."""
    rows, findings = one(
        SoilReading(spacing_m=2, resistance_ohm=0.05, probe_depth_m=0.3), instrument_resolution_ohm=0.01
    )
    assert [f.code for f in findings] == ["soil-probe-deep", "soil-resolution"]
    assert "more than a/20 = 0.1 m" in findings[0].message
    assert findings[1].advice == "one step is 20% of the reading"
    assert len(rows[0].flags) == 2
    rows, findings = one(SoilReading(spacing_m=2, resistance_ohm=0.05, probe_depth_m=0.1))
    assert findings == ()
    assert rows[0].flags == ()


def test_a_resistance_below_the_resolution():
    _, findings = one(SoilReading(spacing_m=2, resistance_ohm=0.05), instrument_resolution_ohm=0.1)
    assert "below the resolution" in findings[0].advice
