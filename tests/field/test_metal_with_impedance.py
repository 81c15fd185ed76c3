"""Axial currents: internal impedance and voltage drop across mats at power frequency."""

import numpy as np
import pytest
from layouts import square_mat, wires

from evenground.errors import InputError, TooLargeError
from evenground.field import Injection, Metal, internal_impedance, solve, solve_network
from evenground.model.soil import LayeredSoil

COPPER = Metal(1.78e-8)
STEEL = Metal(1.4e-7, 200.0)

# square side, meshes, soil, metal, radius, then |separate solver|: corner, centre, far/near, equipotential R
DROPS = [
    (100, 10, 20, COPPER, 0.0062, 0.0950 + 0.0112j, 0.0935 + 0.0025j, 0.966, 0.0928),
    (100, 10, 20, STEEL, 0.008, 0.1150 + 0.0289j, 0.1000 + 0.0089j, 0.745, 0.0924),
    (100, 10, 100, COPPER, 0.0062, 0.4660 + 0.0112j, 0.4647 + 0.0025j, 0.995, 0.4640),
    (200, 10, 20, COPPER, 0.0062, 0.0532 + 0.0231j, 0.0491 + 0.0053j, 0.804, 0.0477),
    (200, 10, 20, STEEL, 0.008, 0.0943 + 0.0526j, 0.0628 + 0.0175j, 0.365, 0.0475),
    (200, 10, 100, STEEL, 0.008, 0.2827 + 0.0597j, 0.2527 + 0.0181j, 0.794, 0.2375),
]


@pytest.mark.parametrize(("side", "meshes", "rho", "metal", "a", "corner", "centre", "ratio", "r"), DROPS)
def test_voltage_drop_across_square_mats(side, meshes, rho, metal, a, corner, centre, ratio, r):
    """50 Hz, depth 0.8 m, one segment per mesh side, induction as in free space; separate solver of the same
    nodal form, four digits."""
    mat, soil = square_mat(side, meshes, depth=0.8, radius=a), LayeredSoil((float(rho),))
    size = 2.0 * side / meshes  # one segment for each side of a mesh
    how = {"segment_m": size, "earth_return": False}
    at_corner = solve_network(mat, soil, {"mat": metal}, [Injection((0, 0, 0.8), 1.0)], **how)
    middle = Injection((side / 2, side / 2, 0.8), 1.0)
    at_centre = solve_network(mat, soil, {"mat": metal}, [middle], **how)
    assert at_corner.impedance_ohm == pytest.approx(corner, rel=0.005, abs=1e-4)
    assert at_centre.impedance_ohm == pytest.approx(centre, rel=0.005, abs=1e-4)
    far = np.argmin(np.linalg.norm(at_corner.nodes_m - [side, side, 0.8], axis=1))
    fallen = abs(at_corner.node_potential_v[far] / at_corner.impedance_ohm)
    assert fallen == pytest.approx(ratio, abs=0.003)
    assert solve(mat, soil, segment_m=size).resistance_ohm == pytest.approx(r, rel=0.005)


def test_perfect_metal_is_equipotential():
    mat, soil = square_mat(30, 3), LayeredSoil((100.0, 40.0), (2.0,))
    ideal = Metal(1e-12)
    found = solve_network(mat, soil, {"mat": ideal}, [Injection((0, 0, 0.5), 5.0)], frequency_hz=1e-6)
    bonded = solve(mat, soil)
    # for one potential the equations are the same; 1e-5: the ratio of admittances costs digits
    assert found.impedance_ohm == pytest.approx(bonded.resistance_ohm, rel=1e-5)
    assert found.greatest_difference_v < 1e-4
    p = np.array([[3.0, 4.0, 0.0]])
    assert found.potential_v(p).real == pytest.approx(
        bonded.potential_v(p, gpr_v=5 * bonded.resistance_ohm), rel=1e-5
    )


def test_all_injected_current_leaves_into_the_soil():
    mat, soil = square_mat(60, 6), LayeredSoil((50.0,))
    feeds = [Injection((0, 0, 0.5), 100.0), Injection((60, 60, 0.5), 40.0j)]
    found = solve_network(mat, soil, {"mat": STEEL}, feeds)
    assert found.leaked_a.sum() == pytest.approx(100.0 + 40.0j, rel=1e-9)
    with pytest.raises(InputError, match="exactly one injection"):
        _ = found.impedance_ohm


def test_long_wire_against_the_leaky_line():
    """Wire of 300 m fed at one end, soil conductance per metre from its own resistance:
    Z = sqrt(z r) coth(l sqrt(z/r)) (E. D. Sunde, Earth Conduction Effects in Transmission Systems, 1949)."""
    soil, length, a = LayeredSoil((200.0,)), 300.0, 0.005
    wire = wires(((0, 0, 0.8), (length, 0, 0.8)), radius=a)
    found = solve_network(wire, soil, {"mat": STEEL}, [Injection((0, 0, 0.8), 1.0)])
    r = solve(wire, soil).resistance_ohm * length  # ohm metre
    current = np.log(2 * length / a) - 1  # inductance of a straight wire per length, mu0/(2 pi) times this
    z = internal_impedance(STEEL, a, 50.0) + 1j * 50.0 * 4e-7 * np.pi * current
    gamma = np.sqrt(z / r)
    line = np.sqrt(z * r) / np.tanh(gamma * length)
    # 10 %: a line with constant parameters leaves out end effects
    assert found.impedance_ohm == pytest.approx(line, rel=0.10)


def test_internal_impedance_limits():
    """Direct-current resistance and mu/(8 pi) at low frequency; equal to surface impedance at high."""
    a, rho = 0.006, 1.78e-8
    low = internal_impedance(Metal(rho), a, 0.1)
    assert low.real == pytest.approx(rho / (np.pi * a * a), rel=1e-6)
    assert low.imag == pytest.approx(2 * np.pi * 0.1 * 4e-7 * np.pi / (8 * np.pi), rel=1e-6)
    f = 1e6
    skin = np.sqrt(rho / (np.pi * f * 4e-7 * np.pi))
    high = internal_impedance(Metal(rho), a, f)
    assert high.real == pytest.approx(rho / (2 * np.pi * a * skin), rel=0.01)
    assert high.imag == pytest.approx(high.real, rel=0.02)


def test_skin_effect_table():
    """Ratio of alternating to direct resistance of a round wire for x = a sqrt(2)/skin depth:
    x 2: 1.0782, x 3: 1.3180, x 5: 2.0430 (Rosa and Grover, Bulletin of the Bureau of Standards 8 (1912),
    table XXII; from memory, cross-checked with Kelvin functions)."""
    from scipy.special import bei, beip, ber, berp

    a, rho = 0.006, 1.78e-8
    for x, ratio in ((2.0, 1.0782), (3.0, 1.3180), (5.0, 2.0430)):
        f = x**2 * rho / (2 * np.pi * 4e-7 * np.pi * a**2)
        z = internal_impedance(Metal(rho), a, f).real / (rho / (np.pi * a * a))
        assert z == pytest.approx(ratio, rel=2e-4)
        kelvin = x / 2 * (ber(x) * beip(x) - bei(x) * berp(x)) / (berp(x) ** 2 + beip(x) ** 2)
        assert z == pytest.approx(kelvin, rel=1e-9)


def test_cladding():
    """Cladding of the core's own metal changes nothing; at low frequency core and cladding are parallel."""
    plain = internal_impedance(Metal(1.72e-8), 0.008, 5000.0)
    clad = internal_impedance(Metal(1.72e-8, 1.0, 0.002, 1.72e-8), 0.008, 5000.0)
    assert clad == pytest.approx(plain, rel=1e-9)
    low = internal_impedance(Metal(1.6e-7, 200.0, 0.001, 1.72e-8), 0.008, 0.001)
    core, ring = np.pi * 0.007**2 / 1.6e-7, np.pi * (0.008**2 - 0.007**2) / 1.72e-8
    assert low.real == pytest.approx(1 / (core + ring), rel=1e-4)


def test_refusals():
    mat, soil, feed = square_mat(30, 3), LayeredSoil((100.0,)), [Injection((0, 0, 0.5), 1.0)]
    with pytest.raises(InputError, match="no metal given for mat"):
        solve_network(mat, soil, {}, feed)
    with pytest.raises(InputError, match="none given"):
        solve_network(mat, soil, {"mat": COPPER}, [])
    with pytest.raises(InputError, match="nearest joint or end of metal lies"):
        solve_network(mat, soil, {"mat": COPPER}, [Injection((-5, 0, 0.5), 1.0)])
    with pytest.raises(TooLargeError, match="GB are allowed"):
        solve_network(mat, soil, {"mat": COPPER}, feed, memory_limit_bytes=1000)
    with pytest.raises(InputError, match="finite number above 0"):
        Metal(-1.0)
    with pytest.raises(InputError, match="cladding of"):
        internal_impedance(Metal(1e-7, 1.0, 0.01), 0.008, 50.0)


def test_a_large_site_is_told_that_induction_has_no_earth_return():
    mat = square_mat(300, 3, depth=0.8)
    feed = [Injection((0, 0, 0.8), 1.0)]
    found = solve_network(mat, LayeredSoil((20.0,)), {"mat": COPPER}, feed, earth_return=False)
    assert any("no earth-return term" in note for note in found.notes)
