"""The image series of the surface factor against quadrature and against the disc's integral equation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.standards import ieee80

FOOT = ieee80.FOOT_RADIUS_M


@pytest.mark.parametrize("distance_m", [1e-3, 0.02, 0.1, 0.3, 2.0, 40.0, 500.0])
def test_mutual_resistance_against_quadrature(distance_m: float) -> None:
    def integrand(x: float) -> float:
        return math.exp(-x * distance_m / FOOT) * np.sinc(x / math.pi) ** 2

    # The tail beyond 4000 is below 1/(4000) of the first oscillations; the exponential kills it sooner.
    end = min(4000.0, 60.0 * FOOT / distance_m)
    expected = quad(integrand, 0.0, end, limit=4000, epsabs=1e-12, epsrel=1e-11)[0] / (4.0 * math.pi * FOOT)
    # 1e-6, but 1e-4 for the smallest distance, where the cut tail shows.
    tolerance = 1e-4 if distance_m < 0.01 else 1e-6
    assert ieee80.foot_mutual_resistance(distance_m) == pytest.approx(expected, rel=tolerance)


def test_mutual_resistance_far_away_is_that_of_points() -> None:
    assert ieee80.foot_mutual_resistance(200.0) == pytest.approx(1.0 / (4.0 * math.pi * 200.0), rel=1e-6)


def test_mutual_resistance_at_no_distance_is_the_discs_own() -> None:
    # Disc in an infinite medium of 1 ohm m: 1/(8b).
    assert ieee80.foot_mutual_resistance(1e-9) == pytest.approx(1.0 / (8.0 * FOOT), rel=1e-6)


@pytest.mark.parametrize(
    ("rho", "rho_s", "h_s"),
    [(100, 3000, 0.1), (10, 10000, 0.05), (2.0, 2e6, 0.02), (3000, 100, 0.1), (1000, 1001, 0.1)],
)
def test_series_against_the_summed_integral(rho: float, rho_s: float, h_s: float) -> None:
    # Sum over n inside the integral: K e/(1 - K e) with e = exp(-2 h l).
    k = (rho - rho_s) / (rho + rho_s)

    def integrand(x: float) -> float:
        e = k * math.exp(-2.0 * h_s / FOOT * x)
        return e / (1.0 - e) * np.sinc(x / math.pi) ** 2

    end = 40.0 * FOOT / h_s
    total = quad(integrand, 0.0, end, limit=4000, epsabs=1e-13, epsrel=1e-11)[0] / (4.0 * math.pi * FOOT)
    assert ieee80.surface_factor_exact(rho, rho_s, h_s) == pytest.approx(1.0 + 16.0 * FOOT * total, rel=1e-8)


def integral_equation(rho: float, rho_s: float, h_s: float, points: int = 40) -> float:
    """Resistance ratio of an equipotential disc on a layer: Fredholm equation (second kind, Love's type).

    phi(t) + 1/pi int phi(s) L(t - s) ds = 2/pi over -b..b, L(u) = 2 sum K^n 2nh/((2nh)^2 + u^2).
    """
    k = (rho - rho_s) / (rho + rho_s)
    x, w = np.polynomial.legendre.leggauss(points)
    t, w = FOOT * x, FOOT * w
    u = t[:, None] - t[None, :]
    kernel = np.zeros_like(u)
    for n in range(1, 2000):
        c = 2.0 * n * h_s
        kernel += 2.0 * k**n * c / (c * c + u * u)
    density = np.linalg.solve(np.eye(points) + kernel * w / math.pi, np.full(points, 2.0 / math.pi))
    strength = 0.5 * float(np.sum(w * density))
    return rho_s / (2.0 * math.pi * strength) / (rho_s / (4.0 * FOOT))


@pytest.mark.parametrize(
    ("rho", "rho_s", "h_s", "tolerance"),
    [
        (400, 2500, 0.102, 3e-4),
        (100, 3000, 0.10, 3e-4),
        (100, 3000, 0.15, 3e-4),
        (1000, 3000, 0.10, 3e-4),
        (100, 3000, 0.05, 6e-3),
        (10, 2000, 0.05, 6e-3),
    ],
)
def test_series_against_the_discs_integral_equation(
    rho: float, rho_s: float, h_s: float, tolerance: float
) -> None:
    exact = integral_equation(rho, rho_s, h_s)
    value = ieee80.surface_factor_exact(rho, rho_s, h_s)
    # The fixed leakage of the series can only raise the resistance (Thomson's principle).
    assert exact <= value <= exact * (1.0 + tolerance)


@given(
    rho=st.floats(1.0, 5000.0),
    rho_s=st.floats(1.0, 20000.0),
    h_s=st.floats(0.02, 1.0),
    scale=st.floats(0.1, 10.0),
)
def test_properties(rho: float, rho_s: float, h_s: float, scale: float) -> None:
    value = ieee80.surface_factor_exact(rho, rho_s, h_s)
    # Only the ratio of resistivities counts.
    assert ieee80.surface_factor_exact(rho * scale, rho_s * scale, h_s) == pytest.approx(value, rel=1e-9)
    # Between all layer and all soil.
    low, high = sorted((1.0, rho / rho_s))
    assert low * (1.0 - 1e-9) <= value <= high * (1.0 + 1e-9)
    # A thicker layer brings it nearer to 1.
    assert abs(ieee80.surface_factor_exact(rho, rho_s, 2.0 * h_s) - 1.0) <= abs(value - 1.0) + 1e-9


def test_no_layer_at_all() -> None:
    assert ieee80.surface_factor_exact(100.0, 100.0, 0.1) == 1.0


def test_endless_contrast_is_an_error() -> None:
    with pytest.raises(NotConvergedError, match="images"):
        ieee80.surface_factor_exact(1e9, 1.0, 0.1)


@pytest.mark.parametrize("formula", [ieee80.surface_factor, ieee80.surface_factor_exact])
@pytest.mark.parametrize("thickness_m", [0.0, -0.1, math.inf])
def test_impossible_layers(formula: object, thickness_m: float) -> None:
    with pytest.raises(OutOfRangeError, match="thickness_m"):
        formula(100.0, 3000.0, thickness_m)  # type: ignore[operator]
