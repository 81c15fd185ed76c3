"""Panel “Layout”: every object of the plan as a form, so that each edit is possible without a mouse."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.errors import InputError
from evenground.project._schema_installation import EquipmentFile, FenceFile, GateFile
from evenground.project._schema_site import (
    MatFile,
    ProfileFile,
    RodListFile,
    RunFile,
    SectionFile,
    ZoneFile,
)
from evenground.web._commands import find
from evenground.web._fields import FieldRow, parse_typed
from evenground.web._panel_forms import section_head
from evenground.web._panel_result import empty
from evenground.web._panel_sections import section_form
from evenground.web._shapes import base_path
from evenground.web._view import plan_view

if TYPE_CHECKING:
    from pydantic import BaseModel

    from evenground.web._page import Window

__all__ = ["build_layout"]

TITLES = {
    "mat": "Mats",
    "rod": "Rods",
    "run": "Conductor runs",
    "cover": "Surface covers",
    "fence": "Fences",
    "gate": "Gates",
    "item": "Equipment",
    "line": "Profile lines",
    "cut": "Sections in depth",
}
NEW: dict[str, tuple[str, dict[str, Any]]] = {
    "mat": ("New mat", {"do": "add_mat", "points": [[0, 0], [40, 0], [40, 30], [0, 30]]}),
    "rod": ("New rod", {"do": "add_rod", "at": [0, 0]}),
    "run": ("New run", {"do": "add_run", "points": [[0, 0], [10, 0]]}),
    "cover": ("New cover", {"do": "add_cover", "points": [[-1, -1], [41, -1], [41, 31], [-1, 31]]}),
    "fence": ("New fence", {"do": "add_fence", "points": [[-2, -2], [42, -2]]}),
    "gate": ("New gate", {"do": "add_gate", "points": [[10, -2], [14, -2]]}),
    "item": ("New equipment", {"do": "add_item", "at": [5, 5]}),
    "line": ("New line", {"do": "add_line", "points": [[0, -1], [40, -1]]}),
    "cut": ("New section", {"do": "add_cut", "points": [[0, 0], [40, 0]]}),
}
MODELS: dict[str, type[BaseModel]] = {
    "mats": MatFile,
    "rods": RodListFile,
    "runs": RunFile,
    "surface": ZoneFile,
    "fences": FenceFile,
    "gates": GateFile,
    "equipment": EquipmentFile,
    "lines": ProfileFile,
    "cuts": SectionFile,
}
MOST_ROWS = 60


def build_layout(window: Window) -> None:
    """The picked objects first, then a table of everything."""
    data = window.studio.desk.data
    if window.picked:
        ui.label(f"Picked: {len(window.picked)}").classes("eg-h")
        for identity in window.picked[:4]:
            _editor(window, data, identity)
        if len(window.picked) > 4:
            ui.label(f"and {len(window.picked) - 4} more; move or delete them together on the plan.").classes(
                "eg-soft"
            )
        _together(window)
    items = plan_view(data)["items"]
    if not items:
        empty(
            window,
            "Nothing is laid out yet.",
            "Start with a mat: draw its outline on the plan, or add one here and type its corners.",
        )
    for kind, title in TITLES.items():
        words, command = NEW[kind]
        section_head(title, (words, lambda c=command: window.command(c)))
        _table(window, kind, [i for i in items if i["kind"] == kind])


def _together(window: Window) -> None:
    """Move or delete what is picked, with numbers."""
    with ui.element("div").classes("eg-row"):
        dx = ui.input("Move by dx, m").props("dense outlined").classes("eg-short")
        dy = ui.input("dy, m").props("dense outlined").classes("eg-short")

        def move() -> None:
            window.act(
                lambda d: d.command(
                    {
                        "do": "move",
                        "items": list(window.picked),
                        "by": [_metres(dx.value or "0"), _metres(dy.value or "0")],
                    }
                )
            )

        ui.button("Move", on_click=move).props("flat dense no-caps")
        ui.button(
            "Delete", on_click=lambda: window.command({"do": "delete", "items": list(window.picked)})
        ).props("flat dense no-caps")


def _table(window: Window, kind: str, items: list[dict[str, Any]]) -> None:
    if not items:
        ui.label("none").classes("eg-soft")
        return
    with ui.element("ul").classes("eg-objects"):
        for item in items[:MOST_ROWS]:
            with ui.element("li").classes("picked" if item["id"] in window.picked else ""):
                button = ui.button(_words(item), on_click=lambda i=item: window.pick([i["id"]]))
                button.props("flat dense no-caps align=left")
    if len(items) > MOST_ROWS:
        ui.label(f"{len(items) - MOST_ROWS} more; pick them on the plan (key N steps through all).").classes(
            "eg-soft"
        )


def _words(item: dict[str, Any]) -> str:
    points = item["points"]
    if item["kind"] == "rod":
        return f"{item['label']} at {points[0][0]:g}, {points[0][1]:g}"
    if item["kind"] == "run":
        ends = f"{points[0][0]:g}, {points[0][1]:g} → {points[-1][0]:g}, {points[-1][1]:g}"
        return f"{item['label']}: {ends} ({len(points)} points)"
    return str(item["label"])


def _editor(window: Window, data: Any, identity: str) -> None:
    try:
        section, numbers, entry = find(data, identity)
    except InputError:
        return
    path: tuple[str | int, ...] = (*base_path(section), numbers[0])
    title = str(entry.get("name") or entry.get("tag") or f"{section[:-1]} {numbers[0] + 1}")
    with ui.element("div").classes("eg-edit-one"):
        section_head(title, ("Delete", lambda: window.command({"do": "delete", "items": [identity]})))
        if section == "rods" and len(numbers) == 2:
            _place(window, identity, entry["at_m"][numbers[1]])
        if section == "mats":
            _mesh(window, entry, identity)
        section_form(window, path, MODELS[section], leave=("at_m",) if section == "rods" else ())


def _place(window: Window, identity: str, place: list[float]) -> None:
    with ui.element("div").classes("eg-row"):
        fields = [
            ui.input(f"{axis}, m", value=f"{v:.10g}").props("dense outlined").classes("eg-short")
            for axis, v in zip("xy", place, strict=True)
        ]

        def put() -> None:
            window.act(
                lambda d: d.command(
                    {
                        "do": "move_point",
                        "item": identity,
                        "index": 0,
                        "to": [_metres(f.value or "") for f in fields],
                    }
                )
            )

        ui.button("Move there", on_click=put).props("flat dense no-caps")


def _mesh(window: Window, mat: dict[str, Any], identity: str) -> None:
    """Fill the outline anew, add a single line, lay a ring."""
    both = mat.get("spacing_m")
    with ui.element("div").classes("eg-row"):
        fields = [
            _short(f"widest along {axis}, m", mat.get(f"spacing_{axis}_m") or both or "") for axis in "xy"
        ]
        edge = _short("outermost over middle", 1)
        edge.tooltip("1: equal spaces; 0.5: the outermost space has half the width of the middle one")

        def fill() -> None:
            _act(
                window,
                "mesh",
                identity,
                spacing_x=fields[0].value,
                spacing_y=fields[1].value,
                edge=edge.value,
            )

        _button("Fill with a mesh", fill)
    with ui.element("div").classes("eg-row"):
        axis = ui.select({"x": "x =", "y": "y ="}, value="x", label="Mesh line")
        axis.props("dense outlined").classes("eg-axis")
        at = _short("position, m", "")
        _button("Add mesh line", lambda: _act(window, "mesh_line", identity, axis=axis.value, at=at.value))
    with ui.element("div").classes("eg-row"):
        away = _short("outside by, m", 1)
        _button("Lay a ring", lambda: _act(window, "add_ring", identity, away=away.value))


def _short(label: str, value: Any) -> ui.input:
    shown = f"{value:.10g}" if isinstance(value, int | float) else str(value)
    return ui.input(label, value=shown).props("dense outlined").classes("eg-short")


def _button(words: str, act: Any) -> None:
    ui.button(words, on_click=act).props("flat dense no-caps")


def _act(window: Window, do: str, identity: str, **values: Any) -> None:
    """A command with its numbers as typed, with a unit or without."""

    def change(desk: Any) -> None:
        plain = {"axis": values["axis"]} if "axis" in values else {}
        read = {k: _metres(v, k != "edge") for k, v in values.items() if k != "axis"}
        desk.command({"do": do, "item": identity} | plain | read)

    window.act(change)


def _metres(text: Any, length: bool = True) -> float | int:
    row = FieldRow("value", "value", "m" if length else "", "number", "", True, None)
    return parse_typed(row, str(text or "")).value
