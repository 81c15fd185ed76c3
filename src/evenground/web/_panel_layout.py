"""Panel “Layout”: every object of the plan as a form, so that each edit is possible without a mouse."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.project._edit import Drop, Put
from evenground.web._commands import find
from evenground.web._panel_forms import form, section_head
from evenground.web._panel_result import empty
from evenground.web._view import plan_view

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_layout"]

TITLES = {
    "mat": "Mats",
    "rod": "Rods",
    "run": "Conductor runs",
    "cover": "Surface covers",
    "line": "Profile lines",
}
NEW: dict[str, tuple[str, dict[str, Any]]] = {
    "mat": ("New mat", {"do": "add_mat", "points": [[0, 0], [40, 0], [40, 30], [0, 30]]}),
    "rod": ("New rod", {"do": "add_rod", "at": [0, 0]}),
    "run": ("New run", {"do": "add_run", "points": [[0, 0], [10, 0]]}),
    "cover": ("New cover", {"do": "add_cover", "points": [[-1, -1], [41, -1], [41, 31], [-1, 31]]}),
    "line": ("New line", {"do": "add_line", "points": [[0, -1], [40, -1]]}),
}
SECTIONS = {"mat": "mats", "rod": "rods", "run": "runs", "cover": "surface", "line": "lines"}
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
            from evenground.web._fields import parse_number

            window.act(
                lambda d: d.command(
                    {
                        "do": "move",
                        "items": list(window.picked),
                        "by": [parse_number(dx.value or "0"), parse_number(dy.value or "0")],
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
    except Exception:
        return
    base: tuple[str | int, ...] = ("assessment", "profiles") if section == "lines" else (section,)
    path = (*base, numbers[0])
    title = str(entry.get("name") or f"{section[:-1]} {numbers[0] + 1}")
    with ui.element("div").classes("eg-edit-one"):
        section_head(title, ("Delete", lambda: window.command({"do": "delete", "items": [identity]})))
        if section == "rods" and len(numbers) == 2:
            _place(window, identity, entry["at_m"][numbers[1]])
        model = {"mats": "mats", "rods": "rods", "runs": "runs", "surface": "surface"}.get(section)
        if model:
            form(window, path, model, leave=("at_m",) if section == "rods" else ())
        else:
            _line_form(window, path)
        if section == "mats":
            _mat_more(window, path, entry, identity)


def _line_form(window: Window, path: tuple[str | int, ...]) -> None:
    from evenground.project._schema_site import ProfileFile
    from evenground.web._fields import MODELS

    MODELS.setdefault("lines", ProfileFile)
    form(window, path, "lines")


def _place(window: Window, identity: str, place: list[float]) -> None:
    with ui.element("div").classes("eg-row"):
        fields = [
            ui.input(f"{axis}, m", value=f"{v:.10g}").props("dense outlined").classes("eg-short")
            for axis, v in zip("xy", place, strict=True)
        ]

        def put() -> None:
            from evenground.web._fields import parse_number

            window.act(
                lambda d: d.command(
                    {
                        "do": "move_point",
                        "item": identity,
                        "index": 0,
                        "to": [parse_number(f.value or "") for f in fields],
                    }
                )
            )

        ui.button("Move there", on_click=put).props("flat dense no-caps")


def _mat_more(window: Window, path: tuple[str | int, ...], mat: dict[str, Any], identity: str) -> None:
    """Mesh lines and rods by rule."""
    with ui.element("div").classes("eg-row"):
        axis = (
            ui.select({"x": "x =", "y": "y ="}, value="x", label="Mesh line")
            .props("dense outlined")
            .classes("eg-axis")
        )
        at = ui.input("position, m").props("dense outlined").classes("eg-short")

        def add() -> None:
            from evenground.web._fields import parse_number

            window.act(
                lambda d: d.command(
                    {
                        "do": "mesh_line",
                        "item": identity,
                        "axis": axis.value,
                        "at": parse_number(at.value or ""),
                    }
                )
            )

        ui.button("Add mesh line", on_click=add).props("flat dense no-caps")
    raw = mat.get("rods")
    rules = raw if isinstance(raw, list) else []
    new = {"where": "corners", "length_m": 3, "diameter_mm": 14.2}
    section_head(
        "Rods by rule",
        (
            "Add rule",
            lambda: window.act(
                lambda d: d.apply(
                    [Put((*path, "rods", len(rules)), new) if rules else Put((*path, "rods"), [new])],
                    "add a rule",
                )
            ),
        ),
    )
    from evenground.project._schema_site import RodRuleFile
    from evenground.web._fields import MODELS

    MODELS.setdefault("rod_rule", RodRuleFile)
    for i in range(len(rules)):
        form(window, (*path, "rods", i), "rod_rule")
        ui.button(
            "Remove rule",
            on_click=lambda i=i: window.act(lambda d: d.apply([Drop((*path, "rods", i))], "remove a rule")),
        ).props(f'flat dense no-caps aria-label="Remove rod rule {i + 1}"')
