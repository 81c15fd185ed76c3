"""Construction sequence and record forms as a PDF."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Any

from evenground.schedules._build import CAUTION
from evenground.schedules._files import write_bytes
from evenground.schedules._sequence import ConstructionPlan
from evenground.schedules._speak import spoken
from evenground.schedules._table import Cell, Column, Table

__all__ = ["form_data", "inspection_pdf", "write_inspection_pdf"]


def inspection_pdf(plan: ConstructionPlan, *, pages_as_png: bool = False) -> Any:
    """The papers as PDF bytes, or as a list of PNG pages (bytes) for a preview."""
    import typst

    template = (resources.files("evenground.schedules") / "data" / "papers.typ").read_bytes()
    sources: Any = {
        "main.typ": template,
        "data.json": json.dumps(form_data(plan), ensure_ascii=False).encode(),
    }
    if pages_as_png:
        pages: Any = typst.compile(sources, format="png", ppi=80, ignore_system_fonts=True)
        return pages if isinstance(pages, list) else [pages]
    return typst.compile(sources, format="pdf", ignore_system_fonts=True)


def write_inspection_pdf(plan: ConstructionPlan, file: Path | str) -> None:
    """Write the papers in one stroke."""
    write_bytes(Path(file), inspection_pdf(plan))


WORDS = ("Construction sequence", "No.", "Step", "Work", "Hold point", "Record", "Hold:", "Contractor")
"""Words of the template itself, besides "Client" and "Designer"."""


def form_data(plan: ConstructionPlan) -> dict[str, Any]:
    """What the template prints."""
    say = plan.language.term
    return {
        "title": plan.title,
        "lang": plan.language.code,
        "head": [[say(label), say(text)] for label, text in plan.head],
        "caution": say(CAUTION),
        "words": {word: say(word) for word in (*WORDS, "Client", "Designer")},
        "steps": [
            {"number": s.number}
            | {
                k: say(v)
                for k, v in (("title", s.title), ("work", s.work), ("hold", s.hold), ("record", s.record))
            }
            for s in plan.steps
        ],
        "forms": [_form(spoken(table, plan.language)) for table in plan.forms],
    }


def _form(table: Table) -> dict[str, Any]:
    return {
        "title": table.title,
        "notes": list(table.notes),
        "widths": [c.width for c in table.columns],
        "headings": [c.heading for c in table.columns],
        "numeric": [_is_numeric(table, c) for c in table.columns],
        "rows": [[_text(v, c) for v, c in zip(row, table.columns, strict=True)] for row in table.rows],
    }


def _is_numeric(table: Table, column: Column) -> bool:
    cells = table.column(column.key)
    return any(not isinstance(v, str) and v is not None for v in cells)


def _text(value: Cell, column: Column) -> str | None:
    if value is None or isinstance(value, str):
        return value
    return f"{value:.{column.places}f}".replace("-", "−")
