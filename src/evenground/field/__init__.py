"""Field of metal in layered earth: layered-earth kernel, assembly, solvers, potentials anywhere.

Entry function: :func:`solve`. Numba is imported only when a solve runs.
"""

from __future__ import annotations

from evenground.field._segments import Segments
from evenground.field._solution import Solution, SolverReport
from evenground.field._solve import solve

__all__ = ["Segments", "Solution", "SolverReport", "solve"]
