"""JSON Schema of the project file, for completion and checking in an editor."""

from __future__ import annotations

import json
from typing import Any

from evenground.project._schema import ProjectFile
from evenground.project._schema_base import OriginFile

__all__ = ["json_schema"]

Schema = dict[str, Any]

_ORIGIN: Schema = {"$ref": "#/$defs/Origin"}
_NULL: Schema = {"type": "null"}


def json_schema() -> Schema:
    """JSON Schema (draft 2020-12) of the project file.

    Every value may also be written as ``{value, origin}``, every section may have an ``origin``, and
    an optional key may be left empty.
    """
    schema = ProjectFile.model_json_schema()
    definitions: dict[str, Schema] = schema.pop("$defs")
    for definition in (schema, *definitions.values()):
        _rework(definition)
        definition["properties"]["origin"] = {
            "description": "Origin of all values of this section.",
            **_ORIGIN,
        }
    definitions["OriginFile"] = _origin()
    whole = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Evenground project file",
        "$defs": {name.removesuffix("File"): d for name, d in sorted(definitions.items())},
    }
    text = json.dumps(whole)
    for name in definitions:
        text = text.replace(f'"#/$defs/{name}"', f'"#/$defs/{name.removesuffix("File")}"')
    renamed: Schema = json.loads(text)
    return renamed


def _origin() -> Schema:
    fields = OriginFile.model_json_schema()
    _rework(fields, wrap=False)
    description = fields.pop("description")
    return {"description": description, "anyOf": [fields, {"type": ["string", "number"]}, dict(_NULL)]}


def _rework(definition: Schema, *, wrap: bool = True) -> None:
    definition.pop("title", None)
    required = set(definition.get("required", ()))
    properties: Schema = definition.get("properties", {})
    for name, field in properties.items():
        properties[name] = _field(field, optional=name not in required, wrap=wrap)


def _field(field: Schema, *, optional: bool, wrap: bool) -> Schema:
    description = field.pop("description", None)
    default = field.pop("default", None)
    field.pop("title", None)
    plain = [_entries(option, wrap) for option in field.pop("anyOf", [field]) if option != _NULL]
    options = [*plain, *([_wrapped(plain)] if wrap else []), *([dict(_NULL)] if optional else [])]
    whole: Schema = {"description": description} if description else {}
    if default not in (None, ""):
        whole["default"] = default
    return whole | ({"anyOf": options} if len(options) > 1 else options[0])


def _entries(option: Schema, wrap: bool) -> Schema:
    """A list whose entries may be written with their origin as well."""
    items = option.get("items")
    if isinstance(items, dict):
        inner = _entries(items, wrap)
        option["items"] = {"anyOf": [inner, _wrapped([inner])]} if wrap and "$ref" not in inner else inner
    return option


def _wrapped(options: list[Schema]) -> Schema:
    """The same value written with its origin."""
    return {
        "type": "object",
        "properties": {"value": {"anyOf": options} if len(options) > 1 else options[0], "origin": _ORIGIN},
        "required": ["value"],
        "additionalProperties": False,
    }
