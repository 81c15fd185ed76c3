"""Opening a file that claims to be DXF, from anybody, without trusting it."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from evenground.errors import Finding, InputError

if TYPE_CHECKING:
    from ezdxf.document import Drawing

__all__ = ["UNITS_M", "OpenedDrawing", "ReadLimits", "choose_unit", "open_drawing", "unit_of_code"]

UNITS_M = {
    "inch": 0.0254,
    "foot": 0.3048,
    "mile": 1609.344,
    "mm": 0.001,
    "cm": 0.01,
    "m": 1.0,
    "km": 1000.0,
    "yard": 0.9144,
    "dm": 0.1,
    "dam": 10.0,
    "hm": 100.0,
    "US survey foot": 1200 / 3937,
}
"""Drawing units and their length. [m]"""

_CODES = {
    1: "inch", 2: "foot", 3: "mile", 4: "mm", 5: "cm", 6: "m", 7: "km", 10: "yard", 14: "dm", 15: "dam",
    16: "hm", 21: "US survey foot",
}  # fmt: skip
"""$INSUNITS codes of the DXF reference that a site plan can sensibly have."""

_BINARY = b"AutoCAD Binary DXF"
_OTHERS = (
    (b"AC10", "a DWG file; save it as DXF"),
    (b"%PDF", "a PDF file; ask for the drawing as DXF"),
    (b"PK\x03\x04", "a ZIP archive; unpack it first"),
    (b"\x89PNG", "a picture; ask for the drawing as DXF"),
)


@dataclass(frozen=True, slots=True)
class ReadLimits:
    """How much of a drawing is read before it is refused.

    Attributes
    ----------
    file_bytes : int
    entities : int
        Drawing entities, those inside blocks counted each time the block is used.
    chords_per_curve : int
    nesting : int
        Blocks inside blocks.
    reach_m : float
        Largest coordinate after the shift of the origin. [m]
    """

    file_bytes: int = 200_000_000
    entities: int = 500_000
    chords_per_curve: int = 2_000
    nesting: int = 16
    reach_m: float = 100_000.0


@dataclass(frozen=True, slots=True)
class OpenedDrawing:
    """The document with what the bytes say. ``unit_code`` is 0 when the drawing states no unit."""

    document: Drawing
    sha256: str
    unit_code: int
    notes: tuple[str, ...]


def refuse(file: Path, message: str, advice: str = "") -> InputError:
    """An input error about a drawing file."""
    return InputError([Finding("drawing-file", message, advice, file=str(file))])


def open_drawing(file: Path, limits: ReadLimits) -> OpenedDrawing:
    """Open a DXF file, text or binary, R12 to R2018.

    Raises
    ------
    InputError
        When the file is missing, too large, empty, cut off, no DXF, or damaged beyond reading.
    """
    data = _bytes(file, limits)
    _look(file, data)
    document, notes = _load(file)
    # the library presumes metres when a drawing has no such variable, so look for it in the bytes
    stated = b"$INSUNITS" in data
    try:
        code = int(document.header.get("$INSUNITS", 0)) if stated else 0
    except (TypeError, ValueError):
        code = 0
    return OpenedDrawing(document, hashlib.sha256(data).hexdigest(), code, notes)


def _bytes(file: Path, limits: ReadLimits) -> bytes:
    try:
        if not file.is_file():
            raise refuse(file, "is not a file" if file.exists() else "does not exist")
        size = file.stat().st_size
        if size > limits.file_bytes:
            raise refuse(file, f"has {size} bytes, more than the limit of {limits.file_bytes}")
        data = file.read_bytes()
    except (OSError, ValueError) as error:
        raise refuse(file, getattr(error, "strerror", None) or str(error)) from error
    if not data.strip():
        raise refuse(file, "is empty")
    return data


def _look(file: Path, data: bytes) -> None:
    """Cheap checks on the bytes before the library sees the file."""
    for magic, what in _OTHERS:
        if data.startswith(magic):
            raise refuse(file, f"is {what}")
    if b"SECTION" not in data:
        raise refuse(file, "is not a DXF file", "export the drawing as DXF, R2000 or later")
    tail = data[-400:].rstrip(b" \t\r\n\0\x1a")
    if not tail.endswith(b"EOF"):
        raise refuse(
            file, "ends early: the end mark is missing", "copy or export it again; part of it is lost"
        )
    if b"ENTITIES" not in data:
        raise refuse(file, "is a DXF file without entities", "export the drawing, not a template")


def _load(file: Path) -> tuple[Drawing, tuple[str, ...]]:
    from ezdxf import recover
    from ezdxf.filemanagement import readfile

    try:
        return readfile(os.fspath(file)), ()
    except Exception as first:
        # hostile or damaged files make the library raise nearly anything; the second way is its repair
        try:
            document, auditor = recover.readfile(os.fspath(file))
        except Exception as second:
            raise refuse(file, f"could not be read as DXF: {_words(second)}", "export it again") from first
        found = len(auditor.errors) + len(auditor.fixes)
        note = (
            f"The file is damaged ({_words(first)}); it was repaired with {found} remarks. Check the preview."
        )
        return document, (note,)


def _words(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return (text[:160] or type(error).__name__).rstrip(".")


def unit_of_code(code: int) -> str:
    """Name of the unit that a drawing states by its code; empty when it is none of a site plan."""
    return _CODES.get(code, "")


def choose_unit(file: Path, code: int, asked: str | None) -> tuple[str, float, str, tuple[str, ...]]:
    """Unit, its length, who stated it, and notes.

    Raises
    ------
    InputError
        When nobody states a unit, or it is no unit of a site plan.
    """
    stated = _CODES.get(code)
    if asked is not None:
        if asked not in UNITS_M:
            raise refuse(file, f"“{asked}” is not a drawing unit", f"use one of {', '.join(UNITS_M)}")
        notes: tuple[str, ...] = ()
        if stated is not None and stated != asked:
            notes = (f"The drawing says {stated}; it was read in {asked} as the user asked.",)
        return asked, UNITS_M[asked], "user", notes
    if code == 0:
        raise refuse(
            file,
            "states no unit of length ($INSUNITS is 0 or missing)",
            f"measure a known distance in it and give the unit: {', '.join(UNITS_M)}",
        )
    if stated is None:
        raise refuse(file, f"has $INSUNITS = {code}, no unit of a site plan", "give the unit yourself")
    return stated, UNITS_M[stated], "drawing", ()
