"""The entry function of the room."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from evenground.errors import CancelledError, InputError, TooLargeError
from evenground.field._backfill import Backfill, embed, series_resistance
from evenground.field._checks import check_solution
from evenground.field._clusters import partition
from evenground.field._compressed import compressed_bytes, solve_compressed
from evenground.field._dense import Result, dense_bytes, solve_dense
from evenground.field._images import ImageSet, fit_images
from evenground.field._segments import Segments, cut_conductors
from evenground.field._solution import Solution, SolverReport
from evenground.model.electrode import Electrode
from evenground.model.soil import LayeredSoil

__all__ = ["Progress", "solve", "solve_segments"]

FloatArray = NDArray[np.float64]
Progress = Callable[[str, float], object]
"""Called with a text and the fraction done. Returning False or raising CancelledError stops the job."""

DENSE_UP_TO = 4000
"""Above this number of segments the matrix is compressed."""
LEAST_BYTES = 2000
"""Memory of the compressed solution per segment at the very least."""


def solve(
    electrode: Electrode,
    soil: LayeredSoil,
    *,
    segment_m: float | None = None,
    method: str = "auto",
    backfill: Mapping[str, Backfill] | None = None,
    memory_limit_bytes: int | None = None,
    progress: Progress | None = None,
) -> Solution:
    """Solve for the current that equipotential metal leaks into layered earth at one volt.

    Galerkin's method with constant leakage on each segment. Conductors are cut where they cross, touch or
    pass a layer interface, and more finely toward free ends. All conductors count as one bonded piece.

    Parameters
    ----------
    electrode : Electrode
    soil : LayeredSoil
    segment_m : float, optional
        Largest segment length; None: half the typical distance between crossings. [m]
    method : str
        ``"dense"``, ``"compressed"``, or ``"auto"``: dense up to a few thousand segments.
    backfill : mapping, optional
        Conductor kind -> :class:`Backfill` around all conductors of that kind.
    memory_limit_bytes : int, optional
        Refuse jobs that need more; None: 60 % of the machine's memory.
    progress : callable, optional
        ``progress(text, fraction)``; returning False or raising CancelledError stops the solve.

    Returns
    -------
    Solution

    Raises
    ------
    InputError
        No conductors, or ``segment_m`` below four radii.
    NotConvergedError
        The kernel of the soil could not be fitted, or the equations not solved.
    TooLargeError
        The job would need more memory than allowed.
    CancelledError
        Stopped by ``progress``.
    """
    tell = teller(progress)
    tell("layered-earth kernel", 0.0)
    images = fit_images(soil)
    tell("cutting conductors", 0.05)
    segments = cut_conductors(embed(electrode.conductors, backfill or {}), soil, segment_m)
    series = series_resistance(segments, electrode.conductors, backfill or {})
    limit = memory_limit_bytes if memory_limit_bytes is not None else default_limit()
    right = np.ones((len(segments), 1))
    result, memory = solve_segments(segments, images, right, method, limit, tell, series)
    current = np.ascontiguousarray(result.current[:, 0])
    tell("checking", 0.95)
    resistance = 1.0 / float(current.sum())
    check = check_solution(soil, segments, images, current, right[:, 0], series)
    report = SolverReport(
        method=result.method,
        segments=len(segments),
        layers=soil.layers,
        images=images.terms,
        kernel_error=images.error,
        residual=result.residual,
        energy_balance=check.balance,
        iterations=result.iterations,
        longest_segment_m=float(segments.length_m.max()),
        shortest_segment_m=float(segments.length_m.min()),
        memory_bytes=memory,
        notes=(*segments.notes, *_group_notes(electrode), *current_notes(current)),
    )
    tell("done", 1.0)
    error = check.relative_error * resistance
    return Solution(soil, segments, current, resistance, error, report, images)


def teller(progress: Progress | None) -> Callable[[str, float], None]:
    """The progress callback with its two ways of stopping the job."""

    def tell(text: str, fraction: float) -> None:
        if progress is not None and progress(text, fraction) is False:
            raise CancelledError(f"field solution stopped at: {text}")

    return tell


def solve_segments(
    segments: Segments,
    images: ImageSet,
    right: FloatArray,
    method: str,
    limit: int,
    tell: Callable[[str, float], None],
    series: FloatArray | None = None,
) -> tuple[Result, int]:
    """Choose the method by size, refuse what does not fit, solve."""
    if method not in ("auto", "dense", "compressed"):
        raise InputError(f"method: {method!r} is not 'auto', 'dense' or 'compressed'")
    n = len(segments)
    if method == "dense" or (method == "auto" and n <= DENSE_UP_TO):
        memory = dense_bytes(n)
        _refuse_above(limit, memory, n)
        tell(f"solving {n} segments", 0.1)
        return solve_dense(segments, images, right, series), memory
    _refuse_above(limit, LEAST_BYTES * n, n)
    parts = partition(segments)
    memory = compressed_bytes(parts)
    _refuse_above(limit, memory, n)
    return solve_compressed(segments, images, right, parts, tell, series), memory


def _refuse_above(limit: int, memory: int, segments: int) -> None:
    if memory > limit:
        raise TooLargeError(
            f"{segments} segments need {memory / 1e9:.3g} GB; {limit / 1e9:.3g} GB are allowed. "
            "Give a larger segment_m"
        )


def default_limit() -> int:
    """Share of the machine's memory that a solve may take. [bytes]"""
    return int(0.6 * os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES"))


def _group_notes(electrode: Electrode) -> tuple[str, ...]:
    if len(electrode.groups) > 1:
        return (f"groups {', '.join(electrode.groups)} were solved as one bonded piece of metal",)
    return ()


def current_notes(current: FloatArray) -> tuple[str, ...]:
    """Words about currents of the wrong sign."""
    negative = int(np.sum(current < 0.0))
    if negative:
        return (f"{negative} segments take up current, a sign of segments too short for their radius",)
    return ()
