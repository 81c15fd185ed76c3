"""Sheets in paper space, in mm: frame, title block, revision block, legend, notes, caution."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any

from evenground.drawing._style import LAYERS, TEXT_STYLE, Paper, mtext, plain_text
from evenground.model.study import Verdict
from evenground.schedules import CAUTION, Design

__all__ = ["Sheet", "SheetText", "draw_frame", "draw_legend_and_notes"]

MARGIN_MM = 10.0
BINDING_MM = 20.0
REVISIONS_SHOWN = 6


@dataclass(frozen=True, slots=True)
class SheetText:
    """What differs from sheet to sheet in the title block."""

    title: str
    scale: str
    number: int
    count: int


CHARACTER = 0.8
"""Mean width of a character as a share of its height, on the wide side."""
LINE = 1.67
"""Distance of lines of text as a share of the height of its capitals."""


def wrapped(words: str, width: float, height: float) -> list[str]:
    """Text in lines that fit a width. [mm]"""
    room = max(4, int(width / (CHARACTER * height)))
    return [line for part in words.split("\n") for line in (wrap(part, room) or [""])]


class Sheet:
    """Draws on one paper layout; all lengths in mm, the origin at the lower left corner of the paper.
    ``pattern`` is the line type scale, ``say`` gives words in the language of the project."""

    def __init__(self, layout: Any, paper: Paper, pattern: float, say: Callable[[str], str]) -> None:
        self.space = layout
        self.say = say
        self.paper = paper
        self.pattern = pattern
        self.h = paper.text_mm

    @property
    def column_x(self) -> float:
        """Left edge of the column for legend and title block."""
        return self.paper.width_mm - MARGIN_MM - self.paper.column_mm

    def line(self, a: tuple[float, float], b: tuple[float, float], layer: str = "EG-FRAME") -> None:
        """A line."""
        self.space.add_line(a, b, {"layer": layer, "ltscale": self.pattern})

    def box(self, x: float, y: float, width: float, height: float, layer: str = "EG-FRAME") -> None:
        """A rectangle by its lower left corner."""
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
        self.space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer, "ltscale": self.pattern})

    def text(
        self, words: str, x: float, y: float, height: float | None = None, layer: str = "EG-NOTE"
    ) -> None:
        """One line of text, lower left corner."""
        look = {"layer": layer, "style": TEXT_STYLE}
        self.space.add_text(plain_text(words), height=height or self.h, dxfattribs=look).set_placement((x, y))

    def paragraph(self, words: str, x: float, top: float, width: float, height: float | None = None) -> float:
        """Text broken into lines that fit; returns the lower edge."""
        h = height or self.h
        look = {
            "layer": "EG-NOTE", "style": TEXT_STYLE, "char_height": h, "insert": (x, top),
            "attachment_point": 1, "line_spacing_factor": 1.0,
        }  # fmt: skip
        lines = wrapped(words, width, h)
        self.space.add_mtext(mtext("\n".join(lines)), look)
        return top - len(lines) * h * LINE


def draw_frame(sheet: Sheet, design: Design, text: SheetText) -> float:
    """Frame, title block and revision block; returns the top edge of the title block. [mm]"""
    paper = sheet.paper
    width = paper.width_mm - BINDING_MM - MARGIN_MM
    sheet.box(BINDING_MM, MARGIN_MM, width, paper.height_mm - 2 * MARGIN_MM)
    x = sheet.column_x
    sheet.line((x, MARGIN_MM), (x, paper.height_mm - MARGIN_MM))
    top = _title_block(sheet, design, text)
    return _revisions(sheet, design, top)


def _title_block(sheet: Sheet, design: Design, text: SheetText) -> float:
    identity = design.identity
    h, x, w = sheet.h, sheet.column_x, sheet.paper.column_mm
    last = identity.revisions[-1] if identity.revisions else None
    say = sheet.say
    scale = f"{say('Scale')} {text.scale}" if text.scale else say("Not to scale")
    origin = say(f"Evenground {design.version}; project file {design.file_name or 'none'}")
    rows: list[tuple[str, str, float]] = [
        ("", say(CAUTION), 0.85 * h),
        ("", f"{origin}; SHA-256 {_spaced(design.input_hash) or say('none')}", 0.7 * h),
        (
            say("Sheet"),
            f"{text.number} {say('of')} {text.count}    {say('Paper')} {sheet.paper.name}    {scale}",
            h,
        ),
        (say("Revision"), f"{last.revision}    {last.date}" if last else say("none stated"), h),
        (say("Document"), identity.document_number or say("none stated"), 1.3 * h),
        (say("Client"), identity.client or say("none stated"), h),
        (say("Site"), identity.site or say("none stated"), h),
        ("", say(text.title), 1.3 * h),
        ("", identity.title, 1.5 * h),
    ]
    y = MARGIN_MM
    for label, words, size in rows:
        room = w - 4 - (9 * h if label else 0)
        height = len(wrapped(words, room, size)) * size * LINE + 1.4
        if label:
            sheet.text(label, x + 2, y + height - 0.7 - 1.2 * h, 0.8 * h)
        sheet.paragraph(words, x + 2 + (9 * h if label else 0), y + height - 1.0, room, size)
        y += height
        sheet.line((x, y), (x + w, y))
    return y


def _spaced(text: str) -> str:
    """A hash in groups, so that it can be read and wrapped."""
    return " ".join(text[i : i + 8] for i in range(0, len(text), 8))


def _revisions(sheet: Sheet, design: Design, y: float) -> float:
    h, x, w = sheet.h, sheet.column_x, sheet.paper.column_mm
    places = (0.0, 0.09, 0.27, 0.67, 0.78, 0.89)
    rows: list[Sequence[str]] = [
        (
            r.revision,
            r.date,
            r.description,
            _initials(r.prepared_by),
            _initials(r.checked_by),
            _initials(r.approved_by),
        )
        for r in design.identity.revisions[-REVISIONS_SHOWN:]
    ]
    say = sheet.say
    rows.append(tuple(say(word) for word in ("Rev", "Date", "Change", "Made", "Chk", "App")))
    for row in rows:
        room = (places[3] - places[2]) * w - 2
        height = len(wrapped(row[2], room, 0.8 * h)) * 0.8 * h * LINE + 1.2
        for place, words in zip(places, row, strict=True):
            width = room if place == places[2] else w
            sheet.paragraph(words, x + 2 + place * (w - 2), y + height - 0.9, width, 0.8 * h)
        y += height
        sheet.line((x, y), (x + w, y))
    return y


def _initials(name: str) -> str:
    """Initials of a person for the narrow columns; the report has the names in full."""
    return "".join(part[0] for part in name.replace(".", " ").split())[:4]


def draw_legend_and_notes(sheet: Sheet, design: Design, used: Sequence[str], floor: float) -> None:
    """Legend of the layers in use, sizes, and notes, from the top of the column downward."""
    h, x, w = sheet.h, sheet.column_x, sheet.paper.column_mm
    y = sheet.paper.height_mm - MARGIN_MM - 2 * h
    say = sheet.say
    sheet.text(say("Legend"), x + 2, y, 1.3 * h)
    y -= 2.4 * h
    for name in used:
        _sample(sheet, name, x + 2, y + 0.4 * h)
        sheet.text(say(LAYERS[name].meaning), x + 22, y)
        y -= 2.0 * h
    for line in (*map(say, _sizes(design)), *_notes(design)):
        lower = y - len(wrapped(line, w - 4, 0.9 * h)) * 0.9 * h * LINE
        if lower < floor + 3 * h:
            sheet.paragraph(say("Further notes: see the schedules."), x + 2, y, w - 4, 0.9 * h)
            return
        y = sheet.paragraph(line, x + 2, y, w - 4, 0.9 * h) - 0.4 * h


def _sample(sheet: Sheet, name: str, x: float, y: float) -> None:
    look = {"layer": name}
    block = {"EG-ROD": "EG-ROD", "EG-PIT": "EG-PIT", "EG-RISER": "EG-RISER", "EG-EQUIPMENT": "EG-EQUIPMENT"}
    if name in block:
        scale = sheet.h / 2
        size = {"xscale": scale, "yscale": scale}
        sheet.space.add_blockref(block[name], (x + 8, y), dxfattribs=look | size)
        return
    sheet.line((x, y), (x + 16, y), name)


def _sizes(design: Design) -> list[str]:
    leads = (item.conductor for item in design.installation.equipment)
    lines = []
    for key in dict.fromkeys((*design.keys, *leads)):
        kind = design.types.get(key)
        if kind is None:
            lines.append(f"{key}: size not stated")
            continue
        joint = "" if kind.joint == "not stated" else f", joints {kind.joint}"
        name = "rod" if key.startswith("rod ") else key
        lines.append(f"{name}: {kind.text}{joint}")
    return ["Sizes", *lines]


def _notes(design: Design) -> list[str]:
    rule = design.installation
    turn = design.identity.north_deg
    north = "North is not stated there." if turn is None else f"North: {turn:g}° clockwise from y."
    notes = [
        "Dimensions in metres. Depths are to the axis of the conductor, below finished ground.",
        f"x and y are site coordinates of the project file. {north}",
        "Conductors are joined wherever they meet, crossings included.",
        f"Trench {rule.trench_width_m:g} m wide, {rule.trench_below_m:g} m deeper than the axis.",
        "Do not scale from the drawing.",
    ]
    if design.study is not None:
        notes.append(_outcome(design))
    else:
        notes.append("This layout has not been calculated; nothing is stated about touch or step voltages.")
    notes += [f"Assumed: {text}" for text in design.assumptions]
    notes += [f"Attention: {text}" for text in design.warnings]
    say = design.language.term
    return [say("Notes"), *(f"{n}. {say(text)}" for n, text in enumerate(notes, 1))]


def _outcome(design: Design) -> str:
    assert design.study is not None
    governing = [c for c in design.study.checks if c.governing]
    broken = sum(c.verdict is Verdict.FAIL for c in governing)
    left = sum(c.verdict is Verdict.NOT_DECIDED for c in governing)
    kept = len(governing) - broken - left
    return (
        f"Study of this layout: {kept} of {len(governing)} limits checked are kept, {broken} broken, "
        f"{left} not decided; see the calculation report for inputs and for what was not checked."
    )
