"""Where each kind of object keeps its points in the project file."""

from __future__ import annotations

from typing import Any

from evenground.errors import InputError
from evenground.project._edit import Change, Drop, Put
from evenground.web._view import outline_of, points_of

__all__ = ["AREAS", "SECTIONS", "base_path", "points_in", "put_points"]

Data = dict[str, Any]
Path = tuple[str | int, ...]

SECTIONS = ("mats", "runs", "rods", "surface", "lines", "cuts", "fences", "gates", "equipment")
"""First part of an object's identity; ``lines`` are profile lines, ``cuts`` sections in depth."""
AREAS = ("mats", "surface")
_LISTS = {"mats": "outline_m", "surface": "outline_m", "rods": "at_m"}
_ENDS = {"gates": ("start_m", "end_m"), "cuts": ("from_m", "to_m")}
_BASES = {"lines": ("assessment", "profiles"), "cuts": ("assessment", "sections")}


def base_path(section: str) -> tuple[str, ...]:
    """Where a section's list stands in the file."""
    return _BASES.get(section, (section,))


def points_in(section: str, entry: Data) -> list[list[float]]:
    """The points of an object; those of an area are not closed."""
    if section in AREAS:
        rows = outline_of(entry)
    elif section in _ENDS:
        rows = points_of([entry.get(key) for key in _ENDS[section]])
    elif section == "equipment":
        rows = points_of([entry.get("at_m")])
    else:
        rows = points_of(entry.get(_LISTS.get(section, "points_m")))
    return [list(p) for p in rows]


def put_points(section: str, path: Path, entry: Data, points: list[list[float]]) -> list[Change]:
    """Changes that give an object other points.

    Raises
    ------
    InputError
        When it can not have that many.
    """
    if section in _ENDS:
        if len(points) != 2:
            raise InputError("this has two ends, no more and no less")
        return [Put((*path, key), point) for key, point in zip(_ENDS[section], points, strict=True)]
    if section == "equipment":
        if len(points) != 1:
            raise InputError("this has one place, no more and no less")
        return [Put((*path, "at_m"), points[0])]
    changes: list[Change] = [Put((*path, _LISTS.get(section, "points_m")), points)]
    return [*changes, Drop((*path, "rectangle"))] if "rectangle" in entry else changes
