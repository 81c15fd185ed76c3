"""Forms over the project file: one row per value, with unit, help and origin."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.errors import InputError
from evenground.project._edit import Drop, Insert, Put, wrapped
from evenground.web._fields import MODELS, FieldRow, field_rows, parse_field, shown
from evenground.web._panel_result import empty

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_conductors", "build_faults", "build_limits", "build_project", "form"]

Path = tuple[str | int, ...]
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


def form(window: Window, path: Path, model: str, *, leave: tuple[str, ...] = ()) -> None:
    """A form over one section of the file."""
    with ui.element("div").classes("eg-form-grid"):
        for row in field_rows(MODELS[model]):
            if row.key not in leave:
                _row(window, path, row)


def _row(window: Window, path: Path, row: FieldRow) -> None:
    place = (*path, row.key)
    entry = at(window.studio.desk.written, place)
    value = inner(entry)
    label = f"{row.label}, {row.unit}" if row.unit else row.label
    mark = {"value": shown(row, value)}

    def changed(new: Any) -> None:
        _store(window, path, row, new, mark)

    if row.kind == "yes":
        box = ui.checkbox(label, value=bool(row.default if value is None else value))
        box.on_value_change(lambda e: changed(e.value))
        element: Any = box
    elif row.kind == "choice":
        options = {c: str(c).replace("_", " ") for c in row.choices}
        chosen = value if value in row.choices else row.default if value is None else None
        element = ui.select(options, label=label, value=chosen, on_change=lambda e: changed(e.value))
        element.props("dense outlined options-dense")
    else:
        element = ui.input(label, value=mark["value"]).props("dense outlined")
        if row.default not in (None, ""):
            element.props(f'placeholder="{shown(row, row.default)}" stack-label')
        element.on("blur", lambda: changed(element.value))
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


def _origin_words(entry: Any) -> str:
    origin = entry.get("origin")
    if isinstance(origin, dict):
        return ", ".join(str(v) for v in origin.values() if v)
    return str(origin or "")


def _store(window: Window, path: Path, row: FieldRow, new: Any, mark: dict[str, Any]) -> None:
    """Write a form entry into the file when it differs."""
    desk = window.studio.desk
    place = (*path, row.key)
    if row.kind not in ("yes", "choice") and str(new or "").strip() == mark["value"]:
        return
    try:
        value = parse_field(row, new)
        present = at(desk.written, place)
        if value == inner(present):
            return
        if value is None and row.required:
            raise InputError(f"{row.label} must be given")
        words = f"set {row.label.lower()}"
        window.own_edit = True
        if value is None:
            if present is not None:
                desk.apply([Drop(place)], words)
        else:
            desk.apply(_chain(desk.written, place, value), words)
        mark["value"] = shown(row, value)
    except InputError as error:
        window.warn(str(error))
    finally:
        window.own_edit = False


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
    with ui.dialog() as dialog, ui.card().classes("eg-dialog"):
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


def _sections(window: Window, key: str) -> list[Any]:
    rows = window.studio.desk.data.get(key)
    return rows if isinstance(rows, list) else []


def section_head(title: str, *buttons: tuple[str, Any]) -> None:
    """A heading with small buttons at its right."""
    with ui.element("div").classes("eg-section"):
        with ui.element("h2"):
            ui.label(title)
        for words, act in buttons:
            ui.button(words, on_click=act).props(f'flat dense no-caps aria-label="{words}: {title}"')


def build_faults(window: Window) -> None:
    """Panel “Faults”: one form per earth fault."""
    ui.label(
        "Each fault that the earthing must survive. Shock time and thermal time are kept apart: people "
        "are exposed until the main protection clears, metal must last until the back-up does."
    ).classes("eg-soft")
    for i, fault in enumerate(_sections(window, "faults")):
        name = str(fault.get("name", f"fault {i + 1}")) if isinstance(fault, dict) else f"fault {i + 1}"
        buttons: list[tuple[str, Any]] = [("Copy", lambda i=i, f=fault: _copy(window, ("faults", i), f))]
        if len(_sections(window, "faults")) > 1:
            buttons.append(
                ("Remove", lambda i=i: window.act(lambda d: d.apply([Drop(("faults", i))], "remove a fault")))
            )
        section_head(name, *buttons)
        form(window, ("faults", i), "faults")
        if isinstance(fault, dict) and isinstance(fault.get("sequence"), dict):
            ui.label("Sequence impedances, R; X in Ω").classes("eg-soft")
            with ui.element("div").classes("eg-form-grid"):
                for key in ("z1_ohm", "z2_ohm", "z0_ohm"):
                    row = FieldRow(key, key[:2].upper(), "Ω", "numbers", "resistance, reactance", False, None)
                    _row(window, ("faults", i, "sequence"), row)


def _copy(window: Window, path: Path, entry: Any) -> None:
    new = dict(at(window.studio.desk.written, path) or entry)
    new["name"] = f"{inner(new.get('name'))} (copy)"
    *head, index = path
    assert isinstance(index, int)
    window.act(lambda d: d.apply([Insert((*head, index + 1), new)], "copy"))


def build_conductors(window: Window) -> None:
    """Panel “Conductors”: one form per kind, with the outcome of sizing beside it."""
    conductors = window.studio.desk.data.get("conductors")
    outcome = window.studio.desk.outcome
    for key in conductors if isinstance(conductors, dict) else {}:
        section_head(str(key))
        sized = outcome.study.conductors.get(key) if outcome else None
        if sized is not None:
            metal = sized.remaining_area_mm2 or sized.stock_area_mm2
            ui.label(
                f"needs {sized.required_area_mm2:.1f} mm² new ({sized.governed_by}, “{sized.scenario}”, "
                f"final temperature {sized.final_temperature_c:.0f} °C by {sized.limited_by}); "
                f"left at the end of life {metal:.1f} mm²"
                if metal
                else "no section is large enough"
            ).classes("eg-soft")
        form(window, ("conductors", str(key)), "conductors")
        ui.label("Corrosion").classes("eg-soft")
        with ui.element("div").classes("eg-form-grid"):
            for name, label, unit in (
                ("rate_mm_per_year", "Loss on each surface", "mm/year"),
                ("life_years", "Life", "years"),
                ("area_percent", "Allowance on area", "%"),
            ):
                row = FieldRow(name, label, unit, "number", label, False, 0.0)
                _row(window, ("conductors", str(key), "corrosion"), row)


def build_limits(window: Window) -> None:
    """Panel “Limits”: how touch and step are judged, and the tolerable voltages that follow."""
    outcome = window.studio.desk.outcome
    form(window, ("assessment",), "assessment")
    if outcome is None:
        empty(window, "No limits yet.", "They follow from body, time and cover with the first result.")
        return
    ui.label("Tolerable voltages").classes("eg-h")
    with ui.element("table").classes("eg-table"):
        with ui.element("tr"):
            for head in ("Zone", "Fault", "Cover factor", "Touch, V", "Step, V"):
                with ui.element("th").props('scope="col"'):
                    ui.label(head)
        for limit in outcome.study.limits:
            with ui.element("tr"):
                for cell in (
                    limit.zone,
                    limit.scenario,
                    f"{limit.surface_factor:.3f}",
                    f"{limit.touch_v:.0f}",
                    f"{limit.step_v:.0f}",
                ):
                    with ui.element("td"):
                        ui.label(cell)


def build_project(window: Window) -> None:
    """Panel “Project”: title page, assumptions and declarations."""
    form(window, ("project",), "project")
    data = window.studio.desk.data
    for key, title in (("assumptions", "Assumptions"), ("declarations", "Declared")):
        rows = data.get(key) if isinstance(data.get(key), list) else []
        ui.label(title).classes("eg-h")
        with ui.element("ul").classes("eg-list"):
            for row in rows or []:
                words = row if isinstance(row, str) else ": ".join(str(v) for v in row.values())
                with ui.element("li"):
                    ui.label(words)
        if not rows:
            ui.label("None stated. They are written in the project file and printed in the report.").classes(
                "eg-soft"
            )
