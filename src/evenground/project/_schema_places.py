"""The project file as pydantic models: where earths of the network near the station stand."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from evenground.project._schema_base import Base, Point, Positive

__all__ = ["EarthPlaceFile", "FootingFile", "TowerPlacesFile"]

Width = Annotated[float, Field(ge=0, le=1000)]
Number = Annotated[int, Field(ge=1, le=200)]


class CounterpoiseFile(Base):
    """A bare wire in the ground from a tower."""

    tower: Number = Field(description="Tower whose footing it is joined to, counted from this station.")
    points_m: Annotated[list[Point], Field(min_length=2)] = Field(
        description="Points in order, [x, y] each. [m]"
    )
    depth_m: Positive = Field(default=0.6, description="Depth. [m]")
    diameter_mm: Positive = Field(default=10.0, description="Diameter. [mm]")


class FootingFile(Base):
    """Metal of a tower or pole in the ground; it matters little some widths away."""

    width_m: Width | None = Field(
        default=None,
        description="Distance of the legs; 0: one pole. Left out: 5 for lines, 0 for neutrals. [m]",
    )
    depth_m: Positive = Field(default=2.0, description="Depth of the legs or pole. [m]")
    diameter_mm: Positive = Field(default=300.0, description="Diameter of a leg or pole. [mm]")


class TowerPlacesFile(Base):
    """Where the first towers of a line stand: their places, or the way the line leaves."""

    at_m: list[Point] | None = Field(
        default=None, max_length=200, description="Places of the first towers, from this station. [m]"
    )
    from_m: Point | None = Field(
        default=None, description="Instead of at_m: where the line starts in plan, [x, y]. [m]"
    )
    bearing_deg: Annotated[float, Field(ge=-360, le=360)] | None = Field(
        default=None, description="With from_m: way of the line, clockwise from the y axis. [deg]"
    )
    count: Number | None = Field(
        default=None, description="With from_m: number of towers to place, one span apart."
    )
    footing: FootingFile = Field(default_factory=FootingFile, description="The same for each.")
    counterpoises: list[CounterpoiseFile] = Field(
        default_factory=list, description="Wires in the ground joined to these towers."
    )


class EarthPlaceFile(Base):
    """Where a far station, an earthed joint or another earth stands in plan."""

    at_m: Point = Field(description="Its middle, [x, y]. [m]")
    width_m: Width = Field(
        default=0.0, description="Side of a square of buried metal as large as its mat; 0: a rod. [m]"
    )
    depth_m: Positive = Field(default=1.0, description="Depth of that metal, or length of the rod. [m]")
