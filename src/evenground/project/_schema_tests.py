"""The project file as pydantic models: dated site tests and upkeep."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, DateText, Point, Positive, Resistivity, Text

__all__ = ["CHANGED", "SiteTestFile", "UpkeepFile"]

Angle = Annotated[float, Field(ge=-360, le=360)]
Number = Annotated[float, Field(ge=-1e9, le=1e9)]
Share = Annotated[float, Field(gt=0, lt=1)]
Frequency = Annotated[float, Field(ge=1, le=10_000)]
Day = Annotated[DateText, Field(min_length=4)]


class DaySoilFile(Base):
    """Soil on the day of the test, where it was read again."""

    resistivities_ohm_m: list[Resistivity] = Field(
        min_length=1,
        max_length=20,
        description="Of the layers from the top down; the last is infinite. [ohm m]",
    )
    thicknesses_m: list[Positive] = Field(
        default_factory=list, description="Of the layers above the last. [m]"
    )


class FallReadingFile(Base):
    """One position of the potential probe. What is impossible is flagged, not refused."""

    distance_m: Positive = Field(description="From the middle of the mat. [m]")
    resistance_ohm: Number = Field(description="Resistance shown. [ohm]")
    angle_deg: Angle | None = Field(
        default=None, description="Of the voltage against the current; left out: not read. [deg]"
    )
    note: Text = Field(default="", description="Remark.")


class FallFile(Base):
    """Fall of potential: the whole profile counts, not one position."""

    current_distance_m: Positive = Field(description="Current probe, from the middle of the mat. [m]")
    current_bearing_deg: Angle = Field(default=0.0, description="Current lead from the x axis. [deg]")
    potential_bearing_deg: Angle | None = Field(
        default=None, description="Potential lead from the x axis; left out: beside the current lead. [deg]"
    )
    resolution_ohm: Positive = Field(default=0.001, description="Smallest step of the instrument. [ohm]")
    uncertainty: Share = Field(default=0.05, description="Of a reading, relative.")
    lead_spacing_m: Annotated[float, Field(gt=0, le=100)] | None = Field(
        default=None, description="Between leads that run side by side; left out: no coupling taken out. [m]"
    )
    frequency_hz: Frequency | None = Field(default=None, description="Of the instrument. [Hz]")
    readings: list[FallReadingFile] = Field(min_length=1, description="The readings.")


class PathReadingFile(Base):
    """Current in an earth wire, sheath or neutral, positive when it leaves the station."""

    name: Text = Field(min_length=1, description="Name of the path, as the plan calls it.")
    current_a: Annotated[float, Field(ge=0, le=1e6)] = Field(description="Current read. [A]")
    angle_deg: Angle | None = Field(
        default=None, description="Against the injected current; left out: not read. [deg]"
    )


class PlaceReadingFile(Base):
    """Touch or step voltage at a place."""

    name: Text = Field(min_length=1, description="Name of the place.")
    quantity: Literal["touch", "step"] = Field(description="What was read.")
    at_m: Point | None = Field(
        default=None, description="Feet (step: middle) in plan; left out: the plan's place of this name. [m]"
    )
    direction_deg: Angle | None = Field(
        default=None, description="Of a step, from the x axis; left out: the worst one counts. [deg]"
    )
    voltage_v: Number = Field(description="Open-circuit voltage read. [V]")
    angle_deg: Angle | None = Field(default=None, description="Against the injected current. [deg]")
    loaded_v: Number | None = Field(default=None, description="With 1 kilohm across. [V]")


class InjectionFile(Base):
    """Current injection with split measured."""

    current_a: Positive = Field(description="Injected current, the reference of all angles. [A]")
    remote_voltage_v: Number | None = Field(default=None, description="Of the mat against remote earth. [V]")
    remote_angle_deg: Angle | None = Field(default=None, description="Of the remote voltage. [deg]")
    background_v: Annotated[float, Field(ge=0, le=1e6)] = Field(
        default=0.0, description="Read at the test frequency without injection. [V]"
    )
    resolution_v: Positive = Field(default=0.001, description="Smallest step of the voltmeter. [V]")
    uncertainty: Share = Field(default=0.1, description="Of a reading, relative.")
    frequency_hz: Frequency | None = Field(default=None, description="Of the injected current. [Hz]")
    lead_spacing_m: Annotated[float, Field(gt=0, le=10_000)] | None = Field(
        default=None, description="Remote lead to current lead, where they run side by side. [m]"
    )
    lead_length_m: Positive | None = Field(default=None, description="How far they do so. [m]")
    paths: list[PathReadingFile] = Field(default_factory=list, description="Currents of other paths.")
    places: list[PlaceReadingFile] = Field(default_factory=list, description="Touch and step.")


class RiserReadingFile(Base):
    """Continuity of a riser."""

    riser: Text = Field(min_length=1, description="Tag of the equipment.")
    resistance_mohm: Number = Field(description="Read against the reference riser. [mohm]")
    test_current_a: Positive | None = Field(default=None, description="Current of the instrument. [A]")


class ContinuityFile(Base):
    """Continuity of risers against one of them."""

    reference: Text = Field(default="", description="Tag of the reference riser; left out: the plan's.")
    resolution_mohm: Positive = Field(default=0.001, description="Smallest step of the instrument. [mohm]")
    readings: list[RiserReadingFile] = Field(min_length=1, description="The readings.")


class JointFile(Base):
    """A joint against the same length of plain conductor."""

    name: Text = Field(min_length=1, description="Name or place of the joint.")
    joint_mohm: Number = Field(description="Across the joint. [mohm]")
    conductor_mohm: Number = Field(description="Along the same length of conductor. [mohm]")
    at_m: Point | None = Field(default=None, description="Place in plan. [m]")


class GravelFile(Base):
    """A sample of the surface cover."""

    place: Text = Field(min_length=1, description="Where it was taken.")
    thickness_m: Annotated[float, Field(ge=0, le=5)] = Field(description="Clean thickness found. [m]")
    wet_resistivity_ohm_m: Resistivity | None = Field(
        default=None, description="Of the wetted sample; left out: not tested. [ohm m]"
    )
    fouled: bool = Field(default=False, description="Whether fines or vegetation were found.")


class BuriedFile(Base):
    """Buried metal found in an excavation."""

    place: Text = Field(min_length=1, description="Where it was dug.")
    conductor: Text = Field(min_length=1, description="Kind of conductor, a key under conductors.")
    thickness_mm: Annotated[float, Field(ge=0, le=1000)] = Field(
        description="Diameter of a round or strand, thickness of a strip, where it is thinnest. [mm]"
    )


class SiteTestFile(Base):
    """A dated site test; give the parts that were carried out, or a filled form."""

    name: Text = Field(min_length=1, description="Name: commissioning, five-year test, ...")
    date: Day = Field(description="Day of the test, as 2027-05-18.")
    by: Text = Field(default="", description="Who tested.")
    weather: Text = Field(default="", description="Weather of the day and the week before.")
    instruments: Text = Field(default="", description="Instruments and their calibration.")
    note: Text = Field(default="", description="Remark.")
    connected: bool | None = Field(
        default=None,
        description="Whether lines, cables and neutrals were joined to the mat; left out: not noted.",
    )
    soil: DaySoilFile | None = Field(
        default=None, description="Soil on that day; left out: as surveyed for the design."
    )
    form: Text | None = Field(
        default=None, description="Filled form of testplan (CSV), path from the folder of the project file."
    )
    fall_of_potential: FallFile | None = Field(default=None, description="Resistance of the mat.")
    injection: InjectionFile | None = Field(default=None, description="Split, touch and step.")
    continuity: ContinuityFile | None = Field(default=None, description="Risers.")
    joints: list[JointFile] = Field(default_factory=list, description="Joints.")
    gravel: list[GravelFile] = Field(default_factory=list, description="Samples of the cover.")
    buried_metal: list[BuriedFile] = Field(default_factory=list, description="Excavations.")


CHANGED = Literal["mat_area_m2", "boundary_metal", "fence", "surface", "standard"]


class ChangeFile(Base):
    """Something on the site that is no longer as designed."""

    what: CHANGED = Field(description="What was changed.")
    note: Text = Field(min_length=1, description="In words.")


class NowFile(Base):
    """The network as it is now, against one fault of the design."""

    fault: Text = Field(min_length=1, description="Name of the fault under faults.")
    current_ka: Positive | None = Field(default=None, description="Its current now. [kA]")
    shock_time_s: Positive | None = Field(default=None, description="Its clearing time now. [s]")


class UpkeepFile(Base):
    """Upkeep: what is due on a day, loss of metal, and what asks for a new study."""

    as_of: Day = Field(description="Day for which this is asked, as 2032-06-01.")
    in_service: Day = Field(description="When the metal was laid, as 2027-05.")
    life_years: Positive | None = Field(
        default=None, description="Design life; left out: that of the conductors. [years]"
    )
    intervals_years: dict[str, Positive] = Field(
        default_factory=dict, description="The owner's intervals by task. [years]"
    )
    done: dict[str, Day] = Field(default_factory=dict, description="Day a task was last done, by task.")
    now: NowFile | None = Field(default=None, description="The network now.")
    changed: list[ChangeFile] = Field(default_factory=list, description="Changes on the site.")
