"""The project file as pydantic models: equipment, fences, gates, and what crosses the boundary."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Point, Positive, Text

__all__ = ["EquipmentFile", "FenceFile", "GateFile", "PostsFile", "Practice", "ServiceFile"]

Practice = Literal["international", "uk", "usa", "canada", "india", "gulf", "europe", "china"]
Count = Annotated[int, Field(ge=1, le=100)]
CountOrNone = Annotated[int, Field(ge=0, le=100)]
EquipmentKind = Literal[
    "transformer",
    "neutral_device",
    "circuit_breaker",
    "disconnector",
    "earthing_switch",
    "current_transformer",
    "voltage_transformer",
    "surge_arrester",
    "lightning_mast",
    "structure",
    "entry_gantry",
    "cubicle",
    "gis",
    "building",
    "cable_trench",
    "pipe",
    "rail",
    "door",
    "air_core_reactor",
    "capacitor_bank",
    "other",
]
Measure = Literal[
    "operator_mat",
    "short_straight_lead",
    "flexible_bond",
    "no_closed_loop",
    "ring",
    "floor_mesh",
    "earth_bar",
    "reinforcement_bonded",
    "voltage_limiters",
    "screens_both_ends",
    "earth_strip",
]


class EquipmentFile(Base):
    """One piece of equipment, or something long or large of metal, and how it is joined to the mat."""

    tag: Text = Field(min_length=1, description="As on the primary drawings.")
    kind: EquipmentKind = Field(description="What it is; the rules for its connections follow from it.")
    at_m: Point = Field(description="Place in plan, [x, y]. [m]")
    voltage_kv: Positive | None = Field(default=None, description="Nominal voltage. [kV]")
    connections: Count = Field(description="Separate connections of the frame to the mat, as drawn.")
    conductor: Text = Field(default="riser", description="Key under conductors.")
    joint: Literal["exothermic", "welded", "brazed", "compression", "bolted"] | None = Field(
        default=None, description="Kind of joint at the frame; left out: that of the conductor."
    )
    height_m: Annotated[float, Field(ge=0, le=100)] = Field(
        default=0.3, description="Height of the earth terminal above the surface. [m]"
    )
    electrodes: CountOrNone | None = Field(default=None, description="Own rods, tied to the mat.")
    neutral_connections: CountOrNone | None = Field(
        default=None, description="Separate connections of the neutral; transformers."
    )
    neutral_electrodes: CountOrNone | None = Field(
        default=None, description="Electrodes of the neutral, tied to the mat; transformers."
    )
    lead_m: Positive | None = Field(
        default=None, description="Length of the lead to the mat, for arresters and masts. [m]"
    )
    bond_spacing_m: Positive | None = Field(
        default=None, description="Distance between the bonds of a trench, pipe or rail. [m]"
    )
    diameter_m: Positive | None = Field(default=None, description="Of an air-core reactor. [m]")
    measures: list[Measure] = Field(
        default_factory=list,
        description=(
            "What is drawn besides: operator_mat, short_straight_lead, flexible_bond, no_closed_loop, ring, "
            "floor_mesh, earth_bar, reinforcement_bonded, voltage_limiters, screens_both_ends, earth_strip."
        ),
    )
    note: Text = Field(default="", description="Special rule for the schedule.")


class PostsFile(Base):
    """Metal posts in the ground, which are the electrodes of a separate fence."""

    spacing_m: Positive = Field(default=2.5, description="Distance between posts. [m]")
    depth_m: Positive = Field(default=0.6, description="Depth in the ground. [m]")
    diameter_mm: Positive = Field(default=60.0, description="Diameter. [mm]")


class FenceFile(Base):
    """A fence, on its way of earthing."""

    name: Text = Field(min_length=1, description="Name of the fence.")
    points_m: list[Point] = Field(
        min_length=2, description="Corners in order, [x, y] each; a ring repeats the first at its end. [m]"
    )
    bonding: Literal["bonded", "separate", "insulating"] = Field(
        description="Joined to the mat, earthed on its own, or of material that does not conduct."
    )
    owner: Literal["own", "neighbour"] = Field(default="own", description="Whose fence it is.")
    bond_spacing_m: Positive | None = Field(
        default=None, description="Bonded: distance between its bonds to the mat. [m]"
    )
    posts: PostsFile = Field(default_factory=PostsFile, description="Separate: its posts in the ground.")
    rods_m: list[Point] = Field(
        default_factory=list, description="Separate: places of its own rods, [x, y] each. [m]"
    )
    rod_length_m: Positive = Field(default=3.0, description="Of its own rods. [m]")
    rod_diameter_mm: Positive = Field(default=16.0, description="Of its own rods. [mm]")
    insulated_sections_m: list[Point] = Field(
        default_factory=list, description="Middles of insulated sections, [x, y] each. [m]"
    )
    insulated_length_m: Positive = Field(default=3.0, description="Length of an insulated section. [m]")


class GateFile(Base):
    """A gate from post to post."""

    name: Text = Field(min_length=1, description="Name of the gate.")
    start_m: Point = Field(description="Post with the hinge, [x, y]. [m]")
    end_m: Point = Field(description="The other post, [x, y]. [m]")
    opens: Literal["inward", "outward", "both", "sliding"] = Field(description="Which way its leaf moves.")
    leaves: Literal[1, 2] = Field(default=1, description="1: hinged at start_m; 2: hinged at both posts.")
    fence: Text = Field(default="", description="Name of the fence it stands in; left out: the nearest.")
    bonded: bool | None = Field(
        default=None,
        description="Leaf to post by a flexible bond and post to post below ground; left out: not stated.",
    )


class FarEndFile(Base):
    """An insulating joint or isolated section where a bonded pipe or rail ends."""

    section_m: Positive = Field(description="Length of the section without metal within reach. [m]")
    withstand_v: Positive | None = Field(default=None, description="Voltage that it bears. [V]")
    beyond_m: Annotated[list[Point], Field(min_length=2)] | None = Field(
        default=None, description="Bare metal in the ground beyond it, points in order, [x, y] each. [m]"
    )


class ServiceFile(Base):
    """Something that crosses the boundary of the site and may carry voltage off or on it."""

    name: Text = Field(min_length=1, description="Name of the service.")
    kind: Literal["telecom", "lv_supply", "pipe", "rail", "cable_sheath", "other"] = Field(
        description="What it is."
    )
    disposal: Literal["no_metal", "isolated", "bonded", "open"] = Field(
        description="How it is disposed of: no metal, isolated at the boundary, bonded to the mat, or open."
    )
    crosses_m: Point | None = Field(default=None, description="Where it crosses the boundary, [x, y]. [m]")
    withstand_v: Positive | None = Field(
        default=None, description="Isolated: voltage that the isolation bears. [V]"
    )
    route_m: Annotated[list[Point], Field(min_length=2)] | None = Field(
        default=None, description="Bare metal in the ground outside, points in order, [x, y] each. [m]"
    )
    route_depth_m: Positive = Field(default=0.8, description="Depth of that metal. [m]")
    route_diameter_mm: Positive = Field(default=100.0, description="Diameter of that metal. [mm]")
    far_end: FarEndFile | None = Field(
        default=None,
        description="Bonded: insulating joint at the last point of route_m; the rise goes no further.",
    )
    network_earth: Text = Field(
        default="",
        description="Station, earth or cable under network whose metal it is; its potential is that of "
        "the solved network.",
    )
    remote_rods_m: list[Point] = Field(
        default_factory=list, description="Electrodes at the far end, [x, y] each. [m]"
    )
    remote_rod_length_m: Positive = Field(default=2.0, description="Length of these electrodes. [m]")
    remote_rod_diameter_mm: Positive = Field(default=16.0, description="Their diameter. [mm]")
    impedance_ohm: (
        Annotated[list[Annotated[float, Field(ge=0, le=1e6)]], Field(min_length=2, max_length=2)] | None
    ) = Field(
        default=None,
        description="Bonded: from the mat to the far end, [resistance, reactance]; left out: none. [ohm]",
    )
    system: Literal["tt", "tn"] | None = Field(
        default=None, description="Of a low-voltage supply: how its neutral is earthed."
    )
    tn_factor: Annotated[float, Field(ge=1, le=5)] = Field(
        default=2.0, description="TN: multiple F of the permissible touch voltage, 2 or up to 5."
    )
    line_to_neutral_v: Positive = Field(default=230.0, description="Of a low-voltage supply. [V]")
    reliable: bool = Field(
        default=False, description="Telecommunication: the power lines are of high reliability."
    )
    reason: Text = Field(default="", description="Why, or in which document.")
    by: Text = Field(default="", description="Who decided.")
