"""The language of a study's papers, and figures in that language."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from evenground.deliver._figure import TITLE_CHARACTERS
from evenground.language import Language, language, words_in

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["figure_texts", "sentences", "speak_figure", "study_language"]


def study_language(study: Study) -> Language:
    """The language that the project asks for; it leaves the words of the designer as they are."""
    return language(study.project.identity.language).knowing(words_in(study.project))


def speak_figure(figure: Any, words: Language) -> Any:
    """The same figure with its words in another language; lines that were broken are broken anew."""
    for artist in _artists(figure) if words.terms else ():
        text = artist.get_text()
        if any(map(str.isalpha, text)):
            artist.set_text("\n".join(_in_lines(text, words)))
    return figure


def figure_texts(figure: Any) -> Iterator[str]:
    """Every text that a figure shows, as it was set."""
    yield from (artist.get_text() for artist in _artists(figure))


def _artists(figure: Any) -> list[Any]:
    from matplotlib.text import Text

    found: list[Any] = figure.findobj(Text)
    return found


def _in_lines(text: str, words: Language) -> Iterator[str]:
    """The lines of a text in the language, long ones broken anew."""
    for sentence in sentences(text, words):
        other = words.term(sentence)
        yield from textwrap.wrap(other, TITLE_CHARACTERS) if len(other) > TITLE_CHARACTERS else (other,)


def sentences(text: str, words: Language) -> list[str]:
    """The sentences of a text that was broken into lines: the shortest ones that the language holds; lines
    that it does not hold stand alone."""
    lines = text.split("\n")
    return _joined(lines, words) or lines


def _joined(lines: list[str], words: Language) -> list[str] | None:
    for end in range(1, len(lines) + 1):
        first = " ".join(lines[:end])
        if not words.missing(first):
            rest = _joined(lines[end:], words) if lines[end:] else []
            if rest is not None:
                return [first, *rest]
    return None
