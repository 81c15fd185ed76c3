"""The mark that our own drawings carry on each conductor, so that reading them gives the same electrode."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Any

from evenground.model.electrode import Conductor

__all__ = ["APPLICATION", "OwnMark", "mark_tags", "own_mark"]

APPLICATION = "EVENGROUND"


@dataclass(frozen=True, slots=True)
class OwnMark:
    """Conductor key, radius, kind, group and name. [m]"""

    key: str
    kind: str
    group: str
    tag: str
    radius_m: float


def mark_tags(conductor: Conductor, key: str) -> list[tuple[int, str | float]]:
    """The mark as extended data of a drawing entity."""
    words = (key, conductor.kind, conductor.group, conductor.tag)
    return [*((1000, w[:250]) for w in words), (1040, conductor.radius_m)]


def own_mark(entity: Any) -> OwnMark | None:
    """The mark of an entity; None when it has none or a damaged one."""
    if not entity.has_xdata(APPLICATION):
        return None
    tags = [t for t in entity.get_xdata(APPLICATION) if t.code in {1000, 1040}]
    if [t.code for t in tags] != [1000, 1000, 1000, 1000, 1040]:
        return None
    *words, radius = (t.value for t in tags)
    if not (isfinite(radius) and radius > 0):
        return None
    key, kind, group, tag = (str(w) for w in words)
    return OwnMark(key, kind, group, tag, float(radius))
