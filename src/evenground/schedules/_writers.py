"""Tables to a spreadsheet and to CSV; the same tables give the same bytes."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from pathlib import Path
from string import ascii_uppercase
from textwrap import wrap
from typing import Any

from evenground.language import ENGLISH, Language
from evenground.schedules._files import write_bytes
from evenground.schedules._table import Cell, Column, Table

__all__ = ["csv_text", "write_csv", "write_xlsx", "xlsx_bytes"]

WIDEST = 60
"""A column grows with its texts up to this many characters."""
LINE_POINTS = 15.0
"""Height of a line. [point]"""
FIXED_DATE = datetime.datetime(2000, 1, 1)
"""Stands in the file's properties, so that equal tables give equal files."""


def csv_text(table: Table) -> str:
    """A table as CSV: headings, rows, no totals; text that a spreadsheet would run as a formula is quoted
    by an apostrophe. Numbers carry full precision."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([c.heading for c in table.columns])
    for row in table.rows:
        writer.writerow(["" if v is None else _plain(v) for v in row])
    return out.getvalue()


def _plain(value: str | float | int) -> str:
    if isinstance(value, str):
        return harmless(value)
    return repr(round(value, 9)) if isinstance(value, float) else str(value)


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in {"=", "+", "-", "@", "\t", "\r"} else text


def write_csv(table: Table, file: Path | str) -> None:
    """Write one table as CSV (UTF-8)."""
    write_bytes(Path(file), csv_text(table).encode("utf-8"))


def write_xlsx(
    tables: Sequence[Table], file: Path | str, *, title: str = "", words: Language = ENGLISH
) -> None:
    """Write tables as the sheets of one workbook, with formulas and their values."""
    write_bytes(Path(file), xlsx_bytes(tables, title=title, words=words))


def xlsx_bytes(tables: Sequence[Table], *, title: str = "", words: Language = ENGLISH) -> bytes:
    """The workbook as bytes; see :func:`write_xlsx`."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    book.set_properties({"title": title, "created": FIXED_DATE, "comments": "Written by Evenground"})
    formats = {
        "title": book.add_format({"bold": True, "font_size": 13}),
        "head": book.add_format(
            {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E8E8E8"}
        ),
        "text": book.add_format({"indent": 1}),
        "note": book.add_format({"italic": True, "text_wrap": True, "valign": "top"}),
        "total": book.add_format({"bold": True, "top": 1}),
    }
    for table in tables:
        _Sheet(book, formats, table, words).write()
    book.close()
    return out.getvalue()


class _Sheet:
    """One table on one sheet: title, named values, headings, rows, totals, notes."""

    def __init__(self, book: Any, formats: dict[str, Any], table: Table, words: Language) -> None:
        self.book = book
        self.say = words.term
        self.formats = formats
        self.table = table
        self.sheet = book.add_worksheet(table.name[:31])
        self.head = 2 + len(table.values) + (1 if table.values else 0)
        self.first = self.head + 1
        self.numbers: dict[int, Any] = {}

    def write(self) -> None:
        table = self.table
        self.sheet.write_string(0, 0, table.title, self.formats["title"])
        for n, (name, words, value, unit) in enumerate(table.values):
            self.sheet.write_string(2 + n, 0, f"{words} [{unit}]")
            self.sheet.write_number(2 + n, 2, value, self.number(2))
            place = f"='{table.name[:31]}'!$C${3 + n}"
            self.book.define_name(f"{table.name.replace('-', '_')}_{name}", place)
        widths = [_width(table, k) for k in range(len(table.columns))]
        for k, column in enumerate(table.columns):
            self.sheet.write_string(self.head, k, column.heading, self.formats["head"])
            self.sheet.set_column(k, k, widths[k])
        rows = max(_lines(c.heading, w - 1) for c, w in zip(table.columns, widths, strict=True))
        self.sheet.set_row(self.head, LINE_POINTS * rows)
        for n, row in enumerate(table.rows):
            for k, (column, content) in enumerate(zip(table.columns, row, strict=True)):
                self.cell(self.first + n, k, column, content)
        self.totals()
        last = self.first + len(table.rows) + 2
        for n, note in enumerate(table.notes):
            self.note(last + n, note, sum(widths))
        self.sheet.freeze_panes(self.first, 0)
        self.sheet.set_landscape()
        self.sheet.set_paper(8)
        self.sheet.fit_to_pages(1, 0)
        self.sheet.repeat_rows(self.head)

    def note(self, row: int, text: str, width: float) -> None:
        """A note over the whole width of the table, so that it does not make the printed page wider."""
        if len(self.table.columns) > 1:
            self.sheet.merge_range(row, 0, row, len(self.table.columns) - 1, text, self.formats["note"])
        else:
            self.sheet.write_string(row, 0, text, self.formats["note"])
        self.sheet.set_row(row, LINE_POINTS * _lines(text, width))

    def number(self, places: int) -> Any:
        if places not in self.numbers:
            pattern = "#,##0" + ("." + "0" * places if places else "")
            self.numbers[places] = self.book.add_format({"num_format": pattern})
        return self.numbers[places]

    def cell(self, row: int, k: int, column: Column, value: Cell) -> None:
        if column.formula:
            formula = self.fill(column.formula, row)
            self.sheet.write_formula(
                row, k, formula, self.number(column.places), "" if value is None else value
            )
        elif isinstance(value, str):
            self.sheet.write_string(row, k, value, self.formats["text"])
        elif value is None:
            self.sheet.write_blank(row, k, None, self.number(column.places))
        else:
            places = 0 if isinstance(value, int) else column.places
            self.sheet.write_number(row, k, value, self.number(places))

    def fill(self, template: str, row: int) -> str:
        """Put cell references and names into a formula template."""
        text = template
        for k, column in enumerate(self.table.columns):
            text = text.replace("{" + column.key + "}", f"{column_letters(k)}{row + 1}")
        for name, *_ in self.table.values:
            text = text.replace("{#" + name + "}", f"{self.table.name.replace('-', '_')}_{name}")
        return "=" + text

    def totals(self) -> None:
        columns = [(k, c) for k, c in enumerate(self.table.columns) if c.total]
        if not columns or not self.table.rows:
            return
        row = self.first + len(self.table.rows)
        self.sheet.write_string(row, 0, self.say("Total"), self.formats["total"])
        left = self.say("not decided")
        for k, column in columns:
            letters = column_letters(k)
            area = f"{letters}{self.first + 1}:{letters}{row}"
            total = self.table.total(column.key)
            pattern = "#,##0" + ("." + "0" * column.places if column.places else "")
            style = self.book.add_format({"bold": True, "top": 1, "num_format": pattern})
            formula = f'=IF(COUNTBLANK({area})>0,"{left}",SUM({area}))'
            self.sheet.write_formula(row, k, formula, style, left if total is None else total)


def _width(table: Table, k: int) -> int:
    """Width of a column: as asked for, or as its longest text needs, up to a limit. [characters]"""
    column = table.columns[k]
    texts = [len(text) for text in (row[k] for row in table.rows) if isinstance(text, str)]
    word = max(map(len, column.heading.split()))
    return max(column.width, word + 2, min(max(texts, default=0) + 2, WIDEST))


def _lines(text: str, width: float) -> int:
    """Lines that a text takes in a cell of this width. [characters]"""
    return max(1, len(wrap(text, max(4, int(width)))))


def column_letters(index: int) -> str:
    """Spreadsheet name of a column counted from 0."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = ascii_uppercase[rest] + letters
    return letters
