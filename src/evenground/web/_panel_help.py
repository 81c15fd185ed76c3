"""Part of panel “Result”: what would help where touch, step or a fence fails, and what it costs."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from nicegui import ui

from evenground.deliver._report_help import (
    HELP_COLUMNS,
    cheapest_sentence,
    cost_sentence,
    help_rows,
    prospect_sentences,
)
from evenground.errors import EvengroundError
from evenground.model.study import Verdict
from evenground.web._panel_quantities import prices_of
from evenground.web._tables import table

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.web._page import Window

__all__ = ["build_help", "compute_help", "may_help"]

SHOWN = (0, 1, 2, 3, 6, 7, 8)
"""Columns of the report's table that the panel shows."""


def may_help(study: Study) -> bool:
    """Whether a voltage fails, so that changes are worth computing."""
    return any(c.governing and c.verdict is Verdict.FAIL and c.unit == "V" for c in study.checks)


def build_help(window: Window, study: Study) -> None:
    """A button that computes what would help, and the answer once it is there."""
    studio = window.studio
    if not may_help(study) and studio.helped is None:
        return
    ui.label("What would help").classes("eg-h")
    if studio.helping:
        ui.label("Each change is made and computed; you can go on working.").classes("eg-soft")
        ui.linear_progress(show_value=False).props('indeterminate aria-label="Computing what would help"')
        ui.button("Stop computing it", on_click=studio.stop_making).props("flat dense no-caps")
    elif may_help(study):
        again = "Compute it again" if studio.helped is not None else "Compute what would help"
        ui.button(again, on_click=lambda: window.background(compute_help(window))).props("flat no-caps")
    if studio.helped is not None:
        _answer(studio.helped[1], fresh=studio.helped[0] == studio.desk.text)


def _answer(study: Study, *, fresh: bool) -> None:
    rows = help_rows(study)
    if not fresh:
        ui.label("This belongs to the state before the last edit.").classes("eg-stale-note")
    if not rows:
        ui.label("Nothing fails that a change of metal, cover, time or current could mend.").classes(
            "eg-soft"
        )
        return
    heads = [HELP_COLUMNS[k] for k in SHOWN]
    table(heads, [[row[k] for k in SHOWN] for row in rows], label="What would help", right=1)
    for sentence in (cost_sentence(study), cheapest_sentence(study), *prospect_sentences(study)):
        if sentence:
            ui.label(sentence).classes("eg-soft")


async def compute_help(window: Window) -> bool:
    """Compute the changes beside the study; what stands against it is said in words."""
    studio = window.studio
    text = studio.desk.text
    studio.helping = True
    window.show_if_open("Result")
    try:
        prices, _ = prices_of(studio.desk.path)
        studio.helped = (text, await studio.aside("help", text, str(studio.desk.path), prices))
    except (EvengroundError, asyncio.CancelledError) as error:
        window.warn(str(error) or "stopped")
        return False
    finally:
        studio.helping = False
        window.show_if_open("Result")
    return True
