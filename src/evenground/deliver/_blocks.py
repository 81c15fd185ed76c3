"""The few kinds of content a chapter of the report is built from; the template lays them out.

Everything is plain data, so that a user's text reaches the template through JSON and is never read
as markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

__all__ = ["Block", "chapter", "figure", "formula", "heading", "listing", "math", "pairs", "table", "text"]

Block = dict[str, Any]
"""One piece of a chapter."""


def chapter(title: str, blocks: Iterable[Block | None], *, name: str = "") -> Block:
    """A chapter; empty blocks are dropped."""
    return {"title": title, "name": name, "blocks": [b for b in blocks if b is not None]}


def text(words: str, *, style: str = "") -> Block | None:
    """A paragraph; ``style`` may be ``"note"`` (boxed) or ``"small"``."""
    return {"kind": "text", "text": words, "style": style} if words else None


def heading(words: str) -> Block:
    """A heading below the chapter's."""
    return {"kind": "heading", "text": words}


def listing(items: Sequence[str], empty: str = "") -> Block | None:
    """A list, or a sentence when it is empty."""
    if not items:
        return text(empty)
    return {"kind": "list", "items": list(items)}


def pairs(rows: Sequence[tuple[str, Any]]) -> Block:
    """Labels and values without a frame; a row without value is left out."""
    return {"kind": "pairs", "rows": [[a, b] for a, b in rows if b not in ("", None)]}


def math(source: str) -> dict[str, str]:
    """A cell that is typeset as mathematics; only for text made by the program."""
    return {"math": source}


def table(
    caption: str,
    columns: Sequence[Any],
    rows: Sequence[Sequence[Any]],
    *,
    align: str = "",
    widths: Sequence[str] = (),
    small: bool = False,
) -> Block | None:
    """A table with a caption; None without rows.

    ``align`` has one letter a column (``l``, ``c``, ``r``), ``widths`` are ``"auto"`` or ``"2fr"``.
    """
    if not rows:
        return None
    count = len(columns)
    return {
        "kind": "table",
        "caption": caption,
        "columns": list(columns),
        "rows": [list(row) for row in rows],
        "align": align or "l" * count,
        "widths": list(widths) or ["auto"] * count,
        "small": small,
    }


def figure(file: str, caption: str, alt: str) -> Block:
    """A picture from the folder of plots, with words for those who can not see it."""
    return {"kind": "figure", "file": f"{file}.svg", "caption": caption, "alt": alt}


def formula(lines: Sequence[str]) -> Block:
    """Displayed mathematics, one line each; only for text made by the program."""
    return {"kind": "formula", "lines": list(lines)}
