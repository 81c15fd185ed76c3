"""Traverses against each other, segments of a Schlumberger sounding, and which spacing to read next."""

import numpy as np
import pytest

from evenground.model.soil import ApparentReading, ArrayKind
from evenground.soil import (
    LayeredSoil,
    SoilChoice,
    fit_layers,
    fit_with_segment_factors,
    interpret_soil,
    lateral_change,
    process_readings,
    recommend_spacings,
    schlumberger_apparent_resistivity,
    segment_offsets,
    wenner_apparent_resistivity,
)

SPACINGS = [1, 1.5, 2, 3, 4.5, 6, 9, 12, 18, 24]


def line(name, soil, *, noise=0.0, seed=0, factor=1.0, spacings=SPACINGS):
    rho = factor * wenner_apparent_resistivity(spacings, soil)
    rho = rho * np.exp(noise * np.random.default_rng(seed).standard_normal(len(rho)))
    return [
        ApparentReading(name, ArrayKind.WENNER, float(a), None, 1.0, float(r), 0.0, True)
        for a, r in zip(spacings, rho, strict=True)
    ]


BASE = LayeredSoil((250, 90), (2.5,))


# --- across the site --------------------------------------------------------------------------------------


def test_the_two_traverses_of_the_tnb_manual_agree(surveys):
    """Pair differences scatter by 6 % without level or trend (4.1 to 4.3 % a reading)."""
    pair = [
        surveys.wenner(rows, name=name, key="resistance_ohm")
        for rows, name in zip(surveys.tnb, ("first", "second"), strict=True)
    ]
    change = lateral_change(process_readings(pair)[0], noise=0.043)
    assert change.words == ()
    assert not change.separate
    assert set(change.soils) == {"first", "second"}


@pytest.mark.parametrize("seed", range(4))
def test_noise_alone_is_no_change(seed):
    readings = line("A", BASE, noise=0.03, seed=seed) + line("B", BASE, noise=0.03, seed=seed + 100)
    change = lateral_change(readings, noise=0.03)
    assert not change.separate
    assert change.words == ()


def test_a_constant_factor_is_seen():
    readings = line("A", BASE, noise=0.02, seed=1, factor=1.25) + line("B", BASE, noise=0.02, seed=2)
    change = lateral_change(readings, noise=0.02)
    assert change.words[0].startswith("A reads +2")
    assert "against B at all spacings" in change.words[0]
    assert change.separate
    assert change.soils["A"].resistivities_ohm_m[0] == pytest.approx(1.25 * 250, rel=0.1)


def test_another_top_layer_is_seen_at_short_spacings():
    other = LayeredSoil((400, 90), (2.5,))
    readings = line("A", other, noise=0.02, seed=3) + line("B", BASE, noise=0.02, seed=4)
    change = lateral_change(readings, noise=0.03)
    assert "the upper ground changes across the site" in change.words[0]
    assert change.separate
    assert "The traverses call for different soils" in change.words[-1]


def test_another_depth_is_seen_at_long_spacings():
    deep, deeper = LayeredSoil((100, 500), (6,)), LayeredSoil((100, 250), (6,))
    readings = line("A", deep, noise=0.02, seed=5) + line("B", deeper, noise=0.02, seed=6)
    change = lateral_change(readings, noise=0.03)
    assert "the deeper ground changes across the site" in change.words[0]


def test_short_or_single_traverses_are_not_compared():
    assert lateral_change(line("A", BASE), noise=0.05).soils == {}
    short = line("A", BASE, factor=1.5, spacings=[1, 2, 4]) + line("B", BASE)
    change = lateral_change(short, noise=0.05)
    assert change.words == ()
    assert np.isnan(change.criterion_gain)


def test_lateral_change_reaches_the_result(surveys):
    rows = [
        dict(zip(SPACINGS, factor * wenner_apparent_resistivity(SPACINGS, BASE), strict=True))
        for factor in (1.0, 1.4)
    ]
    pair = [surveys.wenner(r, name=n) for r, n in zip(rows, ("north", "east"), strict=True)]
    result = interpret_soil(pair, SoilChoice(noise=0.03))
    assert any("The traverses call for different soils" in w for w in result.warnings)
    assert result.traverse_soils["east"].resistivities_ohm_m == pytest.approx((350, 126), rel=1e-3)


# --- segments of one MN -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "expected"),
    [
        # from the files themselves: the two readings at each repeated AB/2
        ("Mawlamyine_data_locations_1.csv", {40: 407.3 / 102.2, 100: 520.3 / 287.2, 200: 1059.7 / 605.2}),
        (
            "Mawlamyine_data_locations_2.csv",
            {40: 129.36 / 163.48, 100: 129.01 / 126.64, 200: 170.96 / 165.18, 300: 297.78 / 248.74},
        ),
    ],
)
def test_steps_between_segments_of_real_soundings(surveys, file, expected):
    offsets = segment_offsets(process_readings([surveys.field_survey(file)])[0])
    found = {o.narrow.position_m: np.exp(o.step_ln) for o in offsets}
    assert found == pytest.approx(expected, rel=0.015)  # V has two to three digits


def test_steps_that_noise_does_not_explain_are_reported(surveys):
    result = interpret_soil([surveys.field_survey("Mawlamyine_data_locations_2.csv")], SoilChoice())
    text = next(w for w in result.warnings if w.startswith("Segments of one MN do not join"))
    assert "AB/2 = 40 m (-21% from MN/2 = 1 to 5 m)" in text
    assert "AB/2 = 300 m (+20% from MN/2 = 20 to 30 m)" in text
    assert "AB/2 = 100 m" not in text


def sounding(soil, factors, noise=0.0):
    rng = np.random.default_rng(11)
    rows = []
    for half_mn, positions in {0.5: (2, 3, 5, 8, 12), 2: (8, 12, 20, 30, 45), 8: (30, 45, 70, 100)}.items():
        for outer in positions:
            rho = schlumberger_apparent_resistivity(float(outer), half_mn, soil)
            value = float(rho) * factors[half_mn] * np.exp(noise * rng.standard_normal())
            rows.append(
                ApparentReading("S", ArrayKind.SCHLUMBERGER, float(outer), half_mn, 1.0, value, 0.0, True)
            )
    return rows


def test_layers_and_factors_are_recovered_together():
    """Factors within their prior, which leaves their common level open by 7.5 % over the root of 3; a plain
    fit of the same readings misses them four times as far."""
    truth, factors = LayeredSoil((300, 60), (4,)), {0.5: 1.0, 2: 1.12, 8: 0.9}
    readings = sounding(truth, factors, noise=0.01)
    fit = fit_with_segment_factors(readings, layers=2, noise=0.01)
    assert fit.candidate.soil.resistivities_ohm_m == pytest.approx(
        (300, 60), rel=0.08
    )  # the prior's own spread
    assert fit.candidate.soil.thicknesses_m == pytest.approx((4,), rel=0.08)
    assert fit.candidate.rms < 0.015
    found = list(fit.factors.values())
    assert list(fit.factors) == ["S, MN/2 = 0.5 m", "S, MN/2 = 2 m", "S, MN/2 = 8 m"]
    assert found[1] / found[0] == pytest.approx(1.12, rel=0.02)
    assert found[2] / found[1] == pytest.approx(0.9 / 1.12, rel=0.02)
    assert fit_layers(readings, layers=2).rms > 4 * fit.candidate.rms


def test_without_steps_the_factors_stay_at_one():
    readings = sounding(LayeredSoil((300, 60), (4,)), {0.5: 1.0, 2: 1.0, 8: 1.0})
    fit = fit_with_segment_factors(readings, layers=2, noise=0.01)
    assert list(fit.factors.values()) == pytest.approx([1.0, 1.0, 1.0], abs=1e-3)
    assert fit.candidate.soil.thicknesses_m == pytest.approx((4,), rel=1e-3)


def test_a_wenner_line_has_no_segments():
    readings = line("A", BASE)
    fit = fit_with_segment_factors(readings, layers=2, noise=0.03)
    assert fit.factors == {}
    plain = fit_layers(readings, layers=2, noise=0.03)
    assert fit.candidate.soil.resistivities_ohm_m == pytest.approx(plain.soil.resistivities_ohm_m, rel=1e-4)
    assert fit.candidate.bic == pytest.approx(plain.bic, abs=1e-6)


def test_factor_std_must_be_positive():
    with pytest.raises(ValueError, match="factor_std"):
        fit_with_segment_factors(line("A", BASE), layers=2, noise=0.03, factor_std=0.0)


# --- which spacing next -----------------------------------------------------------------------------------


def test_a_short_survey_is_told_to_go_further():
    """Linear theory for 100 over 500 ohm m and 5 % noise (scipy): the lower resistivity is known to 57 % at
    a_max/h = 2 and to 7 % at 10; so the first advice is a long spacing, for rho2."""
    soil = LayeredSoil((100, 500), (3,))
    readings = line("A", soil, spacings=[0.5, 1, 1.5, 2, 3, 4, 6])
    advice = recommend_spacings(readings, soil, noise=0.05, longest_m=48)
    assert advice[0].spacing_m == 48
    assert advice[0].parameter == "rho2"
    assert advice[0].before > 0.3
    assert advice[0].after < 0.5 * advice[0].before
    assert "a = 48 m would narrow the resistivity of layer 2" in advice[0].words


def test_a_survey_without_short_spacings_is_told_to_go_shorter():
    soil = LayeredSoil((400, 100), (1.5,))
    readings = line("A", soil, spacings=[3, 4, 6, 8, 12, 16, 24])
    advice = recommend_spacings(readings, soil, noise=0.05)
    assert advice[0].spacing_m <= 1
    assert advice[0].parameter in ("rho1", "h1")


def test_the_promise_is_kept():
    """The standard deviation promised is the one a fit with the further reading has (scipy-like J^T J)."""
    soil = LayeredSoil((100, 500), (3,))
    spacings = [0.5, 1, 1.5, 2, 3, 4, 6, 8]
    advice = recommend_spacings(line("A", soil, spacings=spacings), soil, noise=0.02, most=1, longest_m=32)
    fit = fit_layers(line("A", soil, spacings=[*spacings, advice[0].spacing_m]), layers=2, noise=0.02)
    index = ("rho1", "rho2", "h1").index(advice[0].parameter)
    assert advice[0].after == pytest.approx(fit.std_ln[index], rel=0.02)  # the prior adds a little


def test_a_complete_survey_needs_no_advice():
    readings = line("A", BASE, spacings=[0.5, 1, 1.5, 2, 3, 4.5, 6, 9, 12, 18, 24, 36, 48, 64])
    assert recommend_spacings(readings * 3, BASE, noise=0.03) == ()


def test_advice_needs_readings_and_noise():
    with pytest.raises(ValueError, match="needs readings in use and a noise above 0"):
        recommend_spacings([], BASE, noise=0.05)
