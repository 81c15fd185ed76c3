"""A small mat in two layers against finite elements that are as exact: 1 % in resistance and touch voltage.

The elements are quadratic hexahedra graded toward the metal, as coarse as 1 % allows, on a quarter of the
mat. Two baselines: what scikit-fem takes merely to assemble their matrix in the general way, without
any solve; and the whole job by the quickest way known, in which the tensor structure of this one grid
inverts the matrix (``tests/oracles/tensor_elements.py``).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenground.field import solve

ROOT = Path(__file__).parents[1]
for folder in ("docs", "tests/oracles"):
    sys.path.insert(0, str(ROOT / folder))
from tensor_elements import Block, grid_lines  # noqa: E402
from test_field_grids import bars  # noqa: E402
from validation_field import CASES, SIDE_M  # noqa: E402

Row = tuple[str, float, float, str]
FloatArray = NDArray[np.float64]
CASE = CASES[0]
SEGMENT_M = 1.0
SMALLEST_M, GROWTH, FAR_M = 2 * SIDE_M, 3.3, 2e3
WITHIN = 0.01


def _solver(segment_m: float = SEGMENT_M) -> tuple[float, FloatArray]:
    found = solve(CASE.electrode(), CASE.soil, segment_m=segment_m)
    return found.resistance_ohm, 1.0 - found.potential_v(CASE.points())


def _elements() -> tuple[float, FloatArray, int]:
    block = Block(CASE.soil, bars(CASE), smallest=SMALLEST_M, growth=GROWTH, far=FAR_M)
    return block.solve(), 1.0 - block.surface(CASE.places_m), block.unknowns


def _assembly() -> float:
    """Seconds that scikit-fem takes for the same stiffness matrix in the general way."""
    import skfem
    from skfem.helpers import dot, grad

    lines = grid_lines(CASE.soil, bars(CASE), SMALLEST_M, GROWTH, FAR_M)
    edges = np.array(CASE.soil.interface_depths_m)
    sigma_of = 1.0 / np.array(CASE.soil.resistivities_ohm_m)

    @skfem.BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        return sigma_of[np.searchsorted(edges, w.x[2])] * dot(grad(u), grad(v))

    begin = time.perf_counter()
    basis = skfem.Basis(skfem.MeshHex.init_tensor(*lines), skfem.ElementHex2(), intorder=4)
    stiffness.assemble(basis)
    return time.perf_counter() - begin


def rows() -> Iterator[Row]:
    """Name, seconds, baseline seconds, baseline; refuses to compare what is not equally exact."""
    exact_resistance, exact_touch = _solver(0.1)
    resistance, touch = _solver()
    begin = time.perf_counter()
    element_resistance, element_touch, unknowns = _elements()
    by_tensors = time.perf_counter() - begin
    for r, t in ((resistance, touch), (element_resistance, element_touch)):
        off = max(abs(r / exact_resistance - 1), float(np.max(np.abs(t / exact_touch - 1))))
        if off > WITHIN:
            raise RuntimeError(f"one of the solutions is off by {off:.1%}")
    spent = []
    for _ in range(20):
        begin = time.perf_counter()
        _solver()
        spent.append(time.perf_counter() - begin)
    name = "2 x 2 meshes, rods, two layers, within 1 %"
    what = f"finite elements, scikit-fem, {unknowns} unknowns"
    yield name, min(spent), _assembly(), f"{what}: assembly alone"
    yield name, min(spent), by_tensors, f"{what}: by tensor structure, solved"
