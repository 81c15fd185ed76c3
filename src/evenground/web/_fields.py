"""Fields of the project file as form rows, read from its schema; and numbers as people type them."""

from __future__ import annotations

import math
import re
import types
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from evenground.errors import InputError
from evenground.project._schema import ConductorFile, FaultFile, ProjectFile, SoilModelFile
from evenground.project._schema_identity import IdentityFile
from evenground.project._schema_site import (
    AssessmentFile,
    MatFile,
    RodListFile,
    RunFile,
    ZoneFile,
)
from evenground.web._units import Typed, parse_quantity

__all__ = [
    "MODELS",
    "FieldRow",
    "NestedRow",
    "field_rows",
    "nested_rows",
    "parse_field",
    "parse_typed",
    "shown",
]

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

    ``kind`` is ``"number"``, ``"whole"``, ``"text"``, ``"choice"``, ``"yes"``, ``"maybe"`` (yes, no or not
    stated), ``"numbers"`` (a list), ``"points"``, ``"texts"``, ``"choices"`` or
    ``"pairs"`` (values by key, one a line; ``choices`` then begins with the kind of the values).
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


@dataclass(frozen=True, slots=True)
class NestedRow:
    """A section inside a section: ``kind`` is ``"one"``, ``"many"`` (a list) or ``"named"`` (by key)."""

    key: str
    label: str
    kind: str
    help: str
    model: type[BaseModel]
    required: bool


def nested_rows(model: type[BaseModel]) -> list[NestedRow]:
    """The sections inside a section, in the order of the schema."""
    rows = []
    for key, info in model.model_fields.items():
        kind, inner = _nested(info.annotation)
        if inner is not None:
            least = next((m.min_length for m in info.metadata if hasattr(m, "min_length")), 0)
            needed = info.is_required() or bool(least)
            rows.append(NestedRow(key, _label(key), kind, info.description or "", inner, needed))
    return rows


def _nested(annotation: Any) -> tuple[str, type[BaseModel] | None]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "one", annotation
    origin, parts = get_origin(annotation), [a for a in get_args(annotation) if a is not type(None)]
    if origin is Annotated or (origin in (Union, types.UnionType) and len(parts) == 1):
        return _nested(parts[0])
    if origin in (list, dict):
        kind, inner = _nested(parts[-1])
        return ("many" if origin is list else "named", inner) if kind == "one" else ("", None)
    return "", None


def _label(key: str) -> str:
    words = _SUFFIX.sub("", key).replace("_", " ")
    return {"x over r": "X/R", "at": "Places", "gpr limit": "Potential rise limit", "north deg": "North"}.get(
        words, words[:1].upper() + words[1:]
    )


def _kind(annotation: Any) -> tuple[str, tuple[Any, ...]]:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _kind(get_args(annotation)[0])
    if origin in (Union, types.UnionType):
        parts = [a for a in get_args(annotation) if a is not type(None)]
        if parts == [bool]:
            return "maybe", (True, False)
        return _kind(parts[0]) if len(parts) == 1 else ("", ())
    if origin is Literal:
        return "choice", get_args(annotation)
    if origin is list:
        inner, choices = _kind(get_args(annotation)[0])
        if inner == "choice":
            return "choices", choices
        return {"number": "numbers", "whole": "numbers", "numbers": "points", "text": "texts"}.get(
            inner, ""
        ), ()
    if origin is dict:
        inner, choices = _kind(get_args(annotation)[1])
        return (
            ("pairs", (inner, *choices))
            if inner in ("number", "whole", "text", "texts", "choice")
            else ("", ())
        )
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
    if not math.isfinite(value):
        raise InputError(f"“{text.strip()}” is larger than any quantity of a site")
    return int(value) if value == int(value) and abs(value) < 1e15 else value


def parse_typed(row: FieldRow, text: str, *, stranded: bool = False) -> Typed:
    """A number of a form entry, with its unit or without."""
    try:
        return Typed(parse_number(text))
    except InputError:
        tidy = text.strip().replace("−", "-")
        if row.unit and re.search(r"\d", tidy) and not re.fullmatch(r"[-+\d.,eE\s]+", tidy):
            return parse_quantity(text, row.unit, stranded=stranded)
        raise


def parse_field(row: FieldRow, text: Any) -> Any:
    """The value a form entry stands for; None when it was emptied.

    Raises
    ------
    InputError
        When it is not what the field takes.
    """
    if row.kind == "yes":
        return bool(text)
    if row.kind in ("choice", "maybe"):
        return text if text in row.choices else None
    if row.kind == "choices":
        return [c for c in row.choices if c in (text or [])] or None
    text = "" if text is None else str(text).strip()
    if not text:
        return None
    if row.kind in ("number", "whole"):
        return parse_typed(row, text).value
    if row.kind == "pairs":
        return dict(_keyed(row, line) for line in text.splitlines() if line.strip())
    if row.kind == "texts":
        return [line.strip() for line in text.splitlines() if line.strip()]
    if row.kind == "numbers":
        parts = [part for part in re.split(r"[;,\s]+", text) if part]
        return [None if part.lower() == "none" else parse_number(part) for part in parts]
    if row.kind == "points":
        return [_pair(part) for part in re.split(r"[;\n]+", text) if part.strip()]
    return text


def _keyed(row: FieldRow, line: str) -> tuple[str, Any]:
    """One line ``key = value`` of values by key."""
    key, sign, rest = line.partition("=")
    inner, choices = str(row.choices[0]), row.choices[1:]
    value: Any = rest.strip()
    if not (sign and key.strip() and value):
        raise InputError(f"“{line.strip()}”: write one entry a line, as key = value")
    if inner in ("number", "whole"):
        value = parse_number(value)
    elif inner == "texts":
        value = [part.strip() for part in value.split(",") if part.strip()]
    elif inner == "choice":
        found = [c for c in choices if value in (c, str(c).replace("_", " "))]
        if not found:
            raise InputError(f"“{value}”: must be one of {', '.join(map(str, choices))}")
        value = found[0]
    return key.strip(), value


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
    if row.kind == "pairs" and isinstance(value, dict):
        lists = {k: ", ".join(map(str, v)) if isinstance(v, list) else _short(v) for k, v in value.items()}
        return "\n".join(f"{k} = {v}" for k, v in lists.items())
    if row.kind == "texts" and isinstance(value, list):
        return "\n".join(str(v) for v in value)
    if row.kind == "numbers" and isinstance(value, list):
        return ", ".join("none" if v is None else _short(v) for v in value)
    return _short(value)


def _short(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, int | float) and not isinstance(value, bool) else str(value)
