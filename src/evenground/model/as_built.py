"""What was built otherwise than designed."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.site import ExtraRun, MatLayout, Point2, RodList

__all__ = ["AsBuilt"]


@dataclass(frozen=True, slots=True)
class AsBuilt:
    """Changes against the design, or all metal as drawn.

    Attributes
    ----------
    date, by, note : str
    not_laid_m : tuple of (start, end)
        Stretches of horizontal conductors that were not laid. [m]
    no_rods_m : tuple of (x, y)
        Places where a designed rod was not driven. [m]
    depths_m : mapping of mat to depth
        [m]
    left_out : tuple of str
        Mats that were not built.
    runs, rods : tuple
        Metal that was added.
    drawn : (mats, runs, rods) or None
        All metal from a drawing, which takes the place of the designed one.
    path : tuple
        Place in the project file.
    """

    date: str
    by: str = ""
    note: str = ""
    not_laid_m: tuple[tuple[Point2, Point2], ...] = ()
    no_rods_m: tuple[Point2, ...] = ()
    depths_m: tuple[tuple[str, float], ...] = ()
    left_out: tuple[str, ...] = ()
    runs: tuple[ExtraRun, ...] = ()
    rods: tuple[RodList, ...] = ()
    drawn: tuple[tuple[MatLayout, ...], tuple[ExtraRun, ...], tuple[RodList, ...]] | None = None
    path: tuple[str | int, ...] = ("as_built",)
