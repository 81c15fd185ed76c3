"""Words of the report and of title blocks in other languages; English is what the program writes.

A language is a file of pairs, English to the other: ``terms`` (titles, headings, captions, labels, fixed
sentences; ``{}`` stands for a part that is filled in) and ``cells`` (words that stand alone in a table).
Findings, names of formulas and whatever a user wrote stay as they are.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from typing import Any

__all__ = ["ENGLISH", "LANGUAGES", "Language", "language"]

LANGUAGES = ("en", "de")
_TYPESET = {
    "math",
    "lines",
    "valid",
    "rules",
    "file",
    "alt",
    "path",
    "widths",
    "align",
    "kind",
    "name",
    "style",
}
_CELLS = {"rows"}


@dataclass(frozen=True)
class Language:
    """One language.

    Attributes
    ----------
    code : str
        As in ISO 639-1.
    terms, cells : mapping of str to str
    """

    code: str
    terms: Mapping[str, str]
    cells: Mapping[str, str]

    @cached_property
    def _patterns(self) -> list[tuple[re.Pattern[str], str]]:
        rows = [(k, v) for k, v in self.terms.items() if "{}" in k]
        rows.sort(key=lambda row: -len(row[0].replace("{}", "")))
        return [(re.compile("(.+?)".join(map(re.escape, k.split("{}"))), re.S), v) for k, v in rows]

    def term(self, text: str) -> str:
        """A term or sentence; as it is when the language does not hold it."""
        return self.find(text) or text

    def find(self, text: str) -> str | None:
        """A term or sentence, None when the language does not hold it."""
        if text in self.terms:
            return self.terms[text]
        for pattern, other in self._patterns:
            match = pattern.fullmatch(text)
            if match:
                return other.format(*(self.cells.get(p, self.term(p)) for p in match.groups()))
        return None

    def cell(self, text: str) -> str:
        """A word that stands alone in a table."""
        return self.cells.get(text, text)

    def whole(self, value: Any, *, in_rows: bool = False) -> Any:
        """Report data with every term translated; typeset parts and cells of users are left alone."""
        if isinstance(value, str):
            return self.cell(value) if in_rows else self.term(value)
        if isinstance(value, list):
            return [self.whole(item, in_rows=in_rows) for item in value]
        if not isinstance(value, dict):
            return value
        if value.get("kind") == "pairs":
            rows = [[self.term(a), self.whole(b, in_rows=True)] for a, b in value["rows"]]
            return value | {"rows": rows}
        return {
            key: item if key in _TYPESET else self.whole(item, in_rows=in_rows or key in _CELLS)
            for key, item in value.items()
        }


ENGLISH = Language("en", {}, {})


def language(code: str) -> Language:
    """A language by its code.

    Raises
    ------
    ValueError
        When there is no such language.
    """
    if code not in LANGUAGES:
        raise ValueError(f"language {code}: there are {', '.join(LANGUAGES)}")
    if code == "en":
        return ENGLISH
    text = resources.files("evenground.language").joinpath(f"{code}.toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    return Language(code, data["terms"], data["cells"])
