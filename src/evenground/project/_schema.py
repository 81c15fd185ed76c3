"""The project file as pydantic models: identity, soil, faults, conductors, and the whole.

The descriptions are what an editor shows and what the documentation prints; a unit stands in
square brackets at the end. Values keep the units of the file here; :mod:`._convert` makes them SI.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_as_built import AsBuiltFile
from evenground.project._schema_base import Base, Coordinate, DateText, Positive, Resistivity, Text
from evenground.project._schema_construction import ConstructionFile
from evenground.project._schema_drawing import SiteDrawingFile
from evenground.project._schema_identity import IdentityFile
from evenground.project._schema_installation import (
    EquipmentFile,
    FenceFile,
    GateFile,
    Practice,
    ServiceFile,
)
from evenground.project._schema_lightning import LightningFile
from evenground.project._schema_metal import ConductorFile
from evenground.project._schema_network import NetworkFile
from evenground.project._schema_site import (
    AssessmentFile,
    DeclarationFile,
    MatFile,
    RodListFile,
    RunFile,
    SeparateElectrodeFile,
    ZoneFile,
)
from evenground.project._schema_tests import SiteTestFile, UpkeepFile

__all__ = [
    "SCHEMA_VERSION",
    "ConductorFile",
    "FaultFile",
    "ProjectFile",
    "SoilFile",
    "TraverseFile",
]

SCHEMA_VERSION = 1
"""Version of the file format that this program reads."""


class ReadingFile(Base):
    """One four-probe reading. Give the resistance, or voltage and current, or the apparent resistivity."""

    spacing_m: Positive | None = Field(
        default=None, description="Wenner: distance between neighbouring probes. [m]"
    )
    half_current_spacing_m: Positive | None = Field(
        default=None, description="Schlumberger: from the centre to a current probe, AB/2. [m]"
    )
    half_potential_spacing_m: Positive | None = Field(
        default=None, description="Schlumberger: from the centre to a potential probe, MN/2. [m]"
    )
    positions_m: Annotated[list[Coordinate], Field(min_length=4, max_length=4)] | None = Field(
        default=None,
        description="Four probes in line: places of A, M, N, B (A and B carry the current). [m]",
    )
    resistance_ohm: Positive | None = Field(default=None, description="Resistance shown. [ohm]")
    voltage_v: Positive | None = Field(default=None, description="Voltage measured. [V]")
    current_a: Positive | None = Field(default=None, description="Current injected. [A]")
    apparent_resistivity_ohm_m: Resistivity | None = Field(
        default=None, description="Apparent resistivity stated by the surveyor. [ohm m]"
    )
    probe_depth_m: Positive | None = Field(default=None, description="Driven length of the probes. [m]")
    rod_length_m: Positive | None = Field(
        default=None, description="Driven rod: length in the ground at this reading. [m]"
    )
    use: bool = Field(
        default=True, description="false keeps the reading in tables and plots but out of the fit."
    )
    note: Text = Field(default="", description="Remark.")


class ColumnFile(Base):
    """One column of a readings file and the unit its numbers are written in."""

    column: Text = Field(min_length=1, description="Name of the column as it stands in the header row.")
    unit: Text = Field(
        min_length=1,
        description="Unit of the numbers: m, cm, mm, ft, in; ohm, mohm, kohm; V, mV, uV; A, mA; "
        "ohm m, ohm cm, ohm ft.",
    )


class ReadingsFile(Base):
    """Readings kept in a CSV or XLSX file beside the project file. Nothing is guessed."""

    file: Text = Field(min_length=1, description="Path from the folder of the project file; .csv or .xlsx.")
    sheet: Text | None = Field(default=None, description="Sheet of a workbook that has several.")
    header_row: Annotated[int, Field(ge=1, le=10_000)] = Field(
        default=1, description="Row that holds the names of the columns."
    )
    delimiter: Literal[",", ";", "\t", "|"] = Field(default=",", description="Of a CSV file.")
    decimal: Literal[".", ","] = Field(default=".", description="Decimal sign of a CSV file.")
    columns: dict[
        Literal[
            "spacing",
            "half_current_spacing",
            "half_potential_spacing",
            "resistance",
            "voltage",
            "current",
            "apparent_resistivity",
            "probe_depth",
            "rod_length",
        ],
        ColumnFile,
    ] = Field(min_length=1, description="What each column holds.")


class TraverseFile(Base):
    """Readings taken along one line with one array."""

    name: Text = Field(min_length=1, description="Name of the traverse.")
    array: Literal["wenner", "schlumberger", "four_probe", "driven_rod"] = Field(
        description="Arrangement of the four probes; four_probe: unequal distances, given by positions_m; "
        "driven_rod: resistance to remote earth of a rod driven deeper and deeper."
    )
    rod_diameter_mm: Positive | None = Field(default=None, description="Driven rod: diameter. [mm]")
    date: DateText = Field(default="", description="Date of the readings, as 2026-02-11.")
    weather: Text = Field(default="", description="Weather during the readings and the days before.")
    instrument: Text = Field(default="", description="Instrument and its frequency.")
    instrument_resolution_ohm: Positive | None = Field(
        default=None, description="Smallest resistance step the instrument shows. [ohm]"
    )
    note: Text = Field(default="", description="Remark: direction, obstacles, buried metal nearby.")
    readings: list[ReadingFile] = Field(default_factory=list, description="The readings.")
    readings_file: ReadingsFile | None = Field(
        default=None, description="Instead of readings: a table kept in another file."
    )


class GivenSoilFile(Base):
    """A layered soil stated by the engineer."""

    resistivities_ohm_m: list[Resistivity] = Field(
        min_length=1,
        max_length=20,
        description="Of the layers from the top down; the last is infinite. [ohm m]",
    )
    thicknesses_m: list[Positive] = Field(
        default_factory=list, description="Of the layers above the last; thickness, not depth. [m]"
    )


class SoilModelFile(Base):
    """How the soil model is chosen."""

    select: Literal["auto", "uniform", "two_layer", "three_layer", "four_layer", "five_layer", "given"] = (
        Field(
            default="auto", description="auto lets the readings decide; given takes the model under 'given'."
        )
    )
    given: GivenSoilFile | None = Field(default=None, description="The model to use with select: given.")
    reason: Text = Field(default="", description="Why this model; needed with select: given beside readings.")
    norm: Literal["log", "relative"] = Field(default="log", description="Residual that the fit makes small.")
    noise: Annotated[float, Field(gt=0, lt=1)] | None = Field(
        default=None, description="Known relative standard deviation of a reading, 0.05 for 5 %."
    )
    most_layers: Annotated[int, Field(ge=1, le=5)] = Field(
        default=3, description="Most layers that auto may choose."
    )
    segments: Literal["joined", "shifted"] = Field(
        default="joined",
        description="Schlumberger segments of one MN: as read, or each shifted so that they join.",
    )


class SeasonFile(Base):
    """A season: the ground down to a depth has its resistivity multiplied by a factor."""

    name: Text = Field(min_length=1, description="Name of the season: dry, frozen, wet, ...")
    depth_m: Positive = Field(description="Depth of drying, frost or wetting. [m]")
    factor: Annotated[float, Field(gt=0, le=1e4)] = Field(
        description="Above 1 for dry or frozen ground, below 1 for wet ground."
    )
    reason: Text = Field(default="", description="Where depth and factor come from.")


class FillFile(Base):
    """Earthworks after the survey."""

    removed_m: Annotated[float, Field(ge=0, le=100)] = Field(
        default=0.0, description="Depth of native soil taken off. [m]"
    )
    thickness_m: Annotated[float, Field(ge=0, le=100)] = Field(default=0.0, description="Of the fill. [m]")
    resistivity_ohm_m: Resistivity | None = Field(default=None, description="Of the fill. [ohm m]")


class SoilFile(Base):
    """Readings and the model made from them."""

    seasons: list[SeasonFile] = Field(
        default_factory=list, description="Seasons to study besides the soil as surveyed; the worst governs."
    )
    fill: FillFile | None = Field(default=None, description="Earthworks after the survey.")

    model: SoilModelFile = Field(default_factory=SoilModelFile, description="How the soil model is chosen.")
    traverses: list[TraverseFile] = Field(default_factory=list, description="Field readings by traverse.")


Impedance = Annotated[
    list[Annotated[float, Field(ge=-1e6, le=1e6)]],
    Field(min_length=2, max_length=2),
]


class SequenceFile(Base):
    """Sequence impedances seen from the fault, referred to the fault's voltage."""

    z1_ohm: Impedance = Field(description="Positive sequence, [resistance, reactance]. [ohm]")
    z2_ohm: Impedance | None = Field(
        default=None, description="Negative sequence, [resistance, reactance]; left out: as z1_ohm. [ohm]"
    )
    z0_ohm: Impedance = Field(description="Zero sequence, [resistance, reactance]. [ohm]")
    fault_resistance_ohm: Annotated[float, Field(ge=0, le=1e6)] = Field(
        default=0.0, description="Resistance at the place of the fault. [ohm]"
    )


class FaultFile(Base):
    """One earth fault to be survived. Give current_ka, current_a or sequence."""

    name: Text = Field(min_length=1, description="Name of the scenario.")
    voltage_kv: Annotated[float, Field(gt=0, le=1e6)] = Field(
        description="Nominal phase-to-phase voltage of the faulted level. [kV]"
    )
    kind: Literal["single", "double"] = Field(
        default="single", description="Line to earth: single or double."
    )
    current_ka: Positive | None = Field(
        default=None, description="Earth-fault current 3I0, rms symmetrical. [kA]"
    )
    current_a: Positive | None = Field(
        default=None, description="Earth-fault current 3I0, rms symmetrical. [A]"
    )
    sequence: SequenceFile | None = Field(
        default=None, description="Sequence impedances, when the current is to be computed."
    )
    x_over_r: Annotated[float, Field(gt=0, le=1e4)] | None = Field(
        default=None,
        description="Reactance over resistance at the fault; computed from sequence when left out.",
    )
    shock_time_s: Positive = Field(description="How long a person may be exposed: main clearing time. [s]")
    thermal_time_s: Positive = Field(
        description="How long metal must carry the current: back-up clearing time. [s]"
    )
    growth_factor: Annotated[float, Field(ge=1, le=100)] = Field(
        default=1.0, description="Allowance for growth of the network, at least 1."
    )
    split_factor: Annotated[float, Field(gt=0, le=1)] = Field(
        default=1.0, description="Share of the earth-fault current that leaves through the mat, above 0 to 1."
    )
    decrement: bool = Field(default=True, description="Apply the decrement factor to the shock current.")
    decrement_thermal: bool = Field(
        default=True, description="Apply the decrement factor to the current that heats conductors."
    )
    reclosings: Annotated[int, Field(ge=0, le=10)] = Field(
        default=0, description="Unsuccessful reclosures; their times add for the body and for the metal."
    )
    backup_time_s: Positive | None = Field(
        default=None, description="Makes a second scenario: the same fault cleared by back-up protection. [s]"
    )
    voltage_factor: Annotated[float, Field(ge=0.5, le=2)] = Field(
        default=1.0, description="Voltage factor c on the driving voltage, for currents from sequence."
    )
    faults_per_year: Annotated[float, Field(gt=0, le=1e4)] | None = Field(
        default=None, description="How often this fault comes, for the risk of a fatal shock."
    )
    note: Text = Field(default="", description="Remark.")


class ProjectFile(Base):
    """A project file of Evenground."""

    evenground: Literal[1] = Field(description="Version of the file format: 1.")
    project: IdentityFile = Field(description="Title page.")
    frequency_hz: Annotated[float, Field(gt=0, le=1000)] = Field(
        description="Power frequency, 50 or 60. [Hz]"
    )
    soil: SoilFile = Field(description="Soil readings and soil model.")
    faults: list[FaultFile] = Field(min_length=1, description="Earth faults to be survived.")
    conductors: dict[str, ConductorFile] = Field(
        min_length=1, description="Kinds of conductor by key (mat, riser, rod, ...)."
    )
    mats: list[MatFile] = Field(default_factory=list, description="Horizontal meshes.")
    rods: list[RodListFile] = Field(default_factory=list, description="Rods at stated places.")
    runs: list[RunFile] = Field(default_factory=list, description="Further conductors along polylines.")
    site_drawing: SiteDrawingFile | None = Field(
        default=None, description="Drawing of the site; what is taken from it adds to the other sections."
    )
    separate_electrodes: list[SeparateElectrodeFile] = Field(
        default_factory=list,
        description="Metal in the ground that is not bonded to the rest; solved together with it.",
    )
    network: NetworkFile | None = Field(
        default=None, description="Metal that leaves the station; with it the split factors are computed."
    )
    surface: list[ZoneFile] = Field(
        default_factory=list,
        description="Surface cover; the first zone that holds a point counts, elsewhere bare soil.",
    )
    practice: Practice = Field(
        default="international",
        description="National practice whose rules for connections and fences count.",
    )
    equipment: list[EquipmentFile] | None = Field(
        default=None, description="Equipment and how it is joined to the mat; left out: not stated."
    )
    fences: list[FenceFile] | None = Field(default=None, description="Fences; left out: not stated.")
    gates: list[GateFile] | None = Field(default=None, description="Gates in these fences.")
    services: list[ServiceFile] | None = Field(
        default=None, description="What crosses the boundary of the site; left out: not stated."
    )
    lightning: LightningFile | None = Field(
        default=None, description="Shielding, arresters and masts; left out: not looked at."
    )
    tests: list[SiteTestFile] = Field(default_factory=list, description="Dated site tests with readings.")
    as_built: AsBuiltFile | None = Field(
        default=None, description="What was built otherwise than designed, for the command asbuilt."
    )
    upkeep: UpkeepFile | None = Field(
        default=None, description="Upkeep on a stated day; left out: not looked at."
    )
    construction: ConstructionFile | None = Field(
        default=None, description="Rules of construction and choices, for the search of the cheapest design."
    )
    assessment: AssessmentFile = Field(
        default_factory=AssessmentFile, description="How touch and step voltages are judged."
    )
    declarations: list[DeclarationFile] = Field(
        default_factory=list, description="What is not applicable, covered elsewhere or open."
    )
    assumptions: list[Text] = Field(default_factory=list, description="Assumptions, one text each.")
