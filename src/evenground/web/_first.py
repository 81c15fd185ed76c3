"""The first page of a project that has no file yet: what it is, and the file that it starts from."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path

from nicegui import ui

from evenground.errors import InputError
from evenground.model._serial import CAUTION
from evenground.project import starter_text

__all__ = ["build_first", "write_starter"]

STATIC = Path(__file__).parent / "static"
KINDS = {
    "substation": (
        "Substation yard",
        "110/20 kV yard with readings of a soil survey, an outline, rods by rule and crushed rock.",
    ),
    "plant": (
        "Transformer station of a plant",
        "20/0.4 kV station on a factory site: a rectangle, a stated soil, asphalt.",
    ),
}


def write_starter(file: Path, kind: str) -> None:
    """Write the starter of a kind; a file that is there by now is left alone.

    Raises
    ------
    InputError
        When it can not be written.
    """
    try:
        with file.open("x", encoding="utf-8") as target:
            target.write(starter_text(kind))
    except OSError as error:
        raise InputError(f"{file.name}: could not be written: {error.strerror or error}") from error


def build_first(file: Path, ready: Callable[[], Awaitable[None]]) -> None:
    """Ask what the project starts from; ``ready`` is called once its file is there."""
    ui.dark_mode(None)
    ui.add_css((STATIC / "style.css").read_text(encoding="utf-8"))
    ui.query("body").classes("eg")

    async def start(kind: str) -> None:
        try:
            write_starter(file, kind)
            await ready()
        except InputError as error:
            ui.notify(str(error), type="warning", position="top", timeout=9000)
            return
        ui.navigate.to("/")

    with ui.element("main").classes("eg-first"):
        ui.label("Evenground").classes("eg-brand")
        with ui.element("h1"):
            ui.label(f"A new project: {file.name}")
        ui.label(
            "Choose what is nearest to your site. A project file with invented values is written into the "
            f"folder {file.parent.name or file.parent}; the panel Start then leads you on."
        )
        for kind, (title, words) in KINDS.items():
            with ui.element("section").classes("eg-first-kind"):
                with ui.element("h2"):
                    ui.label(title)
                ui.label(words)
                ui.button("Start with this", on_click=lambda k=kind: start(k)).props(
                    f'unelevated no-caps aria-label="Start with: {title}"'
                )
        ui.label(CAUTION).classes("eg-soft")
