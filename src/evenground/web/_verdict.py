"""The line above everything: the verdict with its scope, and what is being computed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from evenground.web._words import FIRST_LOOK, headline

if TYPE_CHECKING:
    from evenground.web._desk import Desk
    from evenground.web._page import Window

__all__ = ["fill_verdict", "standing"]


def standing(desk: Desk) -> str:
    """What shown results belong to, when it is not the exact answer for the present state; else empty."""
    if desk.outcome is None:
        return ""
    if not desk.current:
        return "Results of the state before the last edit"
    return "" if desk.outcome.exact else "Results of the first look"


def fill_verdict(window: Window) -> None:
    """Write the line: where it stands, on what basis, and what is running."""
    desk = window.studio.desk
    box = window.verdict
    box.clear()
    box.classes(remove="within broken open stale")
    with box:
        if desk.outcome is None:
            sign, words, text, scope = "…", "Not computed yet", "", ""
            if desk.findings or desk.failure:
                sign, words = "?", "Not decided"
                text = "The input could not be computed; the panel Result says why."
        else:
            line = headline(desk.outcome.study)
            sign, words, text, scope = line["sign"], line["words"], line["text"], line["scope"]
            box.classes(line["class"])
            if not desk.current:
                box.classes("stale")
                words = f"Before the last edit: {words[:1].lower()}{words[1:]}"
                if desk.findings or desk.failure:
                    text = "The layout as it now stands could not be computed; the panel Result says why."
            elif not desk.outcome.exact:
                words = f"First look: {words[:1].lower()}{words[1:]}"
                text = f"{FIRST_LOOK} {text}"
            else:
                text = f"{text} {line['governing']}"
        ui.label(sign).classes("eg-sign big").props('aria-hidden="true"')
        with ui.element("div").classes("eg-verdict-words"):
            with ui.element("h1"):
                ui.label(words)
            ui.label(text).classes("eg-verdict-text")
        with ui.element("div").classes("eg-verdict-side"):
            _running(window, desk, scope)


def _running(window: Window, desk: Desk, scope: str) -> None:
    if desk.progress is not None:
        words, done = desk.progress
        with ui.element("div").classes("eg-running"):
            ui.label(words)
            ui.linear_progress(done, show_value=False).props('aria-label="Progress" instant-feedback')
        ui.button("Stop", on_click=window.studio.cancel).props("flat dense no-caps")
    elif not desk.current and not desk.findings and not desk.failure:
        ui.button("Compute", on_click=window.studio.recompute).props("flat dense no-caps")
    if scope and desk.progress is None:
        seconds = f" Computed in {desk.outcome.seconds:.1f} s." if desk.outcome else ""
        ui.label(scope + "." + seconds).classes("eg-soft")
