"""Total-order indices: a standard test function, closed forms, SciPy's own estimator."""

import numpy as np
import pytest
from scipy import stats

from evenground.search import Doubts, Range, sample_doubts
from evenground.search._totals import total_effects


def ishigami(x):
    """Ishigami and Homma (1990), a = 7, b = 0.1."""
    return np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])


def test_ishigami_against_its_closed_form():
    # total variance a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2; ST = 0.5576, 0.4424, 0.2437
    # (Ishigami and Homma 1990; the values as in Saltelli et al. 2008, Global Sensitivity Analysis)
    x = stats.qmc.scale(stats.qmc.Sobol(3, seed=1).random_base2(11), [-np.pi] * 3, [np.pi] * 3)
    found = total_effects({"1": x[:, 0], "2": x[:, 1], "3": x[:, 2]}, ishigami(x.T))
    assert found.unexplained < 0.01
    assert found.indices["1"] == pytest.approx(0.5576, abs=0.01)  # 4 096 draws, polynomial of degree 9
    assert found.indices["2"] == pytest.approx(0.4424, abs=0.01)
    assert found.indices["3"] == pytest.approx(0.2437, abs=0.01)


def test_a_product_against_the_estimator_of_scipy():
    spread = [stats.uniform(1, 2), stats.uniform(0.5, 1), stats.uniform(2, 6)]
    reference = stats.sobol_indices(func=lambda x: x[0] * x[1] / x[2], n=4096, dists=spread, rng=1)
    draw = stats.qmc.LatinHypercube(3, seed=2).random(800)
    x = np.array([s.ppf(draw[:, k]) for k, s in enumerate(spread)])
    found = total_effects({"a": x[0], "b": x[1], "c": x[2]}, x[0] * x[1] / x[2]).indices
    for k, name in enumerate("abc"):
        assert found[name] == pytest.approx(reference.total_order[k], abs=0.03)  # 800 samples
    assert sum(found.values()) > 1.02  # factors of a product work together


@pytest.mark.parametrize("correlation", [0.0, 0.5, -0.6])
def test_a_sum_of_inputs_that_depend_on_each_other(correlation):
    # Y = X1 + 2 X2 + flag, unit normals: E Var[Y|X2, flag] = 1 - rho^2; closed form as in
    # Kucherenko, Tarantola and Annoni (2012) for linear models with normal inputs
    rng = np.random.default_rng(3)
    x = rng.multivariate_normal([0, 0], [[1, correlation], [correlation, 1]], 3000)
    flag = (rng.random(3000) < 0.3) * 1.0
    found = total_effects({"x": x[:, 0], "z": x[:, 1], "flag": flag}, x @ [1.0, 2.0] + flag).indices
    whole = 1 + 4 + 4 * correlation + 0.21
    assert found["x"] == pytest.approx((1 - correlation**2) / whole, abs=0.03)
    assert found["z"] == pytest.approx(4 * (1 - correlation**2) / whole, abs=0.03)
    assert found["flag"] == pytest.approx(0.21 / whole, abs=0.02)


def test_noise_is_said_and_not_shared_out():
    rng = np.random.default_rng(5)
    found = total_effects({"a": rng.random(400)}, rng.random(400))
    assert found.indices is None
    assert found.unexplained > 0.9
    assert total_effects({"a": rng.random(60)}, np.ones(60)).indices == {"a": 0.0}
    with pytest.raises(ValueError, match="at least 50"):
        total_effects({"a": [1.0, 2.0]}, [1.0, 2.0])


def test_current_and_cover_of_a_study(small_study):
    # two independent inputs: ST_1 = 1 - S_2 and ST_2 = 1 - S_1 (Sobol 2001, whatever the function is);
    # touch over limit is in proportion to the current, so they also work together
    doubts = Doubts(soil=False, current=Range(0.5, 2.0), cover_resistivity=Range(0.1, 3.0))
    found = sample_doubts(small_study, doubts, samples=300)
    check = next(c for c in found.checks if c.title.startswith("touch"))
    total = {d.name: d.total for d in check.drivers}
    share = {d.name: d.share for d in check.drivers}
    assert total["current"] == pytest.approx(1 - share["cover_resistivity"], abs=0.05)  # 300 samples
    assert total["cover_resistivity"] == pytest.approx(1 - share["current"], abs=0.05)
    assert sum(total.values()) > 1.0
    assert "fault current" in found.sentence
