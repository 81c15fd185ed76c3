"""The project file as pydantic models: what was built otherwise than designed."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from evenground.project._schema_base import Base, DateText, Point, Text
from evenground.project._schema_drawing import SiteDrawingFile
from evenground.project._schema_site import RodListFile, RunFile

__all__ = ["AsBuiltFile"]

LaidDepth = Annotated[float, Field(gt=0, le=100)]


class StretchFile(Base):
    """A straight stretch of a horizontal conductor."""

    from_m: Point = Field(description="Start in plan, on the conductor. [m]")
    to_m: Point = Field(description="End in plan, on the same line. [m]")


class AsBuiltFile(Base):
    """Changes against the design; everything else was built as designed. Or a drawing of all metal."""

    date: Annotated[DateText, Field(min_length=4)] = Field(description="Day of the survey, as 2027-04-20.")
    by: Text = Field(default="", description="Who surveyed.")
    note: Text = Field(default="", description="Remark.")
    not_laid: list[StretchFile] = Field(
        default_factory=list, description="Stretches of mats and runs that were not laid."
    )
    rods_not_driven_m: list[Point] = Field(
        default_factory=list, description="Places of designed rods that were not driven. [m]"
    )
    mat_depths_m: dict[str, LaidDepth] = Field(
        default_factory=dict, description="Depth found, by name of the mat. [m]"
    )
    mats_left_out: list[Text] = Field(default_factory=list, description="Names of mats that were not built.")
    runs: list[RunFile] = Field(default_factory=list, description="Conductors that were added.")
    rods: list[RodListFile] = Field(default_factory=list, description="Rods that were added.")
    drawing: SiteDrawingFile | None = Field(
        default=None,
        description="As-built drawing; its conductors, rods and outlines replace all designed metal.",
    )
