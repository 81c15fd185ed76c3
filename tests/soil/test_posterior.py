"""What the readings leave open: grid and particles against emcee, dynesty and a brute-force grid."""

import math

import numpy as np
import pytest

from evenground.errors import NotConvergedError
from evenground.soil import (
    LayeredSoil,
    Prior,
    SoilChoice,
    curve_band,
    equivalence_words,
    fit_layers,
    interpret_soil,
    layered_posterior,
    process_readings,
    soil_posterior,
    two_layer_posterior,
    wenner_apparent_resistivity,
)
from evenground.soil import _particles as particles

K1_PRIOR = Prior(((50, 5000), (20, 2000)), ((0.3, 15),))
# 70^3 grid over ln rho1, ln rho2, ln h with the image series; emcee agrees to its sampling error.
K1_QUANTILES = (
    (319.23, 343.47, 372.84, 408.71, 453.14),
    (130.99, 138.58, 145.77, 152.57, 158.96),
    (2.013, 2.325, 2.683, 3.096, 3.569),
)
K1_MEAN, K1_STD = (5.92629, 4.97941, 0.98668), (0.08889, 0.04904, 0.14501)
P1_PRIOR = Prior(((500, 100e3), (500, 300e3), (500, 50e3)), ((0.2, 30), (0.2, 60)))


@pytest.fixture(scope="module")
def classic(surveys):
    return two_layer_posterior(surveys.apparent(surveys.k1), noise=0.05, prior=K1_PRIOR)


def test_classic_six_on_the_grid(classic):
    """Tolerance 0.3 %: the reference grid itself moves by 0.1 % between 50^3 and 70^3."""
    for found, expected in zip(classic.quantiles, K1_QUANTILES, strict=True):
        assert found == pytest.approx(expected, rel=3e-3)
    assert classic.mean_ln == pytest.approx(K1_MEAN, abs=1e-3)
    assert classic.std_ln == pytest.approx(K1_STD, rel=0.01)
    assert classic.correlation[0][1] == pytest.approx(0.5007, abs=5e-3)
    assert classic.correlation[0][2] == pytest.approx(-0.8086, abs=5e-3)
    assert classic.correlation[1][2] == pytest.approx(-0.7913, abs=8e-3)
    assert classic.notes == ()
    assert classic.names == ("rho1", "rho2", "h1")


def test_evidence_of_the_classic_six(classic):
    """ln Z = -11.729 from the reference grid; dynesty: -11.62 +- 0.26."""
    assert classic.ln_evidence == pytest.approx(-11.729, abs=2e-3)


def test_soils_handed_on_have_the_same_spread(classic):
    x = np.log([(*s.resistivities_ohm_m, *s.thicknesses_m) for s in classic.soils])
    assert len(x) == 200
    assert x.mean(axis=0) == pytest.approx(np.array(K1_MEAN), abs=0.01)  # 200 even draws
    assert x.std(axis=0) == pytest.approx(np.array(K1_STD), rel=0.08)
    assert np.corrcoef(x.T)[0, 2] == pytest.approx(-0.81, abs=0.04)


def test_a_narrow_posterior_is_not_missed_by_the_grid(surveys):
    """Ten times the precision: a tenth of the spread (linear theory), about the same place."""
    readings = surveys.apparent(surveys.k2)
    wide, narrow = (two_layer_posterior(readings, noise=s) for s in (0.02, 0.002))
    fit = fit_layers(readings, layers=2, noise=0.002)
    assert narrow.std_ln == pytest.approx(fit.std_ln, rel=0.03)
    assert narrow.std_ln == pytest.approx([s / 10 for s in wide.std_ln], rel=0.05)
    assert [q[2] for q in narrow.quantiles] == pytest.approx((1000, 200, 5), rel=2e-3)
    assert narrow.notes == ()


def test_nearly_uniform_soil_leaves_the_thickness_open(surveys):
    """TNB manual: the interval for the thickness covers what the prior allows, and the notes say so."""
    pair = [surveys.wenner(rows, key="resistance_ohm") for rows in surveys.tnb]
    readings = process_readings(pair)[0]
    posterior = two_layer_posterior(readings, noise=0.042)
    low, _, _, _, high = posterior.quantiles[2]
    assert low < 0.5
    assert high > 12
    assert any("no upper limit for h1" in n for n in posterior.notes)
    assert any("Layer 1 is loosely known" in w for w in equivalence_words(posterior))


@pytest.mark.slow
def test_particles_agree_with_the_grid(surveys):
    """Tolerances: about 4000 independent soils give 0.3 % on a median of spread 0.15 and 1 % on a 2.5 %
    quantile; three times that. The evidence of such a run scatters by 0.15 (repeated with other seeds)."""
    posterior = layered_posterior(surveys.apparent(surveys.k1), layers=2, noise=0.05, prior=K1_PRIOR)
    assert posterior.effective > 2000
    for found, expected in zip(posterior.quantiles, K1_QUANTILES, strict=True):
        assert found[2] == pytest.approx(expected[2], rel=0.01)
        assert found == pytest.approx(expected, rel=0.03)
    assert posterior.ln_evidence == pytest.approx(-11.729, abs=0.5)


@pytest.fixture(scope="module")
def bell(surveys):
    return layered_posterior(surveys.apparent(surveys.p1), layers=3, noise=0.05, prior=P1_PRIOR)


@pytest.mark.slow
def test_three_layer_example_of_the_textbook(bell):
    """emcee, 40 walkers of 12 000 steps: wide parameters good to 10 %, rho3 and the product to 1 %."""
    quantiles = dict(zip(bell.names, bell.quantiles, strict=True))
    assert quantiles["rho3"] == pytest.approx((3317, 3489, 3669, 3845, 4022), rel=0.02)
    assert quantiles["rho1"] == pytest.approx((2394, 3885, 7976, 10367, 11692), rel=0.1)
    assert quantiles["rho2"] == pytest.approx((22545, 28314, 56306, 170593, 275902), rel=0.15)
    assert quantiles["h1"] == pytest.approx((0.214, 0.319, 0.777, 1.214, 1.511), rel=0.1)
    assert bell.std_ln == pytest.approx((0.459, 0.777, 0.049, 0.589, 0.814), rel=0.08)
    assert bell.correlation[1][4] == pytest.approx(-0.997, abs=2e-3)
    product = [s.resistivities_ohm_m[1] * s.thicknesses_m[1] for s in bell.soils]
    assert np.median(product) == pytest.approx(79159, rel=0.02)
    assert np.std(np.log(product)) == pytest.approx(0.076, rel=0.2)  # 200 soils


@pytest.mark.slow
def test_equivalence_is_put_into_words(bell):
    """Only resistivity times thickness of the middle layer is known (K type, Maillet 1947)."""
    words = equivalence_words(bell)
    middle = next(w for w in words if w.startswith("Layer 2"))
    assert "resistivity times thickness, 7" in middle  # 79 159 by emcee
    assert "within a factor of 1.1" in middle
    assert any("no upper limit for rho2" in n for n in bell.notes)


@pytest.mark.slow
def test_a_conducting_middle_layer_is_known_by_its_conductance():
    """H type: thickness over resistivity (Koefoed): 1 m of 5 ohm m between 100 and 500 ohm m."""
    from evenground.model.soil import ApparentReading, ArrayKind

    spacings = [1, 2, 4, 8, 16, 32, 64, 100]
    curve = wenner_apparent_resistivity(spacings, LayeredSoil((100, 5, 500), (5, 1)))
    readings = [
        ApparentReading("T", ArrayKind.WENNER, a, None, r / (2 * math.pi * a), r, 0.0, True)
        for a, r in zip(spacings, curve, strict=True)
    ]
    posterior = layered_posterior(readings, layers=3, noise=0.03, particles=600)
    middle = next(w for w in equivalence_words(posterior) if w.startswith("Layer 2"))
    assert "thickness over resistivity, 0.2" in middle


def test_same_seed_same_figures(surveys):
    readings = surveys.apparent(surveys.k3)
    runs = [layered_posterior(readings, layers=1, noise=0.5, particles=100, seed=5) for _ in range(2)]
    assert runs[0] == runs[1]
    # one layer: the mean of the logarithms, and noise over root n
    mean = np.mean(np.log([r.apparent_resistivity_ohm_m for r in readings]))
    assert runs[0].mean_ln[0] == pytest.approx(mean, abs=0.05)
    assert runs[0].std_ln[0] == pytest.approx(0.5 / math.sqrt(7), rel=0.15)


def test_a_run_that_does_not_arrive_says_so(surveys, monkeypatch):
    monkeypatch.setattr(particles, "MOST_STEPS", 1)
    with pytest.raises(NotConvergedError, match="switched on to"):
        layered_posterior(surveys.apparent(surveys.k1), layers=2, noise=0.01, particles=50)


def test_few_independent_soils_are_reported(surveys):
    posterior = layered_posterior(surveys.apparent(surveys.k1), layers=2, noise=0.05, particles=30)
    assert any("independent soils only" in n for n in posterior.notes)


def test_band_of_the_curve(surveys, classic):
    """The band holds the median curve and is as wide as the spread of rho1 at short spacings."""
    band = curve_band(classic, [0.1, 5.0, 500.0])
    assert band.shape == (3, 3)
    assert np.all(np.diff(band, axis=0) > 0)
    assert band[:, 0] == pytest.approx((319.2, 372.8, 453.1), rel=0.02)  # a far below h: rho1 itself
    assert band[:, 2] == pytest.approx((131.0, 145.8, 159.0), rel=0.02)
    sparse = curve_band(classic, [0.1], array="schlumberger")
    assert sparse[:, 0] == pytest.approx(band[:, 0], rel=1e-3)


def test_posterior_of_a_whole_result(surveys):
    """The same figures as from the readings directly; for a uniform soil noise over root n."""
    result = interpret_soil([surveys.wenner(surveys.k1)], SoilChoice())
    posterior = soil_posterior(result, soils=50)
    assert len(posterior.soils) == 50
    assert posterior.quantiles[2][2] == pytest.approx(2.683, rel=5e-3)
    pair = [surveys.wenner(rows, key="resistance_ohm") for rows in surveys.tnb]
    uniform = interpret_soil(pair, SoilChoice("uniform", noise=0.05))
    calls = []
    spread = soil_posterior(uniform, progress=calls.append)
    assert spread.std_ln[0] == pytest.approx(0.05 / 4, rel=0.1)  # 16 readings; 1000 particles
    assert calls == sorted(calls)
    assert calls[-1] == pytest.approx(1.0)
    given = interpret_soil([], SoilChoice("given", given=LayeredSoil((100.0,))))
    with pytest.raises(ValueError, match="a given model alone has no spread"):
        soil_posterior(given)


def test_a_model_that_does_not_fit_is_not_certain(surveys):
    """Two layers miss the three-layer example of the textbook by 14 % rms, reduced chi square 16 at 5 %."""
    result = interpret_soil([surveys.wenner(surveys.p1)], SoilChoice("two_layer", noise=0.05))
    posterior = soil_posterior(result)
    assert posterior.notes[0].startswith(
        "the readings scatter about 2 layers by 20.1%, more than their noise of 5.0%"
    )
    narrow = two_layer_posterior(result.readings, noise=0.05)
    assert posterior.std_ln[1] > 3 * narrow.std_ln[1]


def test_linear_theory_holds_for_well_resolved_layers(surveys, classic):
    fit = fit_layers(surveys.apparent(surveys.k1), layers=2, noise=0.05)
    assert fit.std_ln == pytest.approx(classic.std_ln, rel=0.03)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda s: two_layer_posterior(s, noise=0.0), "noise: must be finite"),
        (lambda s: two_layer_posterior(s[:1], noise=0.1), "two spacings or more"),
        (lambda s: two_layer_posterior(s, noise=0.1, prior=Prior(((1, 2),), ())), "prior: two layers"),
        (lambda s: layered_posterior(s, layers=6, noise=0.1), "1 to 5 are possible"),
        (lambda s: Prior(((1, 2),), ((1, 2),)), "one pair fewer"),
        (lambda s: Prior(((2, 1),), ()), "need 0 < low < high"),
    ],
)
def test_wrong_arguments(surveys, call, message):
    with pytest.raises(ValueError, match=message):
        call(surveys.apparent(surveys.k1))
