"""Field of metal in layered earth: layered-earth kernel, assembly, solvers, potentials anywhere.

Entry functions: :func:`solve` for bonded metal, :func:`solve_groups` for several pieces. Numba is
imported only when a solve runs.
"""

from __future__ import annotations

from evenground.field._groups import GroupSolution, GroupState, Link, solve_groups
from evenground.field._segments import Segments
from evenground.field._solution import Solution, SolverReport
from evenground.field._solve import solve

__all__ = [
    "GroupSolution",
    "GroupState",
    "Link",
    "Segments",
    "Solution",
    "SolverReport",
    "solve",
    "solve_groups",
]
