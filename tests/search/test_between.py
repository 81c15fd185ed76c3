"""Fields between solved samples, against those samples solved themselves."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from evenground.search import _between
from evenground.search._base import prepare
from evenground.search._between import ERROR, FEWEST, fields_of
from evenground.search._slim import SlimJob, slim_case, slim_result


def nothing(done, of):
    """Progress that nobody follows."""


@pytest.fixture(scope="module")
def case(small, small_study):
    return slim_case(prepare(small, small_study.soil), small_study)


def jobs_around(soil, count, seed=3, depth=0.0):
    """Samples of every resistivity, thickness and of the depth."""
    numbers = len(soil.resistivities_ohm_m) + len(soil.thicknesses_m)
    draw = stats.qmc.LatinHypercube(numbers + 1, seed=seed).random(count)
    factors = np.exp(0.5 * (draw[:, :numbers] - 0.5))
    layers = len(soil.resistivities_ohm_m)
    return [
        SlimJob(
            replace(
                soil,
                resistivities_ohm_m=tuple(r * f for r, f in zip(soil.resistivities_ohm_m, row, strict=False)),
                thicknesses_m=tuple(t * f for t, f in zip(soil.thicknesses_m, row[layers:], strict=True)),
            ),
            float(depth * (d - 0.5)),
        )
        for row, d in zip(factors, draw[:, -1], strict=True)
    ]


def gap(one, other):
    """Largest relative difference of two results."""
    gaps = [one.resistance_ohm / other.resistance_ohm - 1]
    gaps += [one.unit[key] / other.unit[key] - 1 for key in other.unit]
    return max(abs(g) for g in gaps)


@pytest.mark.parametrize("depth", [0.0, 0.2])
def test_a_handful_between_is_what_their_own_solution_says(case, small_study, depth):
    jobs = jobs_around(small_study.soil.soil, 600, depth=depth)
    found = fields_of(case, jobs, 1, nothing)
    assert "were solved" in found.note
    assert set(found.solved) == set(jobs)
    chosen = np.random.default_rng(11).choice(len(jobs), 12, replace=False)
    worst = max(gap(found.solved[jobs[k]], slim_result(case, jobs[k])) for k in chosen)
    assert worst < 2 * ERROR  # the samples held back are others than these


def test_few_samples_are_all_solved(case, small_study):
    jobs = jobs_around(small_study.soil.soil, 6)
    found = fields_of(case, jobs, 1, nothing)
    assert found.note == ""
    assert found.solved[jobs[2]] == slim_result(case, jobs[2])


def test_what_polynomials_do_not_describe_is_solved(case, small_study, monkeypatch):
    """A result with a jump in every direction: nothing may be taken from between."""

    result = slim_result(case, SlimJob(small_study.soil.soil))

    def jumping(case, job):
        sign = 1.0 if int(1e4 * job.soil.thicknesses_m[0]) % 2 else 1.3
        return replace(result, resistance_ohm=sign * result.resistance_ohm)

    jobs = jobs_around(small_study.soil.soil, FEWEST + 60)
    monkeypatch.setattr(_between, "slim_result", jumping)
    found = fields_of(case, jobs, 1, nothing)
    assert found.note == ""
    assert all(found.solved[job] == jumping(case, job) for job in jobs)
