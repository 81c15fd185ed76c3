"""A first look at a site: the same study on a wide raster, without what takes its time.

The worst places are found on a wider raster and then climbed to as always, so that touch and step come out
close to the exact answer. Fences, gates, services and lightning are left out, and the error of the
discretisation is estimated instead of computed with halved segments.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from evenground._study_parts import extent_m
from evenground.errors import Finding, Severity

if TYPE_CHECKING:
    from evenground.model.project import Project

__all__ = ["FIRST_LOOK_ERROR", "first_look", "first_look_note"]

FIRST_LOOK_ERROR = 0.05
"""Touch and step of a first look lie within this part of those of the exact study (measured on the examples
and on generated sites: below 2 %)."""
POINTS = 80
"""Raster lines along the diagonal of the site in a first look."""


def first_look(project: Project) -> Project:
    """The same project with a wide raster."""
    asked = project.assessment
    raster = max(asked.raster_m, (extent_m(project) or 50.0) / POINTS)
    return replace(project, lightning=None, assessment=replace(asked, raster_m=raster, sections=()))


def first_look_note() -> Finding:
    """What a first look leaves out, for the list of findings."""
    return Finding(
        "first-look",
        f"first look on a wide raster: touch and step lie within about {FIRST_LOOK_ERROR:.0%} of the exact "
        "study; fences, gates, services and lightning are not looked at",
        "wait for the exact answer before deciding",
        Severity.NOTE,
    )
