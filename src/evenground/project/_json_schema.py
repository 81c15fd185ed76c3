"""JSON Schema of the project file, for completion and checking in an editor."""

from __future__ import annotations

from typing import Any

from evenground.project._schema import ProjectFile
from evenground.project._schema_base import OriginFile

__all__ = ["json_schema"]

_ORIGIN = {"$ref": "#/$defs/OriginFile"}
_NULL = {"type": "null"}


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the project file.

    Every value may also be written as ``{value, origin}``, every section may have an ``origin``, and
    an optional key may be left empty.
    """
    schema = ProjectFile.model_json_schema()
    definitions: dict[str, Any] = schema.pop("$defs")
    definitions["OriginFile"] = OriginFile.model_json_schema()
    for definition in (schema, *definitions.values()):
        _rework(definition, sections=definition is not definitions["OriginFile"])
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Evenground project file",
        "$defs": dict(sorted(definitions.items())),
    }


def _rework(definition: dict[str, Any], *, sections: bool) -> None:
    definition.pop("title", None)
    required = set(definition.get("required", ()))
    properties: dict[str, Any] = definition.get("properties", {})
    for name, field in properties.items():
        properties[name] = _field(field, optional=name not in required, with_origin=sections)
    if sections:
        properties["origin"] = {"description": "Origin of all values of this section.", "anyOf": _origin()}


def _origin() -> list[dict[str, Any]]:
    return [dict(_ORIGIN), {"type": "string"}]


def _field(field: dict[str, Any], *, optional: bool, with_origin: bool) -> dict[str, Any]:
    description = field.pop("description", None)
    default = field.pop("default", None)
    field.pop("title", None)
    plain = [option for option in field.pop("anyOf", [field]) if option != _NULL]
    for option in plain:
        _strip_titles(option)
    options = [*plain, *([_wrapped(plain)] if with_origin else [])]
    if optional:
        options.append(dict(_NULL))
    whole: dict[str, Any] = {"description": description} if description else {}
    if default is not None and default != "":
        whole["default"] = default
    return whole | ({"anyOf": options} if len(options) > 1 else options[0])


def _wrapped(options: list[dict[str, Any]]) -> dict[str, Any]:
    """The same value written with its origin."""
    return {
        "type": "object",
        "properties": {
            "value": {"anyOf": options} if len(options) > 1 else options[0],
            "origin": {"anyOf": _origin()},
        },
        "required": ["value"],
        "additionalProperties": False,
    }


def _strip_titles(option: dict[str, Any]) -> None:
    option.pop("title", None)
    for value in option.values():
        if isinstance(value, dict):
            _strip_titles(value)
