"""The project file as pydantic models: masts, overhead earth wires, what they shield, arresters."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Coordinate, Outline, Point, Positive, Text

__all__ = ["LightningFile"]

Place3 = Annotated[list[Coordinate], Field(min_length=3, max_length=3)]
Height = Annotated[float, Field(gt=0, le=500)]
NotNegative = Annotated[float, Field(ge=0, le=1e6)]


class InsulationFile(Base):
    """Sphere from the smallest stroke that flashes over the insulation of the station."""

    impulse_withstand_kv: Positive = Field(description="Lightning impulse withstand voltage. [kV]")
    surge_impedance_ohm: Positive = Field(
        default=300.0, description="Of the bus, seen from the place of the stroke. [ohm]"
    )
    mast_factor: Annotated[float, Field(ge=1, le=1.5)] = Field(
        default=1.0, description="How much farther a mast reaches than a wire; 1 is the careful choice."
    )


class MastFile(Base):
    """A mast, rod or pole that takes strokes."""

    name: Text = Field(min_length=1, description="Name of the mast.")
    at_m: Point = Field(description="Foot in plan. [m]")
    height_m: Height = Field(description="Tip above ground. [m]")
    foot_m: Point | None = Field(
        default=None,
        description="Where its down conductor meets the buried metal; left out: below the mast. [m]",
    )
    down_conductors: Annotated[int, Field(ge=0, le=20)] = Field(
        default=1, description="Ways down; a metal mast is one."
    )
    radius_mm: Annotated[float, Field(ge=2, le=2000)] | None = Field(
        default=None,
        description="Of the mast, or of a single down conductor on wood; gives the voltage of its top. [mm]",
    )
    own_electrode: bool = Field(
        default=True,
        description="false: it stands on other metal and feeds no electrode of this site at its foot.",
    )


class ShieldWireFile(Base):
    """An overhead earth wire; a gantry's beam is a wire without sag. Its supports are masts of their own."""

    name: Text = Field(min_length=1, description="Name of the wire.")
    start_m: Place3 = Field(description="x, y and height above ground. [m]")
    end_m: Place3 = Field(description="x, y and height above ground. [m]")
    sag_m: NotNegative = Field(default=0.0, description="Chord to wire at midspan. [m]")


class BoxFile(Base):
    """A box in plan, turned about its centre, from the ground up."""

    centre_m: Point = Field(description="Centre in plan. [m]")
    length_m: Positive = Field(description="Along its own axis. [m]")
    width_m: Positive = Field(description="Across. [m]")
    height_m: Height = Field(description="Top above ground. [m]")
    angle_deg: Annotated[float, Field(ge=-360, le=360)] = Field(
        default=0.0, description="Its own axis from the x axis. [deg]"
    )


class StrikeBuildingFile(BoxFile):
    """A building whose roof bears the stroke: own air termination or earthed metal."""

    name: Text = Field(min_length=1, description="Name of the building.")


class ShieldedFile(Base):
    """Something that must not be struck: a line of points with heights, or a box."""

    name: Text = Field(min_length=1, description="Name of the object.")
    points_m: list[Place3] = Field(
        default_factory=list, description="Points of x, y and height above ground. [m]"
    )
    joined: bool = Field(default=True, description="Whether the points are joined by straight lines.")
    box: BoxFile | None = Field(default=None, description="Instead of points: a box.")


class ArresterFile(Base):
    """A surge arrester, its leads and what it protects."""

    name: Text = Field(min_length=1, description="Name or tag of the arrester.")
    protects: Text = Field(min_length=1, description="The equipment it protects.")
    protective_level_kv: Positive = Field(description="Residual voltage at nominal current. [kV]")
    withstand_kv: Positive = Field(description="Lightning impulse withstand voltage there. [kV]")
    distance_m: NotNegative = Field(description="From its terminal to that of the equipment. [m]")
    line_lead_m: NotNegative = Field(description="Lead from the line to the arrester. [m]")
    earth_lead_m: NotNegative = Field(description="Lead from the arrester to the mat. [m]")
    steepness_kv_per_us: Positive = Field(description="Of the surge that comes in. [kV/us]")
    current_steepness_ka_per_us: Positive = Field(
        default=10.0, description="Of the current through it. [kA/us]"
    )
    own_rods: Annotated[int, Field(ge=0, le=100)] = Field(default=0, description="Rods at its foot.")
    tied_to_mat: bool | None = Field(default=None, description="Left out: not known.")
    safety_factor: Annotated[float, Field(ge=1, le=3)] = Field(
        default=1.15, description="Of the withstand voltage: 1.15 internal, 1.05 external insulation."
    )
    at_m: Point | None = Field(default=None, description="Place in plan. [m]")


class EarthPlaceFile(Base):
    """Where the earth connection of a transformer meets the buried metal."""

    name: Text = Field(min_length=1, description="Name of the transformer.")
    at_m: Point = Field(description="Place in plan, on the metal. [m]")


class ElevationFile(Base):
    """A straight section in plan on which the protected height is drawn."""

    name: Text = Field(min_length=1, description="Name of the section.")
    from_m: Point = Field(description="Start in plan. [m]")
    to_m: Point = Field(description="End in plan. [m]")


class ImpulseFile(Base):
    """Impulse impedance of the electrode at the foot of each mast, in uniform soil."""

    wave: Literal["first_stroke", "subsequent_stroke"] = Field(
        default="subsequent_stroke", description="Current shape: 30 kA first or 12 kA subsequent stroke."
    )
    resistivity_ohm_m: Annotated[float, Field(gt=0, le=1e6)] | None = Field(
        default=None, description="Left out: the layer that holds the metal at the foot. [ohm m]"
    )
    reach_m: Annotated[float, Field(ge=5, le=60)] = Field(
        default=20.0, description="Metal farther from the foot is left out, which is careful. [m]"
    )
    ionisation_kv_per_m: Annotated[float, Field(ge=50, le=2000)] | None = Field(
        default=None, description="Critical gradient of the soil; left out: no ionisation, careful. [kV/m]"
    )


class WatchedFile(Base):
    """A place whose voltage to the place of the transient counts."""

    name: Text = Field(min_length=1, description="Name of the place.")
    at_m: Point = Field(description="Place in plan; on the metal, else on the soil. [m]")
    withstand_kv: Positive = Field(description="What the insulation between the two bears. [kV]")


class TransientFile(Base):
    """A switching surge or a fault inside the station: a current that swings and dies out in the metal."""

    name: Text = Field(min_length=1, description="Name of the transient.")
    at_m: Point = Field(description="Where it enters the buried metal, in plan. [m]")
    amplitude_ka: Positive = Field(description="Of the swing without decay. [kA]")
    frequency_hz: Annotated[float, Field(ge=1e3, le=5e6)] = Field(description="Of the swing. [Hz]")
    decay_s: Annotated[float, Field(gt=0, le=1)] = Field(description="Time constant of the decay. [s]")
    reach_m: Annotated[float, Field(ge=5, le=60)] = Field(
        default=20.0, description="Metal farther away is left out, which is careful. [m]"
    )
    down_conductor_mm2: Positive | None = Field(
        default=None, description="Copper section that carries all of it; adds its heating. [mm2]"
    )
    watched: list[WatchedFile] = Field(default_factory=list, description="Places with insulation to it.")


class LightningFile(Base):
    """Shielding, strikes, arresters and the feet of masts. Give one rule for the sphere."""

    protection_level: Literal["I", "II", "III", "IV"] | None = Field(
        default=None, description="Rule for the sphere: level of IEC 62305."
    )
    insulation: InsulationFile | None = Field(
        default=None, description="Rule for the sphere: insulation of the station, IEEE Std 998."
    )
    sphere_radius_m: Annotated[float, Field(gt=0, le=500)] | None = Field(
        default=None, description="Rule for the sphere: a radius. [m]"
    )
    cone_angle_deg: Annotated[float, Field(gt=0, lt=90)] | None = Field(
        default=None, description="Adds the fixed angle for comparison. [deg]"
    )
    clearance_m: Annotated[float, Field(ge=0, le=50)] = Field(
        default=0.0, description="To be kept free between sphere and object. [m]"
    )
    flashes_per_km2_year: Annotated[float, Field(gt=0, le=200)] | None = Field(
        default=None, description="Flashes to ground per km2 and year; gives strikes per year."
    )
    masts: list[MastFile] = Field(default_factory=list, description="Masts and rods.")
    wires: list[ShieldWireFile] = Field(default_factory=list, description="Overhead earth wires, beams.")
    buildings: list[StrikeBuildingFile] = Field(
        default_factory=list, description="Buildings whose roof bears the stroke."
    )
    protected: list[ShieldedFile] = Field(default_factory=list, description="What must not be struck.")
    arresters: list[ArresterFile] = Field(default_factory=list, description="Surge arresters.")
    transformers: list[EarthPlaceFile] = Field(
        default_factory=list, description="Earth connections of transformers, for the way to masts."
    )
    contour_heights_m: list[Height] = Field(
        default_factory=list,
        max_length=4,
        description="Heights of the protected zone on the plan; left out: lowest and highest object. [m]",
    )
    elevations: list[ElevationFile] = Field(
        default_factory=list,
        max_length=4,
        description="Sections to draw; left out: one through the worst object.",
    )
    window_m: Outline | None = Field(
        default=None, description="Part of the plan to draw; left out: the masts and objects. [m]"
    )
    transients: list[TransientFile] = Field(
        default_factory=list,
        max_length=10,
        description="Switching surges and faults inside the station, from the same model.",
    )
    impulse: ImpulseFile | None = Field(
        default=None, description="Impulse impedance at the feet of the masts; left out: not computed."
    )
