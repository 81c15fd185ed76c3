"""The field solver against finite elements made with a general library (scikit-fem).

Axially symmetric electrodes are meshed with their true thickness: a rod as a cylinder, a ring as a bar of
square section (equivalent radius 0.5902 of its side, from the capacity of a square, Polya and Szego 1951).
The soil is cut off at 400 m, where a condition for a decay like 1/distance is set. With the potential fixed
on the metal, finite elements find too low a resistance; refining them changes the values by less than
0.3 %.
"""

import itertools
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from evenground.field import solve
from evenground.model.soil import LayeredSoil

sys.path.insert(0, str(Path(__file__).parents[1] / "field"))
from layouts import ring, rods

skfem = pytest.importorskip("skfem")

pytestmark = pytest.mark.slow

FAR = 400.0


def graded(stops, smallest, growth=1.35, largest=40.0):
    """Grid lines through all stops, fine at each of them."""
    lines = [stops[0]]
    for a, b in itertools.pairwise(stops):
        steps, x = [], 0.0
        size = smallest
        half = 0.5 * (b - a)
        while x < half:
            steps.append(min(size, largest))
            x += steps[-1]
            size *= growth
        scale = half / x
        up = np.cumsum(steps) * scale
        lines += [*(a + up), *(b - up[-2::-1]), b]
    return np.array(lines)


def solve_axisymmetric(soil, r_lines, z_lines, metal, points):
    """Resistance and surface potentials (fraction of the metal's) of the metal region."""
    from skfem.helpers import dot, grad

    mesh = skfem.MeshTri.init_tensor(r_lines, z_lines)
    basis = skfem.Basis(mesh, skfem.ElementTriP2(), intorder=5)
    edges = np.array(soil.interface_depths_m)
    sigma_of = 1.0 / np.array(soil.resistivities_ohm_m)

    @skfem.BilinearForm
    def stiffness(u, v, w):
        sigma = sigma_of[np.searchsorted(edges, w.x[1])]
        return 2 * np.pi * w.x[0] * sigma * dot(grad(u), grad(v))

    @skfem.BilinearForm
    def decay(u, v, w):
        sigma = sigma_of[np.searchsorted(edges, w.x[1])]
        return 2 * np.pi * w.x[0] * sigma * dot(w.x, w.n) / (w.x[0] ** 2 + w.x[1] ** 2) * u * v

    outer = mesh.facets_satisfying(
        lambda x: (x[0] > FAR * (1 - 1e-9)) | (x[1] > FAR * (1 - 1e-9)), boundaries_only=True
    )
    rim = skfem.FacetBasis(mesh, skfem.ElementTriP2(), facets=outer, intorder=5)
    matrix = stiffness.assemble(basis) + decay.assemble(rim)
    fixed = np.flatnonzero(metal(basis.doflocs[0], basis.doflocs[1]))
    x = np.zeros(basis.N)
    x[fixed] = 1.0
    v = skfem.solve(*skfem.condense(matrix, x=x, D=fixed))
    top = np.flatnonzero(basis.doflocs[1] < 1e-9)
    top = top[np.argsort(basis.doflocs[0, top])]
    surface = PchipInterpolator(basis.doflocs[0, top], v[top])(points)
    return 1.0 / float(v @ (matrix @ v)), surface


SOILS = [
    LayeredSoil((100.0,)),
    LayeredSoil((300.0, 60.0), (1.5,)),
    LayeredSoil((60.0, 500.0), (1.5,)),
    LayeredSoil((200.0, 50.0, 800.0), (1.2, 1.5)),
]
AT = np.array([0.5, 1.0, 3.0, 10.0])


@pytest.mark.parametrize("soil", SOILS, ids=lambda s: s.describe())
def test_rod(soil):
    length, a = 3.5, 0.02
    r = graded([0.0, a, FAR], a / 3)
    z = graded(sorted({0.0, *soil.interface_depths_m, length, FAR}), a / 3)
    resistance, surface = solve_axisymmetric(
        soil, r, z, lambda x, y: (x <= a * (1 + 1e-9)) & (y <= length * (1 + 1e-9)), AT
    )
    found = solve(rods([(0, 0)], length=length, radius=a), soil, segment_m=0.15)
    # 1 %: the finite elements see the rod's flat end and the end of the soil at 400 m
    assert found.resistance_ohm == pytest.approx(resistance, rel=0.01)
    assert found.potential_v(np.column_stack([AT, 0 * AT, 0 * AT])) == pytest.approx(surface, rel=0.02)


@pytest.mark.parametrize("soil", SOILS, ids=lambda s: s.describe())
def test_ring(soil):
    big, depth, side = 3.0, 0.6, 0.05
    h = side / 2
    r = graded([0.0, big - h, big + h, FAR], side / 6)
    z = graded(sorted({0.0, depth - h, depth + h, *soil.interface_depths_m, FAR}), side / 6)
    resistance, surface = solve_axisymmetric(
        soil, r, z, lambda x, y: (abs(x - big) <= h * (1 + 1e-9)) & (abs(y - depth) <= h * (1 + 1e-9)), AT
    )
    found = solve(ring(big, depth, 0.5902 * side, sides=48), soil)
    assert found.resistance_ohm == pytest.approx(resistance, rel=0.01)
    assert found.potential_v(np.column_stack([AT, 0 * AT, 0 * AT])) == pytest.approx(surface, rel=0.02)
