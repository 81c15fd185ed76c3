"""Drafts next to a draft: one choice changed, two changed together, a line left out or put back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from evenground.search._draft import Draft, Space

__all__ = ["neighbours"]

ORDERED_STEPS = (-2, -1, 1, 2)
MANY = 6
"""Choices with more options than this are walked in steps, the others tried in full."""


def neighbours(space: Space, draft: Draft) -> Iterator[list[Draft]]:
    """Neighbours of a draft in three rings, each once, in a fixed order.

    One choice changed; two changed against each other, without which the walk would stop where each alone
    fails; a line left out or put back.
    """
    seen = {draft}
    for ring in (_one(space, draft), _two(space, draft), _lines(space, draft)):
        rows = [d for d in dict.fromkeys(ring) if d not in seen]
        seen.update(rows)
        yield rows


def _set(space: Space, draft: Draft, changes: dict[int, int]) -> Draft | None:
    genes = list(draft.genes)
    for k, gene in changes.items():
        if not 0 <= gene < len(space.choices[k].options):
            return None
        genes[k] = gene
    moved = any(space.choices[k].key.startswith(("meshes", "edge_x", "edge_y")) for k in changes)
    return Draft(tuple(genes), () if moved else draft.dropped)


def _one(space: Space, draft: Draft) -> Iterator[Draft]:
    for k, choice in enumerate(space.choices):
        here = draft.genes[k]
        places = (
            [here + s for s in ORDERED_STEPS] if len(choice.options) > MANY else range(len(choice.options))
        )
        for gene in places:
            made = _set(space, draft, {k: gene})
            if made is not None and gene != here:
                yield made


def _two(space: Space, draft: Draft) -> Iterator[Draft]:
    keys = [c.key for c in space.choices]
    counted = [
        k for k, key in enumerate(keys) if key.startswith(("meshes", "edge_", "corner_", "ring", "cover"))
    ]
    for a in counted:
        for b in counted:
            if a != b:
                made = _set(space, draft, {a: draft.genes[a] - 1, b: draft.genes[b] + 1})
                if made is not None:
                    yield made


def _lines(space: Space, draft: Draft) -> Iterator[Draft]:
    for line in space.lines(draft):
        yield replace(draft, dropped=tuple(sorted((*draft.dropped, line))))
    for line in draft.dropped:
        yield replace(draft, dropped=tuple(other for other in draft.dropped if other != line))
