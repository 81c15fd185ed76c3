"""Field of metal in layered earth: layered-earth kernel, assembly, solvers, potentials anywhere.

Entry functions: :func:`solve` for bonded equipotential metal, :func:`solve_groups` for several pieces,
:func:`solve_network` for metal with impedance. Numba is imported only when a solve runs.
"""

from __future__ import annotations

from evenground.field._backfill import Backfill
from evenground.field._groups import (
    GroupSolution,
    GroupState,
    Link,
    bonded_pieces,
    solve_groups,
    touching_conductors,
    touching_groups,
)
from evenground.field._kept import Changed, KeptSolution, keep_solution
from evenground.field._metal import Metal, internal_impedance
from evenground.field._network import Injection, NetworkSolution, solve_network
from evenground.field._quick import quick_field
from evenground.field._refinement import RefinementStep, refinement_study
from evenground.field._segments import Segments
from evenground.field._solution import Solution, SolverReport
from evenground.field._solve import solve
from evenground.field._warm import warm_up

__all__ = [
    "Backfill",
    "Changed",
    "GroupSolution",
    "GroupState",
    "Injection",
    "KeptSolution",
    "Link",
    "Metal",
    "NetworkSolution",
    "RefinementStep",
    "Segments",
    "Solution",
    "SolverReport",
    "bonded_pieces",
    "internal_impedance",
    "keep_solution",
    "quick_field",
    "refinement_study",
    "solve",
    "solve_groups",
    "solve_network",
    "touching_conductors",
    "touching_groups",
    "warm_up",
]
