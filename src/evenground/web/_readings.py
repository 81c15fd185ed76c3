"""Soil readings as a table: from the file, a spreadsheet, CSV text or a workbook. Pure functions."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from typing import Any

from evenground.errors import InputError
from evenground.web._fields import parse_number

__all__ = ["COLUMNS", "file_text", "read_table", "reading_values"]

COLUMNS: dict[str, tuple[tuple[str, str], ...]] = {
    "wenner": (
        ("spacing_m", "Spacing a, m"),
        ("resistance_ohm", "Resistance, Ω"),
        ("voltage_v", "Voltage, V"),
        ("current_a", "Current, A"),
        ("probe_depth_m", "Probe depth, m"),
    ),
    "schlumberger": (
        ("half_current_spacing_m", "AB/2, m"),
        ("half_potential_spacing_m", "MN/2, m"),
        ("resistance_ohm", "Resistance, Ω"),
        ("voltage_v", "Voltage, V"),
        ("current_a", "Current, A"),
        ("probe_depth_m", "Probe depth, m"),
    ),
    "driven_rod": (
        ("rod_length_m", "Rod in the ground, m"),
        ("resistance_ohm", "Resistance, Ω"),
        ("voltage_v", "Voltage, V"),
        ("current_a", "Current, A"),
    ),
}
MOST_ROWS = 2000
MOST_CELLS = 60
MOST_UNPACKED_BYTES = 40_000_000
_HEADS = (
    (r"spacing|^a\b|abstand|sonde", "spacing_m"),
    (r"ab\s*/?\s*2|half.?current", "half_current_spacing_m"),
    (r"mn\s*/?\s*2|half.?potential", "half_potential_spacing_m"),
    (r"rod.*(length|depth)|driven", "rod_length_m"),
    (r"apparent|rho|resistivity", "apparent_resistivity_ohm_m"),
    (r"resistance|^r\b|ohm|Ω", "resistance_ohm"),
    (r"volt|^v\b|^u\b", "voltage_v"),
    (r"current|^i\b|amp", "current_a"),
    (r"probe|depth", "probe_depth_m"),
)


def read_table(text: str, array: str) -> list[dict[str, Any]]:
    """Readings from pasted or dropped text: tab, semicolon or comma between columns.

    A first line with words names the columns; without one they are, for Wenner, spacing and
    resistance (then voltage and current are not guessed), for Schlumberger AB/2, MN/2 and resistance.

    Raises
    ------
    InputError
        With the line that could not be read; nothing is taken then.
    """
    if len(text) > 1_000_000:
        raise InputError("the text is too long for a table of soil readings")
    delimiter = next((d for d in ("\t", ";") if d in text), None)
    decimal = delimiter is not None and re.search(r"\d,\d", text) is not None
    if delimiter is None:
        delimiter = "," if "," in text else " "
        text = text if delimiter == "," else re.sub(r"[ ]+", " ", text)
    rows = [
        (n, [c.strip() for c in r])
        for n, r in enumerate(csv.reader(io.StringIO(text), delimiter=delimiter), 1)
        if any(c.strip() for c in r)
    ]
    if not rows or len(rows) > MOST_ROWS:
        raise InputError("there are no readings in the text" if not rows else f"more than {MOST_ROWS} rows")
    keys = _default_keys(array, len(rows[0][1]))
    if not any(_is_number(c, decimal) for c in rows[0][1]):
        keys = [_key_of(c) for c in rows[0][1]]
        rows = rows[1:]
    readings = []
    for line, cells in rows:
        reading: dict[str, Any] = {}
        for key, cell in zip(keys, cells, strict=False):
            if key and cell:
                try:
                    reading[key] = parse_number(cell.replace(",", ".") if decimal else cell)
                except InputError as error:
                    raise InputError(f"line {line}: {error}; nothing was taken") from None
        if reading:
            readings.append(reading)
    if not readings:
        raise InputError("no column could be recognised; name them, as “spacing” and “resistance”")
    return readings


def file_text(data: bytes, name: str) -> str:
    """A dropped CSV, text or XLSX file as text for ``read_table``; cells of a workbook parted by tabs.

    Of a workbook the only sheet that is not empty is taken. Rows with a single cell above the first
    wider row are titles and become empty lines, so that line numbers are those of the sheet.

    Raises
    ------
    InputError
        When it is no workbook, too large, or has readings on several sheets.
    """
    if not name.lower().endswith(".xlsx"):
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError:
            return data.decode("latin-1")
    filled = {title: rows for title, rows in _sheets(data, name).items() if any(map(any, rows))}
    if len(filled) != 1:
        told = f"has {len(filled)} sheets with cells: {', '.join(filled)}" if filled else "holds no cells"
        raise InputError(f"{name} {told}; drop a workbook with one sheet, or paste the cells")
    (rows,) = filled.values()
    first = next((n for n, row in enumerate(rows) if sum(map(bool, row)) > 1), 0)
    return "\n".join("" if n < first else "\t".join(row) for n, row in enumerate(rows))


def _sheets(data: bytes, name: str) -> dict[str, list[list[str]]]:
    """The cells of every sheet as text."""
    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED_BYTES:
                raise InputError(f"{name} is too large for a table of readings")
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        return {
            sheet.title: [
                [_cell_text(c) for c in row]
                for row in sheet.iter_rows(max_row=MOST_ROWS + 50, max_col=MOST_CELLS, values_only=True)
            ]
            for sheet in book.worksheets
        }
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, SyntaxError, EOFError) as error:
        raise InputError(f"{name} can not be read as a workbook: {error}") from None


def _cell_text(cell: Any) -> str:
    if cell is None:
        return ""
    return " ".join((f"{cell:.12g}" if isinstance(cell, float) else str(cell)).split())


def _default_keys(array: str, width: int) -> list[str]:
    keys = {"wenner": ["spacing_m"], "driven_rod": ["rod_length_m"]}.get(
        array, ["half_current_spacing_m", "half_potential_spacing_m"]
    )
    return [*keys, "resistance_ohm"][:width]


def _key_of(head: str) -> str:
    for pattern, key in _HEADS:
        if re.search(pattern, head, re.IGNORECASE):
            return key
    return ""


def _is_number(text: str, decimal: bool) -> bool:
    try:
        parse_number(text.replace(",", ".") if decimal else text)
    except InputError:
        return False
    return True


def reading_values(rows: list[dict[str, Any]], array: str) -> list[dict[str, Any]]:
    """Table rows as readings for the file; empty cells are left out, empty rows too.

    Raises
    ------
    InputError
        When a cell is not a number.
    """
    readings = []
    for row in rows:
        reading = dict(row.get("rest") or {})
        for key, _ in COLUMNS.get(array, COLUMNS["wenner"]):
            value = row.get(key)
            if value not in (None, ""):
                reading[key] = parse_number(str(value))
        if row.get("use") is False:
            reading["use"] = False
        if set(reading) - {"use"}:
            readings.append(reading)
    return readings
