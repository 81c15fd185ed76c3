"""Readings from a CSV or XLSX file: the project file says which column is what, in which unit."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from math import isfinite
from pathlib import Path as FilePath
from typing import Any

from evenground.errors import Finding, InputError
from evenground.model.soil import SoilReading

__all__ = ["FIELDS", "read_table_bytes", "readings_of_table"]

Path = tuple[str | int, ...]

LENGTH = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
RESISTANCE = {"ohm": 1.0, "mohm": 1e-3, "kohm": 1e3}
VOLTAGE = {"V": 1.0, "mV": 1e-3, "uV": 1e-6}
CURRENT = {"A": 1.0, "mA": 1e-3}
RESISTIVITY = {"ohm m": 1.0, "ohm cm": 0.01, "ohm ft": 0.3048}

FIELDS: Mapping[str, tuple[str, Mapping[str, float]]] = {
    "spacing": ("spacing_m", LENGTH),
    "half_current_spacing": ("half_current_m", LENGTH),
    "half_potential_spacing": ("half_potential_m", LENGTH),
    "resistance": ("resistance_ohm", RESISTANCE),
    "voltage": ("voltage_v", VOLTAGE),
    "current": ("current_a", CURRENT),
    "apparent_resistivity": ("apparent_resistivity_ohm_m", RESISTIVITY),
    "probe_depth": ("probe_depth_m", LENGTH),
    "rod_length": ("rod_length_m", LENGTH),
}
"""Column role -> (field of a reading, units with their factor to SI)."""

MAX_BYTES = 20_000_000
MAX_ROWS = 100_000


def _stop(path: Path, code: str, message: str, advice: str = "", **place: Any) -> InputError:
    return InputError([Finding(code, message, advice, path=path, **place)])


def read_table_bytes(file: FilePath, path: Path) -> bytes:
    """The bytes of a readings file.

    Raises
    ------
    InputError
        When it is missing, a folder, or larger than 20 MB.
    """
    try:
        if file.stat().st_size > MAX_BYTES:
            raise _stop(path, "table-too-large", f"{file} is larger than 20 MB", "export the readings only")
        return file.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise _stop(
            path, "table-missing", f"{file}: {reason}", "give the path from the project file"
        ) from error


def readings_of_table(
    data: bytes,
    name: str,
    columns: Mapping[str, tuple[str, str]],
    *,
    sheet: str | None = None,
    header_row: int = 1,
    delimiter: str = ",",
    decimal: str = ".",
    path: Path = (),
) -> tuple[SoilReading, ...]:
    """Readings from the table of one file.

    Parameters
    ----------
    data : bytes
        Of a CSV (UTF-8) or XLSX file; the ending of ``name`` tells which.
    name : str
        For messages.
    columns : mapping
        Role (a key of ``FIELDS``) -> (name of the column, unit).
    sheet : str or None
        Of a workbook; None: its only sheet.
    header_row : int
        Row that holds the names of the columns, from 1.
    delimiter, decimal : str
        Of a CSV file.
    path : tuple
        Place of the table's mapping in the project file.

    Raises
    ------
    InputError
        With every wrong cell at once, each with row and column of the file.
    """
    rows = (
        _xlsx(data, name, sheet, path)
        if name.lower().endswith(".xlsx")
        else _csv(data, name, delimiter, path)
    )
    if len(rows) < header_row:
        raise _stop(
            path, "table-header", f"{name} has {len(rows)} rows, no row {header_row}", "give header_row"
        )
    header = [str(cell).strip() if cell is not None else "" for cell in rows[header_row - 1]]
    places = _places(header, columns, name, path)
    findings: list[Finding] = []
    readings = []
    for number, row in enumerate(rows[header_row:], header_row + 1):
        if all(cell is None or str(cell).strip() == "" for cell in row):
            continue
        readings.append(_reading(row, number, places, columns, decimal, name, path, findings))
    if findings:
        raise InputError(findings)
    if not readings:
        raise _stop(path, "table-empty", f"{name} holds no reading below row {header_row}", "give header_row")
    return tuple(readings)


def _places(
    header: list[str], columns: Mapping[str, tuple[str, str]], name: str, path: Path
) -> dict[str, int]:
    findings, places = [], {}
    there = ", ".join(repr(h) for h in header if h) or "none"
    for role, (column, unit) in columns.items():
        here = (*path, "columns", role)
        if header.count(column) > 1:
            findings.append(Finding("table-column", f"{name} has two columns {column!r}", path=here))
        elif column not in header:
            text = f"{name} has no column {column!r}"
            findings.append(Finding("table-column", text, f"its columns are {there}", path=here))
        else:
            places[role] = header.index(column)
        units = FIELDS[role][1]
        if unit not in units:
            text = f"{unit!r} is not a unit of {role.replace('_', ' ')}"
            findings.append(Finding("table-unit", text, f"use one of {', '.join(units)}", path=here))
    if findings:
        raise InputError(findings)
    return places


def _reading(
    row: list[Any],
    number: int,
    places: Mapping[str, int],
    columns: Mapping[str, tuple[str, str]],
    decimal: str,
    name: str,
    path: Path,
    findings: list[Finding],
) -> SoilReading:
    values: dict[str, Any] = {}
    for role, place in places.items():
        cell = row[place] if place < len(row) else None
        if cell is None or str(cell).strip() == "":
            continue
        field, units = FIELDS[role]
        value = _number(cell, decimal)
        if value is None or not isfinite(value) or value <= 0:
            text = f"{columns[role][0]!r} is {str(cell)[:40]!r}, not a finite number above 0"
            advice = "correct the cell, or take the row out"
            findings.append(
                Finding("table-value", text, advice, path=path, file=name, line=number, column=place + 1)
            )
            continue
        values[field] = value * units[columns[role][1]]
    return SoilReading(**values, path=(*path, f"row {number}"))


def _number(cell: Any, decimal: str) -> float | None:
    if isinstance(cell, bool):
        return None
    if isinstance(cell, int | float):
        return float(cell)
    text = str(cell).strip().replace("\u2212", "-")
    if decimal == ",":
        if "." in text:
            return None
        text = text.replace(",", ".")
    try:
        return float(text)
    except ValueError:
        return None


def _csv(data: bytes, name: str, delimiter: str, path: Path) -> list[list[Any]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _stop(
            path, "table-text", f"{name} is not UTF-8 text (byte {error.start})", "save as UTF-8"
        ) from error
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        return _limited(reader, name, path)
    except csv.Error as error:
        raise _stop(path, "table-text", f"{name}: {error}", "check delimiter and quotes") from error


def _xlsx(data: bytes, name: str, sheet: str | None, path: Path) -> list[list[Any]]:
    import zipfile

    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, SyntaxError, EOFError) as error:
        raise _stop(path, "table-workbook", f"{name} can not be read as a workbook: {error}") from error
    names = book.sheetnames
    if sheet is None and len(names) != 1:
        raise _stop(
            path, "table-sheet", f"{name} has {len(names)} sheets", f"give sheet: one of {', '.join(names)}"
        )
    if sheet is not None and sheet not in names:
        raise _stop(
            path, "table-sheet", f"{name} has no sheet {sheet!r}", f"its sheets are {', '.join(names)}"
        )
    return _limited(book[sheet or names[0]].iter_rows(values_only=True), name, path)


def _limited(rows: Iterable[Iterable[Any]], name: str, path: Path) -> list[list[Any]]:
    kept: list[list[Any]] = []
    for row in rows:
        if len(kept) == MAX_ROWS:
            raise _stop(
                path, "table-too-large", f"{name} has more than {MAX_ROWS} rows", "export the readings only"
            )
        kept.append(list(row))
    return kept
