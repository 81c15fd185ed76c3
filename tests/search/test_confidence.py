"""Sampling: closed forms, a standard test function, full studies at drawn inputs."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from evenground.errors import CancelledError, InputError, OutOfRangeError
from evenground.model.soil import LayeredSoil
from evenground.search import Doubts, Range, main_effects, proportion_interval, sample_doubts
from evenground.search._base import prepare
from evenground.search._doubt import _draw, _jobs, _spreads
from evenground.search._slim import SlimJob, slim_case, slim_result
from evenground.study import run_study

SLIM = 0.015  # a coarser look at fewer places: measured 0.0 to 0.8 % for a soil far off


def test_ranges_against_scipy():
    p = np.array([0.025, 0.3, 0.5, 0.9, 0.975])
    sigma = np.log(2.0 / 0.5) / (2 * stats.norm.ppf(0.975))
    assert Range(0.5, 2.0).at(p) == pytest.approx(stats.lognorm(sigma).ppf(p), rel=1e-9)
    assert Range(-0.1, 0.3, "normal").at(p)[[0, 4]] == pytest.approx([-0.1, 0.3])
    assert Range(1.0, 3.0, "even").at(p) == pytest.approx(stats.uniform(1, 2).ppf(p))
    with pytest.raises(ValueError, match="must be below"):
        Range(2.0, 1.0)
    with pytest.raises(ValueError, match="not even, log or normal"):
        Range(1.0, 2.0, "wide")


def test_main_effects_of_the_ishigami_function():
    # Ishigami and Homma (1990), a = 7, b = 0.1: S1 = 0.3139, S2 = 0.4424, S3 = 0
    x = stats.qmc.scale(stats.qmc.Sobol(3, seed=1).random_base2(13), [-np.pi] * 3, [np.pi] * 3)
    y = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    found = main_effects({"1": x[:, 0], "2": x[:, 1], "3": x[:, 2]}, y)
    assert found["1"] == pytest.approx(0.3139, abs=0.02)  # classes of finite width
    assert found["2"] == pytest.approx(0.4424, abs=0.02)
    assert found["3"] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("correlation", [0.0, 0.5, -0.6])
def test_main_effects_of_inputs_that_depend_on_each_other(correlation):
    # Y = X1 + X2, unit normals: Var E[Y|X1] / Var Y = (1 + rho)^2 / (2 + 2 rho)
    rng = np.random.default_rng(3)
    x = rng.multivariate_normal([0, 0], [[1, correlation], [correlation, 1]], 8000)
    found = main_effects({"x": x[:, 0], "flag": (x[:, 1] > 0) * 1.0}, x.sum(axis=1))
    assert found["x"] == pytest.approx((1 + correlation) / 2, abs=0.03)
    # a sign alone tells 2/pi of what its normal tells
    assert found["flag"] == pytest.approx(2 / np.pi * (1 + correlation) / 2, abs=0.03)


def test_no_input_drives_noise_and_few_samples_are_refused():
    rng = np.random.default_rng(5)
    found = main_effects({"a": rng.random(1000)}, rng.random(1000))
    assert found["a"] < 0.03
    with pytest.raises(ValueError, match="at least 50"):
        main_effects({"a": [1.0, 2.0]}, [1.0, 2.0])


@pytest.mark.parametrize(("kept", "count"), [(0, 20), (7, 20), (970, 1000), (50, 50)])
def test_interval_against_scipy(kept, count):
    reference = stats.binomtest(kept, count).proportion_ci(method="exact")
    assert proportion_interval(kept, count) == pytest.approx((reference.low, reference.high))


def test_probability_of_a_linear_case_in_closed_form(small_study):
    # touch is in proportion to the current, so with a lognormal factor f: P = P(f <= limit / value)
    worst = max(s.value_v / s.limit_v for s in small_study.shocks)
    spread = Range(0.6 / worst, 1.3 / worst)
    found = sample_doubts(small_study, Doubts(soil=False, current=spread), samples=400)
    sigma = np.log(spread.high / spread.low) / (2 * stats.norm.ppf(0.975))
    middle = np.sqrt(spread.low * spread.high)
    exact = stats.lognorm(sigma, scale=middle).cdf(1.0 / worst)
    assert found.probability == pytest.approx(exact, abs=2 / 400)  # a Latin hypercube counts nearly exactly
    check = found.checks[0]
    assert check.nominal == pytest.approx(worst)
    assert check.over_limit[0] == pytest.approx(worst * spread.low, rel=0.02)
    assert check.over_limit[2] == pytest.approx(worst * spread.high, rel=0.02)
    assert check.drivers[0].name == "current"
    assert check.drivers[0].share > 0.95
    assert "fault current" in found.sentence


def test_every_draw_is_what_a_full_study_of_it_finds(small, small_study):
    doubts = Doubts(
        soil=False,
        resistivity=Range(0.6, 1.6),
        current=Range(0.8, 1.2),
        share=Range(0.8, 1.2),
        time=Range(0.7, 1.5),
        cover_resistivity=Range(0.3, 1.2),
        cover_thickness=Range(0.6, 1.2),
        depth_m=Range(-0.1, 0.2, "normal"),
    )
    base = prepare(small, small_study.soil)
    case = slim_case(base, small_study)
    drawn = _draw(base, small_study, case, doubts, 50, 7)
    jobs = _jobs(base, drawn, "as surveyed")
    chosen = [3, 17]
    reference = slim_result(case, SlimJob(small_study.soil_used))
    own = {k: slim_result(case, jobs[k]) for k in chosen}
    results = [own.get(k, reference) for k in range(len(jobs))]
    spreads = {
        s.title: s for s in _spreads(base, small_study, drawn, jobs, reference, results, "as surveyed")
    }
    for k in chosen:
        full = run_study(_project(small, small_study.soil.soil, {n: v[k] for n, v in drawn.values.items()}))
        for shock in full.shocks:
            title = f"{shock.quantity} voltage, {shock.zone}"
            assert spreads[title].values[k] == pytest.approx(shock.value_v / shock.limit_v, rel=SLIM)


def _project(project, soil, v):
    """The project with the drawn factors written into it."""
    scaled = replace(soil, resistivities_ohm_m=tuple(v["resistivity"] * r for r in soil.resistivities_ohm_m))
    choice = replace(project.soil_choice, select="given", given=scaled, reason="drawn")
    faults = tuple(
        replace(
            f,
            current_a=f.current_a * v["current"],
            split_factor=f.split_factor * v["share"],
            shock_time_s=f.shock_time_s * v["time"],
            thermal_time_s=max(f.thermal_time_s, f.shock_time_s * v["time"]),
        )
        for f in project.faults
    )
    surface = tuple(
        replace(
            z,
            resistivity_ohm_m=z.resistivity_ohm_m * v["cover_resistivity"],
            thickness_m=z.thickness_m * v["cover_thickness"],
        )
        for z in project.surface
    )
    mats = tuple(replace(m, depth_m=m.depth_m + v["depth_m"]) for m in project.mats)
    return replace(project, soil_choice=choice, faults=faults, surface=surface, mats=mats)


@pytest.mark.slow
def test_seed_and_workers(small_study, agree):
    doubts = Doubts(current=Range(0.9, 1.1), broken=0.3)
    one = sample_doubts(small_study, doubts, samples=50, seed=4)
    agree(sample_doubts(small_study, doubts, samples=50, seed=4, workers=2), one)
    other = sample_doubts(small_study, doubts, samples=50, seed=5)
    assert other.checks[0].over_limit != one.checks[0].over_limit
    names = {d.name for d in one.checks[0].drivers}
    assert {"resistivity of the upper layer", "broken conductor", "current"} <= names
    assert any("one place" in note for note in one.notes)


def test_what_can_not_be_sampled_is_refused_and_a_run_can_be_stopped(small_study):
    with pytest.raises(OutOfRangeError, match="nothing is uncertain"):
        sample_doubts(small_study, Doubts(soil=False), samples=50)
    with pytest.raises(ValueError, match="too few"):
        sample_doubts(small_study, Doubts(), samples=10)

    def stop(text, done):
        if "field 3" in text:
            raise CancelledError("stopped")

    with pytest.raises(CancelledError, match="stopped"):
        sample_doubts(small_study, Doubts(), samples=50, progress=stop)
    case = slim_case(prepare(small_study.project, small_study.soil), small_study)
    with pytest.raises(OutOfRangeError, match="out of the ground"):
        slim_result(case, SlimJob(LayeredSoil((100.0,)), deeper_m=-0.5))


def test_range_of_the_command_line():
    from evenground.cli._search import read_range

    assert read_range("current", "0.9:1.1") == Range(0.9, 1.1)
    assert read_range("depth_m", "-0.1:0.1") == Range(-0.1, 0.1, "normal")
    assert read_range("time", "1:2:even") == Range(1.0, 2.0, "even")
    with pytest.raises(InputError, match="--cover-thickness"):
        read_range("cover_thickness", "2")
