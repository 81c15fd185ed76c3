"""A whole test of a real mat in layered soil, read back.

The measurement is made by the field solver with the mat, a rod as current probe and one as potential probe as
three separate pieces of metal, so that mat and probes disturb each other as they do outside. The
simulation under test knows only the mat's own field and point probes.
"""

from __future__ import annotations

import pytest

from evenground.electrode import rectangular_mat
from evenground.field import Solution, solve, solve_groups
from evenground.model.electrode import Conductor, Electrode
from evenground.model.sitetest import FallReading, FallSurvey, MatUnderTest, Phasor
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.sitetest import read_fall, simulate_fall

SOIL = LayeredSoil((100.0, 400.0), (30.0,))
DISTANCE = 200.0


def mat() -> Electrode:
    return rectangular_mat(length_x_m=40, length_y_m=30, meshes_x=4, meshes_y=3, depth_m=0.6, radius_m=0.006)


def model_of(solution: Solution) -> MatUnderTest:
    def potential(points):  # type: ignore[no-untyped-def]
        return solution.potential_v(points, gpr_v=solution.resistance_ohm)

    return MatUnderTest(solution.resistance_ohm, potential, SOIL, (20.0, 15.0), 50.0)


def spike(x: float, name: str) -> Conductor:
    return Conductor((20.0 + x, 15.0, 0.0), (20.0 + x, 15.0, 0.5), 0.008, kind="rod", group=name)


def measured(metal: Electrode, distance: float) -> float:
    """Voltage between mat and potential probe for one ampere from mat to current probe."""
    pieces = metal + Electrode([spike(DISTANCE, "current"), spike(distance, "potential")])
    r = solve_groups(pieces, SOIL)
    index = {name: k for k, name in enumerate(r.groups)}
    m, c, p = index["mat"], index["current"], index["potential"]
    rise = r.resistance_ohm
    return float(rise[m, m] - rise[m, c] - rise[p, m] + rise[p, c])


def test_a_real_mat_is_read_back() -> None:
    solution = solve(mat(), SOIL)
    model = model_of(solution)
    plan = simulate_fall(model, DISTANCE)
    assert plan.stand_m is not None
    assert plan.stand_m / DISTANCE > 0.65  # the blanket 61.8 % does not hold here
    # the probe stood where the plan says: the true resistance, within the disturbance and the probes' size
    assert measured(mat(), plan.stand_m) == pytest.approx(solution.resistance_ohm, rel=0.005)
    readings = tuple(FallReading(d, Phasor(measured(mat(), d))) for d in (80.0, 120.0, 150.0))
    survey = FallSurvey(readings, DISTANCE, uncertainty=0.02, paths_connected=False)
    result = read_fall(model, survey, target_ohm=1.1 * solution.resistance_ohm)
    assert result.resistance_ohm == pytest.approx(solution.resistance_ohm, rel=0.005)
    assert result.spread is not None
    assert result.spread < 0.01
    assert result.agreement is Verdict.PASS
    assert result.checks[1].verdict is Verdict.PASS


def test_half_a_mat_does_not_pass_for_the_whole() -> None:
    """Two thirds of the mat were never built."""
    small = rectangular_mat(length_x_m=13, length_y_m=30, meshes_x=1, meshes_y=3, depth_m=0.6, radius_m=0.006)
    whole = solve(mat(), SOIL)
    model = model_of(whole)
    readings = tuple(FallReading(d, Phasor(measured(small, d))) for d in (100.0, 130.0))
    survey = FallSurvey(readings, DISTANCE, uncertainty=0.02, paths_connected=False)
    result = read_fall(model, survey, band=0.15, target_ohm=1.1 * whole.resistance_ohm)
    assert result.agreement is Verdict.FAIL
    assert result.checks[1].verdict is Verdict.FAIL
