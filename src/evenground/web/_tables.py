"""Small tables of a panel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nicegui import ui

__all__ = ["table"]


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    label: str = "",
    marked: Iterable[int] = (),
    right: int | None = None,
) -> None:
    """A table of words; ``marked`` rows are set in bold, columns from ``right`` on hold numbers."""
    bold = set(marked)
    with ui.element("div").classes("eg-scroll"), ui.element("table").classes("eg-table") as element:
        if label:
            element.props(f'aria-label="{label.replace(chr(34), "”")}"')
        with ui.element("thead"), ui.element("tr"):
            for n, head in enumerate(heads):
                _cell("th", head, right is not None and n >= right, ' scope="col"')
        with ui.element("tbody"):
            for k, row in enumerate(rows):
                with ui.element("tr").classes("chosen" if k in bold else ""):
                    for n, cell in enumerate(row):
                        _cell("td", cell, right is not None and n >= right)


def _cell(tag: str, words: str, number: bool, props: str = "") -> None:
    with ui.element(tag).classes("number" if number else "").props(props):
        ui.label(words)
