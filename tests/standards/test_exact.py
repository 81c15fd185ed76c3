"""Exact electrodes: samples (own evaluation, five figures), limits and independent quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.standards import dwight, exact


def test_hemisphere() -> None:
    assert exact.hemisphere_resistance(100, 0.5) == pytest.approx(31.8310, abs=6e-5)
    at_one, at_two = (exact.hemisphere_potential(100, 100, r) for r in (1.0, 2.0))
    assert at_one == pytest.approx(1591.55, abs=6e-3)
    assert at_one - at_two == pytest.approx(795.77, abs=6e-3)


def test_disc() -> None:
    assert exact.disc_resistance(100, 5) == pytest.approx(5.0, rel=1e-12)
    assert exact.disc_relative_potential(5, 6) == pytest.approx(0.62714, abs=6e-6)
    assert exact.disc_relative_potential(5, 10) == pytest.approx(1.0 / 3.0, rel=1e-12)
    assert exact.disc_relative_potential(5, 5) == 1.0


def test_disc_potential_by_integrating_its_leakage() -> None:
    # Leakage I/(2 pi a sqrt(a^2 - r^2)); with r = a sin(u) the integrand is smooth.
    a, r = 5.0, 8.0

    def ring(u: float) -> float:
        around = np.linspace(0.0, 2.0 * math.pi, 256, endpoint=False)
        s = a * math.sin(u)
        return math.sin(u) * float(np.mean(1.0 / np.sqrt(r * r + s * s - 2.0 * r * s * np.cos(around))))

    # V = rho I/(2 pi) int ring; V0 = rho I/(4 a).
    relative = quad(ring, 0.0, math.pi / 2.0)[0] * 2.0 * a / math.pi
    assert exact.disc_relative_potential(a, r) == pytest.approx(relative, rel=1e-9)


def test_sphere() -> None:
    assert exact.buried_sphere_resistance(100, 0.5, 3) == pytest.approx(17.2418, abs=6e-5)


def test_hemisphere_on_two_layers() -> None:
    assert exact.hemisphere_two_layer_resistance(100, 300, 5, 0.5) == pytest.approx(34.035, abs=6e-4)
    assert exact.hemisphere_two_layer_resistance(100, 100, 5, 0.5) == pytest.approx(
        exact.hemisphere_resistance(100, 0.5), rel=1e-12
    )
    with pytest.raises(NotConvergedError, match="images"):
        exact.hemisphere_two_layer_resistance(1.0, 1e9, 5.0, 0.5)


def test_rod_surface_potential() -> None:
    at_one, at_two = (exact.rod_surface_potential(100, 100, 3, x) for x in (1.0, 2.0))
    assert at_one == pytest.approx(964.72, abs=6e-3)
    assert at_one - at_two == pytest.approx(330.87, abs=6e-3)
    by_quadrature = quad(lambda z: 1.0 / math.hypot(1.0, z), 0.0, 3.0)[0] * 100 * 100 / (2 * math.pi * 3)
    assert at_one == pytest.approx(by_quadrature, rel=1e-9)


def test_spheroids_become_hemisphere_disc_and_rod() -> None:
    hemisphere = exact.hemisphere_resistance(100, 1.0)
    # Limits are approached linearly in the deviation 1e-6 and in the ratio 1e-8.
    assert exact.half_prolate_spheroid_resistance(100, 1.0 + 1e-6, 1.0) == pytest.approx(hemisphere, rel=1e-6)
    assert exact.half_oblate_spheroid_resistance(100, 1.0 - 1e-6, 1.0) == pytest.approx(hemisphere, rel=1e-6)
    assert exact.half_oblate_spheroid_resistance(100, 1e-8, 1.0) == pytest.approx(
        exact.disc_resistance(100, 1.0), rel=1e-7
    )
    # A rod lies within 7 % of the spheroid as long and as thick at the surface.
    spheroid = exact.half_prolate_spheroid_resistance(100, 3.0, 0.008)
    assert spheroid == pytest.approx(100 / (6 * math.pi) * math.log(2 * 3 / 0.008), rel=1e-4)
    assert 0.9 < dwight.rod_resistance(100, 3.0, 0.008) / spheroid < 1.0


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: exact.disc_relative_potential(5.0, 4.0), "lies on the disc"),
        (lambda: exact.half_prolate_spheroid_resistance(100, 1.0, 2.0), "above the radius"),
        (lambda: exact.half_oblate_spheroid_resistance(100, 2.0, 1.0), "below the radius"),
        (lambda: exact.disc_resistance(-1.0, 2.0), "resistivity_ohm_m"),
    ],
)
def test_refusals(call: object, match: str) -> None:
    with pytest.raises(OutOfRangeError, match=match):
        call()  # type: ignore[operator]
