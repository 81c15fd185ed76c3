"""The whole soil stage on published surveys: which model, why, and what it warns of."""

import math
from dataclasses import replace

import numpy as np
import pytest

from evenground.errors import InputError
from evenground.model.soil import ArrayKind, SoilReading, Traverse
from evenground.soil import LayeredSoil, SoilChoice, interpret_soil, wenner_apparent_resistivity

AUTO = SoilChoice()


def told(result, words):
    return any(words in text for text in result.warnings)


@pytest.fixture(scope="module")
def classic(surveys):
    return interpret_soil([surveys.wenner(surveys.k1)], AUTO, mat_extent_m=30.0)


def test_the_classic_six_readings_need_two_layers(classic):
    """With the variance known, six readings suffice to reject a uniform soil (chi square 168 against 3.1)."""
    assert classic.chosen == "two layers"
    assert classic.soil.resistivities_ohm_m == pytest.approx((372.43, 145.53), rel=1e-4)
    assert classic.soil.thicknesses_m == pytest.approx((2.697,), rel=1e-4)
    assert [c.name for c in classic.candidates] == ["uniform", "two layers"]
    assert "two layers miss the readings by 3.6% rms (uniform by 26.5%)" in classic.reason
    assert classic.noise == 0.05
    assert classic.noise_source == "assumed"


def test_residuals_belong_to_the_chosen_model(classic):
    model = wenner_apparent_resistivity([r.position_m for r in classic.readings], classic.soil)
    for reading, value in zip(classic.readings, model, strict=True):
        assert reading.model_ohm_m == pytest.approx(value, rel=1e-12)
        assert reading.residual == pytest.approx(
            math.log(reading.apparent_resistivity_ohm_m / value), abs=1e-12
        )
    rms = math.sqrt(sum(r.residual**2 for r in classic.readings) / 6)
    assert rms == pytest.approx(classic.candidates[1].rms, rel=1e-9)


def test_curves_for_plotting(classic):
    assert set(classic.curves_ohm_m) == {"uniform", "two layers"}
    grid = np.array(classic.curve_positions_m)
    assert grid[0] <= 2.5
    assert grid[-1] >= 15
    assert np.ptp(np.diff(np.log(grid))) < 1e-9
    assert classic.curves_ohm_m["two layers"] == pytest.approx(
        wenner_apparent_resistivity(grid, classic.soil), rel=1e-12
    )


def test_warnings_of_a_single_short_traverse(classic):
    assert told(classic, "come from one traverse")
    assert told(classic, "5% is assumed")
    assert told(classic, "longest spacing is 15 m (as Wenner spacing), the mat extends over 30 m")
    assert told(classic, "shortest spacing is 2.5 m")
    assert not told(classic, "stand apart")
    assert not told(classic, "do not describe this curve")


def test_two_traverses_in_nearly_uniform_soil(surveys):
    """TNB manual: uniform 131.5, 3.7 % rms; noise from the pairs 4.1 to 4.3 %; only 3 m differs by more than
    10 %; two layers end on a bound."""
    pair = [
        surveys.wenner(rows, name=name, key="resistance_ohm")
        for rows, name in zip(surveys.tnb, ("first", "second"), strict=True)
    ]
    result = interpret_soil(pair, AUTO, mat_extent_m=12.0)
    assert result.chosen == "uniform"
    assert result.soil.resistivities_ohm_m[0] == pytest.approx(131.53, rel=3e-4)  # printed with pi = 3.142
    assert result.candidates[0].rms == pytest.approx(0.037, abs=5e-4)
    assert result.noise_source == "from repeated traverses"
    assert 0.040 < result.noise < 0.0435
    assert result.candidates[1].at_bounds
    assert told(result, "differ by more than 10% at 3 m (12%) of 8 spacings")
    assert [r.position_m for r in result.readings if any("traverses differ" in f for f in r.flags)] == [3, 3]
    assert not told(result, "one traverse")
    assert not told(result, "the mat extends")


def test_a_difference_between_traverses_is_not_taken_for_noise(surveys):
    """The pair of the TNB manual with one traverse raised by 40 % and tilted: the noise stays what it was."""
    first, second = surveys.tnb
    raised = {a: 1.4 * a**-0.05 * r for a, r in second.items()}
    pair = [
        surveys.wenner(rows, name=name, key="resistance_ohm")
        for rows, name in ((first, "first"), (raised, "second"))
    ]
    result = interpret_soil(pair, AUTO)
    assert 0.040 < result.noise < 0.048
    assert told(result, "against second at all spacings") or told(result, "differs from second steadily")
    assert told(result, "The traverses call for different soils")


@pytest.mark.parametrize(("name", "rms"), [("k2", "0.09%"), ("k3", "0.06%")])
def test_computed_curves_are_recognised(surveys, name, rms):
    result = interpret_soil([surveys.wenner(getattr(surveys, name))], AUTO)
    assert told(result, f"within {rms} rms: smoother than any field survey")


def test_a_curve_of_three_layers(surveys):
    """Kindermann's three-layer example rises and falls: two layers miss it by 14 %."""
    result = interpret_soil([surveys.wenner(surveys.p1)], AUTO)
    assert told(result, "Two layers do not describe this curve: they miss the readings by 14.2% rms")
    assert told(result, "it falls and rises again, or the reverse")


def test_a_real_sounding_that_two_layers_do_not_describe(surveys):
    """Aung San 7 February: three layers fit, but end on a bound (independent least squares: the same), so
    they are not chosen by themselves."""
    survey = [surveys.field_survey("Aung_San_Feb_07_raw.csv")]
    result = interpret_soil(survey, AUTO)
    assert result.chosen == "two layers"
    assert told(result, "Two layers do not describe this curve")
    assert told(result, "Three layers would miss them by 5.5%")
    assert told(result, "ended on its lower bound")
    asked = interpret_soil(survey, SoilChoice("three_layer"))
    assert asked.soil.layers == 3
    assert told(asked, "ended on its lower bound")


def test_three_layers_are_chosen_when_the_readings_fix_them(surveys):
    """Published curve of 200/50/1000 ohm m, 2 and 5 m (pygimli; mpmath at six of the spacings)."""
    spacings = [0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48]
    curve = wenner_apparent_resistivity(spacings, LayeredSoil((200, 50, 1000), (2, 5)))
    shaken = curve * (1 + 0.02 * np.cos(np.arange(13)))
    survey = [surveys.wenner(dict(zip(spacings, shaken, strict=True)))]
    result = interpret_soil(survey, SoilChoice(noise=0.02))
    assert result.chosen == "three layers"
    rho, h = result.soil.resistivities_ohm_m, result.soil.thicknesses_m
    assert rho[0] == pytest.approx(200, rel=0.05)
    assert rho[2] == pytest.approx(1000, rel=0.2)  # its standard deviation is 7 %
    assert h[1] / rho[1] == pytest.approx(5 / 50, rel=0.1)  # of the middle layer only this is well known
    assert "two layers by" in result.reason
    assert interpret_soil(survey, SoilChoice(noise=0.02, most_layers=2)).chosen == "two layers"


def test_a_failed_survey_is_rejected(surveys):
    """Aung San 2: 1.88, 0.22, 0.09, 0.93, 0.16 ohm m, an instrument failure."""
    with pytest.raises(InputError) as caught:
        interpret_soil([surveys.field_survey("Aung_San_Location_2_raw.csv")], AUTO)
    places = {(f.code, f.path[-1]) for f in caught.value.findings}
    assert places == {("soil-out-of-range", 2), ("soil-survey-failed", 2), ("soil-survey-failed", 3)}
    assert "0.93 ohm m between 0.09 and 0.16" in str(caught.value)


def test_outliers_are_flagged_and_kept(surveys):
    """Aung San 1, raw: the two readings its authors edited, and no other."""
    result = interpret_soil([surveys.field_survey("Aung_San_Location_1_raw.csv")], AUTO)
    flagged = [k for k, r in enumerate(result.readings) if any("stands apart" in f for f in r.flags)]
    assert flagged == [1, 5]
    assert all(r.used for r in result.readings)
    assert told(result, "2 of 8 readings stand apart")
    assert told(result, "A robust fit, which gives them less weight, finds 274.2")
    assert result.soil.resistivities_ohm_m == pytest.approx((262.9, 176.2), rel=1e-3)  # plain least squares


def test_when_most_readings_stand_apart_it_is_the_model(surveys):
    """Mawlamyine 1: segments off by factors up to 4; the layers are at fault, not single readings."""
    result = interpret_soil([surveys.field_survey("Mawlamyine_data_locations_1.csv")], AUTO)
    assert not told(result, "readings stand apart")
    assert told(result, "do not describe this curve")
    assert told(result, "Segments of one MN do not join")


def test_a_reading_not_used_is_kept_in_the_tables(surveys):
    traverse = surveys.wenner(surveys.k1)
    spoiled = list(traverse.readings)
    spoiled[2] = replace(spoiled[2], apparent_resistivity_ohm_m=900.0, use=False)
    result = interpret_soil([replace(traverse, readings=tuple(spoiled))], replace(AUTO, select="two_layer"))
    assert [r.used for r in result.readings] == [True, True, False, True, True, True]
    assert result.readings[2].residual == pytest.approx(math.log(900 / result.readings[2].model_ohm_m))
    assert result.soil.resistivities_ohm_m == pytest.approx((372.4, 145.5), rel=0.04)  # one of six fewer


def test_five_spacings_do_not_choose_two_layers(surveys):
    """Two layers have three parameters; the rule asks for twice as many readings."""
    result = interpret_soil([surveys.wenner(surveys.mamede)], AUTO)
    assert result.chosen == "uniform"
    assert "readings at 5 spacings are too few" in result.reason
    asked = interpret_soil([surveys.wenner(surveys.mamede)], SoilChoice("two_layer"))
    assert asked.soil.thicknesses_m == pytest.approx((6.17,), rel=1e-3)
    assert asked.reason == "asked for by the engineer"


def test_three_spacings_refuse_two_layers(surveys):
    with pytest.raises(InputError, match="two layers asked for with readings at 3 spacings"):
        interpret_soil([surveys.wenner({1: 100, 2: 120, 4: 150})], SoilChoice("two_layer"))


def test_uniform_asked_for_a_layered_curve(surveys):
    result = interpret_soil([surveys.wenner(surveys.k1)], SoilChoice("uniform", reason="code of the client"))
    assert result.chosen == "uniform"
    assert result.reason == "asked for by the engineer: code of the client"
    assert told(result, "The uniform model misses the readings by 26.5% rms")


def test_a_given_model_is_held_against_the_readings(surveys):
    given = LayeredSoil((372.4, 145.5), (6.0,))
    choice = SoilChoice("given", given=given, reason="borehole")
    result = interpret_soil([surveys.wenner(surveys.k1)], choice)
    assert result.soil == given
    assert result.chosen == "given"
    assert result.reason == "borehole"
    assert [c.name for c in result.candidates] == ["uniform", "two layers", "given"]
    assert told(result, "The given model misses the readings by")
    assert "given" in result.curves_ohm_m


def test_a_given_model_without_readings():
    given = LayeredSoil((100.0,))
    result = interpret_soil([], SoilChoice("given", given=given))
    assert result.soil == given
    assert result.readings == ()
    assert told(result, "no reading in use supports it")


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        (AUTO, "there is no soil reading in use"),
        (SoilChoice("given"), "no model is given"),
        (SoilChoice("best"), "soil model 'best' is not known"),
        (SoilChoice(norm="square"), "norm 'square' is not known"),
        (SoilChoice(noise=5.0), "noise of 5"),
    ],
)
def test_choices_that_can_not_be(choice, words):
    with pytest.raises(InputError, match=words):
        interpret_soil([], choice)


def test_a_given_model_beside_readings_needs_a_reason(surveys):
    with pytest.raises(InputError, match="needs a reason"):
        interpret_soil([surveys.wenner(surveys.k1)], SoilChoice("given", given=LayeredSoil((100.0,))))


def test_errors_of_all_traverses_come_together(surveys):
    bad = Traverse(
        "bad",
        ArrayKind.WENNER,
        (SoilReading(spacing_m=1, resistance_ohm=-2, path=("x",)), SoilReading(spacing_m=2, path=("y",))),
    )
    with pytest.raises(InputError) as caught:
        interpret_soil([surveys.wenner(surveys.k1), bad], SoilChoice("nonsense"))
    assert [f.code for f in caught.value.findings] == ["soil-value", "soil-value", "soil-select"]


def test_a_rise_no_layered_soil_can_give(surveys):
    """Slope of the log-log curve at most 1 over horizontal layers (limit of an insulating basement)."""
    rows = {1: 100, 2: 105, 4: 110, 8: 330, 16: 600, 32: 1000}
    result = interpret_soil([surveys.wenner(rows)], AUTO)
    assert told(result, "a = 4 m to 8 m: apparent resistivity rises with slope 1.58")
    assert any("slope 1.58" in f for f in result.readings[3].flags)


def test_a_survey_too_short_for_its_lower_layer(surveys):
    """For a_max/h below 5 the lower resistivity is not known within 13 % (linearised theory, 5 % noise)."""
    spacings = [1, 1.5, 2, 3, 4, 5, 6]
    soil = LayeredSoil((100, 300), (3,))
    curve = wenner_apparent_resistivity(spacings, soil)
    shaken = dict(zip(spacings, curve * (1 + 0.02 * np.array([1, -1, 1, -1, 1, -1, 1])), strict=True))
    result = interpret_soil([surveys.wenner(shaken)], SoilChoice("two_layer", noise=0.05))
    assert told(result, "times the depth of the last interface")
    assert told(result, "The readings fix the resistivity of layer 2 only within a factor of")


def test_both_arrays_together(surveys):
    """A Wenner and a Schlumberger line over 100/300 ohm m, 5 m, from tables of the image series."""
    ratios = {0.25: 1.00596, 0.5: 1.04117, 1: 1.21034, 2: 1.63951, 3: 1.96456, 5: 2.35162, 10: 2.72752}
    wenner = surveys.wenner({5 * x: 100 * y for x, y in ratios.items()})
    schlumberger = surveys.schlumberger(
        [(3, 0.5, 102.489), (10, 1, 140.401), (20, 2, 194.383), (50, 5, 259.029)]
    )
    result = interpret_soil([wenner, schlumberger], replace(AUTO, noise=0.02))
    assert result.soil.resistivities_ohm_m == pytest.approx((100, 300), rel=1e-4)  # six digits printed
    assert result.soil.thicknesses_m == pytest.approx((5.0,), rel=1e-4)
    assert set(result.curves_ohm_m) == {
        "uniform",
        "uniform, Schlumberger",
        "two layers",
        "two layers, Schlumberger",
    }
    assert result.longest_spacing_m == 50.0  # the Wenner line; AB/3 of the other is 33.3 m


def test_stated_noise_is_used(surveys):
    result = interpret_soil([surveys.wenner(surveys.k1)], SoilChoice(noise=0.4))
    assert (result.noise, result.noise_source) == (0.4, "given")
    assert result.chosen == "uniform"  # with readings as poor as that nothing more can be told
