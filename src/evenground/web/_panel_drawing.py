"""Panel “Drawing”: a DXF file under the plan, and what its layers are taken for."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from nicegui import events, ui

from evenground.errors import InputError
from evenground.project import parse_project
from evenground.project._drawn import _MEANT_FOR, _NEEDED
from evenground.project._edit import Drop, Put
from evenground.project._schema_drawing import LayerFile, SiteDrawingFile
from evenground.web._backdrop import drawings_in, keep_drawing, section_of, take_over
from evenground.web._fields import FieldRow, field_rows, parse_field, parse_typed, shown
from evenground.web._guard import MAX_UPLOAD_BYTES
from evenground.web._panel_forms import CHOSEN, choice, form, section_head
from evenground.web._panel_result import empty
from evenground.web._tables import table

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_drawing"]

ROLES = {
    "conductor": "buried conductor",
    "rod": "rod",
    "outline": "outline of a mat",
    "fence": "fence",
    "gate": "gate",
    "equipment": "equipment",
    "zone": "surface cover",
    "ignore": "leave it, background only",
}


def build_drawing(window: Window) -> None:
    """The drawing in use, or how to bring one in."""
    data = window.studio.desk.data
    section = data.get("site_drawing") if isinstance(data, dict) else None
    if not isinstance(section, dict):
        empty(
            window,
            "No site drawing yet.",
            "Bring a DXF drawing in: it lies under the plan, lines snap to it, and layers can be taken over "
            "as conductors, rods, fences, equipment or cover. Nothing is guessed.",
        )
        _bring(window)
        return
    backdrop = window.studio.backdrop
    if backdrop is not None and backdrop.failure:
        ui.label(backdrop.failure).classes("eg-warn")
    _layers(window, section)
    _taken(window)
    section_head("Unit and origin")
    form(window, ("site_drawing",), SiteDrawingFile)
    with ui.element("div").classes("eg-row"):
        ui.button(
            "Take the drawing away",
            on_click=lambda: window.act(
                lambda d: d.apply([Drop(("site_drawing",))], "take the drawing away")
            ),
        ).props("flat dense no-caps")


def _bring(window: Window) -> None:
    upload = ui.upload(
        label="Drop a DXF file",
        auto_upload=True,
        max_file_size=MAX_UPLOAD_BYTES - 200_000,
        on_upload=lambda e: _dropped(window, e),
        on_rejected=lambda: window.warn(
            f"The page takes drawings up to {MAX_UPLOAD_BYTES // 1_000_000} MB; put a larger one into the "
            "folder of the project file and choose it here."
        ),
    )
    upload.props('accept=".dxf" flat bordered').classes("eg-drop")
    names = drawings_in(window.studio.desk.path.parent)
    if names:
        chosen = ui.select(names, label="or one that lies beside the project file")
        chosen.props("dense outlined options-dense").classes("eg-wide")
        chosen.on_value_change(lambda e: window.background(_use(window, str(e.value))))


async def _dropped(window: Window, event: events.UploadEventArguments) -> None:
    data = await event.file.read()
    try:
        name = keep_drawing(window.studio.desk.path.parent, event.file.name, data)
    except (InputError, OSError) as error:
        window.warn(str(error))
        return
    await _use(window, name)


async def _use(window: Window, name: str) -> None:
    try:
        section = await asyncio.to_thread(section_of, window.studio.desk.path.parent, name)
    except InputError as error:
        window.warn(str(error))
        return
    window.act(lambda d: d.put(("site_drawing",), section, f"lay {name} under the plan"))


def _layers(window: Window, section: dict[str, Any]) -> None:
    backdrop = window.studio.backdrop
    counts = dict(backdrop.listing.layers) if backdrop is not None and backdrop.listing is not None else {}
    rows = section.get("layers") or []
    section_head(f"Layers of {section.get('file')} ({len(rows)})")
    with ui.element("ul").classes("eg-objects eg-layers"):
        for index, row in enumerate(rows):
            held = counts.get(row.get("layer"), {})
            words = ", ".join(f"{n} {kind.lower()}" for kind, n in sorted(held.items()))
            with ui.element("li").classes("" if row.get("take_as") == "ignore" else "picked"):
                with ui.element("div"):
                    ui.label(str(row.get("layer"))).classes("eg-value")
                    ui.label(f"{words}; " * bool(words) + ROLES.get(row.get("take_as"), "")).classes(
                        "eg-soft"
                    )
                name = str(row.get("layer")).replace('"', "")
                ui.button("Take as", on_click=lambda i=index, r=row: _ask(window, i, r)).props(
                    f'flat dense no-caps aria-label="Take as: layer {name}"'
                )


def _ask(window: Window, index: int, row: dict[str, Any]) -> None:
    """Dialog: what a layer is, with the fields that this needs; written in one step."""
    rows = {r.key: r for r in field_rows(LayerFile)}
    with window.dialogs, ui.dialog() as dialog, ui.card().classes("eg-dialog"):
        ui.label(f"Layer {row.get('layer')}").classes("eg-h")
        role = ui.select(ROLES, value=row.get("take_as", "ignore"), label="Take as").props("dense outlined")
        role.classes("eg-asked")
        box = ui.element("div").classes("eg-form-one")
        fields: dict[str, Any] = {}

        def fill() -> None:
            box.clear()
            fields.clear()
            with box:
                for key in _keys(str(role.value)):
                    fields[key] = _field(rows[key], row.get(key), needed=key in _needed(str(role.value)))

        role.on_value_change(fill)
        fill()

        def take() -> None:
            try:
                value = {"layer": row["layer"], "take_as": role.value} | _read(rows, fields, str(role.value))
                if window.act(
                    lambda d: d.apply([Put(("site_drawing", "layers", index), value)], "take a layer")
                ):
                    dialog.close()
            except InputError as error:
                window.warn(str(error))

        with ui.row():
            ui.button("Take", on_click=take).props("unelevated no-caps")
            ui.button("Close", on_click=dialog.close).props("flat no-caps")
    dialog.on("hide", dialog.delete)
    dialog.open()


def _needed(role: str) -> tuple[str, ...]:
    return ("depth_m",) if role == "conductor" else _NEEDED.get(role, ())


def _keys(role: str) -> list[str]:
    if role == "ignore":
        return []
    keys = [*_needed(role), *(k for k, roles in _MEANT_FOR.items() if role in roles)]
    named = ("name",) if role in ("fence", "gate", "zone", "outline") else ()
    more = ("material", "state") if role == "zone" else ()
    return list(dict.fromkeys([*named, *keys, *more]))


def _field(row: FieldRow, value: Any, *, needed: bool) -> Any:
    label = row.label + (f", {row.unit}" if row.unit else "") + (" (needed)" if needed else "")
    if row.kind in CHOSEN:
        return choice(row, value, label)
    return ui.input(label, value=shown(row, value)).props("dense outlined").tooltip(row.help)


def _read(rows: dict[str, FieldRow], fields: dict[str, Any], role: str) -> dict[str, Any]:
    values = {}
    for key, element in fields.items():
        text = element.value
        if rows[key].kind == "number" and str(text or "").strip():
            values[key] = parse_typed(rows[key], str(text)).value
            continue
        value = parse_field(rows[key], text)
        if value is not None:
            values[key] = value
    missing = [rows[k].label for k in _needed(role) if k not in values]
    if missing:
        raise InputError(f"needed for this: {', '.join(missing)}")
    return values


def _taken(window: Window) -> None:
    """What the last study took, and the way to make it part of the layout."""
    outcome = window.studio.desk.outcome
    source = outcome.study.project.site_drawing if outcome is not None else None
    if source is None:
        return
    ui.label("Taken from the drawing").classes("eg-h")
    table(
        ("Layer", "Type", "Taken", "Left"),
        [
            (
                r.layer,
                r.type.lower(),
                f"{r.taken} as {r.role}" if r.taken else "",
                f"{r.left}: {r.reason}" if r.left else "",
            )
            for r in source.preview
            if r.role not in ("", "ignore")
        ],
        label="What was taken from the drawing and what was left",
    )
    ui.label(
        f"Unit {source.unit} (stated by the {source.unit_from}); origin {source.origin_m[0]:g}, "
        f"{source.origin_m[1]:g} m; curves within {1000 * source.sagitta_m:g} mm."
    ).classes("eg-soft")
    for words in source.notes:
        ui.label(words).classes("eg-soft")
    ui.button("Make it part of the layout", on_click=lambda: _own(window)).props("unelevated no-caps")
    ui.label(
        "Writes what was taken into the project file, where it can be edited on the plan; the drawing stays "
        "as a background."
    ).classes("eg-soft")


def _own(window: Window) -> None:
    desk = window.studio.desk

    def change(_: Any) -> None:
        project = parse_project(desk.text, desk.path.name, desk.path.parent)
        changes, counts = take_over(project, desk.data)
        words = ", ".join(f"{n} {k}" for k, n in counts.items())
        desk.apply(changes, f"take over {words} from the drawing")
        window.say(f"Taken over: {words}.")

    window.act(change)
