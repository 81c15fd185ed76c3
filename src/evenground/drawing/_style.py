"""Layers, line types, text and the cleaning of text that users wrote."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ezdxf.document import Drawing

__all__ = [
    "LAYERS",
    "PAPERS",
    "Paper",
    "clean",
    "conductor_layer",
    "mtext",
    "new_document",
    "no_clock",
    "plain_text",
]


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet in landscape with the width of its column for legend and title block. [mm]"""

    name: str
    width_mm: float
    height_mm: float
    column_mm: float
    text_mm: float


PAPERS = {"A1": Paper("A1", 841.0, 594.0, 180.0, 3.5), "A3": Paper("A3", 420.0, 297.0, 98.0, 2.0)}
"""Sheet sizes of ISO 216."""


@dataclass(frozen=True, slots=True)
class LayerStyle:
    """Look and meaning of one layer; line weight in 1/100 mm. Colour never carries meaning alone."""

    name: str
    color: int
    linetype: str
    lineweight: int
    meaning: str


LAYERS = {
    s.name: s
    for s in (
        LayerStyle("EG-MAT", 5, "CONTINUOUS", 50, "mat conductor"),
        LayerStyle("EG-RUN", 30, "EG-DASH", 50, "other buried conductor"),
        LayerStyle("EG-LEAD", 94, "EG-SHORT", 35, "lead to equipment"),
        LayerStyle("EG-ROD", 1, "CONTINUOUS", 35, "rod with number and length"),
        LayerStyle("EG-PIT", 1, "CONTINUOUS", 35, "inspection pit with link"),
        LayerStyle("EG-RISER", 94, "CONTINUOUS", 35, "riser"),
        LayerStyle("EG-EQUIPMENT", 7, "CONTINUOUS", 25, "equipment"),
        LayerStyle("EG-FENCE", 34, "EG-FENCE", 35, "fence"),
        LayerStyle("EG-GATE", 34, "CONTINUOUS", 70, "gate"),
        LayerStyle("EG-ZONE", 8, "EG-DASHDOT", 25, "edge of surface cover"),
        LayerStyle("EG-OUTLINE", 9, "EG-DOT", 18, "outline of the area taken by the mat"),
        LayerStyle("EG-TEXT", 7, "CONTINUOUS", 18, ""),
        LayerStyle("EG-DIMENSION", 8, "CONTINUOUS", 18, ""),
        LayerStyle("EG-FRAME", 7, "CONTINUOUS", 50, ""),
        LayerStyle("EG-NOTE", 7, "CONTINUOUS", 18, ""),
        LayerStyle("EG-DETAIL", 7, "CONTINUOUS", 35, ""),
        LayerStyle("EG-VIEW", 9, "CONTINUOUS", 9, ""),
    )
}
"""Layers by name. Conductor layers get the conductor key appended, as in ``EG-MAT-RING``."""

_LINETYPES = (
    ("EG-DASH", "long dashes", [7.0, 5.5, -1.5]),
    ("EG-SHORT", "short dashes", [3.0, 2.0, -1.0]),
    ("EG-DASHDOT", "dash and dot", [8.0, 6.0, -1.0, 0.0, -1.0]),
    ("EG-DOT", "dots", [1.5, 0.0, -1.5]),
    ("EG-FENCE", "dash and two dots", [10.0, 6.0, -1.2, 0.0, -1.6, 0.0, -1.2]),
)
"""Name, words, pattern in mm on paper."""

TEXT_STYLE = "EG-TEXT"


def clean(text: str, longest: int = 250) -> str:
    """Text of users without control characters, which would break or forge a drawing file."""
    return "".join(c if c.isprintable() else " " for c in text)[:longest]


def plain_text(text: str) -> str:
    """Text for TEXT and attributes, where two per cent signs begin a control code."""
    return re.sub("%%+", lambda m: "% " * len(m.group()), clean(text))


def mtext(text: str) -> str:
    """Text for MTEXT, whose markup uses backslash and braces; lines stay lines."""
    lines = [clean(line, 2000) for line in text.split("\n")]
    marked = [line.replace("\\", "\\\\").replace("{", "\\{").replace("}", "\\}") for line in lines]
    return "\\P".join(line.replace("%%", "% % ") for line in marked)


def conductor_layer(kind: str, key: str) -> str:
    """Layer of a conductor: by its kind and its conductor key."""
    base = "EG-MAT" if kind == "mat" else "EG-RISER" if kind == "riser" else "EG-RUN"
    return f"{base}-{re.sub('[^A-Za-z0-9]+', '_', key).strip('_').upper() or 'OTHER'}"


def new_document(font: str, pattern: float) -> Drawing:
    """An R2018 document in metres with our layers, line types and text style.

    ``pattern`` is the length in model space of 1 mm of a line pattern; things in paper space take its
    inverse as their line type scale.
    """
    from ezdxf import units
    from ezdxf.filemanagement import new

    with no_clock():
        document = new("R2018", units=units.M)
    document.header["$LTSCALE"] = 1.0
    document.header["$PSLTSCALE"] = 0
    for name, words, elements in _LINETYPES:
        document.linetypes.add(name, [e * pattern for e in elements], description=words)
    document.styles.add(TEXT_STYLE, font=font)
    for style in LAYERS.values():
        add_layer(document, style.name, style)
    document.layers.get("EG-VIEW").dxf.plot = 0
    return document


@contextmanager
def no_clock() -> Iterator[None]:
    """Keep date and random identifiers out of the file."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def add_layer(document: Drawing, name: str, style: LayerStyle) -> None:
    """Add a layer that looks like a style, unless it is there."""
    if name not in document.layers:
        document.layers.add(
            name, color=style.color, linetype=style.linetype, lineweight=style.lineweight
        ).description = style.meaning
