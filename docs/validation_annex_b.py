"""Rows of the validation page: step voltages, and the touch voltage of the L, of IEEE Std 80-2000 Annex B.

The guide does not state where its rods stand and how thick they are; here they stand on nodes of the
outline and are as thick as the mat.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from evenground.electrode import Electrode, perimeter_points, polygon_mat, rectangular_mat, rods_at
from evenground.field import Solution, solve
from evenground.model.soil import LayeredSoil

AMPERES = 1908.0
SQUARE = ((0.0, 0.0), (70.0, 0.0), (70.0, 70.0), (0.0, 70.0))
ELL = ((0.0, 0.0), (70.0, 0.0), (70.0, 35.0), (35.0, 35.0), (35.0, 105.0), (0.0, 105.0))
CORNERS = {
    "B.2": (((0.0, 0.0), (-1.0, -1.0)),),
    "B.3": (((0.0, 0.0), (-1.0, -1.0)),),
    "B.4": (((70.0, 0.0), (1.0, -1.0)), ((0.0, 105.0), (-1.0, 1.0)), ((0.0, 0.0), (-1.0, -1.0))),
}
STEP_V = {"B.2": 459.1, "B.3": 349.7, "B.4": 441.8}
"""Computer results quoted by the guide (from memory, cross-checked). [V]"""

Row = tuple[str, str, float, float, float, str]
FloatArray = NDArray[np.float64]


def annex_b(case: str) -> Electrode:
    """Mats with rods of Annex B.2 to B.4."""
    if case == "B.2":
        mat = rectangular_mat(
            length_x_m=70, length_y_m=70, meshes_x=10, meshes_y=10, depth_m=0.5, radius_m=0.005
        )
        edge, length = list(perimeter_points(SQUARE, count=20)), 7.5
    elif case == "B.3":
        mat = rectangular_mat(
            length_x_m=63, length_y_m=84, meshes_x=9, meshes_y=12, depth_m=0.5, radius_m=0.005
        )
        nodes = {(x, y) for x in range(0, 64, 7) for y in range(0, 85, 7) if x in (0, 63) or y in (0, 84)}
        edge, length = sorted(nodes - {(0, 42), (63, 42), (28, 0), (28, 84)}), 10.0
    else:
        mat = polygon_mat(ELL, spacing_x_m=7, spacing_y_m=7, depth_m=0.5, radius_m=0.005)
        edge = [
            *((x, 0) for x in range(0, 71, 14)),
            *((70, 14), (70, 28), (63, 35), (49, 35)),
            *((35, y) for y in range(42, 106, 14)),
            *((21, 105), (7, 105)),
            *((0, y) for y in range(98, 0, -14)),
        ]
        length = 7.5
    return mat + rods_at(edge, length_m=length, radius_m=0.005, top_depth_m=0.5)


def on_surface(found: Solution, x: FloatArray | float, y: FloatArray | float) -> FloatArray:
    """Surface potential for one volt on the metal."""
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    return found.potential_v(np.column_stack([x.ravel(), y.ravel(), 0 * x.ravel()])).reshape(x.shape)


def step_off(
    found: Solution,
    corner: tuple[float, float],
    direction: tuple[float, float],
    reach: tuple[float, float] = (-1.0, 3.0),
) -> float:
    """Largest difference over one metre along a line through a corner, share of the potential rise."""
    s = np.linspace(*reach, 161)
    unit = np.array(direction) / np.hypot(*direction)
    near = on_surface(found, corner[0] + s * unit[0], corner[1] + s * unit[1])
    far = on_surface(found, corner[0] + (s + 1) * unit[0], corner[1] + (s + 1) * unit[1])
    return float((near - far).max())


def touch_in(found: Solution, x0: float, y0: float, side: float = 7.0) -> float:
    """Largest touch voltage in a mesh, share of the potential rise."""
    g = np.linspace(0.2, side - 0.2, 34)
    x, y = np.meshgrid(x0 + g, y0 + g)
    return float(1 - on_surface(found, x, y).min())


def rows() -> Iterator[Row]:
    """Steps off the corners and the touch voltage of the L's end meshes."""
    group = "IEEE Std 80-2000, Annex B, step and touch voltages quoted there (from memory, cross-checked)"
    why = "rod places not printed"
    for case, quoted in STEP_V.items():
        found = solve(annex_b(case), LayeredSoil((400.0,)))
        volts = found.resistance_ohm * AMPERES
        worst = max(step_off(found, *corner) for corner in CORNERS[case]) * volts
        yield group, f"{case} step off a corner, V", quoted, worst, 0.10, why
        if case == "B.4":
            meshes = ((63, 0), (63, 28), (0, 98), (28, 98), (0, 0))
            touch = max(touch_in(found, x, y) for x, y in meshes) * volts
            yield group, f"{case} touch, end mesh, V", 742.9, touch, 0.06, why
