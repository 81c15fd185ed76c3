"""The project file as pydantic models: conductors."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Positive, Text

__all__ = ["ConductorFile", "CorrosionFile"]


class CorrosionFile(Base):
    """Allowance for corrosion."""

    rate_mm_per_year: Annotated[float, Field(ge=0, le=100)] = Field(
        default=0.0, description="Uniform loss of thickness on each surface. [mm/year]"
    )
    life_years: Annotated[float, Field(ge=0, le=1000)] = Field(
        default=0.0, description="Design life. [years]"
    )
    area_percent: Annotated[float, Field(ge=0, lt=1000)] = Field(
        default=0.0, description="Additional allowance on area. [%]"
    )


class ConductorFile(Base):
    """One kind of conductor: metal, joint and section. Without a section the program chooses a stock size."""

    material: Text = Field(min_length=1, description="Key of the material table, as copper_hard_drawn.")
    method: Literal["ieee80", "en50522", "is3043", "cbip_steel"] = Field(
        default="ieee80",
        description="Thermal sizing: equation of IEEE Std 80, constants of EN 50522, k of IS 3043 and BS "
        "7430, or the Indian rule for steel.",
    )
    joint: Literal["exothermic", "welded", "brazed", "compression", "bolted"] = Field(
        default="exothermic", description="Kind of joint; limits the final temperature."
    )
    shape: Literal["round", "strand", "strip"] = Field(default="round", description="Shape of the section.")
    diameter_mm: Positive | None = Field(default=None, description="Diameter of a round or strand. [mm]")
    width_mm: Positive | None = Field(default=None, description="Width of a strip. [mm]")
    thickness_mm: Positive | None = Field(default=None, description="Thickness of a strip. [mm]")
    area_mm2: Positive | None = Field(
        default=None, description="Metal area, when it is not that of a full round or rectangle. [mm2]"
    )
    min_area_mm2: Positive | None = Field(
        default=None, description="Mechanical minimum, when it differs from the table's. [mm2]"
    )
    initial_temperature_c: Annotated[float, Field(gt=-100, le=1000)] = Field(
        default=40.0, description="Soil or air temperature before the fault. [degC]"
    )
    max_temperature_c: Annotated[float, Field(gt=-100, le=5000)] | None = Field(
        default=None, description="Final temperature asked for; the material or joint may lower it. [degC]"
    )
    current_share: Annotated[float, Field(gt=0, le=1)] = Field(
        default=1.0, description="Share of the fault current one such conductor must carry, above 0 to 1."
    )
    relative_permeability: Annotated[float, Field(ge=1, le=10_000)] | None = Field(
        default=None,
        description="Of steel, for the voltage along the metal; left out: 150 for steel, 1 for other metals.",
    )
    corrosion: CorrosionFile = Field(default_factory=CorrosionFile, description="Allowance for corrosion.")
