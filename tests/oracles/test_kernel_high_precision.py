"""Point-source potentials in up to five layers against a live quadrature in high precision (mpmath).

Per wave number the potential over depth is made of two solutions: one without current through the surface,
one that vanishes far below, both carried through the layers as potential and vertical current by hyperbolic
functions. In double precision their growth would spoil everything; with 30 digits it does not matter. The
Hankel integral runs between the zeros of the Bessel function. Neither reflections nor images occur, so
nothing is shared with the solver.
"""

import itertools
import sys
from pathlib import Path

import mpmath as mp
import pytest
from numpy.polynomial.legendre import leggauss

from evenground.field._images import point_potential
from evenground.model.soil import LayeredSoil

sys.path.insert(0, str(Path(__file__).parents[2] / "docs"))
from validation_field import KERNEL

DIGITS = 30
NODES = 16


def carried(state, wave, conductivity, depth):
    """Potential and vertical current density after a way through one layer (negative: upwards)."""
    v, j = state
    c, s = mp.cosh(wave * depth), mp.sinh(wave * depth)
    y = conductivity * wave
    return v * c + j * s / y, v * s * y + j * c


def depth_solution(wave, rho, h, d, z):
    """Green's function over depth of (sigma v')' - sigma wave^2 v = -delta(depth - d), at z."""
    edges = [mp.mpf(0), *itertools.accumulate(map(mp.mpf, h))]
    high, low = sorted((mp.mpf(d), mp.mpf(z)))

    def from_above(to):
        state = (mp.mpf(1), mp.mpf(0))
        for k, top in enumerate(edges):
            bottom = edges[k + 1] if k + 1 < len(edges) else to
            state = carried(state, wave, 1 / mp.mpf(rho[k]), min(bottom, to) - top)
            if to <= bottom:
                return state
        raise AssertionError

    def from_below(to):
        place = max(edges[-1], low)  # where the solution is one
        state = (mp.mpf(1), -wave / mp.mpf(rho[-1]))
        for k in range(len(edges) - 1, -1, -1):
            upper = max(edges[k], to)
            state = carried(state, wave, 1 / mp.mpf(rho[k]), upper - place)
            place = upper
            if to >= edges[k]:
                return state
        raise AssertionError

    u, w, other = from_above(high), from_below(low), from_below(high)
    return u[0] * w[0] / (u[1] * other[0] - u[0] * other[1])


def quadrature(rho, h, d, z, r):
    """Potential of one ampere, to some 15 digits. [V/A]"""
    with mp.workdps(DIGITS):
        nodes = [(mp.mpf(x), mp.mpf(q)) for x, q in zip(*leggauss(NODES), strict=True)]
        reach = mp.mpf(38) / abs(mp.mpf(d) - mp.mpf(z))
        first = mp.besseljzero(0, 1) / r
        cuts = [mp.mpf(0), *(first * mp.mpf(3) ** -k for k in range(16, -1, -1))]
        n = 1
        while cuts[-1] < reach:
            n += 1
            cuts.append(mp.besseljzero(0, n) / r if n < 20 else cuts[-1] + mp.pi / r)
        total = mp.mpf(0)
        for a, b in itertools.pairwise(cuts):
            half, middle = (b - a) / 2, (a + b) / 2
            for t, q in nodes:
                wave = middle + half * t
                total += half * q * wave * depth_solution(wave, rho, h, d, z) * mp.besselj(0, wave * r)
        return float(total / (2 * mp.pi))


def places(soil):
    """Two depths in every layer, so that source and observer are apart also in the same one."""
    edges = [0.0, *soil.interface_depths_m, 1.6 * soil.interface_depths_m[-1]]
    return [(a + 0.25 * (b - a), a + 0.7 * (b - a)) for a, b in itertools.pairwise(edges)]


SOILS = [
    LayeredSoil((200.0, 50.0, 1000.0, 100.0), (1.5, 2.0, 5.0)),
    LayeredSoil((100.0, 5000.0, 20.0, 2000.0), (1.0, 2.0, 4.0)),
    LayeredSoil((2000.0, 20.0, 3000.0, 50.0, 800.0), (0.8, 1.2, 3.0, 6.0)),
]


# the reference itself: no layers, and the published-precision values of the series for two layers
@pytest.mark.parametrize(
    ("rho", "h", "d", "z", "r", "expected"),
    [
        ((100,), (), 0.5, 0.0, 2.0, 100 / (2 * 3.141592653589793) / (2.0**2 + 0.5**2) ** 0.5),
        ((100, 500), (3,), 0.5, 0.0, 1, 20.035554205591),
        ((100, 500), (3,), 5, 8, 3, 9.2034152523777),
        ((200, 50, 1000), (2, 5), 4, 10, 6, 3.8261274935874),
        *KERNEL,  # the rows of the validation page
    ],
)
def test_the_quadrature_itself(rho, h, d, z, r, expected):
    # as many digits as are written down
    assert quadrature(rho, h, d, z, r) == pytest.approx(expected, rel=2e-12)


@pytest.mark.slow
@pytest.mark.parametrize("soil", SOILS, ids=lambda s: s.describe())
def test_every_pair_of_layers(soil):
    """Worst of all pairs: 2.3e-7 with the default images, 3e-10 with the finest ladder."""
    rho, h = soil.resistivities_ohm_m, soil.thicknesses_m
    r = 0.25 * soil.interface_depths_m[-1]
    for s, o in itertools.combinations_with_replacement(range(soil.layers), 2):
        d, z = places(soil)[s][0], places(soil)[o][1]
        exact = quadrature(rho, h, d, z, r)
        for there, back in ((d, z), (z, d)):
            coarse, fine = (point_potential(soil, there, back, r, tolerance=t) for t in (2e-5, 1e-8))
            # ten times what is found at worst
            assert coarse == pytest.approx(exact, rel=2e-6)
            assert fine == pytest.approx(exact, rel=3e-9)
