"""The project file as pydantic models: title page, revisions, and what the papers look like."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from evenground.project._schema_base import Base, DateText, Text

__all__ = ["IdentityFile", "RevisionFile"]


class RevisionFile(Base):
    """One row of the revision block."""

    revision: Text = Field(description="Letter or number of the revision.")
    date: DateText = Field(default="", description="Date, as 2026-03-02.")
    description: Text = Field(default="", description="What changed.")
    prepared_by: Text = Field(default="", description="Who made it.")
    checked_by: Text = Field(default="", description="Who checked it.")
    approved_by: Text = Field(default="", description="Who approved it.")


class IdentityFile(Base):
    """What stands on the title page."""

    title: Text = Field(min_length=1, description="Title of the calculation.")
    site: Text = Field(default="", description="Name and place of the site.")
    client: Text = Field(default="", description="For whom the design is made.")
    document_number: Text = Field(default="", description="Number of the document.")
    note: Text = Field(default="", description="Remark for the title page.")
    language: Literal["en", "de"] = Field(
        default="en", description="Language of the report and of the title blocks of drawings."
    )
    north_deg: Annotated[float, Field(ge=-360, le=360)] | None = Field(
        default=None,
        description="Direction of north in plan, clockwise from the y axis; left out: no arrow. [deg]",
    )
    latitude_deg: Annotated[float, Field(ge=-90, le=90)] | None = Field(
        default=None, description="Latitude of the site, north positive, for maps of many sites. [deg]"
    )
    longitude_deg: Annotated[float, Field(ge=-180, le=180)] | None = Field(
        default=None, description="Longitude of the site, east positive, for maps of many sites. [deg]"
    )
    compared_with: Text = Field(
        default="",
        description="study.json of an earlier revision, as a path from the folder of the project file; the "
        "report then says what changed since.",
    )
    sensitivity: bool = Field(
        default=True, description="Report how the margins answer to other soil, current, time and cover."
    )
    revisions: list[RevisionFile] = Field(default_factory=list, description="Revision block, oldest first.")

    @model_validator(mode="after")
    def _both_or_none(self) -> Self:
        if (self.latitude_deg is None) != (self.longitude_deg is None):
            raise PydanticCustomError(
                "place", "latitude_deg and longitude_deg go together: give both or none"
            )
        return self
