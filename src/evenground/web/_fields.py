"""Fields of the project file as form rows, read from its schema; and numbers as people type them."""

from __future__ import annotations

import re
import types
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from evenground.errors import InputError
from evenground.project._schema import ConductorFile, FaultFile, ProjectFile, SoilModelFile
from evenground.project._schema_identity import IdentityFile
from evenground.project._schema_site import AssessmentFile, MatFile, RodListFile, RunFile, ZoneFile

__all__ = ["MODELS", "FieldRow", "field_rows", "parse_field", "shown"]

MODELS: dict[str, type[BaseModel]] = {
    "project": IdentityFile,
    "faults": FaultFile,
    "conductors": ConductorFile,
    "assessment": AssessmentFile,
    "soil_model": SoilModelFile,
    "mats": MatFile,
    "rods": RodListFile,
    "runs": RunFile,
    "surface": ZoneFile,
    "file": ProjectFile,
}
_UNIT = re.compile(r"\s*\[([^\]]+)\]$")
_SUFFIX = re.compile(r"_(m|mm|mm2|kv|ka|a|v|s|c|ohm|ohm_m|hz|kg|mm_per_year|years|percent)$")
_PRETTY = {"ohm m": "Ω·m", "ohm": "Ω", "mm2": "mm²", "degC": "°C"}
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")


@dataclass(frozen=True)
class FieldRow:
    """One value of the project file as a form shows it.

    ``kind`` is ``"number"``, ``"whole"``, ``"text"``, ``"choice"``, ``"yes"``, ``"numbers"`` (a list)
    or ``"points"``.
    """

    key: str
    label: str
    unit: str
    kind: str
    help: str
    required: bool
    default: Any
    choices: tuple[Any, ...] = ()


def field_rows(model: type[BaseModel]) -> list[FieldRow]:
    """The plain fields of a section, in the order of the schema."""
    rows = []
    for key, info in model.model_fields.items():
        kind, choices = _kind(info.annotation)
        if not kind:
            continue
        text = info.description or ""
        unit = _UNIT.search(text)
        default = None if info.is_required() or info.default_factory else info.default
        name = _UNIT.sub("", text)
        rows.append(
            FieldRow(
                key=key,
                label=_label(key),
                unit=_PRETTY.get(unit.group(1), unit.group(1)) if unit else "",
                kind=kind,
                help=name,
                required=info.is_required(),
                default=default,
                choices=choices,
            )
        )
    return rows


def _label(key: str) -> str:
    words = _SUFFIX.sub("", key).replace("_", " ")
    return {"x over r": "X/R", "at": "Places", "gpr limit": "Potential rise limit"}.get(
        words, words[:1].upper() + words[1:]
    )


def _kind(annotation: Any) -> tuple[str, tuple[Any, ...]]:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _kind(get_args(annotation)[0])
    if origin in (Union, types.UnionType):
        parts = [a for a in get_args(annotation) if a is not type(None)]
        return _kind(parts[0]) if len(parts) == 1 else ("", ())
    if origin is Literal:
        return "choice", get_args(annotation)
    if origin is list:
        inner = _kind(get_args(annotation)[0])[0]
        return {"number": "numbers", "numbers": "points"}.get(inner, ""), ()
    plain = {bool: "yes", int: "whole", float: "number", str: "text"}
    return plain.get(annotation, ""), ()


def parse_number(text: str) -> float | int:
    """A number as typed; blanks between thousands are allowed, a decimal comma is refused in words."""
    tidy = text.strip().replace("−", "-").replace("\u202f", "").replace("\u00a0", "").replace(" ", "")
    if re.fullmatch(r"[-+]?\d+,\d+", tidy):
        raise InputError(f"{text.strip()}: write the decimals with a point, as {tidy.replace(',', '.')}")
    if not _NUMBER.fullmatch(tidy):
        raise InputError(f"“{text.strip()}” is not a number")
    value = float(tidy)
    return int(value) if value == int(value) and abs(value) < 1e15 else value


def parse_field(row: FieldRow, text: Any) -> Any:
    """The value a form entry stands for; None when it was emptied.

    Raises
    ------
    InputError
        When it is not what the field takes.
    """
    if row.kind == "yes":
        return bool(text)
    if row.kind == "choice":
        return text if text in row.choices else None
    text = "" if text is None else str(text).strip()
    if not text:
        return None
    if row.kind in ("number", "whole"):
        return parse_number(text)
    if row.kind == "numbers":
        return [parse_number(part) for part in re.split(r"[;,\s]+", text) if part]
    if row.kind == "points":
        return [_pair(part) for part in re.split(r"[;\n]+", text) if part.strip()]
    return text


def _pair(text: str) -> list[float | int]:
    parts = [p for p in re.split(r"[,\s]+", text.strip("()[] \t")) if p]
    if len(parts) != 2:
        raise InputError(f"“{text.strip()}”: a point is x y; points are parted by semicolons")
    return [parse_number(p) for p in parts]


def shown(row: FieldRow, value: Any) -> str:
    """A value as the form shows it."""
    if value is None:
        return ""
    if row.kind == "points" and isinstance(value, list):
        return "; ".join(" ".join(_short(v) for v in p) if isinstance(p, list) else str(p) for p in value)
    if row.kind == "numbers" and isinstance(value, list):
        return ", ".join(_short(v) for v in value)
    return _short(value)


def _short(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, int | float) and not isinstance(value, bool) else str(value)
