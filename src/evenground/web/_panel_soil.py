"""Panel “Soil”: sounding plot with the fits, the model and why, readings as a table, paste and drop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import events, ui

from evenground.errors import InputError
from evenground.project._edit import Change, Drop, Put
from evenground.project._schema import SoilFile, SoilModelFile, TraverseFile
from evenground.web._charts import sounding_chart
from evenground.web._fields import nested_rows
from evenground.web._panel_forms import at, form, inner, section_head
from evenground.web._panel_result import empty
from evenground.web._panel_sections import nested_part, section_form
from evenground.web._readings import COLUMNS, file_text, read_table, reading_values

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_soil"]

MAX_TABLE_BYTES = 1_000_000


def build_soil(window: Window) -> None:
    """The panel."""
    desk = window.studio.desk
    outcome = desk.outcome
    traverses = desk.data.get("soil", {}).get("traverses") or []
    if outcome is not None:
        soil = outcome.study.soil
        ui.label(f"Model: {soil.soil.describe()}").classes("eg-h")
        ui.label(f"{soil.chosen}: {soil.reason}").classes("eg-soft")
        if soil.readings:
            chart = ui.plotly(sounding_chart(soil, window.dark)).classes("eg-chart tall")
            chart.props(
                'role="img" aria-label="Apparent resistivity against spacing, with the fitted models"'
            )
            _candidates(soil)
        for words in soil.warnings:
            ui.label(f"⚠ {words}").classes("eg-warn")
    section_head("Choice of model")
    _stated(window, bool(traverses))
    section_form(window, ("soil", "model"), SoilModelFile)
    if not traverses:
        empty(
            window,
            "No readings yet.",
            "Add a traverse and paste its readings from a spreadsheet: spacing and resistance side by side.",
        )
    for i, traverse in enumerate(traverses):
        if isinstance(traverse, dict):
            _traverse(window, i, traverse)
    ui.button("Add traverse", on_click=lambda: _add(window, len(traverses))).props("flat dense no-caps")
    for row in nested_rows(SoilFile):
        if row.key in ("seasons", "fill"):
            nested_part(window, ("soil",), row)


def _stated(window: Window, surveyed: bool) -> None:
    """A model is stated: beside readings, or beside another choice, which is refused. One step settles it."""
    model = inner(at(window.studio.desk.written, ("soil", "model")))
    if not isinstance(model, dict) or inner(model.get("given")) is None:
        return
    select = inner(model.get("select")) or "auto"
    if select == "given" and not surveyed:
        return
    place = ("soil", "model")
    fitted: list[Change] = [Drop((*place, "given"))]
    if select == "given":
        fitted.insert(0, Put((*place, "select"), "auto"))
        words = "A model is stated, so the readings do not decide. Say why under Reason, or let them decide."
    else:
        words = f"A model is stated, but the choice is {str(select).replace('_', ' ')}. Only one can count."
    ui.label(words).classes("eg-soft" if select == "given" else "eg-warn")
    with ui.element("div").classes("eg-row"):
        if surveyed:
            ui.button(
                "Let the readings decide",
                on_click=lambda: window.act(lambda d: d.apply(fitted, "let the readings decide")),
            ).props("flat dense no-caps").tooltip("Takes the stated model out; Undo brings it back")
        if select != "given":
            ui.button(
                "Use the stated model",
                on_click=lambda: window.act(lambda d: d.put((*place, "select"), "given")),
            ).props("flat dense no-caps")


def _add(window: Window, count: int) -> None:
    new = {
        "name": f"T{count + 1}",
        "array": "wenner",
        "readings": [{"spacing_m": 1, "resistance_ohm": 10, "use": False, "note": "example, replace"}],
    }
    data = window.studio.desk.data.get("soil") or {}
    place: tuple[str | int, ...] = (
        ("soil", "traverses", count) if data.get("traverses") else ("soil", "traverses")
    )
    window.act(lambda d: d.put(place, new if data.get("traverses") else [new], "add a traverse"))


def _candidates(soil: Any) -> None:
    with ui.element("table").classes("eg-table"):
        with ui.element("tr"):
            for head in ("Model", "Layers", "rms misfit", "worst"):
                with ui.element("th").props('scope="col"'):
                    ui.label(head)
        for row in soil.candidates:
            with ui.element("tr").classes("chosen" if row.name == soil.chosen else ""):
                for cell in (row.name, row.soil.describe(), f"{row.rms:.1%}", f"{row.worst:.1%}"):
                    with ui.element("td"):
                        ui.label(cell)


def _traverse(window: Window, index: int, traverse: dict[str, Any]) -> None:
    array = str(traverse.get("array", "wenner"))
    columns = COLUMNS.get(array, COLUMNS["wenner"])
    section_head(
        f"{traverse.get('name', index + 1)} ({array})",
        ("Paste", lambda: _paste(window, index, array)),
        ("Add row", lambda: _add_row(window, index, traverse)),
    )
    with ui.expansion("Array, date, weather, instrument").classes("eg-expansion eg-nested").props("dense"):
        form(window, ("soil", "traverses", index), TraverseFile)
    if isinstance(traverse.get("readings_file"), dict):
        ui.label(f"The readings are in the file {traverse['readings_file'].get('file')}.").classes("eg-soft")
        return
    known = {key for key, _ in columns} | {"use"}
    raw = traverse.get("readings")
    readings = raw if isinstance(raw, list) else []
    scroll = ui.element("div").classes("eg-scroll").props('tabindex="0" role="region" aria-label="Readings"')
    with scroll, ui.element("table").classes("eg-table eg-readings"):
        with ui.element("tr"):
            for _, head in (*columns, ("use", "Use")):
                with ui.element("th").props('scope="col"'):
                    ui.label(head)
        for k, reading in enumerate(readings):
            if isinstance(reading, dict):
                row = {key: reading.get(key) for key, _ in columns}
                row |= {"use": reading.get("use", True)}
                row["rest"] = {a: b for a, b in reading.items() if a not in known}
                _reading(window, index, k, columns, row, array)
    drop = ui.upload(
        label="Drop a CSV or XLSX file",
        auto_upload=True,
        max_file_size=MAX_TABLE_BYTES,
        on_upload=lambda e: _dropped(window, index, array, e),
        on_rejected=lambda: window.warn("The file is too large for a table of readings."),
    )
    drop.props('accept=".csv,.txt,.tsv,.xlsx" flat bordered').classes("eg-drop")


def _reading(
    window: Window,
    traverse: int,
    number: int,
    columns: tuple[tuple[str, str], ...],
    row: dict[str, Any],
    array: str,
) -> None:
    def store() -> None:
        def change(desk: Any) -> None:
            values = reading_values([row], array)
            if not values:
                raise InputError("a reading needs at least one value; switch it off instead")
            desk.put(("soil", "traverses", traverse, "readings", number), values[0], "edit a reading")

        window.act(change, own=True)

    with ui.element("tr").classes("" if row["use"] else "unused"):
        for key, head in columns:
            with ui.element("td"):
                shown = (
                    ""
                    if row[key] is None
                    else f"{row[key]:.10g}"
                    if isinstance(row[key], int | float)
                    else row[key]
                )
                cell = ui.input(value=shown).props(
                    f'dense borderless input-aria-label="{head}" aria-label="{head}, reading {number + 1}"'
                )

                def left(key: str = key, cell: Any = cell, shown: str = str(shown)) -> None:
                    if str(cell.value or "") != shown and str(
                        row[key] if row[key] is not None else ""
                    ) != str(cell.value or ""):
                        row[key] = cell.value
                        store()

                cell.on("blur", left)
                cell.on("keydown.enter", left)
        with ui.element("td"):
            box = ui.checkbox(value=bool(row["use"])).props(f'dense aria-label="Use reading {number + 1}"')

            def used(e: Any) -> None:
                row["use"] = bool(e.value)
                store()

            box.on_value_change(used)


def _add_row(window: Window, index: int, traverse: dict[str, Any]) -> None:
    readings = traverse.get("readings") or []
    new = (
        dict(readings[-1])
        if readings and isinstance(readings[-1], dict)
        else {"spacing_m": 1, "resistance_ohm": 1}
    )
    window.act(
        lambda d: d.apply(
            [Put(("soil", "traverses", index, "readings", len(readings)), new)], "add a reading"
        )
    )


def _put_table(window: Window, index: int, array: str, text: str) -> bool:
    def change(desk: Any) -> None:
        rows = read_table(text, array)
        desk.put(("soil", "traverses", index, "readings"), rows, f"take {len(rows)} readings")

    return window.act(change)


def _paste(window: Window, index: int, array: str) -> None:
    with window.dialogs, ui.dialog() as dialog, ui.card().classes("eg-dialog"):
        ui.label("Paste readings").classes("eg-h")
        ui.label(
            "Copy the cells in a spreadsheet and paste them here. A first line with words names the columns; "
            "without one they are spacing and resistance. They replace the readings of this traverse."
        ).classes("eg-soft")
        area = ui.textarea("Cells").props("outlined autofocus").classes("eg-paste")

        def take() -> None:
            if _put_table(window, index, array, area.value or ""):
                dialog.close()

        with ui.row():
            ui.button("Take", on_click=take).props("unelevated no-caps")
            ui.button("Close", on_click=dialog.close).props("flat no-caps")
    dialog.on("hide", dialog.delete)
    dialog.open()


async def _dropped(window: Window, index: int, array: str, event: events.UploadEventArguments) -> None:
    data, name = await event.file.read(), event.file.name

    def change(desk: Any) -> None:
        rows = read_table(file_text(data, name), array)
        desk.put(("soil", "traverses", index, "readings"), rows, f"take {len(rows)} readings")

    window.act(change)
