"""Metal of the earths that stand near the mat: footings, counterpoises, the mats of other stations."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from evenground.model.coupling import PlacedEarth
from evenground.model.electrode import Conductor, Electrode, Point3

__all__ = ["placed_metal"]


def placed_metal(earths: Sequence[PlacedEarth]) -> Electrode:
    """The conductors of placed earths, each earth a group of its own name.

    Legs stand on the corners of a square, a width of 0 makes one rod; a frame is a square with a cross.
    """
    return Electrode(c for earth in earths for c in _of(earth))


def _of(earth: PlacedEarth) -> Iterable[Conductor]:
    x, y, half = *earth.at_m, earth.width_m / 2
    corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
    radius, depth = earth.diameter_m / 2, earth.depth_m

    def metal(start: Point3, end: Point3, radius_m: float) -> Conductor:
        return Conductor(start, end, radius_m, kind="placed", group=earth.name, tag=earth.label)

    if earth.frame:
        middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise([*corners, corners[0]])]
        ring = [p for pair in zip(corners, middles, strict=True) for p in pair]
        for a, b in pairwise([*ring, ring[0]]):
            yield metal((*a, depth), (*b, depth), radius)
        for end in middles:
            yield metal((x, y, depth), (*end, depth), radius)
    else:
        for a in corners if half else [(x, y)]:
            yield metal((*a, 0.0), (*a, depth), radius)
    for wire in earth.wires:
        for a, b in pairwise(wire.points_m):
            yield metal((*a, wire.depth_m), (*b, wire.depth_m), wire.diameter_m / 2)
