"""Fits against published fits, textbook curves whose truth is known, and random recovery."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.model.soil import ApparentReading, ArrayKind
from evenground.soil import Bounds, LayeredSoil, fit_layers, wenner_apparent_resistivity
from evenground.soil._least_squares import halton, minimise


def values(candidate):
    return (*candidate.soil.resistivities_ohm_m, *candidate.soil.thicknesses_m)


@pytest.mark.parametrize(
    ("norm", "expected", "tolerance"),
    [
        # Seedher and Arora, IEEE Trans. Power Delivery 7(3), 1992 (from memory, cross-checked)
        ("relative", (372.729, 145.259, 2.690), (0.05, 0.02, 0.001)),
        # Gonos and Stathopulos, IEEE Trans. Power Delivery 20(1), 2005 (from memory, cross-checked): their
        # genetic search ended within 0.05 % of the minimum of the absolute error
        ("absolute", (364.67, 143.56, 2.827), (0.1, 0.1, 0.002)),
        # independent least squares (scipy) of the log error
        ("log", (372.4265, 145.5290, 2.6969), (0.001, 0.001, 0.0001)),
    ],
)
def test_the_classic_six_readings(surveys, norm, expected, tolerance):
    fit = fit_layers(surveys.apparent(surveys.k1), layers=2, norm=norm)
    for found, value, width in zip(values(fit), expected, tolerance, strict=True):
        assert found == pytest.approx(value, abs=width)
    assert fit.agreeing == fit.starts
    assert fit.at_bounds == ()


def test_misfit_of_the_classic_six(surveys):
    """Sum of squared relative errors 0.007528, rms 3.54 %, computed from the published triple; forward curve
    of that triple from an independent filter code."""
    readings = surveys.apparent(surveys.k1)
    fit = fit_layers(readings, layers=2, norm="relative")
    assert fit.rms == pytest.approx(0.0354, abs=1e-4)
    assert 6 * fit.rms**2 == pytest.approx(0.007528, rel=1e-3)
    curve = wenner_apparent_resistivity(list(surveys.k1), LayeredSoil((372.729, 145.259), (2.690,)))
    assert curve == pytest.approx([323.62, 235.19, 188.15, 167.58, 158.28, 153.66], abs=0.01)


def test_spread_of_the_classic_six(surveys):
    """Linearised standard deviations of the logarithms for 5 % noise: scipy least_squares, J^T J."""
    fit = fit_layers(surveys.apparent(surveys.k1), layers=2, noise=0.05)
    assert fit.std_ln == pytest.approx((0.0876, 0.0490, 0.1473), rel=2e-3)  # three digits
    assert fit.reduced_chi_square * 3 == pytest.approx(3.1, abs=0.05)
    uniform = fit_layers(surveys.apparent(surveys.k1), layers=1, noise=0.05)
    assert uniform.reduced_chi_square * 5 == pytest.approx(168, abs=0.5)


@pytest.mark.parametrize(("name", "truth"), [("k2", (1000, 200, 5.0)), ("k3", (700, 180, 2.5))])
def test_textbook_curves_are_recovered(surveys, name, truth):
    """Both textbook tables are computed curves, rounded to 1 ohm m: the truth comes back within 0.3 %."""
    fit = fit_layers(surveys.apparent(getattr(surveys, name)), layers=2)
    assert values(fit) == pytest.approx(truth, rel=3e-3)
    assert fit.rms < 1e-3


def test_table_of_averages_of_mamede(surveys):
    """Independent least squares (scipy): 473.42, 386.84, 6.17; rms 0.77 %."""
    fit = fit_layers(surveys.apparent(surveys.mamede), layers=2)
    assert values(fit) == pytest.approx((473.42, 386.84, 6.17), rel=1e-3)
    assert fit.rms == pytest.approx(0.0077, abs=5e-5)


def test_a_fit_without_a_spare_reading_is_refused(surveys):
    readings = surveys.apparent(surveys.mamede)
    with pytest.raises(ValueError, match="three layers need readings at 6 spacings or more, there are 5"):
        fit_layers(readings, layers=3)
    with pytest.raises(ValueError, match="two layers need readings at 4"):
        fit_layers(readings[:3] + readings[:3], layers=2)  # repeats tell nothing new


def test_three_layers_of_the_textbook(surveys):
    """Kindermann's three-layer example: least squares reaches 0.3 % where the graphical results miss by 11 to
    41 %, and the middle layer, of which only rho_2 h_2 is known, ends on a bound that is reported."""
    fit = fit_layers(surveys.apparent(surveys.p1), layers=3, noise=0.05)
    assert fit.rms == pytest.approx(0.003, abs=5e-4)
    assert fit.at_bounds == ("the resistivity of the second layer ended on its upper bound of 86700 ohm m",)
    assert fit.std_ln == ()


def test_a_third_layer_does_not_help_the_classic_six(surveys):
    """Independent bounded search: 3.2 % against 3.6 % rms."""
    readings = surveys.apparent(surveys.k1)
    two, three = (fit_layers(readings, layers=n, noise=0.05) for n in (2, 3))
    assert three.rms == pytest.approx(0.032, abs=1e-3)
    assert three.bic > two.bic


@pytest.mark.parametrize(
    ("loss", "expected"),
    [("linear", (262.86, 176.21, 6.41)), ("huber", (274.20, 181.39, 5.88))],
)
def test_robust_fit_of_the_raw_sounding(surveys, loss, expected):
    """Aung San 1, raw. Values: scipy least_squares with the same loss and f_scale 0.05."""
    fit = fit_layers(_field(surveys, "Aung_San_Location_1_raw.csv"), layers=2, loss=loss)
    assert values(fit) == pytest.approx(expected, rel=2e-3)


def test_robust_fit_finds_what_the_geophysicists_edited(surveys):
    """They removed reading 2 and raised reading 6 by a quarter; fit of their edition: 280.4, 184.8, 6.42."""
    raw = _field(surveys, "Aung_San_Location_1_raw.csv")
    edited = fit_layers(_field(surveys, "Aung_San_location_1_processed.csv"), layers=2)
    assert values(edited) == pytest.approx((280.4, 184.8, 6.42), rel=2e-3)
    robust = fit_layers(raw, layers=2, loss="huber", noise=0.05)
    model = wenner_apparent_resistivity([r.wenner_spacing_m for r in raw], robust.soil)
    residuals = np.abs(np.log([r.apparent_resistivity_ohm_m for r in raw] / model))
    assert set(np.argsort(residuals)[-2:]) == {1, 5}
    assert robust.soil.resistivities_ohm_m == pytest.approx(edited.soil.resistivities_ohm_m, rel=0.03)


def _field(surveys, file):
    from evenground.soil import process_readings

    return process_readings([surveys.field_survey(file)])[0]


def test_three_layers_of_a_long_wenner_sounding(surveys):
    """Aung San 7 February, 23 Wenner rows: two layers 363/184/3.24 with 10.9 % rms, three layers 5.4 %
    (independent bounded least squares)."""
    readings = _field(surveys, "Aung_San_Feb_07_raw.csv")[:-1]
    two = fit_layers(readings, layers=2)
    assert values(two) == pytest.approx((363, 184, 3.24), rel=5e-3)
    assert two.rms == pytest.approx(0.109, abs=5e-4)
    assert fit_layers(readings, layers=3).rms < 0.056


def synthetic(soil, spacings, noise=0.0, seed=0):
    rho = wenner_apparent_resistivity(spacings, soil)
    rho = rho * np.exp(noise * np.random.default_rng(seed).standard_normal(len(rho)))
    return tuple(
        ApparentReading(
            "T", ArrayKind.WENNER, float(a), None, float(r / (2 * np.pi * a)), float(r), 0.0, True
        )
        for a, r in zip(spacings, rho, strict=True)
    )


@settings(max_examples=60, deadline=None)
@given(st.floats(10, 3000), st.floats(-2.5, 2.5), st.floats(1.5, 8.0))
def test_two_layers_are_recovered_from_a_clean_curve(rho1, contrast_ln, h):
    """Survey 1 ... 48 m, interface well inside it. Tolerance: where a contrast of e^0.2 meets the stopping
    rule the parameters stand to 1e-3; the curve to 1e-6."""
    if abs(contrast_ln) < 0.2:
        contrast_ln = 0.2
    truth = LayeredSoil((rho1, rho1 * np.exp(contrast_ln)), (h,))
    fit = fit_layers(synthetic(truth, [1, 1.5, 2, 3, 4.5, 6, 9, 12, 18, 24, 36, 48]), layers=2)
    assert fit.rms < 1e-5
    assert values(fit) == pytest.approx((*truth.resistivities_ohm_m, h), rel=5e-3)


@pytest.mark.parametrize(
    "truth",
    [
        LayeredSoil((200, 50, 1000), (2, 5)),
        LayeredSoil((50, 400, 40), (1.5, 6)),
        LayeredSoil((800, 200, 40), (1.5, 6)),
        LayeredSoil((30, 120, 700), (2, 8)),
    ],
    ids=["bowl", "bell", "falling", "rising"],
)
def test_three_layers_are_recovered_from_a_clean_curve(truth):
    fit = fit_layers(synthetic(truth, np.geomspace(0.5, 100, 16)), layers=3)
    assert fit.rms < 1e-4  # the stopping rule; equivalence leaves the middle layer looser than the curve
    assert values(fit) == pytest.approx((*truth.resistivities_ohm_m, *truth.thicknesses_m), rel=0.02)


def test_four_and_five_layers_reach_the_noise():
    truth = LayeredSoil((100, 500, 20, 800), (0.5, 3.5, 6))
    readings = synthetic(truth, np.geomspace(0.25, 200, 24), noise=0.02, seed=4)
    for layers in (4, 5):
        fit = fit_layers(readings, layers=layers, noise=0.02)
        assert fit.reduced_chi_square < 1.5
        assert len(values(fit)) == fit.parameters == 2 * layers - 1


def test_same_input_same_output(surveys):
    readings = surveys.apparent(surveys.p1)
    assert repr(fit_layers(readings, layers=3)) == repr(fit_layers(readings, layers=3))


def test_weights_per_reading():
    """A reading given a hundred times the noise has no say."""
    truth = LayeredSoil((100, 400), (3,))
    readings = list(synthetic(truth, [1, 2, 4, 8, 16, 32, 64]))
    wrong = readings[3]
    readings[3] = ApparentReading(
        "T", ArrayKind.WENNER, wrong.position_m, None, 1.0, 2 * wrong.apparent_resistivity_ohm_m, 0.0, True
    )
    noise = [0.02] * 7
    noise[3] = 2.0
    fit = fit_layers(readings, layers=2, noise=noise)
    assert values(fit) == pytest.approx((100, 400, 3), rel=2e-3)


def test_stated_bounds_are_kept_and_reported(surveys):
    fit = fit_layers(surveys.apparent(surveys.k1), layers=2, bounds=Bounds((50.0, 350.0), (0.5, 10.0)))
    assert fit.soil.resistivities_ohm_m[0] == pytest.approx(350.0, rel=1e-3)
    assert fit.at_bounds == ("the resistivity of the first layer ended on its upper bound of 350 ohm m",)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"layers": 0}, "layers: 1 to 5"),
        ({"layers": 6}, "layers: 1 to 5"),
        ({"layers": 2, "norm": "square"}, "norm: one of"),
        ({"layers": 2, "loss": "cauchy"}, "loss: one of"),
        ({"layers": 2, "noise": 0.0}, "noise: must be finite and above 0"),
    ],
)
def test_wrong_options(surveys, options, message):
    with pytest.raises(ValueError, match=message):
        fit_layers(surveys.apparent(surveys.k1), **options)


def test_minimiser_on_rosenbrock():
    """Rosenbrock 1960: minimum 0 at (1, 1); inside the bound x <= 0.5 the minimum is at (0.5, 0.25)."""

    def evaluate(x):
        r = np.stack([10 * (x[:, 1] - x[:, 0] ** 2), 1 - x[:, 0]], axis=1)
        j = np.zeros((len(x), 2, 2))
        j[:, 0, 0], j[:, 0, 1], j[:, 1, 0] = -20 * x[:, 0], 10.0, -1.0
        return r, j

    starts = np.array([[-1.2, 1.0], [0.0, 0.0], [2.0, 2.0]])
    low, high = np.full(2, -5.0), np.full(2, 5.0)
    free = minimise(evaluate, starts, low, high)
    assert free.converged.all()
    assert free.x == pytest.approx(np.ones((3, 2)), abs=1e-6)
    held = minimise(evaluate, starts, low, np.array([0.5, 5.0]))
    assert held.x == pytest.approx(np.tile([0.5, 0.25], (3, 1)), abs=1e-6)


def test_halton_points_fill_the_square():
    """First points in base 2 and 3 (Halton 1960): 1/2, 1/4, 3/4 and 1/3, 2/3, 1/9."""
    points = halton(400, 2)
    assert points[:3, 0] == pytest.approx([1 / 2, 1 / 4, 3 / 4])
    assert points[:3, 1] == pytest.approx([1 / 3, 2 / 3, 1 / 9])
    counts, _, _ = np.histogram2d(points[:, 0], points[:, 1], bins=4, range=[[0, 1], [0, 1]])
    assert counts.min() >= 22  # 25 on average; random points would range from 13 to 37
