"""Tables of the layered-earth kernel over horizontal distance for depths that occur often.

A mat has all its conductors at one depth and its rods cut alike, so few pairs of depths occur. For each
the images are summed once into piecewise cubics over the squared distance (relative error below 1e-6 of
the sum of the images' sizes); afterwards a pair of points costs one look-up however many layers there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from evenground.field._arrays import Packed
from evenground.field._images import ImageSet
from evenground.field._segments import Segments

__all__ = ["pack_matrix", "pack_points"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CLOSE_LENGTHS = 0.7
"""Images nearer than this many lengths of the longest horizontal segment are integrated exactly."""
CELLS_SHIFT = 49
MOST_CLASSES = 80
NODES = 0.5 * np.cos((2 * np.arange(4) + 1) * np.pi / 8)
INVERSE = np.linalg.inv(np.vander(NODES, 4, increasing=True))


@dataclass(frozen=True)
class _Classes:
    """Distinct (layer, depth) of sources or observers; ``column`` is the layer, or N for the surface."""

    column: IntArray
    depth_m: FloatArray


def _flat(segments: Segments) -> NDArray[np.bool_]:
    return np.asarray(np.abs(segments.vector[2]) < 1e-9 * segments.length_m)


def _node_depths(segments: Segments) -> FloatArray:
    """Depths of both Gauss points and the midpoint, (3, n). [m]"""
    x = 0.5 / np.sqrt(3.0)
    t = np.array([0.5 - x, 0.5 + x, 0.5])
    depth = segments.start[2] + t[:, None] * segments.vector[2]
    return np.asarray(np.where(_flat(segments), segments.start[2], depth))


def _classify(column: IntArray, depth: FloatArray) -> tuple[_Classes, IntArray]:
    keys = np.stack([column.ravel(), np.round(depth.ravel() * 1e7).astype(np.int64)])
    _, where, number = np.unique(keys, axis=1, return_index=True, return_inverse=True)
    classes = _Classes(column.ravel()[where], depth.ravel()[where])
    return classes, number.reshape(depth.shape).astype(np.int64)


def pack_matrix(segments: Segments, images: ImageSet) -> Packed:
    """Arrays for pairs of segments; without tables where these would not pay."""
    depth = _node_depths(segments)
    classes, number = _classify(np.broadcast_to(segments.layer, depth.shape), depth)
    k, n = len(classes.depth_m), len(segments)
    if k > MOST_CLASSES or 160 * k * k > n * n:
        return _without_tables(segments, images)
    return _build(segments, images, classes, number, classes, _extent(segments.start, segments.end), True)


@dataclass(frozen=True, eq=False)
class _Kept:
    images: ImageSet
    levels: _Classes
    extent_m: float
    packed: Packed

    def serves(self, images: ImageSet, levels: _Classes, extent_m: float) -> bool:
        """Whether these arrays hold for the points of another call."""
        return (
            images is self.images
            and extent_m <= self.extent_m
            and np.array_equal(levels.depth_m, self.levels.depth_m)
            and np.array_equal(levels.column, self.levels.column)
        )


_KEPT: WeakKeyDictionary[Segments, _Kept] = WeakKeyDictionary()
"""The last arrays of every solution alive, one for each: they go when its segments go. Not part of any
result (what is kept is what would be computed again), and safe with threads: an entry is never changed,
only replaced, and a call works on the one it found or made."""


def pack_points(
    segments: Segments, images: ImageSet, points: FloatArray, column: IntArray
) -> tuple[Packed, IntArray]:
    """Arrays for segments and points (3, n), and the observer class of each point.

    A search asks for a few points again and again: the last arrays of each solution are kept and used
    while the points lie at the same depths and within the distance tabulated.
    """
    n, m = len(segments), points.shape[1]
    levels, level = _classify(column, points[2])
    extent = _extent(segments.start, segments.end, points)
    kept = _KEPT.get(segments)
    if kept is not None and kept.serves(images, levels, extent):
        return kept.packed, level
    depth = _node_depths(segments)
    classes, number = _classify(np.broadcast_to(segments.layer, depth.shape), depth)
    rows = len(classes.depth_m) * len(levels.depth_m)
    if rows > 2000 or 400 * rows > n * m:
        return _without_tables(segments, images), np.zeros(m, dtype=np.int64)
    packed = _build(segments, images, classes, number, levels, 1.5 * extent, False)
    _KEPT[segments] = _Kept(images, levels, 1.5 * extent, packed)
    return packed, level


def _extent(*sets: FloatArray) -> float:
    """Diagonal of the horizontal bounding box. [m]"""
    low = np.min([s[:2].min(axis=1) for s in sets], axis=0)
    high = np.max([s[:2].max(axis=1) for s in sets], axis=0)
    return float(np.hypot(*(high - low)))


def _common(
    segments: Segments, images: ImageSet, number: IntArray
) -> tuple[FloatArray, IntArray, IntArray, FloatArray]:
    seg = np.concatenate(
        [segments.start, segments.vector, segments.length_m[None], segments.radius_m[None]], axis=0
    )
    tag = np.concatenate([number, segments.layer[None], _flat(segments).astype(np.int64)[None]], axis=0)
    image = np.stack([images.coefficient, images.flip, images.shift])
    return seg, tag, np.stack([images.first, images.count]), image


def _without_tables(segments: Segments, images: ImageSet) -> Packed:
    none = np.full((2, 1, 1), -1, dtype=np.int64)
    empty = np.zeros((1, 1, 4))
    number = np.zeros((3, len(segments)), dtype=np.int64)
    close = np.zeros((2, 1), dtype=np.int64)
    base = np.zeros(2, dtype=np.int64)
    return Packed(
        *_common(segments, images, number), none, empty, empty, np.zeros(1), close, np.zeros((3, 1)), base
    )


def _build(
    segments: Segments,
    images: ImageSet,
    sources: _Classes,
    number: IntArray,
    observers: _Classes,
    extent_m: float,
    same: bool,
) -> Packed:
    nearest = max(float(segments.length_m.min()), 1e-4)
    farthest = max(1.01 * extent_m, 2.0 * nearest) + 1.0
    shape = (len(sources.depth_m), len(observers.depth_m))
    row_of = np.full((2, *shape), -1, dtype=np.int64)
    s, o = _pairs(row_of[0], np.ones(shape, dtype=bool), same)
    far, far_base = _tabulate(
        images, sources, observers, s, o, (nearest**2, farthest**2), 0.0, np.zeros(len(s))
    )
    flat = _flat(segments)
    is_flat = np.zeros(shape[0], dtype=bool)
    is_flat[number[2, flat]] = True
    s, o = _pairs(row_of[1], is_flat[:, None] & (is_flat if same else np.ones(shape[1], dtype=bool)), same)
    least = CLOSE_LENGTHS * float(segments.length_m[flat].max()) if flat.any() else 0.0
    height2, close, close_image = _split_images(images, sources, observers, s, o, least)
    rest, rest_base = np.zeros((1, 1, 4)), 0
    if height2.max() > 0.0:
        span = (float(height2[height2 > 0.0].min()), float(height2.max()) + farthest**2)
        rest, rest_base = _tabulate(images, sources, observers, s, o, span, least, height2)
    base = np.array([far_base, rest_base], dtype=np.int64)
    return Packed(*_common(segments, images, number), row_of, far, rest, height2, close, close_image, base)


def _pairs(row_of: IntArray, wanted: NDArray[np.bool_], same: bool) -> tuple[IntArray, IntArray]:
    """Number the wanted pairs of classes; by reciprocity one table serves both directions."""
    s, o = np.nonzero(np.triu(wanted) if same else wanted)
    row_of[s, o] = np.arange(len(s))
    if same:
        row_of[o, s] = np.arange(len(s))
    return s.astype(np.int64), o.astype(np.int64)


def _tabulate(
    images: ImageSet,
    sources: _Classes,
    observers: _Classes,
    s: IntArray,
    o: IntArray,
    span: tuple[float, float],
    least: float,
    height2: FloatArray,
) -> tuple[FloatArray, int]:
    from evenground.field import _kernels

    bounds = np.array(span).view(np.int64) >> CELLS_SHIFT
    base = int(bounds[0])
    out = np.zeros((len(s), int(bounds[1]) - base + 2, 4))
    lo = images.first[sources.column[s], observers.column[o]]
    hi = lo + images.count[sources.column[s], observers.column[o]]
    z, d = observers.depth_m[o], sources.depth_m[s]
    image = np.stack([images.coefficient, images.flip, images.shift])
    _kernels.fill_tables(out, base, z, d, lo, hi, least, height2, image, NODES, INVERSE)
    return out, base


def _split_images(
    images: ImageSet, sources: _Classes, observers: _Classes, s: IntArray, o: IntArray, least: float
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Squared height of the nearest image of the rest (0: there is none), and the close images."""
    height2 = np.zeros(max(len(s), 1))
    span = np.zeros((2, max(len(s), 1)), dtype=np.int64)
    parts: list[FloatArray] = [np.zeros((3, 0))]
    total = 0
    for row, (a, b) in enumerate(zip(s.tolist(), o.tolist(), strict=True)):
        c, f, x = images.of_pair(int(sources.column[a]), int(observers.column[b]))
        height = np.abs(observers.depth_m[b] - f * sources.depth_m[a] - x)
        close = height < least
        if not close.all():
            height2[row] = float(height[~close].min()) ** 2
        span[:, row] = total, int(close.sum())
        total += int(close.sum())
        parts.append(np.stack([c[close], f[close], x[close]]))
    return height2, span, np.ascontiguousarray(np.concatenate(parts, axis=1))
