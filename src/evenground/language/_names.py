"""The words of a user in a project: what no language may change."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["words_in"]

_NOT_THEIRS = frozenset({"warnings"})
"""Fields that hold sentences of the program."""
_PLACE = re.compile(r"(.+), (?:tower|pole|joint) \d+", re.S)
"""A place on a route, which the program names after the route."""


def words_in(value: Any) -> frozenset[str]:
    """Every text in a shape of the model and in what it holds, keys of mappings included."""
    found = set(_texts(value))
    found |= {" ".join(text.split()) for text in found}
    found -= {text for text in found if (made := _PLACE.fullmatch(text)) and made[1] in found}
    return frozenset(text for text in found if text)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from _texts(key)
            yield from _texts(item)
    elif isinstance(value, (list, tuple, set, frozenset)):
        for item in value:
            yield from _texts(item)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            if field.name not in _NOT_THEIRS:
                yield from _texts(getattr(value, field.name))
