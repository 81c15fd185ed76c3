"""The project file as pydantic models: mats, rods, runs, surface cover, assessment."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Coordinate, Outline, Point, Positive, Resistivity, Text
from evenground.project._schema_person import ExposureFile, PersonFile

__all__ = [
    "AssessmentFile",
    "BackfillFile",
    "DeclarationFile",
    "MatFile",
    "RodListFile",
    "RodRuleFile",
    "RunFile",
    "SeparateElectrodeFile",
    "ZoneFile",
]

Depth = Annotated[float, Field(gt=0, le=1e6)]
DepthOrSurface = Annotated[float, Field(ge=0, le=1e6)]


StandardKey = Literal[
    "ieee80",
    "en50522_2010",
    "en50522_2022",
    "hd637_s1",
    "iec60479_derived",
    "is3043_cbip",
    "is3043_cbip_1986",
    "bs7430_na",
    "gb50065_effective",
    "gb50065_resonant",
    "itc_rat_13",
    "en50122",
    "france_1988_dry",
    "france_1991",
    "free",
]
Footing = Literal["soil", "chippings_75mm", "chippings_150mm"]
Shoe = Annotated[float, Field(ge=0, le=1e9)]


class BackfillFile(Base):
    """A cylinder of better (or other) material around conductors."""

    material: Text = Field(default="", description="The material, in words: concrete, bentonite, ...")
    outer_diameter_mm: Positive = Field(description="Diameter of the cylinder, as of the drill hole. [mm]")
    resistivity_ohm_m: Resistivity = Field(description="Of the material in service. [ohm m]")


class RodRuleFile(Base):
    """Rods placed by rule on one mat."""

    where: Literal["corners", "perimeter"] = Field(description="In every corner, or along the outline.")
    length_m: Positive = Field(description="Driven length of one rod. [m]")
    diameter_mm: Positive = Field(description="Diameter. [mm]")
    spacing_m: Positive | None = Field(
        default=None, description="On the perimeter: largest distance between rods. [m]"
    )
    count: Annotated[int, Field(ge=1, le=100_000)] | None = Field(
        default=None, description="On the perimeter: number of rods, instead of spacing_m."
    )
    backfill: BackfillFile | None = Field(default=None, description="What the rods are embedded in.")


class RectangleFile(Base):
    """A rectangle along the axes."""

    length_x_m: Annotated[float, Field(gt=0, le=1e8)] = Field(description="Side along x. [m]")
    length_y_m: Annotated[float, Field(gt=0, le=1e8)] = Field(description="Side along y. [m]")
    corner_m: Point = Field(
        default_factory=lambda: [0.0, 0.0], description="Corner with the smallest x and y. [m]"
    )


class MatFile(Base):
    """A horizontal mesh. Give outline_m or rectangle; spacing_m, or spacing or lines for each direction."""

    name: Text = Field(min_length=1, description="Name of the mat.")
    outline_m: Outline | None = Field(default=None, description="Corners in order, [x, y] each. [m]")
    rectangle: RectangleFile | None = Field(default=None, description="Instead of outline_m.")
    spacing_m: Positive | None = Field(
        default=None, description="Largest distance between parallel conductors, both directions. [m]"
    )
    spacing_x_m: Positive | None = Field(
        default=None, description="Largest distance between the conductors that run along y. [m]"
    )
    spacing_y_m: Positive | None = Field(
        default=None, description="Largest distance between the conductors that run along x. [m]"
    )
    lines_x_m: Annotated[list[Coordinate], Field(min_length=1)] | None = Field(
        default=None, description="Positions x of the conductors that run along y, instead of a spacing. [m]"
    )
    lines_y_m: Annotated[list[Coordinate], Field(min_length=1)] | None = Field(
        default=None, description="Positions y of the conductors that run along x, instead of a spacing. [m]"
    )
    depth_m: Depth = Field(description="Burial depth of the conductors' axes. [m]")
    conductor: Text = Field(default="mat", description="Key under conductors.")
    backfill: BackfillFile | None = Field(default=None, description="What the conductors are embedded in.")
    rods: list[RodRuleFile] = Field(default_factory=list, description="Rods placed by rule on this mat.")


class RodListFile(Base):
    """Rods of one kind at stated places."""

    at_m: list[Point] = Field(min_length=1, description="Places, [x, y] each. [m]")
    length_m: Positive = Field(description="Driven length of one rod. [m]")
    diameter_mm: Positive = Field(description="Diameter. [mm]")
    top_depth_m: DepthOrSurface | None = Field(
        default=None, description="Depth of the top; left out: the depth of the mat. [m]"
    )
    backfill: BackfillFile | None = Field(default=None, description="What the rods are embedded in.")


class RunFile(Base):
    """A conductor along a polyline at constant depth."""

    points_m: list[Point] = Field(min_length=2, description="Points in order, [x, y] each. [m]")
    depth_m: Depth = Field(description="Burial depth of the axis. [m]")
    conductor: Text = Field(default="mat", description="Key under conductors.")
    backfill: BackfillFile | None = Field(default=None, description="What the conductor is embedded in.")


class LinkFile(Base):
    """A connection above ground between metal that is not bonded."""

    to: Text = Field(min_length=1, description="mat, or the name of another separate electrode.")
    resistance_ohm: Positive = Field(description="Of the connection. [ohm]")


class SeparateElectrodeFile(Base):
    """Metal in the ground that is not bonded to the rest: a fence, a pipe, the electrode of a neutral."""

    name: Text = Field(min_length=1, description="Name of the electrode.")
    rods: list[RodListFile] = Field(
        default_factory=list,
        description="Its rods, posts or piles; their tops are at the surface if not given.",
    )
    runs: list[RunFile] = Field(default_factory=list, description="Its conductors along polylines.")
    links: list[LinkFile] = Field(
        default_factory=list, description="Connections to other metal; without one the electrode floats."
    )
    touchable: bool = Field(default=True, description="Whether people can touch metal connected to it.")


class ZoneFile(Base):
    """An area with one kind of cover."""

    name: Text = Field(min_length=1, description="Name of the zone.")
    outline_m: Outline | None = Field(
        default=None, description="Corners in order, [x, y] each; left out: everywhere else. [m]"
    )
    material: Text = Field(default="", description="The cover, in words.")
    state: Text = Field(default="", description="Its state: wet, dry, ...")
    resistivity_ohm_m: Resistivity | None = Field(
        default=None, description="Of the cover in that state; left out: bare soil. [ohm m]"
    )
    thickness_m: Annotated[float, Field(ge=0, le=1e6)] = Field(default=0.0, description="Of the cover. [m]")
    standard: StandardKey | None = Field(
        default=None, description="Limits that govern in this zone, when not those of the assessment."
    )
    footwear_ohm: Shoe | None = Field(default=None, description="Resistance of one shoe in this zone. [ohm]")
    footing: Footing | None = Field(default=None, description="What people stand on, for tables by footing.")
    person: PersonFile | None = Field(default=None, description="Person of a free case in this zone.")
    exposure: ExposureFile | None = Field(
        default=None, description="Asks for the risk in this zone, instead of that of the assessment."
    )


class ProfileFile(Base):
    """A line along which touch and step voltage are shown: a fence, a gate swing, a path."""

    name: Text = Field(min_length=1, description="Name of the line.")
    points_m: list[Point] = Field(min_length=2, description="Corners in order, [x, y] each. [m]")


class SectionFile(Base):
    """A straight line below which the potential in depth is shown."""

    name: Text = Field(min_length=1, description="Name of the section.")
    from_m: Point = Field(description="Start in plan, [x, y]. [m]")
    to_m: Point = Field(description="End in plan, [x, y]. [m]")
    depth_m: Annotated[float, Field(gt=0, le=1e4)] = Field(description="Depth of the section. [m]")


class EntryPointFile(Base):
    """A place where fault current enters the metal."""

    at_m: Point = Field(description="Place in plan, [x, y], within 1 m of a conductor. [m]")
    share: Annotated[float, Field(gt=0, le=1)] = Field(
        default=1.0, description="Share of the fault current that enters here; all shares together make 1."
    )


class AssessmentFile(Base):
    """How touch and step voltages are judged."""

    standard: StandardKey = Field(default="ieee80", description="Standard of the tolerable voltages.")
    footwear_ohm: Shoe | None = Field(
        default=None, description="Resistance of one shoe; left out: what the standard takes. [ohm]"
    )
    footing: Footing | None = Field(default=None, description="What people stand on, for tables by footing.")
    person: PersonFile | None = Field(
        default=None, description="Person that a free case is worked out for (standard: free)."
    )
    exposure: ExposureFile | None = Field(
        default=None, description="Asks for the risk of a fatal shock at the worst places of every zone."
    )
    compare_standards: bool = Field(
        default=False, description="Set the worst voltages against every other standard as well."
    )
    body_mass_kg: Literal[50, 70] = Field(default=50, description="Body mass of the formulas, 50 or 70. [kg]")
    surface_factor: Literal["empirical", "exact"] = Field(
        default="empirical", description="Form of the surface-layer factor."
    )
    reach_m: Positive = Field(default=1.0, description="How far a person reaches. [m]")
    touch_outside_m: Annotated[float, Field(ge=0, le=1e6)] | None = Field(
        default=None,
        description="Touch counts inside the outline of the mats and this far beyond; left out: reach_m. [m]",
    )
    touch_area_m: Outline | None = Field(
        default=None, description="Area for touch instead: corners in order, [x, y] each. [m]"
    )
    step_outside_m: Annotated[float, Field(ge=0, le=1e6)] = Field(
        default=3.0, description="Step is assessed inside the outline of the mats and this far beyond. [m]"
    )
    raster_m: Annotated[float, Field(gt=0, le=1)] = Field(
        default=0.5,
        description="First raster of the search for the worst places, at most the length of a step. [m]",
    )
    segment_m: Positive | None = Field(
        default=None,
        description="Longest segment of the field solution; left out: chosen by the program. [m]",
    )
    resistance_target_ohm: Positive | None = Field(
        default=None, description="Owner's target of the resistance to earth. [ohm]"
    )
    gpr_limit_v: Positive | None = Field(
        default=None, description="Owner's limit of the earth potential rise. [V]"
    )
    native_resistivity_ohm_m: Resistivity | None = Field(
        default=None,
        description="Of the soil right under the feet; left out: top layer of the model. [ohm m]",
    )
    profiles: list[ProfileFile] = Field(
        default_factory=list, description="Lines to show besides those through the worst places."
    )
    sections: list[SectionFile] = Field(
        default_factory=list, description="Lines below which the potential in depth is shown."
    )
    entry_points: list[EntryPointFile] = Field(
        default_factory=list,
        description=(
            "Where the fault current enters; given, the voltage along the metal is computed. Not together "
            "with links of separate_electrodes: leave out the links, or the entry points."
        ),
    )


class DeclarationFile(Base):
    """A subject that somebody declares not applicable, covers elsewhere or leaves open."""

    subject: Text = Field(min_length=1, description="The subject, as 'telecom circuits'.")
    status: Literal["not applicable", "covered elsewhere", "open"] = Field(description="What is declared.")
    by: Text = Field(default="", description="Who declares it.")
    reason: Text = Field(default="", description="Why, or in which document.")
