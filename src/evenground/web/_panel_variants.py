"""Panel “Variants”: keep several layouts, compare their margins and quantities, take one over."""

from __future__ import annotations

import asyncio
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.deliver.format import format_quantity
from evenground.deliver.words import margin_text
from evenground.errors import EvengroundError, InputError
from evenground.web._panel_quantities import cost_of
from evenground.web._panel_result import empty
from evenground.web._variants import Variant, forget, keep, kept
from evenground.web._words import STATE

if TYPE_CHECKING:
    from evenground.web._page import Window

__all__ = ["build_variants", "summary"]

_STUDIES: dict[str, dict[str, str]] = {}
"""Hash of a text -> its summary; a variant that did not change is not computed again."""


def _ratio(shock: Any) -> str:
    return f"{shock.value_v:.0f} / {shock.limit_v:.0f} V = {shock.value_v / shock.limit_v:.0%}"


def _cost(study: Any, path: Path) -> str:
    try:
        return cost_of(study, path)
    except EvengroundError as error:
        return str(error).splitlines()[0][:80]


def summary(study: Any, path: Path) -> dict[str, str]:
    """The rows of a comparison for one study."""
    worst = study.governing_check
    touch, step = study.worst_touch, study.worst_step
    _, sign, words = STATE[study.verdict]
    return {
        "Verdict": f"{sign} {words}",
        "Governing limit": f"{worst.title}, margin {margin_text(worst)}",
        "Worst touch over limit": _ratio(touch),
        "Worst step over limit": _ratio(step),
        "Resistance to earth": format_quantity(study.field.resistance_ohm, "ohm"),
        "Largest potential rise": format_quantity(max(study.gpr_v.values()), "V"),
        "Conductor in the ground": f"{study.electrode.of_kind('mat', 'run').total_length_m:.0f} m",
        "Rods": f"{study.quantities['rods']} ({study.quantities['rod_length_m']:.0f} m)",
        "Joints": str(study.quantities["joints_horizontal"]),
        "Cost": _cost(study, path),
    }


def build_variants(window: Window) -> None:
    """The panel; missing studies are computed one after the other in a second process."""
    desk = window.studio.desk
    ui.label(
        "A variant is a whole project file, kept beside the project file. Taking one over can be undone."
    ).classes("eg-soft")
    with ui.element("div").classes("eg-row"):
        name = ui.input("Name of the variant").props("dense outlined")

        def keep_it() -> None:
            if window.act(lambda d: keep(d.path, name.value or "", d.text)):
                window.show_panel()

        ui.button("Keep the present state", on_click=keep_it).props("unelevated no-caps")
    variants = kept(desk.path)
    if not variants:
        empty(
            window,
            "No variant is kept yet.",
            "Keep the present state under a name, change the layout, and compare the two side by side here.",
        )
        return
    table = ui.element("div").classes("eg-scroll")
    table.props('tabindex="0" role="region" aria-label="Variants side by side"')
    _fill(window, table, variants)
    window.background(_compute(window, table, variants))


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _fill(window: Window, table: Any, variants: tuple[Variant, ...]) -> None:
    desk = window.studio.desk
    columns: list[tuple[str, dict[str, str] | None]] = [
        ("present", summary(desk.outcome.study, desk.path) if desk.outcome and desk.current else None)
    ]
    if columns[0][1] is not None:
        _STUDIES.setdefault(_hash(desk.text), columns[0][1])
    columns += [(v.name, _STUDIES.get(_hash(v.text))) for v in variants]
    rows = next((c for _, c in columns if c and "Verdict" in c), {})
    table.clear()
    with table, ui.element("table").classes("eg-table eg-compare"):
        with ui.element("tr"):
            for head in ("", *(n for n, _ in columns)):
                with ui.element("th").props('scope="col"'):
                    ui.label(head)
        for key in rows:
            with ui.element("tr"):
                with ui.element("th").props('scope="row"'):
                    ui.label(key)
                for _, column in columns:
                    with ui.element("td"):
                        words = "computing" if column is None else column.get(key, column.get("Error", "—"))
                        ui.label(words)
        with ui.element("tr"):
            ui.element("th")
            ui.element("td")
            for variant in variants:
                with ui.element("td"):
                    ui.button(
                        "Take over",
                        on_click=lambda v=variant: window.act(
                            lambda d: d.take(v.text, f"take over “{v.name}”")
                        ),
                    ).props(f'flat dense no-caps aria-label="Take over {variant.name}"')
                    ui.button("Forget", on_click=lambda v=variant: _ask(window, v)).props(
                        f'flat dense no-caps aria-label="Forget {variant.name}"'
                    )


def _ask(window: Window, variant: Variant) -> None:
    with window.dialogs, ui.dialog() as dialog, ui.card().classes("eg-dialog"):
        ui.label(f"Remove the file of the variant “{variant.name}” from the disk?")
        with ui.row():

            def go() -> None:
                window.act(lambda d: forget(d.path, variant.name))
                dialog.close()
                window.show_panel()

            ui.button("Remove", on_click=go).props("unelevated no-caps")
            ui.button("Keep", on_click=dialog.close).props("flat no-caps autofocus")
    dialog.on("hide", dialog.delete)
    dialog.open()


async def _compute(window: Window, table: Any, variants: tuple[Variant, ...]) -> None:
    for variant in variants:
        key = _hash(variant.text)
        if key in _STUDIES:
            continue
        try:
            study = await window.studio.study_of(variant.text, f"{variant.name}.yaml")
            _STUDIES[key] = summary(study, window.studio.desk.path)
        except InputError as error:
            _STUDIES[key] = {"Error": str(error).splitlines()[0][:120]}
        except asyncio.CancelledError:
            return
        if window.panel != "Variants" or table.is_deleted:
            return
        _fill(window, table, variants)
