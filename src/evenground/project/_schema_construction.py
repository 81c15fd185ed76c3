"""The project file as pydantic models: rules of construction and what may be chosen."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from evenground.project._schema_base import Base, Outline, Positive, Resistivity, Text
from evenground.project._schema_metal import ConductorFile
from evenground.project._schema_site import BackfillFile

__all__ = ["ConstructionFile"]

Distance = Annotated[float, Field(ge=0, le=1e4)]


class TrenchFile(Base):
    """What the trenching machine digs."""

    width_m: Annotated[float, Field(gt=0, le=10)] = Field(default=0.4, description="Width. [m]")
    below_m: Annotated[float, Field(ge=0, le=2)] = Field(
        default=0.05, description="Dug below the conductor's axis. [m]"
    )


class ForbiddenFile(Base):
    """An area without conductors and rods: a foundation, a duct, a neighbour's ground."""

    name: Text = Field(min_length=1, description="What it is.")
    outline_m: Outline = Field(description="Corners in order, [x, y] each. [m]")


class CoverChoiceFile(Base):
    """A cover that may be laid in a zone of surface."""

    zone: Text = Field(min_length=1, description="Name of the zone under surface.")
    material: Text = Field(min_length=1, description="The cover, in words.")
    state: Text = Field(default="", description="Its state: wet, dry, ...")
    resistivity_ohm_m: Resistivity = Field(description="In that state. [ohm m]")
    thicknesses_m: list[Annotated[float, Field(gt=0, le=10)]] = Field(
        min_length=1, description="Thicknesses that may be laid. [m]"
    )


class ConstructionFile(Base):
    """Rules of construction and choices for the search of the cheapest design."""

    trench: TrenchFile = Field(default_factory=TrenchFile, description="The trenching machine.")
    depths_m: list[Annotated[float, Field(gt=0, le=100)]] = Field(
        default_factory=list, description="Depths at which the mats may lie; left out: as drawn. [m]"
    )
    line_step_m: Annotated[float, Field(gt=0, le=100)] = Field(
        default=0.5,
        description="Mesh lines stand at whole multiples of this from the corner of the mat. [m]",
    )
    least_spacing_m: Positive = Field(default=2.0, description="Between parallel lines of a mat. [m]")
    greatest_spacing_m: Positive = Field(default=20.0, description="Between parallel lines of a mat. [m]")
    rod_section_m: Annotated[float, Field(gt=0, le=100)] = Field(
        default=3.0, description="Stock length of a rod; longer rods are coupled sections. [m]"
    )
    most_rod_sections: Annotated[int, Field(ge=1, le=50)] = Field(
        default=3, description="Most sections that can be driven."
    )
    least_rod_spacing_m: Positive = Field(default=3.0, description="Between rods along the outline. [m]")
    ring_distances_m: list[Distance] = Field(
        default_factory=list,
        description="Distances of an outer ring that may be tried, 0 for none; left out: runs as drawn. [m]",
    )
    forbidden: list[ForbiddenFile] = Field(
        default_factory=list, description="Areas without conductors and rods."
    )
    mat_conductors: dict[str, ConductorFile] = Field(
        default_factory=dict, description="Conductors that may be used for mats and ring, by a name each."
    )
    covers: list[CoverChoiceFile] = Field(default_factory=list, description="Covers that may be laid.")
    rod_backfills: list[BackfillFile] = Field(
        default_factory=list, description="What rods may be embedded in, besides native soil."
    )
    lines: bool = Field(default=True, description="false leaves the mesh lines as drawn.")
    rods: bool = Field(default=True, description="false leaves the rods of the mats as drawn.")
