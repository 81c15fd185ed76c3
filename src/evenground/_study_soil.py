"""The soil of a study, interpreted once while its readings stay as they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground._study_memory import memory_open, remembered
from evenground._study_parts import extent_m
from evenground.provenance import unrecorded
from evenground.soil import interpret_soil, with_spread

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.model.soil import SoilChoice, SoilResult, Traverse

__all__ = ["soil_of"]


def soil_of(project: Project) -> SoilResult:
    """The soil model of a project, with what its readings leave open."""
    readings, extent = (project.traverses, project.soil_choice), extent_m(project)
    if not memory_open():
        return _interpreted(*readings, extent)
    # the extent of the metal enters only into a warning, when the survey reaches less far
    with unrecorded():
        reach = remembered(_reach_m, *readings)
    return remembered(_interpreted, *readings, extent if extent and reach and reach < extent else None)


def _reach_m(traverses: tuple[Traverse, ...], choice: SoilChoice) -> float | None:
    return interpret_soil(traverses, choice).longest_spacing_m


def _interpreted(
    traverses: tuple[Traverse, ...], choice: SoilChoice, mat_extent_m: float | None
) -> SoilResult:
    return with_spread(interpret_soil(traverses, choice, mat_extent_m=mat_extent_m))
