"""Panel “Files”: every result file of the present state, one by one or all together."""

from __future__ import annotations

import asyncio
import io
import zipfile
from typing import TYPE_CHECKING

from nicegui import ui

from evenground.errors import EvengroundError
from evenground.web._panel_result import empty

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_files", "contents", "fetch"]

MEANING = {
    ".pdf": "report, to be read and signed",
    ".json": "all numbers, for programs",
    ".csv": "table",
    ".svg": "plot, vector",
    ".png": "plot, picture",
    ".yaml": "the project file",
    ".dxf": "drawing",
    ".xlsx": "workbook",
}


def contents(archive: bytes) -> list[tuple[str, int]]:
    """Names and sizes of the files of an archive, the report first."""
    with zipfile.ZipFile(io.BytesIO(archive)) as held:
        rows = [(i.filename, i.file_size) for i in held.infolist()]
    order = (".pdf", ".yaml", ".json", ".xlsx", ".dxf", ".csv", ".svg", ".png")
    return sorted(rows, key=lambda r: (order.index(_end(r[0])) if _end(r[0]) in order else 99, r[0]))


def _end(name: str) -> str:
    return name[name.rfind(".") :].lower() if "." in name else ""


def one_of(archive: bytes, name: str) -> bytes:
    """One file of an archive."""
    with zipfile.ZipFile(io.BytesIO(archive)) as held:
        return held.read(name)


def build_files(window: Window) -> None:
    """List of the files, or how to make them."""
    desk = window.studio.desk
    made = window.studio.made
    fresh = made is not None and made[0] == desk.text
    with ui.element("div").classes("eg-row"):
        again = "Make them again" if fresh else "Make the result files"
        ui.button(again, on_click=lambda: window.background(fetch(window))).props("unelevated no-caps")
        if made is not None:
            ui.button("All as one archive", on_click=lambda: hand_over(window)).props("flat dense no-caps")
    if window.studio.making:
        ui.label("The result files are being made; you can go on working.").classes("eg-soft")
        ui.linear_progress(show_value=False).props('indeterminate aria-label="Making the result files"')
        ui.button("Stop making them", on_click=window.studio.stop_making).props("flat dense no-caps")
    if made is None:
        empty(
            window,
            "No result files yet.",
            "They are made from the present state: report, tables, plots, project file. Nothing is written "
            "to your disk until you download it.",
        )
        return
    if not fresh:
        ui.label("These files belong to the state before the last edit.").classes("eg-stale-note")
    with ui.element("ul").classes("eg-objects eg-files"):
        for name, size in contents(made[1]):
            with ui.element("li"):
                short = name.split("/", 1)[-1]
                ui.button(short, on_click=lambda n=name, s=short: _one(window, n, s)).props(
                    f'flat dense no-caps align=left aria-label="Download {short}"'
                )
                ui.label(f"{MEANING.get(_end(name), 'file')}, {max(size // 1000, 1)} kB").classes("eg-soft")


def _one(window: Window, name: str, short: str) -> None:
    if window.studio.made is not None:
        ui.download.content(one_of(window.studio.made[1], name), short.replace("/", "-"))


def hand_over(window: Window) -> None:
    """All files as one archive."""
    if window.studio.made is not None:
        ui.download.content(window.studio.made[1], f"{window.studio.desk.path.stem}-results.zip")


async def fetch(window: Window) -> bool:
    """Make the files; what stands against it is said in words."""
    studio = window.studio
    text = studio.desk.text
    studio.making = True
    window.show_if_open("Files")
    try:
        studio.made = (text, await studio.result_files())
    except (EvengroundError, asyncio.CancelledError) as error:
        window.warn(str(error) or "stopped")
        return False
    finally:
        studio.making = False
        window.show_if_open("Files")
    return True
