"""The project file as pydantic models: lines, cables, far stations, feeders and places of faults."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Coordinate, Positive, Resistivity, Text
from evenground.project._schema_places import EarthPlaceFile, TowerPlacesFile

__all__ = ["NetworkFile"]

Pair = Annotated[list[Annotated[float, Field(ge=-1e6, le=1e6)]], Field(min_length=2, max_length=2)]
Kilovolt = Annotated[float, Field(gt=0, le=1e6)]


class WireFile(Base):
    """One wire: type; or resistance_ohm_per_km, gmr_mm; or dc_resistance_ohm_per_km, radius_mm."""

    name: Text = Field(min_length=1, description="Name of the wire.")
    x_m: Coordinate = Field(description="Position across the route. [m]")
    height_m: Positive = Field(
        description="Mean height over the span: attachment less two thirds of the sag. [m]"
    )
    type: Text | None = Field(
        default=None, description="Row of the table of line wires, as al1_st1a_94_15; values at 20 degC."
    )
    resistance_ohm_per_km: Positive | None = Field(
        default=None, description="At power frequency and service temperature. [ohm/km]"
    )
    gmr_mm: Positive | None = Field(default=None, description="Geometric mean radius. [mm]")
    dc_resistance_ohm_per_km: Positive | None = Field(
        default=None, description="Direct-current resistance; the skin effect is added. [ohm/km]"
    )
    radius_mm: Positive | None = Field(default=None, description="Outer radius. [mm]")
    relative_permeability: Annotated[float, Field(ge=1, le=10_000)] = Field(
        default=1.0, description="Of a steel wire: 50 to 200."
    )


class SpansFile(Base):
    """Equal spans."""

    count: Annotated[int, Field(ge=1, le=5000)] = Field(description="Number of spans.")
    length_m: Positive = Field(description="Length of one. [m]")


class GivenImpedanceFile(Base):
    """Measured or calculated impedances with earth return, one earthed conductor and one phase."""

    self_ohm_per_km: Pair = Field(description="Of the earthed conductor, [resistance, reactance]. [ohm/km]")
    mutual_ohm_per_km: Pair = Field(description="Between it and the phase that carries the fault. [ohm/km]")
    phase_ohm_per_km: Pair = Field(
        default_factory=lambda: [0.0, 0.0], description="Of the phase; its part of the loop. [ohm/km]"
    )


class LineFile(Base):
    """A line that starts at this station: spans, towers and wires, or only a reduction factor."""

    name: Text = Field(min_length=1, description="Name of the line.")
    voltage_kv: Kilovolt | None = Field(
        default=None, description="Nominal voltage; faults of this voltage are set along the line. [kV]"
    )
    far_station: Text = Field(default="", description="Name under stations; left out: the wires end open.")
    spans: SpansFile | None = Field(default=None, description="Equal spans.")
    span_lengths_m: list[Positive] | None = Field(
        default=None, max_length=5000, description="Unequal spans, from this station outwards. [m]"
    )
    tower_resistance_ohm: Positive | None = Field(
        default=None, description="Footing resistance, the same for every tower. [ohm]"
    )
    tower_resistances_ohm: list[Positive | None] | None = Field(
        default=None,
        max_length=5000,
        description="Footing of each tower between the spans, null for one without earth. [ohm]",
    )
    ground_wires: list[WireFile] = Field(default_factory=list, description="Earth wires or neutral.")
    phases: list[WireFile] = Field(default_factory=list, description="Phase conductors.")
    given: GivenImpedanceFile | None = Field(
        default=None, description="Impedances instead of ground_wires and phases."
    )
    bonded_here: bool = Field(default=True, description="Earth wires joined to this station's metal.")
    bonded_far: bool = Field(default=True, description="Earth wires joined to the far station's metal.")
    shielded_spans: Annotated[int, Field(ge=0, le=5000)] | None = Field(
        default=None, description="Earth wires over the first spans only; left out: over all."
    )
    reduction_factor: Annotated[float, Field(gt=0, le=1)] | None = Field(
        default=None,
        description="EN 50522: share of 3I0 of this line that does not return in its earth wire.",
    )
    chain_ohm: Pair | None = Field(
        default=None,
        description="With reduction_factor: impedance of earth wires and towers seen from here; "
        "left out: not counted, which is cautious. [ohm]",
    )
    towers: TowerPlacesFile | None = Field(
        default=None,
        description="Places of the towers near this station: the soil couples them with the mat.",
    )


class StationFile(Base):
    """A far station."""

    name: Text = Field(min_length=1, description="Name of the station.")
    impedance_ohm: Pair = Field(
        description="Of its whole earthing system, [resistance, reactance]. [ohm]",
    )
    place: EarthPlaceFile | None = Field(
        default=None, description="Where it is, when it is so near that the soil couples it with the mat."
    )


class SheathFile(Base):
    """Metal sheath or screen, with the core inside."""

    resistance_ohm_per_km: Positive = Field(description="Of the sheath. [ohm/km]")
    radius_mm: Positive = Field(description="Mean radius of the sheath. [mm]")
    core_resistance_ohm_per_km: Annotated[float, Field(ge=0, le=1e6)] = Field(
        default=0.0, description="Of the core. [ohm/km]"
    )
    core_gmr_mm: Positive | None = Field(default=None, description="Geometric mean radius of the core. [mm]")


class JointFile(Base):
    """A joint where all sheaths meet an earth electrode."""

    distance_m: Positive = Field(description="From this station. [m]")
    earth_resistance_ohm: Positive | None = Field(
        default=None, description="Of its electrode; left out: none. [ohm]"
    )
    place: EarthPlaceFile | None = Field(default=None, description="Where its electrode is.")


class ContinuityFile(Base):
    """Earth-continuity conductor laid with the cable."""

    name: Text = Field(default="earth wire", description="Name.")
    x_m: Coordinate = Field(default=0.0, description="Position across the trench. [m]")
    depth_m: Positive = Field(description="Depth. [m]")
    dc_resistance_ohm_per_km: Positive = Field(description="Direct-current resistance. [ohm/km]")
    radius_mm: Positive = Field(description="Outer radius. [mm]")


class CableFile(Base):
    """A cable that starts at this station: one common sheath, or one for each core."""

    name: Text = Field(min_length=1, description="Name of the cable.")
    voltage_kv: Kilovolt | None = Field(
        default=None, description="Nominal voltage; faults of this voltage are set along the cable. [kV]"
    )
    far_station: Text = Field(min_length=1, description="Name under stations.")
    length_m: Positive = Field(description="Length. [m]")
    bonding: Literal["both_ends", "near_end", "far_end", "cross_bonded"] = Field(
        default="both_ends", description="Where the sheaths are earthed."
    )
    positions_m: list[Annotated[list[Coordinate], Field(min_length=2, max_length=2)]] = Field(
        default_factory=lambda: [[0.0, 1.0]],
        min_length=1,
        max_length=3,
        description="x and depth: of one three-core cable, or of each of three single-core cables. [m]",
    )
    sheath: SheathFile | None = Field(default=None, description="The sheath of each cable.")
    given: GivenImpedanceFile | None = Field(default=None, description="Impedances instead of the sheath.")
    joints: list[JointFile] = Field(default_factory=list, description="Earthed joints on the way.")
    continuity: ContinuityFile | None = Field(
        default=None, description="Earth-continuity conductor, bonded at both ends and every joint."
    )


class GroupFile(Base):
    """Another earth of the site: fence, own earth of a neutral, neighbour."""

    name: Text = Field(min_length=1, description="Name of the earth.")
    resistance_ohm: Positive = Field(description="Resistance to remote earth. [ohm]")
    bonded_to: Text = Field(
        default="", description="station, or another earth, to which it is joined; left out: not joined."
    )
    bond_ohm: Pair = Field(
        default_factory=lambda: [0.0, 0.0], description="Impedance of that bond, [R, X]. [ohm]"
    )
    place: EarthPlaceFile | None = Field(default=None, description="Where it is.")


class ContributionFile(Base):
    """What this neutral gives to one fault. Only the fault: all that the others leave."""

    fault: Text = Field(min_length=1, description="Name of an entry under faults.")
    current_ka: Positive | None = Field(
        default=None, description="3I0 through this neutral for a fault in the station, before growth. [kA]"
    )
    x_over_r: Annotated[float, Field(gt=0, le=1e4)] | None = Field(
        default=None, description="Of this current; left out: that of the fault."
    )
    impedance_ohm: Pair | None = Field(
        default=None,
        description="Instead of a current: (Z1 + Z2 + Z0)/3 without the route named in via. [ohm]",
    )


class SourceFile(Base):
    """The earthed neutral of a far station."""

    name: Text = Field(min_length=1, description="Name of the source.")
    station: Text = Field(min_length=1, description="Far station where its neutral is earthed.")
    via: Text = Field(min_length=1, description="Line or cable that brings its current.")
    phase: Text = Field(
        default="farthest", description="Phase that carries it: farthest, mean, or the name of a phase."
    )
    imposed: bool = Field(
        default=False,
        description="true: the current flows whatever the earths do; false: the earths lower it.",
    )
    contributions: list[ContributionFile] = Field(min_length=1, description="What it gives to which fault.")


class TransformerFile(Base):
    """A transformer or generator of this station; the current of its neutral comes home through metal."""

    name: Text = Field(min_length=1, description="Name of the transformer.")
    neutral: Literal["solid", "impedance", "isolated"] = Field(
        default="solid", description="How its neutral is earthed."
    )
    neutral_at: Text = Field(
        default="station", description="Earth of the neutral: station, or the name of a group."
    )
    imposed: bool = Field(default=False, description="As for a source.")
    contributions: list[ContributionFile] = Field(
        default_factory=list, description="What it gives to which fault."
    )


class PlaceFile(Base):
    """A further place for a fault."""

    fault: Text = Field(min_length=1, description="Name of an entry under faults.")
    route: Text = Field(min_length=1, description="Line or cable.")
    stops: list[Annotated[int, Field(ge=1, le=5000)]] = Field(
        min_length=1,
        description="Towers, joints or poles, counted from this station; the last is the far end.",
    )
    fault_resistance_ohm: Annotated[float, Field(ge=0, le=1e6)] = Field(
        default=0.0, description="At the place of the fault. [ohm]"
    )


class DeepSoilFile(Base):
    """Layers for the earth return, which spreads hundreds of metres deep."""

    resistivities_ohm_m: list[Resistivity] = Field(
        min_length=1, max_length=20, description="From the top down. [ohm m]"
    )
    thicknesses_m: list[Positive] = Field(
        default_factory=list, description="Of the layers above the last. [m]"
    )


class NetworkFile(Base):
    """The metal that leaves the station and what feeds the faults; the split factors are then computed."""

    earth_return: Literal["auto", "carson", "deri", "layered"] = Field(
        default="auto", description="Form of the earth-return impedance; auto takes the soil as it is."
    )
    soil: DeepSoilFile | None = Field(
        default=None, description="Soil for the earth return; left out: the soil model of the survey."
    )
    faults_along_routes: bool = Field(
        default=True, description="Set each fault also along the routes of its voltage."
    )
    stations: list[StationFile] = Field(default_factory=list, description="Far stations.")
    lines: list[LineFile] = Field(default_factory=list, description="Overhead lines.")
    neutrals: list[LineFile] = Field(
        default_factory=list, description="Distribution neutrals earthed at their poles, written as lines."
    )
    cables: list[CableFile] = Field(default_factory=list, description="Cables.")
    groups: list[GroupFile] = Field(default_factory=list, description="Other earths of the site.")
    sources: list[SourceFile] = Field(default_factory=list, description="Far neutrals that feed faults.")
    transformers: list[TransformerFile] = Field(
        default_factory=list, description="Transformers of this station with their neutrals."
    )
    fault_places: list[PlaceFile] = Field(default_factory=list, description="Further places for faults.")
