"""Field solver: compiled kernels against the same mathematics in vectorised NumPy, side by side.

The baseline has the same segments, images and dense Cholesky solve, two Gauss points in the far field and
the exact inner integral for near pairs. It is let off with two outer points also there, where the solver
takes ten. It works on whole blocks of pairs. Then: the share of the bare kernel's rate that filling the
matrix reaches, a small mat against finite elements, and the growth of time and memory.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from benchmarks import _elements, _growth, _kernel_rate
from evenground.electrode import perimeter_points, rectangular_mat, rods_at
from evenground.field import Solution, solve
from evenground.model.electrode import Electrode
from evenground.model.site import Assessment
from evenground.model.soil import LayeredSoil
from evenground.safety._search import make_raster, worst_step, worst_touch
from evenground.safety._surface import surface_of
from evenground.safety._zones import ZoneIndex, areas_of

FloatArray = NDArray[np.float64]
Row = tuple[str, float, float, str]
X2 = 0.5 / np.sqrt(3.0)
GAUSS = ((0.5 - X2, 0.5), (0.5 + X2, 0.5))


def reference_mat(meshes: int = 10, side_m: float = 70.0) -> Electrode:
    """70 m x 70 m, 100 meshes, 20 rods of 7.5 m."""
    mat = rectangular_mat(
        length_x_m=side_m, length_y_m=side_m, meshes_x=meshes, meshes_y=meshes, depth_m=0.5, radius_m=0.005
    )
    corners = ((0.0, 0.0), (side_m, 0.0), (side_m, side_m), (0.0, side_m))
    return mat + rods_at(perimeter_points(corners, count=20), length_m=7.5, radius_m=0.008, top_depth_m=0.5)


def raster(step_m: float = 0.5, side_m: float = 70.0) -> FloatArray:
    """Surface points over the mat and one metre around."""
    g = np.arange(-1.0, side_m + 1.01, step_m)
    x, y = np.meshgrid(g, g)
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])


def _line(p: FloatArray, a: FloatArray, unit: FloatArray, length: FloatArray, a2: FloatArray) -> FloatArray:
    w = p - a
    s = np.einsum("k...,k...->...", w, unit)
    d = np.sqrt(np.maximum(np.einsum("k...,k...->...", w, w) - s * s, 0.0) + a2)
    return np.asarray(np.arcsinh((length - s) / d) + np.arcsinh(s / d))


def numpy_values(
    solution: Solution, points: FloatArray, column: NDArray[np.int64], a2: FloatArray
) -> FloatArray:
    """Potential at (3, p) points per ampere of each segment, (p, n)."""
    seg, images = solution.segments, solution.images
    out = np.zeros((points.shape[1], len(seg)))
    unit = seg.vector / seg.length_m
    for s in np.unique(seg.layer):
        own = np.flatnonzero(seg.layer == s)
        for o in np.unique(column):
            rows = np.flatnonzero(column == o)
            p = points[:, rows, None]
            gap = np.hypot(*(p[:2] - seg.middle[:2, None, own])) > 3.0 * seg.length_m[own]
            block = np.zeros(gap.shape)
            for c, f, x in zip(*images.of_pair(int(s), int(o)), strict=True):
                start, vec, u = seg.start[:, own].copy(), seg.vector[:, own].copy(), unit[:, own].copy()
                start[2], vec[2], u[2] = f * start[2] + x, f * vec[2], f * u[2]
                far = np.zeros(gap.shape)
                for t, w in GAUSS:
                    q = p - (start + t * vec)[:, None]
                    far += w / np.sqrt(1e-12 + q[0] ** 2 + q[1] ** 2 + q[2] ** 2)
                near = ~gap
                i, j = np.nonzero(near)
                far[near] = (
                    _line(p[:, i, 0], start[:, j], u[:, j], seg.length_m[own][j], a2[own][j])
                    / seg.length_m[own][j]
                )
                block += c * far
            out[np.ix_(rows, own)] = block
    return out


def numpy_solve(solution: Solution) -> float:
    """Resistance with the matrix assembled by NumPy."""
    seg = solution.segments
    matrix = np.zeros((len(seg), len(seg)))
    for t, w in GAUSS:
        points = seg.start + t * seg.vector
        matrix += w * numpy_values(solution, points, seg.layer, seg.radius_m**2)
    matrix = 0.5 * (matrix + matrix.T)
    return 1.0 / float(np.sum(cho_solve(cho_factor(matrix), np.ones(len(seg)))))


def numpy_potential(solution: Solution, points: FloatArray) -> FloatArray:
    """Surface potential by NumPy in blocks that fit the cache."""
    out = np.empty(len(points))
    column = np.full(64, solution.images.layers, dtype=np.int64)
    for k in range(0, len(points), 64):
        block = points[k : k + 64].T
        values = numpy_values(
            solution, block, column[: block.shape[1]], 0 * solution.segments.radius_m + 1e-9
        )
        out[k : k + 64] = values @ solution.current_a_per_v
    return out


def best(job: Callable[[], object], times: int) -> float:
    """Shortest wall-clock time of several runs. [s]"""
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        job()
        spent.append(time.perf_counter() - begin)
    return min(spent)


def search(potential: Callable[[FloatArray], FloatArray], side_m: float = 70.0) -> tuple[float, float]:
    """Worst touch and step voltage in the default areas around the mat, shares of the potential rise.

    The search of the program itself on a raster of 0.5 m; ``potential`` takes points (n, 3).
    """
    corner = ((0.0, 0.0), (side_m, 0.0), (side_m, side_m), (0.0, side_m))
    areas = areas_of([corner], Assessment())
    zones = ZoneIndex([])

    def at(x: FloatArray, y: FloatArray) -> FloatArray:
        return potential(np.column_stack([x, y, np.zeros(len(x))]))

    surface = surface_of(at)
    raster = make_raster(surface, areas.touch, areas.step, 0.5)
    touch = worst_touch(surface, raster, areas.touch, zones)
    step = worst_step(surface, raster, areas.step, zones, np.ones(1))
    return touch[0].value, step[0].value


def reference_rows() -> Iterator[Row]:
    """The reference mat: solve, raster, search."""
    electrode, soil, points = reference_mat(), LayeredSoil((300.0, 100.0), (6.1,)), raster()
    solution = solve(electrode, soil)
    solution.potential_v(points)
    baseline = "vectorised NumPy, same images"
    fast_solve = best(lambda: solve(electrode, soil), 5)
    slow_solve = best(lambda: numpy_solve(solution), 1)
    n = solution.report.segments
    yield f"70 m mat, 100 meshes, 20 rods: solve ({n})", fast_solve, slow_solve, baseline
    fast_map = best(lambda: solution.potential_v(points), 5)
    some = points[:: len(points) // 1500]
    slow_map = best(lambda: numpy_potential(solution, some), 1) * len(points) / len(some)
    yield f"same: surface raster 0.5 m ({len(points)} points)", fast_map, slow_map, baseline
    fast = best(lambda: search(solve(electrode, soil).potential_v), 3)
    begin = time.perf_counter()
    slow_worst = search(lambda p: numpy_potential(solution, p))
    slow = slow_solve + time.perf_counter() - begin
    yield "same: solve, touch and step search", fast, slow, f"{baseline}, same search"
    worst = search(solution.potential_v)
    differences = [*np.subtract(worst, slow_worst), numpy_solve(solution) / solution.resistance_ohm - 1]
    if np.max(np.abs(differences)) > 1e-2:
        raise RuntimeError(f"baseline and solver differ by {differences}")


def rows() -> Iterator[Row]:
    """Name, seconds, baseline seconds, baseline."""
    yield from reference_rows()
    large = rectangular_mat(
        length_x_m=500, length_y_m=500, meshes_x=50, meshes_y=50, depth_m=0.8, radius_m=0.006
    )
    layers = LayeredSoil((300.0, 50.0, 1000.0), (2.0, 4.0))
    solve(large, layers, segment_m=17.0, method="compressed")
    packed = best(lambda: solve(large, layers, segment_m=17.0, method="compressed"), 2)
    dense = best(lambda: solve(large, layers, segment_m=17.0, method="dense"), 1)
    yield "5 100 segments, three layers, compressed", packed, dense, "own dense Cholesky"
    yield from _kernel_rate.rows()
    yield from _elements.rows()
    yield from _growth.rows()
