"""Formulas and tables of lightning protection against figures from outside.

IEC 62305 levels as printed on a secondary page; IEEE Std 998 and Gupta and Thapar from memory; the
dispersion of soil from two separately recalled publications that must agree with each other.
"""

from __future__ import annotations

import math

import pytest

from evenground.errors import OutOfRangeError
from evenground.standards import iec62305, ieee998, impulse


@pytest.mark.parametrize(
    ("name", "largest", "least", "sphere", "mesh"),
    [("I", 200, 3, 20, 5), ("II", 150, 5, 30, 10), ("III", 100, 10, 45, 15), ("IV", 100, 16, 60, 20)],
)
def test_levels(name: str, largest: float, least: float, sphere: float, mesh: float) -> None:
    row = iec62305.protection_level(name)
    assert (row.max_current_ka, row.min_current_ka, row.sphere_radius_m, row.mesh_m) == (
        largest,
        least,
        sphere,
        mesh,
    )
    # the standard rounds the radius of its own formula; it stays within 6 %
    assert iec62305.striking_distance(least) == pytest.approx(sphere, rel=0.06)


def test_unknown_level_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="one of I, II, III, IV"):
        iec62305.protection_level("V")


@pytest.mark.parametrize(("current", "radius"), [(3, 20.42), (5, 28.47), (10, 44.67), (16, 60.63)])
def test_striking_distance_iec(current: float, radius: float) -> None:
    assert iec62305.striking_distance(current) == pytest.approx(radius, abs=0.006)  # as printed


@pytest.mark.parametrize(
    ("level", "rho", "length"),
    [(1, 500, 5), (1, 1000, 20), (1, 2000, 50), (1, 3000, 80), (2, 800, 5), (2, 1000, 9), (2, 2000, 29),
     (2, 3000, 49), (3, 3000, 5), (4, 100, 5)],
)  # fmt: skip
def test_electrode_length(level: int, rho: float, length: float) -> None:
    # IEC 62305-3, Figure 3, from memory: straight lines, exact
    assert iec62305.earth_electrode_length(level, rho) == pytest.approx(length, rel=1e-12)


def test_collection_area_is_the_area_within_three_heights() -> None:
    from shapely import box

    # oracle: a general geometry library; its circle has 256 corners
    expected = box(0, 0, 40, 20).buffer(3 * 12.0, quad_segs=256).area
    assert iec62305.box_collection_area(40, 20, 12) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("section", "rises"), [(16, (56, 143, 309)), (25, (22, 51, 98)), (50, (5, 12, 22))])
def test_heating_of_copper(section: float, rises: tuple[float, float, float]) -> None:
    # IEC 62305-1, Table D.3 for 2.5, 5.6 and 10 MJ/ohm (from memory), printed in whole kelvins
    for energy, rise in zip((2.5e6, 5.6e6, 10e6), rises, strict=True):
        value = iec62305.adiabatic_temperature_rise(energy, section, *iec62305.METALS["copper"])
        assert value == pytest.approx(rise, abs=0.75)


@pytest.mark.parametrize(("current", "distance"), [(3, 16.34), (5, 22.77), (10, 35.73), (20, 56.07)])
def test_striking_distance_ieee(current: float, distance: float) -> None:
    assert ieee998.striking_distance(current) == pytest.approx(distance, abs=0.006)
    assert ieee998.striking_distance(current, ieee998.MAST_FACTOR) == pytest.approx(1.2 * distance, abs=0.007)


@pytest.mark.parametrize(
    ("bil", "current", "distance"),
    [(350, 2.567, 14.76), (550, 4.033, 19.80), (950, 6.967, 28.25), (1550, 11.367, 38.84)],
)
def test_allowable_current(bil: float, current: float, distance: float) -> None:
    value = ieee998.allowable_stroke_current(bil, 300)
    assert value == pytest.approx(current, abs=6e-4)
    assert ieee998.striking_distance(value) == pytest.approx(distance, abs=0.01)


def test_corona_radius_solves_its_equation() -> None:
    radius = ieee998.corona_radius(10.0, 1050.0)
    assert radius * math.log(20.0 / radius) == pytest.approx(1050.0 / 1500.0, rel=1e-10)
    assert radius < 20.0 / math.e  # the smaller root
    with pytest.raises(OutOfRangeError, match="no corona radius"):
        ieee998.corona_radius(1.0, 5000.0)


def test_half_of_the_strokes_exceed_the_median() -> None:
    assert ieee998.share_above(31.0) == pytest.approx(0.5, rel=1e-12)
    assert ieee998.share_above(24.0, 24.0) == pytest.approx(0.5, rel=1e-12)


def test_ionisation() -> None:
    for gradient, limit, resistance in ((300e3, 47.75e3, 7.837), (400e3, 63.66e3, 8.244)):
        current = impulse.cigre_limit_current(100, 10, gradient)
        assert current == pytest.approx(limit, rel=2e-4)  # four printed figures
        assert impulse.cigre_ionised_resistance(10, 30e3, current) == pytest.approx(resistance, rel=2e-4)
    # hemisphere of perfectly conducting soil, 100 ohm m and 300 kV/m
    assert impulse.ionised_hemisphere_resistance(100, 10e3) == pytest.approx(21.85, abs=0.006)
    assert impulse.ionised_hemisphere_resistance(100, 100e3) == pytest.approx(6.910, abs=6e-4)


DISPERSION = [
    (100, 1e4, 98.09, 409.9, 98.08, 408.0),
    (100, 1e5, 93.66, 150.0, 93.64, 149.3),
    (100, 1e6, 81.00, 59.84, 80.94, 59.61),
    (1000, 1e4, 905.1, 225.7, 904.8, 224.7),
    (1000, 1e5, 733.5, 86.09, 732.7, 85.74),
    (1000, 1e6, 442.5, 37.69, 441.5, 37.57),
    (5000, 1e4, 3733, 150.4, 3729, 149.7),
    (5000, 1e5, 2297, 59.98, 2292, 59.75),
    (5000, 1e6, 984.3, 28.64, 981.2, 28.56),
]


@pytest.mark.parametrize(("rho", "f", "rho_av", "eps_av", "rho_cigre", "eps_cigre"), DISPERSION)
def test_dispersion(
    rho: float, f: float, rho_av: float, eps_av: float, rho_cigre: float, eps_cigre: float
) -> None:
    # printed to four figures
    assert 1 / impulse.alipio_visacro_conductivity(rho, f) == pytest.approx(rho_av, rel=3e-4)
    assert impulse.alipio_visacro_permittivity(rho, f) == pytest.approx(eps_av, rel=3e-4)
    assert 1 / impulse.cigre_781_conductivity(rho, f) == pytest.approx(rho_cigre, rel=3e-4)
    assert impulse.cigre_781_permittivity(rho, f) == pytest.approx(eps_cigre, rel=3e-4)
    # two publications of one set of measurements
    assert rho_av == pytest.approx(rho_cigre, rel=0.005)
    assert eps_av == pytest.approx(eps_cigre, rel=0.005)


@pytest.mark.parametrize(("product", "length"), [(80, 7.14), (800, 23.5), (8000, 32.9)])
def test_grcev_effective_length(product: float, length: float) -> None:
    # Grcev (2009), from memory, cross-checked
    assert impulse.grcev_effective_length(product / 8.0, 8.0) == pytest.approx(length, rel=2e-3)
    at = impulse.grcev_effective_length(product / 8.0, 8.0)
    assert impulse.grcev_impulse_coefficient(at, product / 8.0, 8.0) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("length", "rho", "front", "coefficient"),
    [(10, 100, 0.8, 1.30), (20, 100, 0.8, 2.35), (40, 100, 0.8, 4.44), (60, 100, 0.8, 6.54),
     (40, 1000, 0.8, 1.58), (60, 1000, 0.8, 2.29), (60, 1000, 8, 1.69), (5, 100, 0.8, 1.0)],
)  # fmt: skip
def test_grcev_coefficient(length: float, rho: float, front: float, coefficient: float) -> None:
    assert impulse.grcev_impulse_coefficient(length, rho, front) == pytest.approx(coefficient, abs=0.006)


def test_grcev_side_and_gupta_thapar() -> None:
    assert impulse.grcev_effective_side(100, 0.8) == pytest.approx(9.05, abs=0.01)
    assert impulse.grcev_effective_side(100, 8, 0.5) == pytest.approx(19.3, abs=0.06)
    assert impulse.gupta_thapar_radius(100, 1.2, 7, False) == pytest.approx(12.05, abs=0.006)
    assert impulse.gupta_thapar_radius(100, 1.2, 7, True) == pytest.approx(4.66, abs=0.006)
    with pytest.raises(OutOfRangeError, match="outside the formula"):
        impulse.gupta_thapar_radius(100, 1.2, 30, False)


@pytest.mark.parametrize(("rho", "length"), [(100, 20), (500, 44.7), (1000, 63.2)])
def test_rule_of_thumb(rho: float, length: float) -> None:
    assert impulse.simple_effective_length(rho) == pytest.approx(length, abs=0.05)
