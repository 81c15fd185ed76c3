"""Schedules and forms in the language of the project."""

from __future__ import annotations

from dataclasses import replace

from evenground.language import Language
from evenground.schedules._table import Column, Table

__all__ = ["spoken"]


def spoken(table: Table, words: Language) -> Table:
    """A table with its words in another language; its name, keys, numbers and formulas stay."""
    if not words.terms:
        return table
    say = words.term
    return replace(
        table,
        title=say(table.title),
        columns=tuple(_column(c, words) for c in table.columns),
        rows=tuple(tuple(say(v) if isinstance(v, str) else v for v in row) for row in table.rows),
        notes=tuple(map(say, table.notes)),
        values=tuple((name, say(text), value, say(unit)) for name, text, value, unit in table.values),
    )


def _column(column: Column, words: Language) -> Column:
    return replace(column, title=words.term(column.title), unit=words.term(column.unit))
