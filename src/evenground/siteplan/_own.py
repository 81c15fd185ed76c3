"""The mark that our own drawings carry on each conductor, so that reading them gives the same electrode."""

from __future__ import annotations

import json
from dataclasses import dataclass
from math import isfinite
from typing import Any

from evenground.model.electrode import Conductor

__all__ = ["APPLICATION", "OwnMark", "mark_tags", "own_mark"]

APPLICATION = "EVENGROUND"
LONGEST = 250
"""A string of extended data holds 255 bytes."""


@dataclass(frozen=True, slots=True)
class OwnMark:
    """Conductor key, kind, group, name, radius; depth of the end, which rod blocks do not show. [m]"""

    key: str
    kind: str
    group: str
    tag: str
    radius_m: float
    end_depth_m: float


def mark_tags(conductor: Conductor, key: str) -> list[tuple[int, str]]:
    """The mark as extended data of a drawing entity: one line of JSON, in which no control character can
    stand; a name too long for it is cut."""
    parts = [
        key, conductor.kind, conductor.group, conductor.tag, conductor.radius_m, conductor.end_m[2],
    ]  # fmt: skip
    text = json.dumps(parts)
    while len(text) > LONGEST and parts[3]:
        parts[3] = str(parts[3])[: len(str(parts[3])) // 2]
        text = json.dumps(parts)
    return [(1000, text)] if len(text) <= LONGEST else []


def own_mark(entity: Any) -> OwnMark | None:
    """The mark of an entity; None when it has none or a damaged one."""
    if not entity.has_xdata(APPLICATION):
        return None
    texts = [t.value for t in entity.get_xdata(APPLICATION) if t.code == 1000]
    try:
        parts = json.loads(texts[0]) if texts else None
    except (TypeError, ValueError, RecursionError):
        return None
    if not isinstance(parts, list) or len(parts) != 6:
        return None
    *words, radius, end = parts
    if not all(isinstance(word, str) for word in words) or not (_number(radius) and _number(end)):
        return None
    if radius <= 0 or end < 0:
        return None
    key, kind, group, tag = words
    return OwnMark(key, kind, group, tag, float(radius), float(end))


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
