"""Panel “Quantities”: what has to be bought and dug, and what it costs by a price list."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nicegui import ui

from evenground.errors import EvengroundError
from evenground.schedules import (
    PriceList,
    Table,
    build_schedules,
    design_of_study,
    placeholder_prices,
    read_prices,
    starter_prices_text,
)
from evenground.web._panel_result import empty
from evenground.web._tables import table

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.web._page import Window

__all__ = ["build_quantities", "cost_of", "prices_of", "shown_cell"]

BILL = ("item", "description", "quantity", "unit", "cost", "carbon")
"""Columns of the bill in the panel; the whole of it is among the files."""
SHOWN = ("quantities", "bill", "conductors", "rods", "joint-counts")


def price_file(project_file: Path) -> Path:
    """The price list beside a project file."""
    return project_file.with_name(f"{project_file.stem}-prices.yaml")


def prices_of(project_file: Path) -> tuple[PriceList, bool]:
    """The own price list beside the project; without one the placeholders, and whether it is the own one."""
    own = price_file(project_file)
    if own.is_file():
        return read_prices(own), True
    return placeholder_prices(), False


def shown_cell(value: object, places: int) -> str:
    """A cell of a schedule as text."""
    if value is None:
        return "not decided"
    if isinstance(value, float):
        places = min(places, 1) if abs(value) >= 100 else places
        return f"{value:,.{places}f}".replace(",", "\u202f").replace("-", "−")
    return str(value)


def cost_of(study: Study, project_file: Path) -> str:
    """Total of the bill in words, with the standing of its prices."""
    prices, own = prices_of(project_file)
    bill = build_schedules(design_of_study(study), prices).table("bill")
    total = bill.total("cost")
    note = "" if own and prices.status == "quoted" else f" ({prices.status} prices)"
    return "not decided" if total is None else f"{shown_cell(total, 0)} {prices.currency}{note}"


def build_quantities(window: Window) -> None:
    """Schedules of the present result."""
    desk = window.studio.desk
    if desk.outcome is None:
        empty(window, "No quantities yet.", "They are measured from the layout with the first result.")
        return
    try:
        prices, own = prices_of(desk.path)
    except EvengroundError as error:
        ui.label(str(error)).classes("eg-warn")
        return
    if own:
        ui.label(f"Prices: {price_file(desk.path).name}, {prices.currency}, {prices.date}.").classes(
            "eg-soft"
        )
    else:
        ui.label(
            "The prices are placeholders: good for comparing variants, not for a budget. Take a copy, put "
            "your own prices in, and they count."
        ).classes("eg-warn")
        ui.button("Take a copy beside the project", on_click=lambda: _copy(window)).props(
            "flat dense no-caps"
        )
    schedules = build_schedules(design_of_study(desk.outcome.study), prices)
    for name in SHOWN:
        _schedule(schedules.table(name))


def _copy(window: Window) -> None:
    def write(desk: object) -> None:
        target = price_file(window.studio.desk.path)
        with target.open("x", encoding="utf-8") as file:
            file.write(starter_prices_text())

    if window.act(write):
        window.say(f"Written: {price_file(window.studio.desk.path).name}")
        window.show_panel()


def _schedule(schedule: Table) -> None:
    if not schedule.rows:
        return
    ui.label(schedule.title).classes("eg-h")
    kept = [n for n, c in enumerate(schedule.columns) if schedule.name != "bill" or c.key in BILL]
    columns = [schedule.columns[n] for n in kept]
    rows = [
        [shown_cell(row[n], c.places) for n, c in zip(kept, columns, strict=True)]
        for row in schedule.rows[:120]
    ]
    totals = [shown_cell(schedule.total(c.key), c.places) if c.total else "" for c in columns]
    if any(totals):
        rows.append(["Total", *totals[1:]])
    table(
        [c.heading for c in columns],
        rows,
        label=schedule.title,
        marked=[len(rows) - 1] if any(totals) else (),
    )
    for words in schedule.notes:
        ui.label(words).classes("eg-soft")
