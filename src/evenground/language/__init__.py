"""Words of reports, plots, drawings, schedules and forms in other languages; English is what the program
writes.

A language is a folder of files of pairs, English to the other: ``terms`` (titles, labels, sentences;
``{}`` stands for a part that is filled in, ``{0}``, ``{1}`` in the other language change the order),
``cells`` (words that stand alone), ``references`` (words inside references to standards). Sentences are
translated where they are shown: the whole first, then by a pattern whose parts are translated in turn,
then piece by piece at ``"; "``, ``". "``, ``": "``, ``", "`` and brackets. Names and remarks of a user stay.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from importlib import resources
from typing import Any

from evenground.language._names import words_in

__all__ = ["ENGLISH", "LANGUAGES", "Language", "language", "words_in"]

LANGUAGES = ("en", "de")
_TYPESET = frozenset(
    {"math", "lines", "valid", "rules", "file", "path", "widths", "align", "kind", "name", "style"}
)
_QUOTED = re.compile(r'"([^"]*)"')
"""Words in mathematics; a quoted word without a space is a part of a symbol and stays."""
_TOKEN = re.compile(
    r"[\w-]+\.(?:yaml|yml|json|csv|xlsx|dxf|pdf)\b|\w+\[[^]]*\][.\w]*|[a-z_]+(?:\.[a-z_]+)+|\w+"
)
"""Names of files, fields of the project file, words; fields and words with digits are never translated."""
_SHORT = frozenset(("of", "is", "to", "at", "on", "by", "or", "no", "in", "as", "be", "it", "if", "an", "Eq"))
_OWN_LETTERS = 8
"""A pattern with fewer letters of its own, such as "{} of {}", only fits when all its parts are known."""
_STANDARD = re.compile(r"\b(?:IEEE|IEC|EN|IS|BS|GB/T|ITU|HD|NEC|RD|ITC|CIGRE|Eq\.|arrêté)(?!\w)|\bclause ")
_SENTENCE = re.compile(r"(?<=[.!?]) (?=[^\W\d_a-z]|“|\d)")
_BRACKETS = (re.compile(r"(.+?) \((.+)\)", re.S), re.compile(r"(.+) \(([^()]*)\)", re.S))


@dataclass(frozen=True)
class Language:
    """One language.

    Attributes
    ----------
    code : str
        As in ISO 639-1.
    terms, cells, references : mapping of str to str
    same : frozenset of str
        Words that are the same in both languages, names of people and organisations among them.
    names : frozenset of str
        Words of the user, which stay as they are.
    """

    code: str
    terms: Mapping[str, str]
    cells: Mapping[str, str]
    references: Mapping[str, str] = field(default_factory=dict)
    same: frozenset[str] = frozenset()
    names: frozenset[str] = frozenset()

    def knowing(self, names: Iterable[str]) -> Language:
        """The same language, which leaves these words of a user as they are."""
        return self if not self.terms else replace(self, names=frozenset(names))

    @cached_property
    def _patterns(self) -> list[tuple[str, re.Pattern[str], str]]:
        rows = [(k, v) for k, v in self.terms.items() if "{}" in k]
        rows.sort(key=lambda row: -len(row[0].replace("{}", "")))
        return [
            (max(k.split("{}"), key=len), re.compile("(.+?)".join(map(re.escape, k.split("{}"))), re.S), v)
            for k, v in rows
        ]

    @cached_property
    def _known(self) -> dict[str, tuple[str, tuple[str, ...]]]:
        return {}

    def term(self, text: str) -> str:
        """A term or sentence; what the language does not hold stays as it is."""
        return self._seen(text)[0] if self.terms else text

    def missing(self, text: str) -> tuple[str, ...]:
        """The pieces of a text that the language does not hold and that are no words of the user."""
        return self._seen(text)[1]

    def find(self, text: str) -> str | None:
        """A term or sentence, None when the language does not hold it."""
        other, left = self._seen(text)
        return None if left == (text,) else other

    def whole(self, value: Any) -> Any:
        """Report data with every word translated; symbols and names of files are left alone."""
        if not self.terms:
            return value
        if isinstance(value, str):
            return self.term(value)
        if isinstance(value, list):
            return [self.whole(item) for item in value]
        if not isinstance(value, dict):
            return value
        return {
            key: self._math(item) if key == "lines" else item if key in _TYPESET else self.whole(item)
            for key, item in value.items()
        }

    def _math(self, lines: list[str]) -> list[str]:
        def word(match: re.Match[str]) -> str:
            return f'"{self.term(match.group(1))}"' if " " in match.group(1) else match.group()

        return [_QUOTED.sub(word, line) for line in lines]

    def _seen(self, text: str) -> tuple[str, tuple[str, ...]]:
        if text not in self._known:
            self._known[text] = self._translated(text)
        return self._known[text]

    def _translated(self, text: str) -> tuple[str, tuple[str, ...]]:
        """A text in the language, and the pieces that stayed English."""
        whole = self.terms.get(text) or self.cells.get(text)
        if whole is not None:
            return whole, ()
        if text in self.names or self._neutral(text):
            return text, ()
        best: tuple[str, tuple[str, ...]] | None = None
        for key, pattern, other in self._patterns:
            match = pattern.fullmatch(text) if key in text else None
            if match is None:
                continue
            filled = self._filled(other, match.groups())
            if not filled[1]:
                return filled
            if sum(map(str.isalpha, pattern.pattern)) >= _OWN_LETTERS:
                best = filled if best is None or _size(filled[1]) < _size(best[1]) else best
        for parts, form in _splits(text):
            rows = [self._seen(part) for part in parts]
            if not any(left for _, left in rows):
                return form.format(*(other for other, _ in rows)), ()
        reference = self._reference(text)
        if reference is not None:
            return reference, ()
        return best or (text, (text,))

    def _filled(self, other: str, parts: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
        rows = [self._seen(part) for part in parts]
        return other.format(*(row[0] for row in rows)), tuple(piece for row in rows for piece in row[1])

    def _neutral(self, text: str) -> bool:
        """Whether a piece has no word that a language could change: numbers, units, codes."""
        words = (w for w in _TOKEN.findall(text) if w.isalpha() and (len(w) > 2 or w in _SHORT))
        return all(word in self.same for word in words)

    @cached_property
    def _reference_words(self) -> re.Pattern[str]:
        words = sorted(self.references, key=len, reverse=True)
        return re.compile(r"(?<!\w)(?:" + "|".join(map(re.escape, words)) + r")(?!\w)")

    def _reference(self, text: str) -> str | None:
        """A reference to a standard, word by word; None when a word is not known."""
        if not self.references or not _STANDARD.search(text):
            return None
        if not self._neutral(self._reference_words.sub("", text)):
            return None
        return self._reference_words.sub(lambda m: self.references[m.group()], text)


def _size(pieces: tuple[str, ...]) -> int:
    return sum(map(len, pieces))


def _splits(text: str) -> Iterator[tuple[list[str], str]]:
    """Ways to take a text apart: the pieces, and how they stand together."""
    for sep in ("  ", "; ", None, ": ", ", ", " / "):
        parts = _SENTENCE.split(text) if sep is None else text.split(sep)
        if len(parts) > 1 and all(parts):
            yield parts, (sep or " ").join(["{}"] * len(parts))
            for k in range(1, len(parts)) if len(parts) > 2 else ():
                yield [(sep or " ").join(parts[:k]), (sep or " ").join(parts[k:])], f"{{}}{sep or ' '}{{}}"
    for bracket in _BRACKETS:
        match = bracket.fullmatch(text)
        if match:
            yield list(match.groups()), "{} ({})"
    if len(text) > 3 and text.endswith("."):
        yield [text[:-1]], "{}."
    if text.startswith("“") and text.endswith("”"):
        yield [text[1:-1]], "„{}“"


ENGLISH = Language("en", {}, {})


def language(code: str) -> Language:
    """A language by its code.

    Raises
    ------
    ValueError
        When there is no such language, or when two of its files disagree about a text.
    """
    if code not in LANGUAGES:
        raise ValueError(f"language {code}: there are {', '.join(LANGUAGES)}")
    return ENGLISH if code == "en" else _read(code)


def _read(code: str) -> Language:
    parts: dict[str, dict[str, str]] = {"terms": {}, "cells": {}, "references": {}}
    same: set[str] = set()
    folder = resources.files("evenground.language")
    for file in sorted(
        (f for f in folder.iterdir() if re.match(rf"{code}[_.].*toml$", f.name)), key=lambda f: f.name
    ):
        data = tomllib.loads(file.read_text(encoding="utf-8"))
        same |= set(data.get("same", ()))
        for name, held in parts.items():
            for english, other in data.get(name, {}).items():
                if held.setdefault(english, other) != other:
                    raise ValueError(
                        f"language {code}: two words for “{english}”, one of them in {file.name}"
                    )
    return Language(code, parts["terms"], parts["cells"], parts["references"], frozenset(same))
