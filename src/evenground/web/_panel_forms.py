"""Forms over the project file: one row per value, with unit, help and origin."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.errors import InputError
from evenground.project._edit import Drop, Put, wrapped
from evenground.web._fields import MODELS, FieldRow, field_rows, parse_field, parse_typed, shown
from evenground.web._offers import OPTION_WORDS, offers

if TYPE_CHECKING:
    from pydantic import BaseModel

    from evenground.web._page import Window

__all__ = [
    "at",
    "choice",
    "form",
    "inner",
    "section_head",
    "with_note",
]

Path = tuple[str | int, ...]
CHOSEN = ("choice", "choices", "maybe")
ENTERED = "entered as"
"""Begins the note of a value that was typed in another unit."""
ORIGIN = ("document", "revision", "date", "note", "confidence")


def at(written: Any, path: Path) -> Any:
    """The entry at a path in the values as written, or None; origins on the way are passed through."""
    value = written
    for part in path:
        while wrapped(value):
            value = value["value"]
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            return None
    return value


def inner(value: Any) -> Any:
    """A value without its origin."""
    while wrapped(value):
        value = value["value"]
    return value


def form(window: Window, path: Path, model: str | type[BaseModel], *, leave: tuple[str, ...] = ()) -> None:
    """A form over one section of the file."""
    with ui.element("div").classes("eg-form-grid"):
        for row in field_rows(MODELS[model] if isinstance(model, str) else model):
            if row.key not in leave:
                _row(window, path, row)


def _row(window: Window, path: Path, row: FieldRow) -> None:
    place = (*path, row.key)
    entry = at(window.studio.desk.written, place)
    value = inner(entry)
    label = f"{row.label}, {row.unit}" if row.unit else row.label
    mark = {"value": shown(row, value)}

    def changed(new: Any) -> None:
        refused = _store(window, path, row, new, mark)
        if row.kind not in ("yes", *CHOSEN):
            _show_refused(element, refused, f"{mark['value']} {row.unit}".strip())

    if row.kind == "yes":
        box = ui.checkbox(label, value=bool(row.default if value is None else value))
        box.on_value_change(lambda e: changed(e.value))
        element: Any = box
    elif row.kind in CHOSEN:
        element = choice(row, value, label)
        element.on_value_change(lambda e: changed(e.value))
        element.on("popup-show", window.typing_on)
        element.on("popup-hide", window.typing_off)
    else:
        area = row.kind in ("texts", "pairs")
        if area:
            element = ui.textarea(label, value=mark["value"])
        else:
            known = offers(window.studio.desk.data, row)
            element = ui.input(label, value=mark["value"], autocomplete=known or None)
        element.props("dense outlined")
        if row.default not in (None, ""):
            element.props(f'placeholder="{shown(row, row.default)}" stack-label')
        element.on("blur", lambda: changed(element.value))
        if not area:
            element.on("keydown.enter", lambda: changed(element.value))
    element.classes("eg-field").tooltip(row.help)
    if row.kind in ("number", "whole"):
        documented = wrapped(entry)
        button = ui.button("§" if documented else "+§", on_click=lambda: _origin(window, place, row))
        button.props(f'flat dense no-caps aria-label="Origin of {row.label}"')
        button.classes("eg-origin documented" if documented else "eg-origin")
        button.tooltip(
            "Origin: " + _origin_words(entry) if documented else "State where this value comes from"
        )
        if value is None:
            button.disable()
    else:
        ui.element("span")


def _show_refused(element: Any, refused: str, stored: str) -> None:
    """Mark a field whose entry was not taken, since it shows something else than the file holds."""
    if refused:
        words = f"Not taken: {refused}. The file keeps {stored or 'none'}.".replace('"', "”")
        element.props(f'error error-message="{words}"')
    else:
        element.props(remove="error error-message")


def _words_of(answer: Any) -> str:
    if isinstance(answer, bool):
        return "yes" if answer else "no"
    return OPTION_WORDS.get(str(answer), str(answer).replace("_", " "))


def choice(row: FieldRow, value: Any, label: str) -> ui.select:
    """A field with given answers; one that may be left out can be emptied."""
    options = {c: _words_of(c) for c in row.choices}
    if row.kind == "choices":
        chosen: Any = [c for c in value or [] if c in options]
    else:
        chosen = value if value in row.choices else row.default if value is None else None
    element = ui.select(options, label=label, value=chosen, multiple=row.kind == "choices")
    element.props("dense outlined options-dense")
    if row.kind == "choices":
        element.props("use-chips")
    elif not row.required and row.default is None:
        element.props("clearable")
    return element


def _origin_words(entry: Any) -> str:
    origin = entry.get("origin")
    if isinstance(origin, dict):
        return ", ".join(str(v) for v in origin.values() if v)
    return str(origin or "")


def _store(window: Window, path: Path, row: FieldRow, new: Any, mark: dict[str, Any]) -> str:
    """Write a form entry into the file when it differs; returns why it was refused, empty when it was not."""
    desk = window.studio.desk
    place = (*path, row.key)
    if row.kind not in ("yes", *CHOSEN) and str(new or "").strip() == mark["value"]:
        return ""
    try:
        written = ""
        value: Any = None
        if row.kind == "number" and str(new or "").strip():
            strand = at(desk.data, (*path, "shape")) == "strand"
            typed = parse_typed(row, str(new), stranded=strand)
            value, written = typed.value, typed.written
        else:
            value = parse_field(row, new)
        present = at(desk.written, place)
        if value == inner(present):
            return ""
        if value is None and row.required:
            raise InputError(f"{row.label} must be given")
        words = f"set {row.label.lower()}"
        window.own_edit = True
        if value is None:
            if present is not None:
                desk.apply([Drop(place)], words)
        else:
            stored = with_note(present, value, written)
            desk.apply(_chain(desk.written, place, stored), words)
        mark["value"] = shown(row, value)
        if written:
            window.say(f"{written} is {mark['value']} {row.unit}; what was typed stands with its origin.")
    except InputError as error:
        window.warn(str(error))
        return str(error)
    finally:
        window.own_edit = False
    return ""


def with_note(present: Any, value: Any, written: str) -> Any:
    """A value with what was typed noted in its origin; a note about a former number is taken out."""
    origin = present.get("origin") if wrapped(present) else None
    if isinstance(origin, str):
        origin = {"document": origin}
    stated = dict(origin or {})
    stale = str(stated.get("note", "")).startswith(ENTERED)
    if stale:
        del stated["note"]
    if written and not stated.get("note"):
        stated["note"] = f"{ENTERED} {written}"
    if stated != (origin or {}):
        return {"value": value, "origin": stated} if stated else {"value": value}
    return value


def _chain(written: Any, place: Path, value: Any) -> list[Any]:
    """A Put; sections that are missing on the way are made."""
    for length in range(1, len(place)):
        if at(written, place[:length]) is None:
            tail: Any = value
            for part in reversed(place[length:]):
                tail = {part: tail}
            return [Put(place[:length], tail)]
    return [Put(place, value)]


def _origin(window: Window, place: Path, row: FieldRow) -> None:
    """Dialog: document, revision, date, note and confidence of one value."""
    entry = at(window.studio.desk.written, place)
    origin = entry.get("origin") if wrapped(entry) else None
    if isinstance(origin, str):
        origin = {"document": origin}
    with window.dialogs, ui.dialog() as dialog, ui.card().classes("eg-dialog"):
        ui.label(f"Origin of {row.label} = {shown(row, inner(entry))} {row.unit}").classes("eg-h")
        fields = {
            k: ui.input(k.capitalize(), value=str((origin or {}).get(k, ""))).props("dense outlined")
            for k in ORIGIN
        }

        def done() -> None:
            stated = {k: f.value.strip() for k, f in fields.items() if f.value and f.value.strip()}
            value = inner(entry)
            try:
                window.studio.desk.put(
                    place,
                    {"value": value, "origin": stated} if stated else {"value": value},
                    "state an origin",
                )
                dialog.close()
            except InputError as error:
                window.warn(str(error))

        with ui.row():
            ui.button("Take", on_click=done).props("unelevated no-caps")
            ui.button("Close", on_click=dialog.close).props("flat no-caps")
    dialog.on("hide", dialog.delete)
    dialog.open()


def section_head(title: str, *buttons: tuple[str, Any]) -> None:
    """A heading with small buttons at its right."""
    with ui.element("div").classes("eg-section"):
        with ui.element("h2"):
            ui.label(title)
        for words, act in buttons:
            ui.button(words, on_click=act).props(f'flat dense no-caps aria-label="{words}: {title}"')
