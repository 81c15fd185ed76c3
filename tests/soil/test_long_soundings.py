"""Long Schlumberger soundings for groundwater: overlapping segments, bad readings, three layers."""

import csv
from pathlib import Path

import pytest

from evenground.soil import SoilChoice, fit_layers, interpret_soil, process_readings, segment_offsets

DATA = Path(__file__).resolve().parents[1] / "data" / "soil_soundings_ivory_coast"


def sounding(surveys, place, column="SE1"):
    with (DATA / f"{place}.csv").open(encoding="utf-8", newline="") as stream:
        rows = [(float(r["AB/2"]), float(r["MN/2"]), float(r[column])) for r in csv.DictReader(stream)]
    return surveys.schlumberger(rows, name=f"{place} {column}")


# Independent bounded least squares of the log error (scipy, other starting points), exact finite MN.
THREE_LAYERS = {
    "boundiali": ((109, 33.1, 535), (1.61, 38.9), 0.045, ("third",)),
    "gbalo": ((1061, 49.8, 2177), (5.34, 33.9), 0.146, ()),
    "semien": ((47, 85, 1488), (0.3, 8.06), 0.114, ("first",)),
}


@pytest.mark.parametrize("place", THREE_LAYERS)
def test_three_layers(surveys, place):
    """Digits printed by the other code: two to four."""
    rho, h, rms, bounds = THREE_LAYERS[place]
    fit = fit_layers(process_readings([sounding(surveys, place)])[0], layers=3)
    assert fit.soil.resistivities_ohm_m == pytest.approx(rho, rel=0.01)
    assert fit.soil.thicknesses_m == pytest.approx(h, rel=5e-3)
    assert fit.rms == pytest.approx(rms, abs=6e-4)
    assert len(fit.at_bounds) == len(bounds)
    assert all(word in text for word, text in zip(bounds, fit.at_bounds, strict=True))


def test_a_resistive_basement_may_lie_beyond_the_bound(surveys):
    """Boundiali: three layers fit to 4.5 % where two miss by 24 %; only the resistivity below is open, so
    they are chosen, with a warning."""
    result = interpret_soil([sounding(surveys, "boundiali")], SoilChoice())
    assert result.chosen == "three layers"
    assert any(
        w.startswith("The resistivity of the third layer ended on its upper bound of 535 ohm m")
        for w in result.warnings
    )


def test_a_thin_layer_on_its_bound_is_not_chosen(surveys):
    """Semien: the first of three layers ends on the smallest thickness allowed."""
    result = interpret_soil([sounding(surveys, "semien")], SoilChoice())
    assert result.chosen == "two layers"
    assert any("Three layers would miss them by 11.4%" in w for w in result.warnings)


def test_the_bad_reading_of_gbalo_is_flagged(surveys):
    """AB/2 = 5 m: 1380 between 1102 and 706 ohm m."""
    result = interpret_soil([sounding(surveys, "gbalo")], SoilChoice(noise=0.10))
    flagged = {r.position_m for r in result.readings if any("stands apart" in f for f in r.flags)}
    assert 5 in flagged


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        ("boundiali", {3: 85 / 69, 4: 69 / 56, 20: 36 / 34, 24: 36 / 34, 55: 46 / 45, 60: 48 / 47}),
        ("semien", {3: 79 / 90, 4: 88 / 98, 20: 239 / 161, 24: 248 / 166, 55: 512 / 402, 60: 525 / 408}),
    ],
)
def test_steps_at_overlaps(surveys, place, expected):
    """From the tables themselves; exact up to the rounding of the conversion to resistance and back."""
    from math import exp

    offsets = segment_offsets(process_readings([sounding(surveys, place)])[0])
    assert {o.narrow.position_m: exp(o.step_ln) for o in offsets} == pytest.approx(expected, rel=1e-12)
