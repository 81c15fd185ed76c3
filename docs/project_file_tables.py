"""Brings the tables in project-file.md and examples/evenground.schema.json up to date with the code.

Run: python docs/project_file_tables.py
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from evenground.project import json_schema
from evenground.project._explain import models_in
from evenground.project._schema import ProjectFile
from evenground.project._schema_base import OriginFile

HERE = Path(__file__).parent
PAGE = HERE / "project-file.md"
SCHEMA = HERE.parent / "examples" / "evenground.schema.json"
START, END = "<!-- tables: start -->", "<!-- tables: end -->"


def sections() -> list[tuple[str, type[BaseModel]]]:
    """Title and model of each section, in the order of the file."""
    found: list[tuple[str, type[BaseModel]]] = []

    def walk(title: str, model: type[BaseModel]) -> None:
        found.append((title, model))
        for name, field in model.model_fields.items():
            for child in models_in(field.annotation):
                kind = get_origin(field.annotation)
                mark = "[]" if kind is list else ".KEY" if kind is dict else ""
                walk(f"{title}.{name}{mark}".lstrip("."), child)

    walk("", ProjectFile)
    return [*found, ("origin", OriginFile)]


def table(model: type[BaseModel]) -> str:
    """One section as a Markdown table."""
    rows = ["| key | wanted | unit | meaning |", "|---|---|---|---|"]
    for name, field in model.model_fields.items():
        text = field.description or ""
        unit = re.search(r"\s*\[([^\[\]]+)\]$", text)
        text = text[: unit.start()] if unit else text
        rows.append(f"| `{name}` | {wanted(field)} | {unit[1] if unit else ''} | {text} |")
    return "\n".join(rows)


def wanted(field: FieldInfo) -> str:
    """``yes``, or what an optional field is when it is left out."""
    if field.is_required():
        return "**yes**"
    default: Any = field.default
    if field.default_factory is not None or default in (None, ""):
        return "no"
    return f"no: {str(default).lower() if isinstance(default, bool) else default}"


def choices(field: FieldInfo) -> tuple[Any, ...]:
    """The words a field accepts, empty when it is free."""
    return _words(field.annotation)


def _words(annotation: Any) -> tuple[Any, ...]:
    """The words of the first list of words inside a type, however deep it lies."""
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return next((found for part in get_args(annotation) if (found := _words(part))), ())


def tables() -> str:
    """All sections."""
    parts = []
    for title, model in sections():
        heading = f"### `{title}`" if title else "### Top level"
        words = [
            f"`{name}` is one of {', '.join(f'`{c}`' for c in choices(field))}."
            for name, field in model.model_fields.items()
            if len(choices(field)) > 1 and type(None) not in choices(field)
        ]
        parts.append("\n\n".join([heading, model.__doc__ or "", table(model), *words]))
    return "\n\n".join(parts)


def page(text: str) -> str:
    """The page with fresh tables."""
    head, rest = text.split(START)
    tail = rest.split(END)[1]
    return f"{head}{START}\n\n{tables()}\n\n{END}{tail}"


def schema_text() -> str:
    """The schema as it is written to the file."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Write both files."""
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    SCHEMA.write_text(schema_text(), encoding="utf-8")


if __name__ == "__main__":
    main()
