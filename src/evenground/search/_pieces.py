"""The metal as pieces between joints, and what hangs together when one of them is gone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evenground.field import KeptSolution
from evenground.model.electrode import Electrode, Point3

__all__ = ["Joint", "Pieces", "pieces_of"]

IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Piece:
    """Metal between two joints, or a joint and a free end."""

    conductor: int
    segments: IntArray
    nodes: tuple[int, int]
    start_m: Point3
    end_m: Point3
    length_m: float


@dataclass(frozen=True)
class Joint:
    """A place where conductors meet."""

    node: int
    conductors: tuple[int, ...]
    at_m: Point3


@dataclass(frozen=True, eq=False)
class Pieces:
    """All pieces and joints of bonded metal."""

    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]
    start_parts: IntArray

    def loose(self, *, without: Sequence[int] = (), opened: int | None = None) -> tuple[tuple[int, ...], ...]:
        """Pieces cut off when some pieces go or a joint opens; each tuple is one floating part.

        Of what hung together before, the part with most metal stays bonded. Parts that no drawn metal joined
        in the first place count as bonded above ground, as in a study.
        """
        gone = set(without)
        left = [k for k in range(len(self.pieces)) if k not in gone]
        part = _parts(self.pieces, left, opened)
        found = []
        for start in np.unique(self.start_parts[left]):
            own = [(part[i], k) for i, k in enumerate(left) if self.start_parts[k] == start]
            length: dict[int, float] = {}
            for p, k in own:
                length[p] = length.get(p, 0.0) + self.pieces[k].length_m
            stays = max(length, key=lambda p: (length[p], -p))
            found += [tuple(k for q, k in own if q == p) for p in length if p != stays]
        return tuple(found)


def _parts(pieces: Sequence[Piece], left: Sequence[int], opened: int | None) -> list[int]:
    """Number of the connected part of each piece left.

    At an opened joint every conductor keeps its own continuous metal and loses the others.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    number: dict[tuple[int, int], int] = {}

    def place(k: int, node: int) -> int:
        key = (node, pieces[k].conductor if node == opened else -1)
        return number.setdefault(key, len(number))

    ends = np.array([[place(k, node) for node in pieces[k].nodes] for k in left], dtype=np.int64)
    graph = coo_array((np.ones(len(left)), (ends[:, 0], ends[:, 1])), shape=(len(number), len(number)))
    found = connected_components(graph, directed=False)[1]
    return [int(v) for v in found[ends[:, 0]]]


def pieces_of(kept: KeptSolution, electrode: Electrode) -> Pieces:
    """Cut the segments of a solution at the joints between different conductors."""
    owner = kept.segments.conductor
    meets: dict[int, set[int]] = {}
    for k in range(len(owner)):
        for node in kept.ends[:, k]:
            meets.setdefault(int(node), set()).add(int(owner[k]))
    joints = tuple(
        Joint(node, tuple(sorted(who)), _point(kept.nodes_m[node]))
        for node, who in sorted(meets.items())
        if len(who) > 1
    )
    pieces: list[Piece] = []
    for conductor in np.unique(owner):
        pieces += _of_conductor(kept, int(conductor), {j.node for j in joints})
    start = np.array(_parts(pieces, range(len(pieces)), None), dtype=np.int64)
    return Pieces(tuple(pieces), joints, start)


def _of_conductor(kept: KeptSolution, conductor: int, joints: set[int]) -> list[Piece]:
    """Segments of one conductor lie in order from its start."""
    own = np.flatnonzero(kept.segments.conductor == conductor)
    found, run = [], [int(own[0])]
    for before, after in pairwise(own.tolist()):
        node = int(kept.ends[1, before])
        if node in joints or node != int(kept.ends[0, after]):
            found.append(_piece(kept, conductor, run))
            run = []
        run.append(int(after))
    return [*found, _piece(kept, conductor, run)]


def _piece(kept: KeptSolution, conductor: int, run: Sequence[int]) -> Piece:
    segments = kept.segments
    return Piece(
        conductor,
        np.array(run, dtype=np.int64),
        (int(kept.ends[0, run[0]]), int(kept.ends[1, run[-1]])),
        _point(segments.start[:, run[0]]),
        _point(segments.end[:, run[-1]]),
        float(segments.length_m[list(run)].sum()),
    )


def _point(values: NDArray[np.float64]) -> Point3:
    x, y, z = (float(v) for v in values)
    return (x, y, z)
