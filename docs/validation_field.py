"""Rows of the validation page that compare the field solver with references the tests make themselves.

The finite-element and quadrature figures are those that ``tests/oracles`` finds anew at every run of the
slow tests, where the methods are described; those tests fail when a figure here is not what it finds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.electrode import Electrode, rectangular_mat, rods_at
from evenground.field import solve
from evenground.field._images import point_potential
from evenground.model.soil import LayeredSoil

SIDE_M = 0.02
"""Side of the square bars of the finite elements. [m]"""
EQUIVALENT_RADIUS = 0.5902
"""Radius of the round wire of equal capacity, in sides of a square (Polya and Szego, 1951)."""
DEPTH_M = 0.5

Row = tuple[str, str, float, float, float, str]


@dataclass(frozen=True)
class GridCase:
    """A square mat in layered soil and what finite elements find for it.

    ``half_m`` is half its side, ``rod_end_m`` the depth of four corner rods (0: none), ``places_m`` are
    surface points against its centre, ``surface`` their potentials for one volt on the metal.
    """

    name: str
    soil: LayeredSoil
    meshes: int
    half_m: float
    rod_end_m: float
    places_m: tuple[tuple[float, float], ...]
    resistance_ohm: float
    surface: tuple[float, ...]

    def electrode(self) -> Electrode:
        """The mat with round wires of equal capacity, its centre at the origin."""
        side, radius = 2 * self.half_m, EQUIVALENT_RADIUS * SIDE_M
        mat = rectangular_mat(
            length_x_m=side,
            length_y_m=side,
            meshes_x=self.meshes,
            meshes_y=self.meshes,
            depth_m=DEPTH_M,
            radius_m=radius,
        )
        if not self.rod_end_m:
            return mat
        corners = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
        length = self.rod_end_m - DEPTH_M
        return mat + rods_at(corners, length_m=length, radius_m=radius, top_depth_m=DEPTH_M)

    def points(self) -> NDArray[np.float64]:
        """The surface places in the mat's own coordinates, (n, 3). [m]"""
        places = np.array(self.places_m) + self.half_m
        return np.column_stack([places, np.zeros(len(places))])


TWO = ((2.5, 2.5), (5.0, 5.0), (5.0 + 0.5**0.5, 5.0 + 0.5**0.5))
THREE = ((0.0, 0.0), (4.0, 4.0), (6.0 + 0.5**0.5, 6.0 + 0.5**0.5))
WEAK = LayeredSoil((300.0, 60.0), (1.5,))
STRONG = LayeredSoil((60.0, 500.0), (1.5,))
STACK = LayeredSoil((200.0, 50.0, 800.0), (1.2, 1.5))
CASES = (
    GridCase(
        "2 x 2 meshes and rods, two layers", WEAK, 2, 5.0, 3.0, TWO, 4.57639, (0.500273, 0.690391, 0.452367)
    ),
    GridCase(
        "2 x 2 meshes and rods, three layers",
        STACK,
        2,
        5.0,
        3.0,
        TWO,
        10.08468,
        (0.851236, 0.877303, 0.769877),
    ),
    GridCase("3 x 3 meshes, two layers", STRONG, 3, 6.0, 0.0, THREE, 7.9148, (0.980164, 0.949141, 0.794808)),
    GridCase("3 x 3 meshes, three layers", STACK, 3, 6.0, 0.0, THREE, 9.94802, (0.892254, 0.8402, 0.709428)),
)


Case = tuple[tuple[float, ...], tuple[float, ...], float, float, float, float]
KERNEL: tuple[Case, ...] = (
    ((200, 50, 1000, 100), (1.5, 2, 5), 0.8, 0.0, 2.0, 10.56412291918),
    ((200, 50, 1000, 100), (1.5, 2, 5), 0.8, 6.0, 2.0, 3.631515468642),
    ((100, 5000, 20, 2000), (1, 2, 4), 0.5, 9.0, 3.0, 2.634567382358),
    ((100, 5000, 20, 2000), (1, 2, 4), 2.0, 0.0, 1.5, 17.66868793056),
)
"""Resistivities, thicknesses, depths of source and observer, distance, potential of one ampere; found anew by
``tests/oracles/test_kernel_high_precision.py``."""


def kernel_rows() -> Iterator[Row]:
    """Point sources in four layers."""
    group = "Point source in four layers, quadrature with 30 digits (mpmath)"
    for rho, h, d, z, r, exact in KERNEL:
        found = point_potential(LayeredSoil(rho, h), d, z, r)
        layers = "/".join(f"{v:g}" for v in rho)
        what = f"{layers} ohm m, thick {'/'.join(f'{v:g}' for v in h)} m, from {d:g} to {z:g} m, {r:g} m off, V/A"
        yield group, what, exact, found, 2e-6, "fit of the images"


def rows() -> Iterator[Row]:
    """Every comparison with a reference made by the tests themselves."""
    yield from kernel_rows()
    yield from grid_rows()


def grid_rows() -> Iterator[Row]:
    """Resistance, and touch voltages at the middle of a mesh and 1 m off the corner, of every case."""
    group = "Small mats against finite elements made with scikit-fem (whose own error is below 0.25 %)"
    for case in CASES:
        solution = solve(case.electrode(), case.soil)
        found = solution.potential_v(case.points())
        why = "default segments; square bars against round wires"
        yield group, f"{case.name}: resistance, ohm", case.resistance_ohm, solution.resistance_ohm, 0.006, why
        for place, k in (("in a mesh", 0), ("1 m off the corner", 2)):
            what = f"{case.name}: touch {place}, share of the rise"
            yield group, what, 1 - case.surface[k], float(1 - found[k]), 0.02, why
