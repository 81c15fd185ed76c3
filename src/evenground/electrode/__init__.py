"""From the layout as drawn to straight conductors in 3-D.

Entry function: :func:`build_electrode`. For scripts: :func:`rectangular_mat`,
:func:`polygon_mat`, :func:`rods_at`.
"""

from __future__ import annotations

from evenground.electrode._boundary import OwnMetal, boundary_metal, fence_pieces, with_potentials
from evenground.electrode._build import build_electrode, without_stretches
from evenground.electrode._mat import mesh_lines, perimeter_points, polygon_mat, rectangular_mat, rods_at
from evenground.electrode._placed import placed_metal
from evenground.model.electrode import Conductor, Electrode

__all__ = [
    "Conductor",
    "Electrode",
    "OwnMetal",
    "boundary_metal",
    "build_electrode",
    "fence_pieces",
    "mesh_lines",
    "perimeter_points",
    "placed_metal",
    "polygon_mat",
    "rectangular_mat",
    "rods_at",
    "with_potentials",
    "without_stretches",
]
