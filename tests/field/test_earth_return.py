"""Induction with the earth's return, and long conductors, against integrals and closed formulas."""

from itertools import pairwise

import numpy as np
import pytest
from layouts import wires
from scipy.special import j0, k0, kv

from evenground.errors import NotConvergedError
from evenground.field import Injection, Metal, internal_impedance, solve_network
from evenground.field._earth_return import fit_earth_return, no_earth_return, skin_depth_m
from evenground.field._induction import dense_induction
from evenground.field._segments import cut_conductors
from evenground.model.soil import LayeredSoil

MU_0 = 4e-7 * np.pi
OMEGA = 2 * np.pi * 50.0
COPPER = Metal(1.78e-8)


def integrate(f, edges):
    """Gauss-Legendre with 20 points between neighbouring edges."""
    x, w = np.polynomial.legendre.leggauss(20)
    half = 0.5 * np.diff(edges)[:, None]
    return np.sum(w * half * f(edges[:-1, None] + half * (1.0 + x)))


def pollaczek(distance, depth_a, depth_b, rho):
    """Mutual impedance per metre of two long buried wires (F. Pollaczek, Elektrische Nachrichtentechnik 3
    (1926) 339; J. R. Carson, Bell System Tech. J. 5 (1926) 539, for wires in the surface)."""
    g = np.sqrt(1j * OMEGA * MU_0 / rho)
    near, mirror = np.hypot(distance, depth_a - depth_b), np.hypot(distance, depth_a + depth_b)

    def integrand(wave):
        u = np.sqrt(wave**2 + g**2)
        return np.exp(-(depth_a + depth_b) * u) / (wave + u) * np.cos(wave * distance)

    end = 20.0 / (depth_a + depth_b)
    steps = np.arange(0.0, end, min(2.0 / distance, 0.01 * end))
    integral = integrate(integrand, np.union1d(np.geomspace(1e-3, 10.0, 40) * abs(g), steps))
    return 1j * OMEGA * MU_0 / (2 * np.pi) * (kv(0, g * near) - kv(0, g * mirror) + 2 * integral)


def long_pair(distance, depth_a, depth_b, soil, radius=0.005):
    """The same from the sum over a wire of 60 skin depths, seen from the middle of the other."""
    half = 30.0 * skin_depth_m(max(soil.resistivities_ohm_m), 50.0)
    places = np.unique(np.round(np.concatenate([[0.0], np.geomspace(2.0, half, 90)]), 6))
    x = np.concatenate([-places[:0:-1], places])
    source = wires(*(((a, 0, depth_a), (b, 0, depth_a)) for a, b in pairwise(x)), radius=radius)
    if distance == 0.0:
        segments = cut_conductors(source.conductors, LayeredSoil((100.0,)), 1e6)
        z = dense_induction(segments, fit_earth_return(soil, 50.0), 50.0)
        middle = int(np.argmin(np.abs(segments.middle[0] - 1.0)))
        return z[middle].sum() / segments.length_m[middle]
    other = wires(((-1, distance, depth_b), (1, distance, depth_b)), radius=radius)
    pieces = (*source.conductors, *other.conductors)
    segments = cut_conductors(pieces, LayeredSoil((100.0,)), 1e6)
    z = dense_induction(segments, fit_earth_return(soil, 50.0), 50.0)
    at = segments.conductor == len(pieces) - 1
    return z[np.ix_(at, ~at)].sum() / 2.0


@pytest.mark.parametrize(
    ("distance", "a", "b", "rho"),
    [
        (5.0, 0.8, 0.8, 100.0),
        (50.0, 0.8, 1.2, 100.0),
        (500.0, 0.8, 0.8, 100.0),
        (1500.0, 0.6, 0.6, 1000.0),
        (0.5, 1.0, 0.5, 30.0),
    ],
)
def test_two_long_wires_against_pollaczek(distance, a, b, rho):
    """0.5 % of the magnitude: depths are left out of the earth's return, and the wire ends."""
    found = long_pair(distance, a, b, LayeredSoil((rho,)))
    value = pollaczek(distance, a, b, rho)
    assert abs(found - value) < 0.005 * abs(value)


def test_long_wire_with_itself_against_pollaczek():
    found = long_pair(0.0, 0.8, 0.8, LayeredSoil((100.0,)))
    assert found == pytest.approx(pollaczek(0.005, 0.8, 0.8, 100.0), rel=0.005)


def test_low_frequency_limit():
    """Per kilometre pi^2 f 1e-4 + j 4 pi f 1e-4 ln(658.5 sqrt(rho/f)/d), for 10 m in 100 ohm m 0.04935 +
    j0.28488 (first term of Carson's series; handbooks of line constants, common practice). 2 % of the
    magnitude: the next term of the series at a distance of 1 % of the skin depth."""
    found = 1000.0 * long_pair(10.0, 0.5, 0.5, LayeredSoil((100.0,)))
    limit = np.pi**2 * 50e-4 + 4j * np.pi * 50e-4 * np.log(658.5 * np.sqrt(100.0 / 50.0) / 10.0)
    assert limit == pytest.approx(0.04935 + 0.28488j, abs=1e-5)
    assert abs(found - limit) < 0.02 * abs(limit)


def test_small_distances_and_low_frequencies_leave_free_space():
    """``G - 1/r`` starts as -2g/3 (from memory, cross-checked with the series of Foster's kernel)."""
    soil = LayeredSoil((100.0,))
    g = np.sqrt(2j * np.pi * MU_0 * 1e-4 / 100.0)
    change = fit_earth_return(soil, 1e-4).change(np.array([0.0, 10.0, 1000.0]))
    assert change == pytest.approx(np.full(3, -2 * g / 3), rel=1e-2)
    assert np.abs(change).max() * 1000.0 < 0.01
    assert not no_earth_return().change(np.array([0.0, 10.0])).any()


def test_closed_form_and_series_meet():
    r = 1.0 / abs(np.sqrt(1j * OMEGA * MU_0 / 100.0)) * np.array([1 - 1e-9, 1 + 1e-9])
    values = fit_earth_return(LayeredSoil((100.0,)), 50.0).change(r)
    assert values[0] == pytest.approx(values[1], rel=1e-8)


@pytest.mark.parametrize(
    ("rho", "thickness"),
    [((300.0, 50.0), (60.0,)), ((50.0, 1000.0), (100.0,)), ((100.0, 1000.0, 50.0), (20.0, 200.0))],
)
@pytest.mark.parametrize("r", [1.0, 100.0, 1500.0])
def test_layers_against_the_wave_number_integral(rho, thickness, r):
    """2 L/(L + Y) J0(L r) with the surface admittance Y from a chain of transmission-line matrices, while the
    program uses a recursion and a fit."""
    found = fit_earth_return(LayeredSoil(rho, thickness), 50.0).change(np.array([r]))[0]
    factor = 1j * OMEGA * MU_0

    def spectrum(wave):
        u = np.sqrt(wave**2 + factor / rho[-1])
        state = [np.ones_like(u), u]
        for layer, h in zip(rho[-2::-1], thickness[::-1], strict=True):
            u = np.sqrt(wave**2 + factor / layer)
            c, s = np.cosh(u * h), np.sinh(u * h)
            state = [c * state[0] + s / u * state[1], u * s * state[0] + c * state[1]]
        admittance = state[1] / state[0]
        return (wave - admittance) / (wave + admittance)

    top = 1000.0 * abs(np.sqrt(factor / min(rho)))
    smooth = np.union1d(np.geomspace(1e-7, top, 80), np.arange(0.0, top, min(2.0 / r, top / 80)))
    value = integrate(lambda w: spectrum(w) * j0(w * r), smooth)
    # 1 % of the change at no distance: the fit, and the spectrum cut off at 1000 wave numbers
    scale = abs(fit_earth_return(LayeredSoil(rho, thickness), 50.0).change(np.zeros(1))[0])
    assert abs(found - value) < 0.01 * scale


def infinite_wire(x, rho, z_internal, radius, depth):
    """Potential at x along an infinite buried wire fed with one ampere at x = 0, in wave numbers k:
    V = 1/(k^2/z + 1/p), leakage by p = rho/(2 pi) (K0(k a) + K0(2 k d)) and impedance z with the integral of
    Foster's kernel over the wire (E. D. Sunde, Earth Conduction Effects in Transmission Systems, 1949)."""
    g2 = 1j * OMEGA * MU_0 / rho

    def potential(k):
        p = rho / (2 * np.pi) * (k0(k * radius) + k0(2 * k * depth))
        s = np.sqrt(k**2 + g2)
        # what is left of the kernel's integral on the axis after that of 1/r, 2 K0(k y)
        change = 1.0 - 2.0 * s**2 / g2 * np.log(s / k)
        z = z_internal + 1j * OMEGA * MU_0 / (4 * np.pi) * (2 * k0(k * radius) + change)
        return 1.0 / (k**2 / z + 1.0 / p)

    edges = np.union1d(np.geomspace(1e-8, 1e-2, 120), np.arange(1e-2, 5.0, 1e-3))
    return integrate(lambda k: potential(k) * np.cos(k * x), edges) / np.pi


@pytest.mark.parametrize("metal", [COPPER, Metal(1.4e-7, 200.0)], ids=["copper", "steel"])
def test_long_counterpoise(metal):
    """A wire of 6 km fed in its middle, leaking all along, against the infinite wire."""
    rho, a, d = 100.0, 0.0055, 0.8
    wire = wires(((-3000, 0, d), (0, 0, d)), ((0, 0, d), (3000, 0, d)), radius=a)
    found = solve_network(
        wire, LayeredSoil((rho,)), {"mat": metal}, [Injection((0, 0, d), 1.0)], segment_m=15.0
    )
    z = internal_impedance(metal, a, 50.0)
    for x in (0.0, 150.0, 600.0, 1200.0):
        node = np.argmin(np.linalg.norm(found.nodes_m - [x, 0, d], axis=1))
        value = infinite_wire(found.nodes_m[node, 0], rho, z, a, d)
        # 1 % of the input: the segments' length, and the ends
        assert abs(found.node_potential_v[node] - value) < 0.01 * abs(infinite_wire(0.0, rho, z, a, d))


def test_propagation_constant_by_sundes_formula():
    """Along a long wire the potential falls as exp(-G x), G^2 = z(G)/r(G) with
    z = zi + j w mu0/(2 pi) ln(1.85/(a' sqrt(g^2 + G^2))), r = rho/pi ln(1.12/(a' G)), a' = sqrt(2 a d)
    (Sunde 1949; from memory, cross-checked with the wave-number integral)."""
    rho, a, d = 100.0, 0.0055, 0.8
    wire = wires(((0, 0, d), (5000, 0, d)), radius=a)
    found = solve_network(
        wire, LayeredSoil((rho,)), {"mat": COPPER}, [Injection((0, 0, d), 1.0)], segment_m=20
    )
    g2, equal = 1j * OMEGA * MU_0 / rho, np.sqrt(2 * a * d)
    gamma = np.sqrt(g2)
    for _ in range(60):
        z = internal_impedance(COPPER, a, 50.0)
        z += 1j * OMEGA * MU_0 / (2 * np.pi) * np.log(1.85 / (equal * np.sqrt(g2 + gamma**2)))
        gamma = np.sqrt(z / (rho / np.pi * np.log(1.12 / (equal * gamma))))
    order = np.argsort(found.nodes_m[:, 0])
    x, v = found.nodes_m[order, 0], found.node_potential_v[order]
    at = [int(np.argmin(np.abs(x - p))) for p in (300.0, 900.0)]
    slope = -(np.log(v[at[1]]) - np.log(v[at[0]])) / (x[at[1]] - x[at[0]])
    # 6 %: leakage per metre is not constant along the wire
    assert abs(slope - gamma) < 0.06 * abs(gamma)


def test_deep_metal_is_told_that_the_return_is_that_of_the_surface():
    rod = wires(((0, 0, 0.5), (0, 0, 80.0)), radius=0.02)
    found = solve_network(rod, LayeredSoil((20.0,)), {"mat": COPPER}, [Injection((0, 0, 0.5), 1.0)])
    assert any("the earth's return is that of metal near the surface" in note for note in found.notes)


def test_an_unfit_spectrum_is_refused(monkeypatch):
    import evenground.field._earth_return as module

    monkeypatch.setattr(module, "REFUSED", 1e-9)
    with pytest.raises(NotConvergedError, match="earth return: the fit of the layered soil deviates"):
        fit_earth_return(LayeredSoil((123.0, 45.0), (6.7,)), 50.0)
