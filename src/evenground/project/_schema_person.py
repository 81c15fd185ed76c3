"""The project file as pydantic models: who is to be protected, and how often people are there."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from evenground.project._schema_base import Base, Positive, Text

__all__ = ["ExposureFile", "OwnPathFile", "PersonFile"]

PathName = Literal[
    "left hand to both feet",
    "right hand to both feet",
    "both hands to both feet",
    "hand to hand",
    "foot to foot",
    "seat to both hands",
]
Factor = Annotated[float, Field(gt=0, le=10)]
TimeAndCurrent = Annotated[list[Annotated[float, Field(gt=0, le=1e4)]], Field(min_length=2, max_length=2)]


class OwnPathFile(Base):
    """A way through the body that the list of paths does not have."""

    name: Text = Field(min_length=1, description="Name of the path.")
    heart_factor: Factor = Field(
        description="Heart-current factor: danger against the same current left hand to feet."
    )
    body_factor: Factor = Field(description="Impedance of the path over that from hand to hand.")
    feet: Literal["both", "one", "apart", "none"] = Field(
        default="both", description="What stands in series: both feet side by side, one, apart, or none."
    )


class PersonFile(Base):
    """The person that the limits are worked out for; needed with standard free."""

    body: Literal["fixed", "iec_2005", "iec_1994"] | None = Field(
        default=None, description="Body impedance: fixed, or a table of IEC 60479-1 by edition."
    )
    body_ohm: Annotated[float, Field(gt=0, le=1e6)] | None = Field(
        default=None, description="Resistance of a fixed body. [ohm]"
    )
    percentile: Annotated[float, Field(ge=5, le=95)] = Field(
        default=50.0, description="Per cent of people whose impedance is not above the value used, 5 to 95."
    )
    current: Literal["c1", "c2", "c2_back_calculated", "c3", "square_root", "points"] | None = Field(
        default=None,
        description="Body current: a curve of IEC 60479-1, square_root with constant_as, or points.",
    )
    constant_as: Annotated[float, Field(gt=0, le=10)] | None = Field(
        default=None, description="k in k over the root of the time, in A times the root of s, as 0.116."
    )
    current_points: Annotated[list[TimeAndCurrent], Field(min_length=2)] | None = Field(
        default=None, description="Own curve, [time in s, current in A] each, in order of time."
    )
    paths: list[PathName] = Field(default_factory=list, description="Ways of the current through the body.")
    own_paths: list[OwnPathFile] = Field(default_factory=list, description="Further ways, with own factors.")
    combine: Literal["worst", "mean"] = Field(
        default="worst", description="Of several paths the worst, or the mean as in EN 50522."
    )
    step_heart_factor: Annotated[float, Field(gt=0, le=1)] = Field(
        default=1.0,
        description="Heart-current factor of the step; 1 is cautious, IEC 60479-1 has 0.04 (from memory).",
    )
    reason: Text = Field(default="", description="Why this person; printed in the report.")


class ExposureFile(Base):
    """How often people touch metal and how often there is a fault; asks for the risk of a fatal shock."""

    contacts_per_year: Annotated[float, Field(gt=0, le=1e7)] = Field(
        description="Contacts of the most exposed person with earthed metal, in a year."
    )
    contact_duration_s: Positive = Field(description="Duration of one contact. [s]")
    people: Annotated[int, Field(ge=1, le=10_000)] = Field(
        default=1, description="Persons exposed as often, independently of each other."
    )
    faults_per_year: Annotated[float, Field(gt=0, le=1e4)] | None = Field(
        default=None, description="How often each fault comes that states no faults_per_year of its own."
    )
    governs: bool = Field(
        default=False,
        description="true: the risk takes the place of the touch limit; false: it stands beside it.",
    )
    societal_slope: Annotated[float, Field(ge=0, le=3)] = Field(
        default=1.0, description="The lines for N or more deaths fall with N to this power."
    )
    reason: Text = Field(default="", description="Where these numbers come from; needed with governs.")
