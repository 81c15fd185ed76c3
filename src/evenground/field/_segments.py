"""Cutting conductors into segments: at crossings and layer interfaces, graded toward ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import ceil, log

import numpy as np
from numpy.typing import NDArray

from evenground.errors import InputError
from evenground.field._geometry import Meetings, find_meetings
from evenground.model.electrode import Conductor
from evenground.model.soil import LayeredSoil

__all__ = ["Segments", "cut_conductors", "reordered"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SHORTEST_RADII = 4.0
"""No segment is shorter than this many radii: below, the thin-wire equation has no solution
(Navarrina, Colominas and Casteleiro, IEEE Trans. Power Delivery 18 (2003))."""
END_RADII = 8.0
"""First segment at a free end, in radii."""
END_SHARE = 0.03
"""First segment at a free end, at most this share of the largest segment length wanted."""
GROWTH = 0.7
"""Growth of the segment length per metre of distance from an end."""
DEFAULT_COUNT = 3000
"""The default segment length keeps about this many segments at most."""


@dataclass(frozen=True, eq=False)
class Segments:
    """Straight pieces that leak evenly along their length.

    Attributes
    ----------
    start, end : (3, n)
        Ends of the axes, one row for each coordinate. [m]
    radius_m, length_m : (n,)
    layer : (n,)
        Index of the soil layer.
    conductor : (n,)
        Index of the conductor in the electrode.
    notes : tuple of str
    """

    start: FloatArray
    end: FloatArray
    radius_m: FloatArray
    length_m: FloatArray
    layer: IntArray
    conductor: IntArray
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.length_m)

    @property
    def vector(self) -> FloatArray:
        """End minus start, (3, n). [m]"""
        return np.ascontiguousarray(self.end - self.start)

    @property
    def middle(self) -> FloatArray:
        """Midpoints, (3, n). [m]"""
        return 0.5 * (self.start + self.end)


def reordered(segments: Segments, order: IntArray) -> Segments:
    """The segments in another order."""
    return replace(
        segments,
        start=np.ascontiguousarray(segments.start[:, order]),
        end=np.ascontiguousarray(segments.end[:, order]),
        radius_m=segments.radius_m[order],
        length_m=segments.length_m[order],
        layer=segments.layer[order],
        conductor=segments.conductor[order],
    )


@dataclass(frozen=True)
class _Piece:
    conductor: int
    low: float
    high: float
    free_low: bool
    free_high: bool


def cut_conductors(
    conductors: Sequence[Conductor], soil: LayeredSoil, segment_m: float | None = None
) -> Segments:
    """Cut conductors into segments.

    Parameters
    ----------
    conductors : sequence of Conductor
    soil : LayeredSoil
    segment_m : float, optional
        Largest segment length; None: chosen from the layout. [m]

    Raises
    ------
    InputError
        When there is no conductor, or ``segment_m`` is not above four radii of every conductor.
    """
    if not conductors:
        raise InputError("the electrode has no conductors")
    thickest = max(c.radius_m for c in conductors)
    if segment_m is not None and not segment_m >= SHORTEST_RADII * thickest:
        raise InputError(
            f"segment_m: {segment_m} m is below {SHORTEST_RADII:g} radii of the thickest conductor "
            f"({SHORTEST_RADII * thickest:.4g} m), where thin-wire theory has no solution"
        )
    meetings = find_meetings(conductors)
    pieces, notes = _pieces(conductors, meetings, soil)
    largest = segment_m if segment_m is not None else _default_length(pieces)
    return _fill(conductors, pieces, soil, largest, (*meetings.notes, *notes))


def _pieces(
    conductors: Sequence[Conductor], meetings: Meetings, soil: LayeredSoil
) -> tuple[list[_Piece], list[str]]:
    pieces: list[_Piece] = []
    clipped = 0
    for index, conductor in enumerate(conductors):
        near = SHORTEST_RADII * conductor.radius_m
        interfaces = _interface_cuts(conductor, soil)
        touched = sorted(meetings.touched[index])
        for low, high in meetings.kept[index]:
            walls = [x for x in interfaces if low < x < high]
            stub_low, stub_high = (walls and walls[0] - low < near), (walls and high - walls[-1] < near)
            free_low = not any(abs(t - low) <= near for t in touched)
            free_high = not any(abs(t - high) <= near for t in touched)
            if stub_low:
                low = walls.pop(0)
            if stub_high and walls:
                high = walls.pop()
            clipped += bool(stub_low) + bool(stub_high)
            cuts = _spaced([low, *walls, high], [t for t in touched if low < t < high], near)
            for k, (a, b) in enumerate(pairwise(cuts)):
                pieces.append(_Piece(index, a, b, free_low and k == 0, free_high and k == len(cuts) - 2))
    notes = [f"{clipped} ends within four radii of a layer interface were cut off there"] if clipped else []
    return pieces, notes


def _interface_cuts(conductor: Conductor, soil: LayeredSoil) -> list[float]:
    """Distances from the start at which the axis passes a layer interface."""
    z0, z1 = conductor.start_m[2], conductor.end_m[2]
    length = conductor.length_m
    return sorted(
        length * (depth - z0) / (z1 - z0)
        for depth in soil.interface_depths_m
        if min(z0, z1) < depth < max(z0, z1)
    )


def _spaced(fixed: list[float], optional: list[float], near: float) -> list[float]:
    """The fixed cuts and those optional ones that keep their distance from all others."""
    cuts = list(fixed)
    last = -np.inf
    for x in optional:
        if x - last >= near and all(abs(x - c) >= near for c in fixed):
            cuts.append(x)
            last = x
    return sorted(cuts)


def _default_length(pieces: Sequence[_Piece]) -> float:
    """Half the typical distance between crossings, within a sensible total count."""
    lengths = np.sort([p.high - p.low for p in pieces])
    total = float(lengths.sum())
    middle = float(lengths[np.searchsorted(np.cumsum(lengths), 0.5 * total)])
    return max(min(middle / 2.0, total / 12.0), total / DEFAULT_COUNT)


@lru_cache(maxsize=4096)
def _division(length: float, free_low: bool, free_high: bool, largest: float, radius: float) -> FloatArray:
    """Fractions of the length at which a piece is cut.

    The wanted length grows linearly from the ends, where it is small if the end is free; cuts lie at
    equal steps of the integral of its inverse.
    """
    shortest = SHORTEST_RADII * radius

    def wanted_at_end(free: bool) -> float:
        if free:
            return min(largest, max(END_RADII * radius, min(END_SHARE * largest, 0.05 * length)))
        return min(largest, max(shortest, 0.6 * largest))

    x = np.concatenate([[0.0], np.geomspace(1e-4, 0.5, 60)])
    x = length * np.unique(np.concatenate([x, 1.0 - x]))
    wanted = np.minimum(
        wanted_at_end(free_low) + GROWTH * x, wanted_at_end(free_high) + GROWTH * (length - x)
    )
    wanted = np.minimum(wanted, largest)
    density = 1.0 / wanted
    count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
    n = max(1, ceil(count[-1] - 1e-3))
    while True:
        cuts = np.interp(np.linspace(0.0, count[-1], n + 1), count, x)
        if n == 1 or np.min(np.diff(cuts)) >= shortest:
            return np.asarray(cuts / length)
        n -= 1


def _fill(
    conductors: Sequence[Conductor],
    pieces: Sequence[_Piece],
    soil: LayeredSoil,
    largest: float,
    notes: tuple[str, ...],
) -> Segments:
    lows, highs, owner = [], [], []
    for piece in pieces:
        conductor = conductors[piece.conductor]
        length = piece.high - piece.low
        fractions = _division(
            _rounded(length), piece.free_low, piece.free_high, _rounded(largest), conductor.radius_m
        )
        cuts = piece.low + length * fractions
        lows.append(cuts[:-1])
        highs.append(cuts[1:])
        owner.append(np.full(len(cuts) - 1, piece.conductor))
    low, high, index = np.concatenate(lows), np.concatenate(highs), np.concatenate(owner)
    begin = np.array([c.start_m for c in conductors]).T
    finish = np.array([c.end_m for c in conductors]).T
    unit = (finish - begin) / np.linalg.norm(finish - begin, axis=0)
    start = np.ascontiguousarray(begin[:, index] + unit[:, index] * low)
    end = np.ascontiguousarray(begin[:, index] + unit[:, index] * high)
    start[2], end[2] = np.maximum(start[2], 0.0), np.maximum(end[2], 0.0)
    depth = 0.5 * (start[2] + end[2])
    radius = np.array([c.radius_m for c in conductors])[index]
    stubs = int(np.sum(high - low < (SHORTEST_RADII - 1e-6) * radius))
    if stubs:
        notes = (
            *notes,
            f"{stubs} conductors are shorter than four radii; thin-wire theory is rough for them",
        )
    return Segments(
        start=start,
        end=end,
        radius_m=radius,
        length_m=high - low,
        layer=np.searchsorted(np.array(soil.interface_depths_m), depth, side="left").astype(np.int64),
        conductor=index.astype(np.int64),
        notes=notes,
    )


def _rounded(value: float) -> float:
    """To nine digits, so that equal meshes share one division."""
    return round(value, 9 - ceil(log(value, 10)))
