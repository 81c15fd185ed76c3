"""Electrodes whose resistance is known exactly or to many digits by other mathematics."""

import numpy as np
import pytest
from layouts import polyline, ring, rods, star, wires
from scipy.special import ellipk

from evenground.field import Segments, solve
from evenground.field._images import fit_images
from evenground.field._solution import evaluate_potential
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

HUNDRED = LayeredSoil((100.0,))


def line_potential(start, end, points, soil=HUNDRED, pieces=1):
    """Potential of one ampere leaked evenly between two points, thin wire."""
    t = np.linspace(0, 1, pieces + 1)
    start, end = np.array(start, float)[:, None], np.array(end, float)[:, None]
    a, b = start + t[:-1] * (end - start), start + t[1:] * (end - start)
    n = pieces
    segments = Segments(
        start=np.ascontiguousarray(a),
        end=np.ascontiguousarray(b),
        radius_m=np.full(n, 1e-6),
        length_m=np.linalg.norm(b - a, axis=0),
        layer=np.zeros(n, dtype=np.int64),
        conductor=np.zeros(n, dtype=np.int64),
    )
    return evaluate_potential(soil, segments, fit_images(soil), np.full(n, 1.0 / n), np.array(points))


@pytest.mark.parametrize("pieces", [1, 7])
def test_flush_rod_with_even_leakage(pieces):
    """V(x) = rho I/(2 pi L) asinh(L/x): the potential of a straight line and its mirror image."""
    x = np.array([0.1, 0.5, 1.0, 3.0, 20.0])
    v = line_potential((0, 0, 0), (0, 0, 3), np.column_stack([x, 0 * x, 0 * x]), pieces=pieces)
    # far from a piece two Gauss points stand for it, which is worth 1e-4 at the change-over
    assert v == pytest.approx(100 / (2 * np.pi * 3) * np.arcsinh(3 / x), rel=1e-4)


def test_prolate_spheroid_is_the_equipotential_of_an_even_line():
    """Line between the foci, deep below the surface (Encyclopaedia Britannica 1911, Electrostatics):
    V = rho I/(4 pi l) ln((r1 + r2 + l)/(r1 + r2 - l)) = 6.666039917 on the spheroid of axes 3 and 0.5."""
    depth, c = 1e7, np.sqrt(3.0**2 - 0.5**2)
    t = np.array([0.0, 0.3, 1.0, np.pi / 2])
    points = np.column_stack([0.5 * np.sin(t), 0 * t, depth + 3 * np.cos(t)])
    v = line_potential((0, 0, depth - c), (0, 0, depth + c), points)
    assert v == pytest.approx(6.666039917, rel=1e-6)  # 1e-6: coordinates of 1e7 m cost digits


@pytest.mark.parametrize(
    ("length", "radius", "exact"),
    [
        (3.0, 0.008, 33.20097),
        (10.0, 0.010, 11.53896),
        (30.0, 0.0125, 4.31475),
        (2.0, 0.007, 47.60910),
        (1.5, 0.007, 60.38449),
    ],
)
def test_flush_rods_against_the_hollow_tube(length, radius, exact):
    """Exact axisymmetric integral equation of a hollow tube, full elliptic kernel, six digits."""
    found = solve(rods([(0, 0)], length=length, radius=radius), HUNDRED)
    # a thin-wire solution with even leakage on segments lies above the exact value
    assert -0.001 < found.resistance_ohm / exact - 1 < 0.005
    fine = solve(rods([(0, 0)], length=length, radius=radius), HUNDRED, segment_m=0.1 * length / 3)
    assert -0.001 < fine.resistance_ohm / exact - 1 < 0.002


@pytest.mark.parametrize(
    ("big", "wire", "exact"),
    [(5.0, 0.005, 4.552959), (2.0, 0.010, 9.343717), (1.0, 0.1, 11.026547)],
)
def test_torus_deep_in_the_soil(big, wire, exact):
    """Torus in unbounded medium by toroidal harmonics (Legendre functions of half-integer degree)."""
    found = solve(ring(big, 1e4, wire, sides=96 if wire < 0.05 else 24), HUNDRED)
    mirror = 100 / (4 * np.pi * 2e4)
    # 0.4 %: polygon; the thick one (wire/ring 0.1) is at the edge of thin-wire theory
    assert found.resistance_ohm - mirror == pytest.approx(exact, rel=0.004 if wire < 0.05 else 0.02)


@pytest.mark.parametrize(("big", "depth", "wire"), [(5.0, 0.5, 0.005), (10.0, 0.8, 0.005)])
def test_buried_ring(big, depth, wire):
    """Even leakage is exact for a ring by symmetry; potential by complete elliptic integrals."""

    def f(dz, a):
        q = 4 * big**2 + dz**2 + a**2
        return 2 * ellipk(4 * big**2 / q) / (np.pi * np.sqrt(q))

    exact = 100 / (4 * np.pi) * (f(0, wire) + f(2 * depth, 0))
    assert solve(ring(big, depth, wire), HUNDRED).resistance_ohm == pytest.approx(exact, rel=0.001)


def cage(radius, depth, wire, meridians, parallels):
    """A sphere, or the lower half of one when its centre lies at the surface, as a cage of wires."""
    low = 0.0 if depth == 0 else -np.pi / 2
    latitudes = np.linspace(low, np.pi / 2, parallels + 1)
    longitudes = 2 * np.pi * np.arange(meridians) / meridians
    node = [
        [
            (radius * np.cos(b) * np.cos(a), radius * np.cos(b) * np.sin(a), depth + radius * np.sin(b))
            for a in longitudes
        ]
        for b in latitudes
    ]
    parts = []
    for k, row in enumerate(node):
        if np.hypot(row[0][0], row[0][1]) > 1e-9:
            parts += polyline(row, wire).conductors
        if k:
            parts += [Conductor(p, q, wire) for p, q in zip(node[k - 1], row, strict=True)]
    return Electrode(parts)


def test_hemisphere():
    """rho/(2 pi a) exactly; a dense cage of wires comes close from above."""
    exact = 100 / (2 * np.pi * 0.5)
    found = solve(cage(0.5, 0.0, 0.004, 24, 8), HUNDRED).resistance_ohm
    assert 0.995 < found / exact < 1.03  # a cage has gaps: a few per cent above


@pytest.mark.parametrize(("depth", "exact"), [(0.6, 22.069947), (1.0, 19.830338), (2.0, 17.901000)])
def test_buried_sphere(depth, exact):
    """Successive images: rho/(4 pi a sinh(eta) S) with cosh(eta) = h/a, a = 0.5."""
    found = solve(cage(0.5, depth, 0.004, 24, 12), HUNDRED).resistance_ohm
    assert 0.995 < found / exact < 1.03


def test_disc_on_the_surface():
    """rho/(4b) exactly, V(r)/V0 = (2/pi) asin(b/r); a web of wires comes close from above."""
    web = star(32, length=5.0, depth=0.0, radius=0.02)
    for r in (1.25, 2.0, 2.75, 3.5, 4.0, 4.4, 4.7, 5.0):
        t = 2 * np.pi * np.arange(32) / 32
        web = web + polyline([(r * np.cos(v), r * np.sin(v), 0.0) for v in t], 0.02)
    found = solve(web, HUNDRED)
    assert 0.995 < found.resistance_ohm / 5.0 < 1.03
    r = np.array([6.0, 10.0])
    v = found.potential_v(np.column_stack([r, 0 * r, 0 * r]))
    assert v == pytest.approx(2 / np.pi * np.arcsin(5.0 / r), rel=0.03)


@pytest.mark.parametrize("depth", [50.0, 200.0, 1000.0])
def test_far_lower_layer_shifts_the_resistance_by_a_known_amount(depth):
    """R = R1 - rho1 ln(1 - K)/(2 pi H) for a compact electrode far above the interface."""
    wire = wires(((0, 0, 0.5), (10, 0, 0.5)))
    shift = (
        solve(wire, LayeredSoil((100, 300), (depth,))).resistance_ohm - solve(wire, HUNDRED).resistance_ohm
    )
    assert shift == pytest.approx(-100 * np.log(1 - 0.5) / (2 * np.pi * depth), rel=0.002)


def test_hemisphere_in_two_layers():
    """rho1/(2 pi a) (1 + 2 a sum K^n/(2 n H)) for a << H: 320.5162 for a 0.05, H 5, 100/300."""
    small = solve(cage(0.05, 0.0, 0.0004, 24, 8), LayeredSoil((100, 300), (5.0,))).resistance_ohm
    alone = solve(cage(0.05, 0.0, 0.0004, 24, 8), HUNDRED).resistance_ohm
    assert small - alone == pytest.approx(320.5162 - 100 / (2 * np.pi * 0.05), rel=0.002)
