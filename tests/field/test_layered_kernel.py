"""Point-source potentials in layered earth against independent mathematics.

References: image series for two layers (Maxwell's method of images, all four pairs of layers);
boundary-value solution per wave number with a Hankel integral (neither recursion nor images); values
computed with 25-digit arithmetic; a geophysics library.
"""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import j0

from evenground.errors import NotConvergedError
from evenground.field._images import fit_images, point_potential
from evenground.field._spectrum import Reflections, total_kernel
from evenground.model.soil import LayeredSoil


def series(rho1, rho2, h, d, z, r, terms=4000):
    """Two layers: images of a source at d seen at z. [V/A]"""
    k = (rho2 - rho1) / (rho2 + rho1)
    n = np.arange(terms)

    def inverse(u):
        return 1.0 / np.hypot(r, u)

    if d <= h and z <= h:
        both = np.concatenate([-n[:0:-1], n])
        total = np.sum(k ** abs(both) * (inverse(z - d + 2 * both * h) + inverse(z + d + 2 * both * h)))
        return rho1 / (4 * np.pi) * total
    if d <= h < z:
        total = np.sum(k**n * (inverse(z - d + 2 * n * h) + inverse(z + d + 2 * n * h)))
        return rho1 * (1 + k) / (4 * np.pi) * total
    if z <= h < d:
        total = np.sum(k**n * (inverse(d - z + 2 * n * h) + inverse(d + z + 2 * n * h)))
        return rho2 * (1 - k) / (4 * np.pi) * total
    tail = (1 - k * k) * np.sum(k**n * inverse(z + d + 2 * n * h))
    return rho2 / (4 * np.pi) * (inverse(z - d) - k * inverse(z + d - 2 * h) + tail)


def boundary_values(lam, soil, d, z):
    """Kernel phi(lambda) beyond the primary field, from the interface conditions solved as equations."""
    rho = soil.resistivities_ohm_m
    edges = (0.0, *soil.interface_depths_m)
    n, s, o = soil.layers, soil.layer_at(d), soil.layer_at(z)
    # layer i: A_i exp(-lam (z - top_i)) + B_i exp(-lam (bottom_i - z)); the last has no B
    size = 2 * n - 1
    m = np.zeros((len(lam), size, size))
    y = np.zeros((len(lam), size))
    thick = [*soil.thicknesses_m, 0.0]
    e = [np.exp(-lam * t) for t in thick]
    # no current through the surface
    m[:, 0, 0] = -1.0
    if n > 1:
        m[:, 0, 1] = e[0]
    if s == 0:
        y[:, 0] = -np.exp(-lam * d)
    for i in range(n - 1):
        p, q = 2 * i + 1, 2 * i + 2
        last = i + 1 == n - 1
        primary = np.exp(-lam * abs(edges[i + 1] - d))
        m[:, p, 2 * i], m[:, p, 2 * i + 1], m[:, p, 2 * i + 2] = e[i], 1.0, -1.0
        g = rho[i] / rho[i + 1]
        m[:, q, 2 * i], m[:, q, 2 * i + 1], m[:, q, 2 * i + 2] = -e[i], 1.0, g
        if not last:
            m[:, p, 2 * i + 3] = -e[i + 1]
            m[:, q, 2 * i + 3] = -g * e[i + 1]
        if s == i:
            y[:, p], y[:, q] = -primary, primary
        if s == i + 1:
            y[:, p], y[:, q] = primary, g * primary
    x = np.linalg.solve(m, y[..., None])[..., 0]
    value = x[:, 2 * o] * np.exp(-lam * (z - edges[o]))
    if o < n - 1:
        value = value + x[:, 2 * o + 1] * np.exp(-lam * (edges[o + 1] - z))
    return value


def hankel(soil, d, z, r):
    """Potential by the primary field plus a panelled Gauss integral. [V/A]"""
    s, o = soil.layer_at(d), soil.layer_at(z)
    edges = np.array([0.0, *soil.interface_depths_m])
    reach = min(np.min(abs(edges - z)) + np.min(abs(edges - d)), 2 * np.min(np.diff(edges), initial=1e9))
    if s != o:
        reach = min(reach, abs(z - d))
    high = 36.0 / max(reach, 1e-3)
    cuts = np.concatenate(
        [[0.0], np.geomspace(1e-7, min(1.0 / r, high) / 2, 60), np.arange(1.0 / r, high, 2.0 / r), [high]]
    )
    cuts = np.unique(np.minimum(cuts, high))
    x, w = np.polynomial.legendre.leggauss(12)
    half = 0.5 * np.diff(cuts)[:, None]
    lam = (0.5 * (cuts[1:] + cuts[:-1])[:, None] + half * x).ravel()
    weight = (half * w).ravel()
    total = np.sum(weight * boundary_values(lam, soil, d, z) * j0(lam * r))
    if s == o:
        total += 1.0 / np.hypot(r, z - d)
    return soil.resistivities_ohm_m[s] / (4 * np.pi) * total


# the equations for the surface give the air a zero current; a mirror check of the reference itself
def test_the_reference_integral_reproduces_the_uniform_half_space():
    soil = LayeredSoil((100.0, 100.0), (4.0,))
    exact = 100 / (4 * np.pi) * (1 / np.hypot(5, 0.5) + 1 / np.hypot(5, 2.5))
    assert hankel(soil, 1.5, 1.0, 5.0) == pytest.approx(exact, rel=1e-9)


def close_to(expected, soil, d, r):
    """5e-5, the fit's own tolerance being 2e-5 in the spectrum; where a conducting layer below takes away
    all but a few millionths of the field, 1e-6 of what the source's layer alone would give."""
    alone = soil.resistivities_ohm_m[soil.layer_at(d)] / (2 * np.pi * r)
    return pytest.approx(expected, rel=5e-5, abs=1e-6 * alone)


RESISTIVITY = st.floats(1.0, 4.0).map(lambda x: 10.0**x)


@settings(max_examples=30, deadline=None)
@given(
    RESISTIVITY,
    RESISTIVITY,
    st.floats(0.2, 20.0),
    st.floats(0.0, 2.5),
    st.floats(0.0, 2.5),
    st.floats(-1.0, 3.0),
)
def test_two_layers_agree_with_the_image_series(rho1, rho2, h, d, z, log_r):
    r = 10.0**log_r
    soil = LayeredSoil((rho1, rho2), (h,))
    expected = series(rho1, rho2, h, d * h, z * h, r, 60000)
    assert point_potential(soil, d * h, z * h, r) == close_to(expected, soil, d * h, r)


@pytest.mark.parametrize(
    "soil",
    [
        LayeredSoil((100, 1000, 50), (2, 4)),
        LayeredSoil((300, 50, 1000), (2, 4)),
        LayeredSoil((200, 50, 1000, 100), (1.5, 2, 5)),
        LayeredSoil((100, 500, 20, 800, 150), (0.5, 3.5, 6, 10)),
        LayeredSoil((400, 50, 800, 20, 300, 1000, 60, 200), (1, 0.5, 1, 2, 4, 8, 30)),
    ],
    ids=lambda s: f"{s.layers} layers",
)
def test_every_pair_of_layers_agrees_with_the_boundary_value_integral(soil):
    edges = [0.0, *soil.interface_depths_m, soil.interface_depths_m[-1] * 1.7]
    places = [a + f * (b - a) for (a, b), f in zip(itertools.pairwise(edges), [0.45, 0.6] * 4, strict=False)]
    for d, z in itertools.product(places if soil.layers < 5 else places[::2], [0.0, *places]):
        for r in (0.7, 6.0, 40.0) if soil.layers < 5 else (6.0,):
            assert point_potential(soil, d, z, r) == close_to(hankel(soil, d, z, r), soil, d, r), (d, z, r)


# computed with 25 to 60 decimal digits: two layers by the image series, more layers by the boundary-value
# problem per wave number and the reflection recursion; digits as printed
PRECISE = [
    ((100, 700), (2,), 2.7, [(0.8, 0.3, 15.5853927), (0.8, 4, 11.6024424)]),
    ((100, 700), (2,), 2.7, [(3.5, 0.5, 12.3151899), (3.5, 5, 16.4851385)]),
    ((100, 1000, 50), (2, 4), 3.3, [(0.7, 0.2, 9.8870525), (0.8, 0, 9.8740859), (0.8, 3, 7.2723827)]),
    ((100, 1000, 50), (2, 4), 3.3, [(3, 0, 7.2203765), (3, 3.4, 8.2002364), (3, 9, 0.95126606)]),
    ((100, 1000, 50), (2, 4), 3.3, [(9, 0, 0.74120830), (9, 9.5, 1.6854527)]),
    ((300, 50, 1000), (2, 4), 3.3, [(0.7, 0.2, 8.7905497)]),
    ((100, 100, 400), (2, 4), 3.3, [(0.7, 0.2, 7.0839485)]),
    ((200, 50, 1000, 100), (1.5, 2, 5), 10, [(0.8, 0, 3.0625406), (2.5, 0, 3.0474047), (2.5, 4, 2.8134077)]),
    ((200, 50, 1000, 100), (1.5, 2, 5), 10, [(4, 2.5, 2.8134077), (4, 12, 0.87977230), (12, 0, 0.82085598)]),
    ((100, 500), (3,), 1, [(0.5, 0, 20.035554205591), (0.5, 0.5, 19.41124666661), (5, 0, 8.256644275471)]),
    ((100, 500), (3,), 5, [(0.5, 0, 8.0633557797053), (0.5, 5, 6.6368453393436)]),
    ((100, 500), (3,), 20, [(0.5, 0, 3.255155642652), (0.5, 0.5, 3.2547257212832), (5, 0, 3.1323901954167)]),
    ((100, 500), (3,), 2, [(5, 5, 18.028657863127)]),
    ((100, 500), (3,), 10, [(5, 0.5, 4.8763333699026)]),
    ((100, 500), (3,), 3, [(5, 8, 9.2034152523777)]),
    ((200, 50, 1000), (2, 5), 1, [(0.8, 0, 20.665890500753)]),
    ((200, 50, 1000), (2, 5), 10, [(0.8, 0, 3.7948719040445)]),
    ((200, 50, 1000), (2, 5), 5, [(0.8, 0.8, 5.1784210867899), (0.8, 4, 4.709877335778)]),
    ((200, 50, 1000), (2, 5), 5, [(0.8, 10, 3.830012279426)]),
    ((200, 50, 1000), (2, 5), 3, [(4, 0, 5.2855358835311), (9, 0, 4.2127315179879)]),
    ((200, 50, 1000), (2, 5), 6, [(4, 4, 4.4642254455118), (4, 10, 3.8261274935874)]),
    ((200, 50, 1000), (2, 5), 12, [(9, 0.8, 3.3217083387396), (9, 9, 3.5233744107551)]),
]


@pytest.mark.parametrize(("rho", "h", "r", "rows"), PRECISE)
def test_point_potentials_to_many_digits(rho, h, r, rows):
    soil = LayeredSoil(rho, h)
    for d, z, expected in rows:
        # with the finest ladders; 1e-7 also covers the eight printed digits
        assert point_potential(soil, d, z, r, tolerance=1e-8) == pytest.approx(expected, rel=1e-7)
        assert point_potential(soil, d, z, r) == pytest.approx(expected, rel=5e-6)


def test_against_a_geophysics_library():
    """empymod (layered-earth electromagnetic modelling): E-field at low frequency, integrated to infinity."""
    empymod = pytest.importorskip("empymod")
    soil, d, z, r = LayeredSoil((200.0, 50.0, 1000.0), (2.0, 5.0)), 4.0, 0.8, 6.0
    x, w = np.polynomial.legendre.leggauss(12)
    cuts = np.concatenate([[0], r * np.logspace(-3, 6, 28)])
    half = np.diff(cuts)[:, None] / 2
    u, weight = ((cuts[1:] + cuts[:-1])[:, None] / 2 + half * x).ravel(), (half * w).ravel()
    resistivity = [1e15, *soil.resistivities_ohm_m]
    field = empymod.dipole(
        src=[0, 0, d],
        rec=[r + u, 0 * u, z],
        depth=[0, *soil.interface_depths_m],
        res=resistivity,
        freqtime=1e-8,
        ab=11,
        epermH=np.zeros(4),
        epermV=np.zeros(4),
        htarg={"dlf": "anderson_801_1982", "pts_per_dec": 0},
        verb=0,
    ).real
    far = r + cuts[-1]
    tail = field[-1] * (r + u[-1]) ** 3 / 2
    expected = np.sum(weight * u * field) + tail * (2 / far - r / far**2)
    # 1e-4: the library's digital filter
    assert point_potential(soil, d, z, r) == pytest.approx(expected, rel=1e-4)


@settings(max_examples=10, deadline=None)
@given(
    st.lists(RESISTIVITY, min_size=2, max_size=5),
    st.lists(st.floats(0.2, 8.0), min_size=4, max_size=4),
    st.floats(0.0, 20.0),
    st.floats(0.0, 20.0),
    st.floats(0.3, 50.0),
)
def test_reciprocity(rho, thick, d, z, r):
    soil = LayeredSoil(tuple(rho), tuple(thick[: len(rho) - 1]))
    there, back = point_potential(soil, d, z, r), point_potential(soil, z, d, r)
    assert there == pytest.approx(back, rel=1e-9)  # exact by construction
    assert there > 0.0


def test_equal_neighbours_collapse():
    three = LayeredSoil((100, 100, 400), (2, 4))
    two = LayeredSoil((100, 400), (6,))
    for d, z in ((0.7, 0.2), (1.0, 3.0), (4.0, 8.0)):
        assert point_potential(three, d, z, 3.3) == pytest.approx(point_potential(two, d, z, 3.3), rel=1e-12)
    equal = LayeredSoil((70, 70, 70), (1, 1))
    exact = 70 / (4 * np.pi) * (1 / np.hypot(2, 1.5) + 1 / np.hypot(2, 2.5))
    assert point_potential(equal, 0.5, 2.0, 2.0) == pytest.approx(exact, rel=1e-14)


def test_far_away_only_the_last_layer_counts():
    soil = LayeredSoil((100, 1000, 50), (2, 4))
    assert point_potential(soil, 0.5, 0.0, 1e5) == pytest.approx(50 / (2 * np.pi * 1e5), rel=1e-4)


def test_spectral_limits():
    """phi(0) = 2 rho_N / rho_s for every pair: all the current ends in the last layer."""
    soil = LayeredSoil((100, 1000, 50), (2, 4))
    waves = Reflections(np.array([1e-12]), soil)
    for s, d in ((0, 1.0), (1, 3.0), (2, 9.0)):
        phi = total_kernel(waves, d, 10.0, (s, 2))
        assert phi[0] == pytest.approx(2 * 50 / soil.resistivities_ohm_m[s], rel=1e-9)


def test_the_fit_error_is_measured_and_a_bad_fit_refused(monkeypatch):
    images = fit_images(LayeredSoil((100, 1000, 50), (2, 4)))
    assert 0.0 < images.error < 5e-5
    from evenground.field import _images

    monkeypatch.setattr(_images, "RATIOS", (9.0,))  # far too coarse a ladder
    with pytest.raises(NotConvergedError, match="best fit by real images deviates"):
        fit_images(LayeredSoil((123, 1000, 50), (2, 4)))


@pytest.mark.parametrize(
    "soil",
    [
        LayeredSoil((10, 10000), (0.5,)),
        LayeredSoil((10000, 10), (0.5,)),
        LayeredSoil((1000, 1, 1000), (1, 1)),
        LayeredSoil((100, 5000, 100, 5000), (0.1, 1, 10)),
        LayeredSoil((50, 100000), (3,)),
        LayeredSoil((3000, 30, 8000, 10), (0.05, 40, 200)),
    ],
    ids=lambda s: s.describe(),
)
def test_extreme_soils_are_fitted(soil):
    d = min(0.3, 0.5 * soil.thicknesses_m[0])
    for r in (0.5, 5.0, 30.0):
        assert point_potential(soil, d, 0.0, r) == close_to(hankel(soil, d, 0.0, r), soil, d, r)
