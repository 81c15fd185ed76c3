"""Refinement study: the same problem with shorter and shorter segments."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import InputError
from evenground.field._solve import Progress, solve
from evenground.model.electrode import Electrode
from evenground.model.soil import LayeredSoil

__all__ = ["RefinementStep", "refinement_study"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class RefinementStep:
    """One level of a refinement study.

    Attributes
    ----------
    segment_m : float
        Largest segment length. [m]
    segments : int
    resistance_ohm, resistance_error_ohm : float
    change : float
        Relative change of the resistance against the level before; nan on the first.
    potential_v : (n,)
        At the points asked for, one volt on the metal.
    """

    segment_m: float
    segments: int
    resistance_ohm: float
    resistance_error_ohm: float
    change: float
    potential_v: FloatArray


def refinement_study(
    electrode: Electrode,
    soil: LayeredSoil,
    *,
    levels: int = 3,
    start_segment_m: float | None = None,
    points_m: ArrayLike | None = None,
    progress: Progress | None = None,
) -> tuple[RefinementStep, ...]:
    """Solve with a first segment length and then with half of it, ``levels`` times in all.

    Errors as for :func:`evenground.field.solve`; InputError also for fewer than two levels.
    """
    if levels < 2:
        raise InputError(f"levels: a refinement study needs at least 2, got {levels}")
    points = np.zeros((0, 3)) if points_m is None else np.asarray(points_m, dtype=float)
    steps: list[RefinementStep] = []
    size = start_segment_m
    for _ in range(levels):
        found = solve(electrode, soil, segment_m=size, progress=progress)
        size = found.report.longest_segment_m if size is None else size
        before = steps[-1].resistance_ohm if steps else float("nan")
        steps.append(
            RefinementStep(
                size,
                found.report.segments,
                found.resistance_ohm,
                found.resistance_error_ohm,
                found.resistance_ohm / before - 1.0,
                found.potential_v(points),
            )
        )
        size /= 2.0
    return tuple(steps)
