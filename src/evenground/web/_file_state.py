"""The head of the window: title, state of the file, undo and redo, save, result files, theme."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from evenground.web._desk import Desk

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["FileBar"]


class FileBar:
    """Head of one window; ``refresh`` follows the desk."""

    def __init__(self, window: Window) -> None:
        self.window = window
        with ui.element("div").classes("eg-name"):
            ui.label("Evenground").classes("eg-brand")
            self.title = ui.label().classes("eg-title")
            self.file = ui.label().classes("eg-file")
        with ui.element("nav").classes("eg-actions").props('aria-label="File"'):
            self.undo = self._button("Undo", "undo", lambda: window.act(Desk.undo))
            self.redo = self._button("Redo", "redo", lambda: window.act(Desk.redo))
            self.save = self._button("Save", "save", lambda: window.act(Desk.save))
            self._button("Result files", "files", window.result_files)
            self._button("Print", "print", lambda: ui.run_javascript("window.print()"))
            self._button("Light/dark", "theme", window.toggle_theme)
        self.notice = ui.element("div").classes("eg-notice").props('role="alert"')
        self.refresh()

    def _button(self, words: str, act: str, do: object) -> ui.button:
        button = ui.button(words, on_click=do)  # type: ignore[arg-type]
        return button.props(f'flat dense no-caps data-act="{act}"')

    def refresh(self) -> None:
        """Title, state of the file, what can be undone."""
        desk = self.window.studio.desk
        identity = desk.data.get("project") if isinstance(desk.data, dict) else None
        self.title.set_text(str(identity.get("title", "")) if isinstance(identity, dict) else "")
        state = "not saved; kept as a draft" if desk.unsaved else "saved"
        self.file.set_text(f"{desk.path.name} — {state}")
        self.file.classes(add="unsaved" if desk.unsaved else "", remove="" if desk.unsaved else "unsaved")
        for button, steps, word in ((self.undo, desk.done, "Undo"), (self.redo, desk.undone, "Redo")):
            button.set_enabled(bool(steps))
            button.props(f'title="{word}: {steps[-1].words}"' if steps else f'title="{word}: nothing"')
        self.save.set_enabled(desk.unsaved)
        self._notices(desk)

    def _notices(self, desk: Desk) -> None:
        self.notice.clear()
        act = self.window.act
        with self.notice:
            if desk.foreign is not None:
                ui.label(
                    f"{desk.path.name} was changed by another program or window; nothing was written over."
                )
                ui.button("Take the changed file", on_click=lambda: act(Desk.take_foreign)).props(
                    "flat dense no-caps"
                )
                ui.button("Keep mine and save", on_click=lambda: act(Desk.keep_own)).props(
                    "flat dense no-caps"
                )
            elif desk.missing:
                ui.label(f"{desk.path.name} is no longer on disk.")
                ui.button("Write it again", on_click=lambda: act(Desk.keep_own)).props("flat dense no-caps")
            if desk.found_draft is not None:
                ui.label("An earlier session ended with unsaved work on this file.")
                ui.button("Take it up", on_click=lambda: act(Desk.take_draft)).props("flat dense no-caps")
                ui.button("Drop it", on_click=lambda: act(Desk.leave_draft)).props("flat dense no-caps")
