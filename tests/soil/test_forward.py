"""Sounding curves against high-precision quadrature, other codes, handbook tables, and exact properties."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.soil import (
    LayeredSoil,
    four_probe_apparent_resistivity,
    schlumberger_apparent_resistivity,
    wenner_apparent_resistivity,
)
from evenground.soil._forward import geometry_of_pairs
from evenground.soil._quick import quick_curve

A = LayeredSoil((100, 500), (3,))
B = LayeredSoil((200, 50, 1000), (2, 5))
C1 = LayeredSoil((10, 10000), (0.5,))
C2 = LayeredSoil((10000, 10), (0.5,))
D = LayeredSoil((1000, 100), (1,))
E = LayeredSoil((100, 500, 20, 800), (0.5, 3.5, 6))
SPACINGS = [1, 2, 4, 8, 16, 32]

# Stefanesco integral by mpmath quadrature between the zeros of J0 and, for two layers, mpmath image series,
# 16 digits; E: pygimli 1.6.1 VESModelling, which agrees to 2e-8 with an independent filter code.
WENNER = [
    (
        A,
        [
            101.8699994858363,
            111.8235911136432,
            150.6039617346285,
            229.9000134074922,
            327.596444892265,
            413.3316309595609,
        ],
        1e-12,
    ),
    (
        B,
        [
            191.7799791162011,
            161.0366253748961,
            106.2019701040615,
            100.8342251423176,
            170.98752837561,
            296.6384587462233,
        ],
        1e-11,
    ),
    (
        C1,
        [27.723722328754, 55.140874524193, 109.66551734426, 216.9572737686, 424.93921639113, 817.11719488935],
        1e-9,
    ),
    (
        C2,
        [
            2301.4845361945,
            157.99844615814,
            10.703412789987,
            10.070247842611,
            10.01720230293,
            10.004279410388,
        ],
        1e-9,
    ),
    (
        D,
        [
            733.90446304196,
            338.67273660126,
            128.60338899309,
            103.11330568762,
            100.69512869547,
            100.17028593797,
        ],
        1e-11,
    ),
    (
        E,
        [190.966170892, 272.303391345, 302.132239406, 200.805155097, 94.6950352289, 122.880786493],
        1e-9,
    ),
]


@pytest.mark.parametrize(("soil", "expected", "rel"), WENNER, ids=["A", "B", "C1", "C2", "D", "E"])
def test_wenner_against_high_precision(soil, expected, rel):
    """Tolerances: the digits printed, and 1e-9 at a contrast of 1000 where the filter has 3e-10."""
    assert wenner_apparent_resistivity(SPACINGS, soil) == pytest.approx(expected, rel=rel)


@pytest.mark.parametrize(
    ("soil", "expected", "rel"),
    [
        (A, [216.83150170194, 370.5157302805], 1e-12),
        (B, [93.5195441024, 219.12137252], 1e-10),
        (E, [222.001222, 90.744565], 1e-8),
    ],
    ids="ABE",
)
def test_schlumberger_with_finite_mn(soil, expected, rel):
    """A: image series; B: mpmath; E: pygimli 1.6.1. Tolerances follow the digits printed."""
    assert schlumberger_apparent_resistivity([10, 30], [1, 3], soil) == pytest.approx(expected, rel=rel)


# rho_a/rho_1 of the two-layer Wenner curve at a/h = 0.25 ... 50, image series of 4000 terms.
TABLE_RATIOS = [0.25, 0.5, 1, 2, 3, 5, 10, 20, 50]
TABLE = {
    0.1: [0.99173, 0.94407, 0.73390, 0.33867, 0.17905, 0.11255, 0.10187, 0.10044, 0.10007],
    1 / 3: [0.99478, 0.96456, 0.82902, 0.55816, 0.43164, 0.36071, 0.33884, 0.33465, 0.33354],
    0.5: [0.99646, 0.97588, 0.88272, 0.69013, 0.59306, 0.53079, 0.50685, 0.50166, 0.50026],
    2: [1.00387, 1.02662, 1.13439, 1.39506, 1.57574, 1.76520, 1.91642, 1.97559, 1.99585],
    3: [1.00596, 1.04117, 1.21034, 1.63951, 1.96456, 2.35162, 2.72752, 2.91034, 2.98372],
    5: [1.00820, 1.05685, 1.29434, 1.93008, 2.46049, 3.18552, 4.06564, 4.63034, 4.92270],
    10: [1.01041, 1.07242, 1.38033, 2.25295, 3.05755, 4.32752, 6.30267, 8.08941, 9.46535],
}


@pytest.mark.parametrize("contrast", TABLE)
def test_two_layer_wenner_table(contrast):
    soil = LayeredSoil((1.0, contrast), (1.0,))
    values = wenner_apparent_resistivity(TABLE_RATIOS, soil)
    assert values == pytest.approx(TABLE[contrast], abs=0.6e-5)  # five decimals printed


@pytest.mark.parametrize(
    ("rho", "expected"),
    [
        ((100, 300), [100.005, 100.174, 103.948, 121.034, 149.264, 203.632, 235.162, 272.752]),
        ((300, 100), [299.987, 299.543, 289.797, 248.705, 191.441, 123.820, 108.212, 101.653]),
    ],
)
def test_synthetic_survey_with_interface_at_20_feet(rho, expected):
    """Image series of 4000 terms; three decimals printed."""
    spacings = [0.3048, 1, 3, 6.096, 10, 20, 30.48, 60.96]
    soil = LayeredSoil(rho, (6.096,))
    assert wenner_apparent_resistivity(spacings, soil) == pytest.approx(expected, abs=0.6e-3)


def test_schlumberger_table():
    """Image series of 4000 terms; three decimals printed."""
    values = schlumberger_apparent_resistivity([3, 10, 20, 50], [0.5, 1, 2, 5], LayeredSoil((100, 300), (5,)))
    assert values == pytest.approx([102.489, 140.401, 194.383, 259.029], abs=0.6e-3)


def test_sunde_chart_point():
    """IEEE Std 80-2000, 13.4.2.3 (from memory, cross-checked): rho_2/rho_1 = 3, rho_a/rho_1 = 2 at a = 19 m;
    the guide computes h = 6.1 m. Exact: a/h = 3.13511."""
    soil = LayeredSoil((100, 300), (19 / 3.13511,))
    assert wenner_apparent_resistivity(19.0, soil) == pytest.approx(200.0, rel=1e-5)  # 6 digits of a/h
    assert soil.thicknesses_m[0] == pytest.approx(6.1, abs=0.05)


def test_image_series_by_mpmath():
    """Two layers in the image series summed by mpmath, at a spacing and contrast of no table."""
    import mpmath as mp

    rho1, rho2, h, a = mp.mpf(73), mp.mpf(1900), mp.mpf("1.7"), mp.mpf("5.3")
    k = (rho2 - rho1) / (rho2 + rho1)

    def term(n):
        x = (2 * n * h / a) ** 2
        return k**n * (1 / mp.sqrt(1 + x) - 1 / mp.sqrt(4 + x))

    exact = rho1 * (1 + 4 * mp.nsum(term, [1, mp.inf]))
    value = wenner_apparent_resistivity(5.3, LayeredSoil((73, 1900), (1.7,)))
    assert value == pytest.approx(float(exact), rel=1e-11)  # filter error at a contrast of 26


@pytest.mark.slow
def test_three_layers_against_empymod():
    """empymod 2: potential as the double integral of the in-line dipole field, electrodes 10 um deep.

    Tolerance: empymod's own filter and the integration reach 1e-5.
    """
    import empymod
    from numpy.polynomial.legendre import leggauss

    def potential(r, rho, h):
        x, w = leggauss(12)
        edges = np.concatenate([[0], r * np.logspace(-3, 6, 28)])
        u = np.concatenate([(q - p) / 2 * x + (p + q) / 2 for p, q in pairwise(edges)])
        weight = np.concatenate([(q - p) / 2 * w for p, q in pairwise(edges)])
        layers = len(rho) + 1
        field = empymod.dipole(
            src=[0, 0, 1e-5],
            rec=[r + u, 0 * u, 1e-5],
            depth=[0, *np.cumsum(h)],
            res=[1e15, *rho],
            freqtime=1e-8,
            ab=11,
            epermH=np.zeros(layers),
            epermV=np.zeros(layers),
            xdirect=True,
            htarg={"dlf": "anderson_801_1982", "pts_per_dec": 0},
            verb=0,
        ).real
        end = r + edges[-1]
        tail = field[-1] * (r + u[-1]) ** 3 / 2
        return (weight * u * field).sum() + tail * (2 / end - r / end**2)

    rho, h, a = B.resistivities_ohm_m, B.thicknesses_m, 4.0
    expected = 4 * math.pi * a * (potential(a, rho, h) - potential(2 * a, rho, h))
    assert wenner_apparent_resistivity(a, B) == pytest.approx(expected, rel=2e-5)


resistivities = st.floats(1.0, 1e4)
thicknesses = st.floats(0.2, 30.0)
spacings = st.floats(0.3, 100.0)


@st.composite
def soils(draw, most=5):
    layers = draw(st.integers(1, most))
    return LayeredSoil(
        tuple(draw(resistivities) for _ in range(layers)), tuple(draw(thicknesses) for _ in range(layers - 1))
    )


def close(values, expected):
    """To the filter's error at a contrast of 10 000."""
    return values == pytest.approx(expected, rel=1e-6)


@given(soils(), spacings, st.floats(0.01, 100.0), st.floats(0.1, 10.0))
def test_scaling(soil, a, factor, stretch):
    """Resistivity scales with the resistivities; spacing and thicknesses scale together."""
    base = wenner_apparent_resistivity(a, soil)
    richer = LayeredSoil(tuple(factor * r for r in soil.resistivities_ohm_m), soil.thicknesses_m)
    larger = LayeredSoil(soil.resistivities_ohm_m, tuple(stretch * t for t in soil.thicknesses_m))
    assert close(wenner_apparent_resistivity(a, richer), factor * base)
    assert close(wenner_apparent_resistivity(stretch * a, larger), base)


@given(resistivities, st.lists(thicknesses, min_size=1, max_size=4), spacings)
def test_equal_layers_are_one(rho, h, a):
    soil = LayeredSoil((rho,) * (len(h) + 1), tuple(h))
    assert wenner_apparent_resistivity(a, soil) == pytest.approx(rho, rel=1e-12)  # rounding only
    assert schlumberger_apparent_resistivity(a, a / 5, soil) == pytest.approx(rho, rel=1e-12)


@given(soils(most=4), spacings, st.data())
def test_splitting_a_layer_changes_nothing(soil, a, data):
    if soil.layers == 1:
        split = LayeredSoil(soil.resistivities_ohm_m * 2, (2.0,))
    else:
        k = data.draw(st.integers(0, soil.layers - 2))
        share = data.draw(st.floats(0.1, 0.9))
        rho, h = list(soil.resistivities_ohm_m), list(soil.thicknesses_m)
        rho.insert(k, rho[k])
        h[k : k + 1] = [share * h[k], (1 - share) * h[k]]
        split = LayeredSoil(tuple(rho), tuple(h))
    assert close(wenner_apparent_resistivity(a, split), wenner_apparent_resistivity(a, soil))


@given(soils())
def test_short_and_long_spacings_see_first_and_last_layer(soil):
    """In the limit; moderate contrast is not assumed, so the long limit is taken far out."""
    rho = soil.resistivities_ohm_m
    first = soil.thicknesses_m[0] if soil.layers > 1 else 1.0
    assert wenner_apparent_resistivity(first * 1e-3, soil) == pytest.approx(rho[0], rel=1e-3)
    deep = sum(soil.thicknesses_m, 1.0) * max(rho) / min(rho) * 1e3
    assert wenner_apparent_resistivity(deep, soil) == pytest.approx(rho[-1], rel=1e-2)


@given(resistivities, resistivities, thicknesses)
def test_two_layer_wenner_runs_from_one_resistivity_to_the_other(rho1, rho2, h):
    curve = wenner_apparent_resistivity(h * np.geomspace(0.1, 100, 25), LayeredSoil((rho1, rho2), (h,)))
    slack = 1e-6 * max(rho1, rho2)
    assert np.all(np.diff(curve) * np.sign(rho2 - rho1) >= -slack)
    assert np.all((curve >= min(rho1, rho2) - slack) & (curve <= max(rho1, rho2) + slack))


@given(soils(most=4))
def test_no_layered_soil_rises_faster_than_the_spacing(soil):
    """Slope of the log-log curve at most 1: the limit over an insulating basement."""
    a = np.geomspace(0.3, 300, 40)
    slope = np.diff(np.log(wenner_apparent_resistivity(a, soil))) / np.diff(np.log(a))
    assert slope.max() <= 1.0 + 1e-4


def test_insulating_basement():
    """rho_a/a tends to 2 ln 2 rho_1/h = 13.863; at a = 100 m it is 13.843 over 1e6 ohm m (image series)."""
    value = wenner_apparent_resistivity(100.0, LayeredSoil((10, 1e6), (1,))) / 100.0
    assert value == pytest.approx(13.843, rel=1e-4)  # five digits, filter error at a contrast of 1e5


def test_equivalence_of_a_thin_conducting_layer():
    """H type with the same h/rho of the middle layer: within 3 % over a factor of 4 (image theory, Koefoed).

    Values: independent filter code, two decimals printed.
    """
    spacings = [2, 5, 10, 20, 40, 80]
    thick = wenner_apparent_resistivity(spacings, LayeredSoil((100, 20, 500), (5, 4)))
    thin = wenner_apparent_resistivity(spacings, LayeredSoil((100, 5, 500), (5, 1)))
    assert thick == pytest.approx([97.85, 83.02, 68.46, 93.86, 159.30, 250.04], abs=0.006)
    assert thin == pytest.approx([97.52, 81.04, 66.33, 93.35, 159.08, 249.85], abs=0.006)


def test_any_four_probes_in_line():
    """The general arrangement gives the named arrays, and is reciprocal: current and potential exchanged."""
    wenner = four_probe_apparent_resistivity([[0, 4, 8, 12]], B)
    assert wenner == pytest.approx(wenner_apparent_resistivity([4.0], B), rel=1e-12)
    odd = four_probe_apparent_resistivity([[0, 1.3, 7.1, 19]], B)
    exchanged = four_probe_apparent_resistivity([[1.3, 0, 19, 7.1]], B)
    assert odd == pytest.approx(exchanged, rel=1e-12)


def test_quick_curves_agree_with_the_direct_sum():
    """Random soils to a contrast of 1000; stated error of the interpolation there: 1e-7."""
    rng = np.random.default_rng(7)
    a = np.array([1, 1.5, 2, 3, 4.5, 6, 9, 12, 18, 24, 36, 48])
    quick = quick_curve(geometry_of_pairs(np.column_stack([a, 2 * a]), (2, -2)))
    for layers in (1, 2, 3, 5):
        rho = np.exp(rng.uniform(0, np.log(1000), (50, layers)))
        h = np.exp(rng.uniform(np.log(0.3), np.log(48), (50, layers - 1)))
        direct = [
            wenner_apparent_resistivity(a, LayeredSoil(tuple(r), tuple(t)))
            for r, t in zip(rho, h, strict=True)
        ]
        assert quick.values(rho, h) == pytest.approx(np.array(direct), rel=1e-7)


@settings(max_examples=20)
@given(soils(most=4))
def test_slopes_agree_with_differences(soil):
    a = np.array([1.0, 3.0, 10.0, 40.0])
    quick = quick_curve(geometry_of_pairs(np.column_stack([a, 2 * a]), (2, -2)))
    x = np.log([*soil.resistivities_ohm_m, *soil.thicknesses_m])
    n = soil.layers

    def curve(p):
        return quick.values(np.exp(p[None, :n]), np.exp(p[None, n:]))[0]

    value, slopes = quick.values_and_slopes(np.exp(x[None, :n]), np.exp(x[None, n:]))
    step = 1e-5
    for k in range(len(x)):
        up, down = x.copy(), x.copy()
        up[k] += step
        down[k] -= step
        numeric = (curve(up) - curve(down)) / (2 * step)
        # central differences: truncation 1e-10, rounding 1e-11 of the largest resistivity
        scale = max(soil.resistivities_ohm_m)
        assert slopes[0, k] == pytest.approx(numeric, abs=1e-6 * scale)
    assert value[0] == pytest.approx(curve(x), rel=1e-9)  # rounding times the contrast


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: wenner_apparent_resistivity([1.0, 0.0], A),
            "spacings_m: every value must be finite and above 0",
        ),
        (lambda: schlumberger_apparent_resistivity(2.0, 2.0, A), "are the two exchanged"),
        (lambda: four_probe_apparent_resistivity([[0, 0, 1, 2]], A), "two probes stand at the same place"),
        (lambda: four_probe_apparent_resistivity([[0, 1, 2]], A), "give four finite abscissae"),
        (lambda: four_probe_apparent_resistivity([[-1, 0.5, 0.5 + 1e-12, 2]], A), "measures no voltage"),
    ],
)
def test_wrong_geometry_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
