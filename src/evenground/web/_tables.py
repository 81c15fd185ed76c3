"""Small tables of a panel."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

from nicegui import ui

__all__ = ["plain_units", "table"]

_POWERS = re.compile(r"(?<![A-Za-z])(mm|cm|m)([23])(?![A-Za-z0-9])")


def plain_units(words: str) -> str:
    """Square and cubic metres and millimetres as they are written by hand: mm² instead of mm2."""
    return _POWERS.sub(lambda m: m[1] + "²³"[int(m[2]) - 2], words).replace("CO2e", "CO₂e")


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    label: str = "",
    marked: Iterable[int] = (),
    right: int | None = None,
    why: Callable[[int], None] | None = None,
) -> None:
    """A table of words.

    ``marked`` rows are set in bold, columns from ``right`` on hold numbers; ``why`` is called with the number
    of a row whose numbers are to be explained.
    """
    bold = set(marked)
    around = f'tabindex="0" role="region" aria-label="{(label or heads[0] or "Table").replace(chr(34), "”")}"'
    scroll = ui.element("div").classes("eg-scroll").props(around)
    with scroll, ui.element("table").classes("eg-table") as element:
        if label:
            element.props(f'aria-label="{label.replace(chr(34), "”")}"')
        with ui.element("thead"), ui.element("tr"):
            for n, head in enumerate(heads):
                _cell("th", head, right is not None and n >= right, ' scope="col"')
            if why is not None:
                with ui.element("th").props('scope="col"'):
                    ui.label("Formula").classes("eg-spoken")
        with ui.element("tbody"):
            for k, row in enumerate(rows):
                with ui.element("tr").classes("chosen" if k in bold else ""):
                    for n, cell in enumerate(row):
                        _cell("td", cell, right is not None and n >= right)
                    if why is not None:
                        _why(why, k, row[0])


def _cell(tag: str, words: str, number: bool, props: str = "") -> None:
    with ui.element(tag).classes("number" if number else "").props(props):
        ui.label(plain_units(words))


def _why(why: Callable[[int], None], number: int, of_what: str) -> None:
    with ui.element("td"):
        ui.button("Why", on_click=lambda: why(number)).props(
            f'flat dense no-caps aria-label="Why: {of_what.replace(chr(34), "”")}"'
        )
