"""The project file as pydantic models: the site drawing and what its layers are taken for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Point, Positive, Resistivity, Text
from evenground.project._schema_installation import EquipmentKind

__all__ = ["LayerFile", "SiteDrawingFile"]

Unit = Literal[
    "mm", "cm", "dm", "m", "dam", "hm", "km", "inch", "foot", "US survey foot", "yard", "mile"
]  # fmt: skip
Depth = Annotated[float, Field(ge=0, le=1e6)]


class LayerFile(Base):
    """What one layer is taken for. Of several rows that fit, the first counts; other layers are left."""

    layer: Text = Field(
        min_length=1, description="Name of the layer; * and ? stand for any text and any character."
    )
    take_as: Literal["conductor", "rod", "fence", "gate", "equipment", "zone", "outline", "ignore"] = Field(
        description="What the things on it are; outline: of a mat."
    )
    name: Text = Field(
        default="", description="Of the fence, zone or mat, or of the gates; left out: the layer's name."
    )
    depth_m: Depth | None = Field(
        default=None,
        description="Of conductors, tops of rods, or the mat; left out: from z (not for a mat). [m]",
    )
    conductor: Text | None = Field(
        default=None,
        description="Key under conductors; left out: mat for conductors and mats, riser for equipment.",
    )
    rod_length_m: Positive | None = Field(
        default=None, description="Of rods whose block has no attribute LENGTH. [m]"
    )
    rod_diameter_mm: Positive | None = Field(
        default=None, description="Of rods whose block has no attribute DIAMETER. [mm]"
    )
    spacing_m: Positive | None = Field(
        default=None, description="Of the mat: largest distance between parallel conductors. [m]"
    )
    bonding: Literal["bonded", "separate", "insulating"] | None = Field(
        default=None, description="Of the fence, as under fences."
    )
    opens: Literal["inward", "outward", "both", "sliding"] | None = Field(
        default=None, description="Which way the gates open, as under gates."
    )
    leaves: Literal[1, 2] = Field(default=1, description="Of the gates, as under gates.")
    kind: EquipmentKind | None = Field(
        default=None, description="Of equipment whose block is not named under kinds, as under equipment."
    )
    connections: Annotated[int, Field(ge=1, le=100)] | None = Field(
        default=None, description="Of equipment whose block has no attribute TERMINALS."
    )
    material: Text = Field(default="", description="Of the zone: the cover, in words.")
    state: Text = Field(default="", description="Of the zone: wet, dry, ...")
    resistivity_ohm_m: Resistivity | None = Field(
        default=None, description="Of the zone's cover in that state; left out: bare soil. [ohm m]"
    )
    thickness_m: Positive | None = Field(default=None, description="Of the zone's cover. [m]")


class SiteDrawingFile(Base):
    """A DXF drawing of the site, kept beside the project file. What is taken adds to the other sections."""

    file: Text = Field(min_length=1, description="Path from the folder of the project file; .dxf.")
    unit: Unit | None = Field(
        default=None, description="Drawing unit, when the drawing states none or a wrong one."
    )
    origin_m: Point | None = Field(
        default=None,
        description="Taken off every coordinate; left out: nothing, or a stated shift when further than "
        "10 km. [m]",
    )
    chord_deviation_mm: Positive = Field(
        default=10.0, description="Largest distance between a curve and its chords. [mm]"
    )
    hidden_layers: bool = Field(
        default=False, description="Read layers that are switched off or frozen as well."
    )
    kinds: dict[str, EquipmentKind] = Field(
        default_factory=dict,
        description="What a block (its attribute KIND or TYPE, else its name) is: block to kind.",
    )
    layers: list[LayerFile] = Field(min_length=1, description="What each layer is taken for.")
