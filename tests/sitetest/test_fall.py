"""Fall of potential: where the probe must stand in layered soil, and a known mat read back.

Table for two layers: the textbook equation phi(x) + phi(1) = phi(1 - x) solved separately, four figures.
Probe distances of rods: instrument manual (Chauvin Arnoux/AEMC), rounded to feet.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from evenground.errors import InputError, NotConvergedError, OutOfRangeError
from evenground.model.sitetest import (
    FallReading,
    FallSurvey,
    LeadCoupling,
    MatUnderTest,
    Phasor,
)
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.sitetest import (
    coupled_impedance,
    far_reference_ratio,
    read_fall,
    reading_at,
    simulate_fall,
    surface_kernel,
)
from evenground.standards import ieee81

Floats = NDArray[np.float64]


def small_electrode(soil: LayeredSoil, resistance: float = 10.0) -> MatUnderTest:
    """An electrode so small that it acts as a point at the origin."""
    kernel = surface_kernel(soil)

    def potential(points: Floats) -> Floats:
        return kernel(np.hypot(points[:, 0], points[:, 1]))

    return MatUnderTest(resistance, potential, soil, (0.0, 0.0), 0.01)


def hemisphere(soil_ohm_m: float, radius: float) -> MatUnderTest:
    def potential(points: Floats) -> Floats:
        away = np.maximum(np.linalg.norm(points, axis=1), radius)
        return soil_ohm_m / (2 * math.pi * away)

    return MatUnderTest(
        soil_ohm_m / (2 * math.pi * radius), potential, LayeredSoil((soil_ohm_m,)), (0.0, 0.0), 2 * radius
    )


DEPTHS = (0.01, 0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0)
STANDS = {
    -0.9: (0.6179, 0.6141, 0.5805, 0.5218, 0.5161, 0.5256, 0.5560, 0.5842),
    -0.5: (0.6179, 0.6148, 0.6022, 0.5717, 0.5603, 0.5615, 0.5795, 0.5969),
    0.0: (0.6180,) * 8,
    0.5: (0.6191, 0.6338, 0.6555, 0.6875, 0.7011, 0.7003, 0.6766, 0.6516),
    0.9: (0.6421, 0.7359, 0.7974, 0.8413, 0.8429, 0.8242, 0.7736, 0.7163),
}


@pytest.mark.parametrize("k", STANDS)
@pytest.mark.parametrize("column", range(8))
def test_where_the_probe_must_stand(k: float, column: int) -> None:
    distance = 100.0
    soil = LayeredSoil((100.0, 100.0 * (1 + k) / (1 - k)), (DEPTHS[column] * distance,))
    plan = simulate_fall(small_electrode(soil), distance)
    assert plan.stand_share == pytest.approx(STANDS[k][column], abs=6e-5)  # as printed


def test_the_golden_section_is_recovered() -> None:
    plan = simulate_fall(small_electrode(LayeredSoil((250.0,))), 60.0)
    assert plan.stand_share == pytest.approx((math.sqrt(5) - 1) / 2, rel=1e-8)
    assert plan.uniform_rule_ratio == pytest.approx(1.0, rel=1e-9)
    assert plan.slope_ratio == pytest.approx(1.0, rel=1e-6)
    assert plan.stand_low_m is not None
    assert plan.stand_high_m is not None
    low, high = reading_at(
        small_electrode(LayeredSoil((250.0,))), 60.0, [plan.stand_low_m, plan.stand_high_m]
    )
    assert low == pytest.approx(10.0 * 0.98, rel=1e-6)
    assert high == pytest.approx(10.0 * 1.02, rel=1e-6)


@pytest.mark.parametrize(
    ("rod_ft", "potential_ft", "current_ft"),
    [(6, 45, 72), (8, 50, 80), (10, 55, 88), (12, 60, 96), (18, 71, 115), (20, 74, 120), (30, 86, 140)],
)
def test_probe_distances_of_rods(rod_ft: float, potential_ft: float, current_ft: float) -> None:
    """The manual's 62 % rule, against a rod of uniform leakage: V = rho/(2 pi L) asinh(L/x)."""
    length, radius, rho = rod_ft * 0.3048, 0.0125, 100.0

    def potential(points: Floats) -> Floats:
        return rho / (2 * math.pi * length) * np.arcsinh(length / np.hypot(points[:, 0], points[:, 1]))

    resistance = rho / (2 * math.pi * length) * (math.log(4 * length / radius) - 1)
    mat = MatUnderTest(resistance, potential, LayeredSoil((rho,)), (0.0, 0.0), length)
    plan = simulate_fall(mat, current_ft * 0.3048)
    assert plan.stand_share is not None
    assert plan.stand_share == pytest.approx(potential_ft / current_ft, abs=0.015)  # feet, and rules of thumb
    # at the manual's place the error is small
    assert reading_at(mat, current_ft * 0.3048, [potential_ft * 0.3048])[0] == pytest.approx(
        resistance, rel=0.01
    )


def test_kernel_against_image_series() -> None:
    r = np.array([0.1, 1.0, 10.0, 100.0, 1000.0])
    n = np.arange(1, 20_000)[:, None]
    for k in (0.8, -0.8):
        h = 3.0
        series = 1 / r + 2 * np.sum(k**n / np.hypot(r, 2 * n * h), axis=0)
        value = surface_kernel(LayeredSoil((100.0, 100.0 * (1 + k) / (1 - k)), (h,)))(r)
        assert value == pytest.approx(100.0 / (2 * math.pi) * series, rel=1e-5)


def test_kernel_of_three_layers_against_mpmath() -> None:
    """Pole-pole resistance from the Hankel integral by adaptive quadrature."""
    import mpmath as mp

    soil = LayeredSoil((100.0, 1000.0, 50.0), (2.0, 4.0))
    kernel = surface_kernel(soil)

    def wave(number: float) -> float:
        value = mp.mpf(50)
        for rho, thickness in ((1000, 4), (100, 2)):
            t = mp.tanh(number * thickness)
            value = (value + rho * t) / (1 + value * t / rho)
        return value

    for r in (1.0, 6.0):
        zeros = [mp.besseljzero(0, k) / r for k in range(1, int(15 * r / math.pi) + 3)]
        tail = mp.quad(lambda x, r=r: (wave(x) - 100) * mp.besselj(0, x * r), [0, *zeros])
        assert kernel(np.array([r]))[0] == pytest.approx(float((100 / r + tail) / (2 * mp.pi)), rel=1e-5)


def test_kernel_keeps_its_limits() -> None:
    same = surface_kernel(LayeredSoil((80.0, 80.0), (3.0,)))(np.array([2.0]))[0]
    assert same == pytest.approx(80.0 / (4 * math.pi), rel=1e-9)
    far = surface_kernel(LayeredSoil((100.0, 30.0, 400.0), (2.0, 5.0)))(np.array([1e5]))[0]
    assert far == pytest.approx(400.0 / (2 * math.pi * 1e5), rel=1e-3)
    assert surface_kernel(LayeredSoil((100.0,)))(np.array([0.0]))[0] == math.inf


def test_a_kernel_that_can_not_be_fitted_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from evenground.sitetest import _kernel

    monkeypatch.setattr(_kernel, "_TOLERANCE", 1e-30)
    with pytest.raises(NotConvergedError, match="only to"):
        surface_kernel(LayeredSoil((100.0, 900.0), (2.0,)))


def test_far_reference_at_right_angles() -> None:
    """Hemisphere in uniform soil: reading/truth = 1 - 2a/D + a/(D sqrt 2)."""
    mat = hemisphere(100.0, 5.0)
    for distance in (50.0, 200.0):
        closed = 1 - 2 * 5 / distance + 5 / (distance * math.sqrt(2))
        assert far_reference_ratio(mat, distance) == pytest.approx(closed, rel=1e-9)


def test_a_profile_at_right_angles_never_reads_the_truth() -> None:
    plan = simulate_fall(hemisphere(100.0, 5.0), 60.0, potential_bearing_deg=90.0)
    assert plan.stand_m is None
    assert any("never reads" in n for n in plan.notes)
    with pytest.raises(InputError, match="does not leave the mat"):
        simulate_fall(hemisphere(100.0, 5.0), 4.0)


@pytest.mark.parametrize(("slope", "share"), [(0.4, 0.6432), (4 / 7, 0.6180)])
def test_slope_method(slope: float, share: float) -> None:
    # Tagg's table begins with 0.643 at 0.40 (from memory); 4/7 is the slope of a point electrode
    assert ieee81.slope_position(slope) == pytest.approx(share, abs=1e-4)
    with pytest.raises(OutOfRangeError, match="outside the method"):
        ieee81.slope_position(2.5)


def test_slope_method_finds_a_displaced_centre() -> None:
    """A hemisphere whose centre lies 6 m behind the point from which distances are measured."""
    rho, a, behind, distance = 100.0, 2.0, 6.0, 80.0
    truth = rho / (2 * math.pi * a)

    def read(x: float) -> float:
        return truth - rho / (2 * math.pi) * (1 / (distance + behind) + 1 / (x + behind) - 1 / (distance - x))

    mu = ieee81.slope_coefficient(*(read(s * distance) for s in (0.2, 0.4, 0.6)))
    assert read(ieee81.slope_position(mu) * distance) == pytest.approx(truth, rel=1e-9)


def survey(
    mat: MatUnderTest, distance: float, noise: Callable[[float], float] = lambda d: 1.0, **more: object
) -> FallSurvey:
    places = [s * distance for s in (0.3, 0.4, 0.5, 0.6, 0.65, 0.7)]
    truth = reading_at(mat, distance, places)
    readings = tuple(FallReading(d, Phasor(r * noise(d))) for d, r in zip(places, truth, strict=True))
    return FallSurvey(readings, distance, **{"paths_connected": False, **more})  # type: ignore[arg-type]


def test_a_known_mat_is_read_back() -> None:
    soil = LayeredSoil((100.0, 400.0), (12.0,))
    mat = small_electrode(soil)
    result = read_fall(mat, survey(mat, 60.0), target_ohm=12.0)
    assert result.resistance_ohm == pytest.approx(10.0, rel=1e-9)
    assert result.spread == pytest.approx(0.0, abs=1e-9)
    assert result.agreement is Verdict.PASS
    assert result.checks[1].verdict is Verdict.PASS


def test_a_mat_that_differs_from_its_model_is_found() -> None:
    soil = LayeredSoil((100.0, 400.0), (12.0,))
    built, model = small_electrode(soil, 15.0), small_electrode(soil, 10.0)
    result = read_fall(model, survey(built, 60.0), target_ohm=10.0)
    # the readings grow by the same 5 ohm that the mat lacks
    assert result.resistance_ohm == pytest.approx(15.0, rel=0.05)
    assert result.agreement is Verdict.FAIL
    assert result.checks[1].verdict is Verdict.FAIL


def test_near_the_target_nothing_is_decided() -> None:
    mat = small_electrode(LayeredSoil((100.0,)))
    result = read_fall(mat, survey(mat, 60.0, uncertainty=0.05), target_ohm=10.1)
    assert result.checks[1].verdict is Verdict.NOT_DECIDED
    assert result.low_ohm is not None
    assert result.high_ohm is not None
    assert result.low_ohm < 10.0 < result.high_ohm


@pytest.mark.parametrize(("connected", "code"), [(True, "fall-paths"), (None, "fall-paths-unknown")])
def test_connected_paths_never_pass(connected: bool | None, code: str) -> None:
    mat = small_electrode(LayeredSoil((100.0,)))
    result = read_fall(mat, survey(mat, 60.0, paths_connected=connected), target_ohm=100.0)
    assert result.checks[1].verdict is Verdict.NOT_DECIDED
    assert result.agreement is Verdict.NOT_DECIDED
    assert code in {f.code for f in result.findings}


def test_season_is_applied_and_wants_a_source() -> None:
    mat = small_electrode(LayeredSoil((100.0,)))
    result = read_fall(mat, survey(mat, 60.0, season_factor=1.4))
    assert result.design_ohm == pytest.approx(14.0, rel=1e-9)
    assert "fall-season-source" in {f.code for f in result.findings}


def test_impossible_readings_do_not_count() -> None:
    mat = small_electrode(LayeredSoil((100.0,)))
    bad = FallSurvey(
        (
            FallReading(20.0, Phasor(-3.0)),
            FallReading(25.0, Phasor(0.0004)),
            FallReading(30.0, Phasor(9.0, 170.0)),
            FallReading(-5.0, Phasor(9.0)),
        ),
        60.0,
        paths_connected=False,
    )
    result = read_fall(mat, bad, target_ohm=10.0)
    assert {f.code for f in result.findings} == {
        "fall-negative",
        "fall-below-resolution",
        "fall-phase",
        "fall-place",
    }
    assert result.resistance_ohm is None
    assert {c.verdict for c in result.checks} == {Verdict.NOT_DECIDED}


def test_coupled_leads() -> None:
    """128 Hz, 100 m beside each other at 1 m, 100 ohm m: Carson's terms written out."""
    coupling = LeadCoupling(100.0, 1.0, 128.0, 100.0)
    w = 2 * math.pi * 128
    depth = 658.87 * math.sqrt(100.0 / 128.0)
    expected = 100.0 * complex(w * 4e-7 * math.pi / 8, w * 2e-7 * math.log(depth))
    assert coupled_impedance(coupling) == pytest.approx(expected, rel=1e-12)
    mat = small_electrode(LayeredSoil((100.0,)), 0.2)
    place = 0.618034 * 60.0
    true = reading_at(mat, 60.0, [place])[0]
    seen = true + expected
    angle = math.degrees(math.atan2(seen.imag, seen.real))
    with_angle = FallSurvey(
        (FallReading(place, Phasor(abs(seen), angle), coupling),), 60.0, paths_connected=False
    )
    assert read_fall(mat, with_angle).resistance_ohm == pytest.approx(0.2, rel=1e-6)
    without = FallSurvey((FallReading(place, Phasor(abs(seen)), coupling),), 60.0, paths_connected=False)
    blind = read_fall(mat, without, target_ohm=0.25)
    assert blind.checks[1].verdict is Verdict.NOT_DECIDED
    assert blind.low_ohm is not None
    assert blind.low_ohm < 0.2


def test_spread_is_reported() -> None:
    mat = small_electrode(LayeredSoil((100.0,)))
    result = read_fall(mat, survey(mat, 60.0, noise=lambda d: 1.0 + 0.3 * (d > 35)))
    assert "fall-spread" in {f.code for f in result.findings}


@pytest.mark.parametrize(("diagonals", "error"), [(2.0, 0.013), (4.0, 0.001)])
def test_what_the_mats_own_disturbance_costs(diagonals: float, error: float) -> None:
    """Hemisphere beside a point source, exact: image at a^2/D and the opposite at the centre."""
    a, rho = 5.0, 100.0
    mat, distance = hemisphere(rho, a), diagonals * 10.0
    x = 0.6 * distance
    image = a / distance * (1 / (x - a**2 / distance) - 1 / x)
    exact = rho / (2 * math.pi) * (1 / a - 1 / distance - 1 / x + 1 / (distance - x) - image)
    simulated = reading_at(mat, distance, [x])[0]
    assert 0.0 < simulated - exact < error * mat.resistance_ohm


def test_disc_on_the_surface_against_its_exact_solution() -> None:
    """A real, wide electrode: disc of radius b, V = (2/pi) R asin(b/r); the stand by Newton's method."""
    from scipy.optimize import newton

    b, rho, distance = 10.0, 100.0, 60.0
    resistance = rho / (4 * b)

    def at(r: float) -> float:
        return 2 / math.pi * resistance * math.asin(b / r)

    def potential(points: Floats) -> Floats:
        r = np.maximum(np.hypot(points[:, 0], points[:, 1]), b)
        return 2 / math.pi * resistance * np.arcsin(b / r)

    mat = MatUnderTest(resistance, potential, LayeredSoil((rho,)), (0.0, 0.0), 2 * b)
    plan = simulate_fall(mat, distance)
    closed = newton(lambda x: at(x) + at(distance) - rho / (2 * math.pi * (distance - x)), 37.0)
    assert plan.stand_m == pytest.approx(float(closed), rel=1e-8)


def test_what_is_left_is_no_surer_than_what_was_read() -> None:
    """Error propagation: 5 % of a reading that is nearly all coupling is far more than 5 % of the rest."""
    coupling = LeadCoupling(300.0, 1.0, 128.0, 100.0)
    part = coupled_impedance(coupling)
    mat = small_electrode(LayeredSoil((100.0,)), 0.05)
    readings = []
    for share in (0.5, 0.6, 0.618034, 0.7):
        seen = reading_at(mat, 400.0, [share * 400.0])[0] + part
        angle = math.degrees(math.atan2(seen.imag, seen.real))
        readings.append(FallReading(share * 400.0, Phasor(abs(seen), angle), coupling))
    found = read_fall(mat, FallSurvey(tuple(readings), 400.0, paths_connected=False, resolution_ohm=1e-4))
    assert found.resistance_ohm == pytest.approx(0.05, rel=1e-6)
    assert found.low_ohm is not None
    assert found.high_ohm is not None
    assert found.high_ohm - found.low_ohm > 2 * 0.05 * abs(part)
    assert found.agreement is Verdict.NOT_DECIDED
