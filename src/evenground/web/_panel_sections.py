"""Sections inside sections of the project file as forms: add, copy, remove, edit; lists open on demand."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.errors import InputError
from evenground.project._edit import Change, Drop, Insert, Put
from evenground.web._fields import FieldRow, NestedRow, field_rows, nested_rows, parse_field, parse_typed
from evenground.web._offers import offers
from evenground.web._panel_forms import CHOSEN, Path, at, choice, form, inner, section_head, with_note

if TYPE_CHECKING:
    from pydantic import BaseModel

    from evenground.web._page import Window

__all__ = ["adder", "adding", "copier", "nested_part", "section_form"]

NAMES = ("name", "tag", "subject", "layer", "fault", "revision", "place", "where", "kind", "to")
MOST = 200


def section_form(window: Window, path: Path, model: type[BaseModel], *, leave: tuple[str, ...] = ()) -> None:
    """A section with everything inside it."""
    form(window, path, model, leave=leave)
    for row in nested_rows(model):
        if row.key not in leave:
            nested_part(window, path, row)


def nested_part(window: Window, path: Path, row: NestedRow, title: str = "") -> None:
    """One section inside a section: its entries, and buttons to add and remove them."""
    place = (*path, row.key)
    value = inner(at(window.studio.desk.written, place))
    title = title or row.label
    if row.kind == "one":
        if value is None:
            section_head(title, ("State", lambda: _ask(window, row.model, title, place)))
            ui.label(row.help).classes("eg-soft")
        else:
            _entry(window, place, row.model, title, removable=not row.required)
        return
    rows = value if isinstance(value, list | dict) else []
    section_head(f"{title} ({len(rows)})", ("Add", lambda: _add(window, place, row, title)))
    if not rows:
        ui.label(row.help).classes("eg-soft")
    keys: list[str | int] = list(rows) if isinstance(rows, dict) else list(range(len(rows)))
    for key in keys[:MOST]:
        head = f"{title}: {key}" if isinstance(rows, dict) else _title(rows[int(key)], int(key), title)
        _entry(window, (*place, key), row.model, head, removable=True, copyable=isinstance(rows, list))
    if len(keys) > MOST:
        ui.label(f"{len(keys) - MOST} more are edited in the project file.").classes("eg-soft")


def _title(entry: Any, index: int, kind: str) -> str:
    plain = inner(entry)
    names = [inner(plain[k]) for k in NAMES if plain.get(k)] if isinstance(plain, dict) else []
    if not names:
        return f"{kind} {index + 1}"
    return " · ".join(str(n).replace("_", " ") for n in dict.fromkeys(names[:2]))


def _entry(
    window: Window,
    place: Path,
    model: type[BaseModel],
    title: str,
    *,
    removable: bool,
    copyable: bool = False,
) -> None:
    """A section that is filled when it is opened; it stays open when the panel is built anew."""
    expansion = (
        ui.expansion(title, value=place in window.opened).classes("eg-expansion eg-nested").props("dense")
    )
    with expansion:
        box = ui.element("div").classes("eg-nested-body")

    def fill() -> None:
        if box.default_slot.children:
            return
        with box:
            section_form(window, place, model)
            with ui.element("div").classes("eg-row"):
                if copyable:
                    _button("Copy", title, lambda: _copy(window, place))
                if removable:
                    _button("Remove", title, lambda: _remove(window, place))

    def toggled(event: Any) -> None:
        (window.opened.add if event.value else window.opened.discard)(place)
        if event.value:
            fill()

    expansion.on_value_change(toggled)
    if place in window.opened:
        fill()


def _button(words: str, title: str, act: Any) -> None:
    ui.button(words, on_click=act).props(f'flat dense no-caps aria-label="{words} {_plain(title)}"')


def _plain(words: str) -> str:
    return words.replace('"', "”")


def _remove(window: Window, place: Path) -> None:
    window.opened = {p for p in window.opened if p[: len(place) - 1] != place[:-1]}
    window.act(lambda d: d.apply([Drop(place)], "remove a section"))


def copier(window: Window, place: Path) -> Callable[[], None]:
    """An act that copies an entry of a list."""
    return lambda: _copy(window, place)


def adder(window: Window, path: Path, row: NestedRow, title: str) -> Callable[[], None]:
    """An act that asks for a new entry of a list, or of entries by key."""
    return lambda: _add(window, (*path, row.key), row, title)


def _copy(window: Window, place: Path) -> None:
    new = dict(inner(at(window.studio.desk.written, place)))
    for key in ("name", "tag"):
        if key in new:
            new[key] = f"{inner(new[key])} (copy)"
    *head, index = place
    assert isinstance(index, int)
    window.act(lambda d: d.apply([Insert((*head, index + 1), new)], "copy a section"))


def adding(written: Any, place: Path, value: Any) -> list[Change]:
    """The changes that put a value at a place; sections that are missing on the way are made."""
    for length in range(1, len(place)):
        if inner(at(written, place[:length])) is None:
            tail: Any = value
            for part in reversed(place[length:]):
                tail = [tail] if isinstance(part, int) else {part: tail}
            return [Put(place[:length], tail)]
    return [Put(place, value)]


def _add(window: Window, place: Path, row: NestedRow, title: str) -> None:
    """Ask for what a new entry needs; a named one needs its key as well."""
    rows = inner(at(window.studio.desk.written, place))
    if row.kind == "named":
        _ask(window, row.model, title, place, named=True)
    else:
        _ask(window, row.model, title, (*place, len(rows) if isinstance(rows, list) else 0))


def _needed(model: type[BaseModel], path: Path = ()) -> list[tuple[Path, FieldRow, str]]:
    """Fields that an entry can not be without, those of inner sections with the section's name."""
    rows = [(path, r, "") for r in field_rows(model) if r.required]
    for row in nested_rows(model):
        if row.required:
            step: Path = (*path, row.key, 0) if row.kind == "many" else (*path, row.key)
            rows += [(p, r, f"{row.label}: ") for p, r, _ in _needed(row.model, step)]
    return rows


def _ask(window: Window, model: type[BaseModel], title: str, place: Path, *, named: bool = False) -> None:
    """Dialog with the fields that a new section needs; without any it is made at once."""
    needed = _needed(model)
    if not needed and not named:
        window.opened.add(place)
        window.act(lambda d: d.apply(adding(d.written, place, {}), f"add {title.lower()}"))
        return
    with window.dialogs, ui.dialog() as dialog, ui.card().classes("eg-dialog"):
        ui.label(f"New: {title}").classes("eg-h")
        ui.label((model.__doc__ or "").strip().splitlines()[0]).classes("eg-soft")
        name = ui.input("Key").props("dense outlined") if named else None
        fields = []
        for step, row, before in needed:
            label = f"{before}{row.label}" + (f", {row.unit}" if row.unit else "")
            if row.kind in CHOSEN:
                element: Any = choice(row, None, label)
            elif row.kind == "yes":
                element = ui.checkbox(label)
            else:
                known = offers(window.studio.desk.data, row)
                element = ui.input(label, autocomplete=known or None)
                element.props(f'dense outlined hint="{_plain(row.help)}"')
            fields.append((step, row, element.classes("eg-asked")))

        def take() -> None:
            try:
                value = _filled(fields)
                target = place
                if name is not None:
                    if not str(name.value or "").strip():
                        raise InputError("a key is needed")
                    target = (*place, str(name.value).strip())
                window.opened.add(target)
                if window.act(lambda d: d.apply(adding(d.written, target, value), f"add {title.lower()}")):
                    dialog.close()
            except InputError as error:
                window.warn(str(error))

        with ui.row():
            ui.button("Add", on_click=take).props("unelevated no-caps")
            ui.button("Close", on_click=dialog.close).props("flat no-caps")
    dialog.on("hide", dialog.delete)
    dialog.open()


def _filled(fields: list[tuple[Path, FieldRow, Any]]) -> dict[str, Any]:
    """The values of a dialog as a section of the file."""
    value: dict[str, Any] = {}
    for step, row, element in fields:
        text, written = element.value, ""
        if row.kind == "number" and str(text or "").strip():
            typed = parse_typed(row, str(text))
            entry, written = typed.value, typed.written
        else:
            entry = parse_field(row, text)
        if entry is None:
            raise InputError(f"{row.label} must be given")
        holder: Any = value
        for number, part in enumerate(step):
            if isinstance(holder, list):
                if not holder:
                    holder.append({})
                holder = holder[0]
            else:
                follows = step[number + 1 : number + 2]
                holder = holder.setdefault(part, [] if follows == (0,) else {})
        holder[row.key] = with_note(None, entry, written)
    return value
