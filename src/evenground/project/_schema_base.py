"""Base model and field types of the project file."""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import PydanticCustomError

__all__ = [
    "Base",
    "Coordinate",
    "DateText",
    "OriginFile",
    "Outline",
    "Point",
    "Positive",
    "Resistivity",
    "Text",
]


class Base(BaseModel):
    """Unknown keys are refused, nothing is converted silently, an empty value counts as left out."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _empty_is_left_out(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        known = cls.model_fields
        return {k: v for k, v in data.items() if v is not None or k not in known}


def _as_written(value: Any) -> Any:
    """Numbers and truth values are text where a text is wanted: ``revision: 01`` is the text 01."""
    written = getattr(value, "text", None)
    if isinstance(written, str):
        return written
    return str(value).lower() if isinstance(value, bool) else value


_DATE = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?", re.ASCII)


def _iso_date(text: str) -> str:
    match = _DATE.fullmatch(text)
    if text and match is None:
        raise PydanticCustomError("date_form", "is not a date of the form 2026-02-11")
    if match is not None:
        year, month, day = (int(part) if part else 1 for part in match.groups())
        try:
            datetime.date(year, month, day)
        except ValueError:
            raise PydanticCustomError("date_real", "is not a day of the calendar") from None
    return text


Text = Annotated[str, BeforeValidator(_as_written), WithJsonSchema({"type": ["string", "number", "boolean"]})]
DateText = Annotated[
    str,
    BeforeValidator(_as_written),
    AfterValidator(_iso_date),
    WithJsonSchema({"type": ["string", "number"], "pattern": r"^\d{4}(-\d{2}(-\d{2})?)?$|^$"}),
]
Positive = Annotated[float, Field(gt=0, le=1e9)]
Resistivity = Annotated[float, Field(gt=0, le=1e12)]
Coordinate = Annotated[float, Field(ge=-1e8, le=1e8)]
Point = Annotated[list[Coordinate], Field(min_length=2, max_length=2)]
Outline = Annotated[list[Point], Field(min_length=3)]


class OriginFile(Base):
    """Where an input value comes from."""

    document: Text = Field(default="", description="Number or title of the document.")
    revision: Text = Field(default="", description="Its revision.")
    date: DateText = Field(default="", description="Its date, as 2026-01-15.")
    note: Text = Field(default="", description="Remark.")
    confidence: Text = Field(default="", description="How sure it is: measured, stated, estimated, ...")
