"""Potential at many points of one plane, such as the surface.

The points are sorted into a tree of boxes. In a box that is small against its distance from a group of
segments their potential is smooth, so it is summed on 8 x 8 Chebyshev nodes and interpolated (error below
1e-5 of that group's potential); only segments nearby are summed at every point. The work grows with
points plus segments, not with their product.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenground.field._clusters import Tree, bisect, bounding_boxes
from evenground.field._images import ImageSet
from evenground.field._segments import Segments, reordered
from evenground.field._tables import pack_points

__all__ = ["pays", "plane_potential"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

NODES = 8
POINTS_IN_LEAF = 320
SEGMENTS_IN_LEAF = 32
APART = 0.5
"""Distance from which a box is interpolated, in diagonals of the box."""


def pays(points: FloatArray, segments: int) -> bool:
    """Whether the points (3, n) lie in one plane and are many enough."""
    n = points.shape[1]
    return n >= 4 * POINTS_IN_LEAF and n * segments > 500_000 and float(np.ptp(points[2])) == 0.0


def plane_potential(
    segments: Segments, images: ImageSet, current: FloatArray, points: FloatArray, column: IntArray
) -> FloatArray:
    """Potential at points (3, n) of equal depth; ``column`` is their column of the images. [A, m -> V]"""
    from evenground.field import _kernels

    source_order, sources = bisect(segments.middle, SEGMENTS_IN_LEAF)
    segments = reordered(segments, source_order)
    target_order, targets = bisect(points, POINTS_IN_LEAF)
    points = np.ascontiguousarray(points[:, target_order])
    low, high = bounding_boxes(targets, points, points)
    span = bounding_boxes(
        sources, np.minimum(segments.start, segments.end), np.maximum(segments.start, segments.end)
    )
    far, near = _lists(targets, (low, high), sources, span)
    packed, level = pack_points(segments, images, points, column)
    k = (np.arange(NODES) + 0.5) * np.pi / NODES
    leaves = np.flatnonzero(targets.left < 0)
    out = np.empty(points.shape[1])
    half = np.maximum(0.5 * (high - low), 1e-6)
    _kernels.plane_map(
        out,
        np.cos(k),
        0.5 * (low + high),
        half,
        targets.parent,
        np.stack([leaves, targets.begin[leaves], targets.end[leaves]]),
        *far,
        *near,
        np.cos(np.arange(NODES)[:, None] * k),
        points[0],
        points[1],
        float(points[2, 0]),
        int(column[0]),
        np.ascontiguousarray(current[source_order]),
        *packed,
    )
    assert not level.any()
    result = np.empty_like(out)
    result[target_order] = out
    return result


def _lists(
    targets: Tree,
    target_box: tuple[FloatArray, FloatArray],
    sources: Tree,
    source_box: tuple[FloatArray, FloatArray],
) -> tuple[tuple[IntArray, IntArray], tuple[IntArray, IntArray]]:
    """For each box the ranges of segments summed on its nodes, and for each leaf those summed directly."""
    low, high = target_box
    start, stop = source_box
    size, own = np.linalg.norm(high - low, axis=0), np.linalg.norm(stop - start, axis=0)
    t, s = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    far, near = [], []
    while len(t):
        gap = np.maximum(0.0, np.maximum(low[:, t] - stop[:, s], start[:, s] - high[:, t]))
        apart = np.linalg.norm(gap, axis=0) >= APART * size[t]
        far.append(np.stack([t[apart], s[apart]]))
        t, s = t[~apart], s[~apart]
        end_t, end_s = targets.left[t] < 0, sources.left[s] < 0
        near.append(np.stack([t[end_t & end_s], s[end_t & end_s]]))
        go = ~(end_t & end_s)
        t, s, end_t, end_s = t[go], s[go], end_t[go], end_s[go]
        split_t = ~end_t & (end_s | (size[t] >= own[s]))
        a, b, c, d = t[split_t], s[split_t], t[~split_t], s[~split_t]
        t = np.concatenate([targets.left[a], targets.right[a], c, c])
        s = np.concatenate([b, b, sources.left[d], sources.right[d]])
    boxes = len(targets.begin)
    return _spans(np.concatenate(far, axis=1), boxes, sources), _spans(
        np.concatenate(near, axis=1), boxes, sources
    )


def _spans(pairs: IntArray, boxes: int, sources: Tree) -> tuple[IntArray, IntArray]:
    """Pairs (box, cluster) as slices of a list of segment ranges."""
    pairs = pairs[:, np.argsort(pairs[0], kind="stable")]
    edge = np.searchsorted(pairs[0], np.arange(boxes + 1))
    ranges = np.stack([sources.begin[pairs[1]], sources.end[pairs[1]]])
    return np.stack([edge[:-1], edge[1:]]).astype(np.int64), ranges.astype(np.int64)
