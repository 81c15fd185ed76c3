"""Cluster tree over segments and the partition of the matrix into blocks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.field._segments import Segments

__all__ = ["Partition", "partition"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEAF = 64
ETA = 1.5
"""A block is compressed when its smaller cluster's diagonal is at most ``ETA`` times their distance."""


@dataclass(frozen=True)
class Partition:
    """Order of the segments and blocks of the lower half of the matrix.

    ``near`` and ``far`` (4, blocks) hold first and last row, first and last column; ``leaf`` (2, leaves)
    the diagonal blocks' ranges.
    """

    order: IntArray
    near: IntArray
    far: IntArray
    leaf: IntArray


@dataclass
class _Tree:
    begin: list[int]
    end: list[int]
    left: list[int]
    right: list[int]


def partition(segments: Segments) -> Partition:
    """Split segments into clusters of at most ``LEAF`` and pair the clusters off into blocks."""
    order, tree = _bisect(segments.middle)
    begin, end = np.array(tree.begin), np.array(tree.end)
    left, right = np.array(tree.left), np.array(tree.right)
    low, high = _boxes(segments, order, begin, end, left, right)
    diagonal = np.linalg.norm(high - low, axis=0)
    near: list[IntArray] = []
    far: list[IntArray] = []
    a, b = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    while len(a):
        gap = np.maximum(0.0, np.maximum(low[:, a] - high[:, b], low[:, b] - high[:, a]))
        apart = np.minimum(diagonal[a], diagonal[b]) <= ETA * np.linalg.norm(gap, axis=0)
        apart &= a != b
        far.append(np.stack([a[apart], b[apart]]))
        a, b = a[~apart], b[~apart]
        done = (left[a] < 0) & (left[b] < 0)
        near.append(np.stack([a[done], b[done]]))
        a, b = _split(a[~done], b[~done], left, right, end - begin)
    pairs = [np.concatenate(p, axis=1) for p in (near, far)]
    blocks = [np.stack([begin[p[0]], end[p[0]], begin[p[1]], end[p[1]]]).astype(np.int64) for p in pairs]
    leaves = np.flatnonzero(left < 0)
    return Partition(order, blocks[0], blocks[1], np.stack([begin[leaves], end[leaves]]).astype(np.int64))


def _bisect(points: FloatArray) -> tuple[IntArray, _Tree]:
    """Halve at the median of the longest side until the leaves are small."""
    n = points.shape[1]
    order = np.arange(n)
    tree = _Tree([0], [n], [-1], [-1])
    stack = [0]
    while stack:
        node = stack.pop()
        b, e = tree.begin[node], tree.end[node]
        if e - b <= LEAF:
            continue
        part = points[:, order[b:e]]
        axis = int(np.argmax(part.max(axis=1) - part.min(axis=1)))
        half = (e - b) // 2
        order[b:e] = order[b:e][np.argpartition(part[axis], half)]
        for k, (x, y) in enumerate(((b, b + half), (b + half, e))):
            child = len(tree.begin)
            tree.begin.append(x)
            tree.end.append(y)
            tree.left.append(-1)
            tree.right.append(-1)
            if k == 0:
                tree.left[node] = child
            else:
                tree.right[node] = child
            stack.append(child)
    return order.astype(np.int64), tree


def _boxes(
    segments: Segments, order: IntArray, begin: IntArray, end: IntArray, left: IntArray, right: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Bounding boxes of all clusters, from the leaves up. [m]"""
    low_all = np.minimum(segments.start, segments.end)[:, order]
    high_all = np.maximum(segments.start, segments.end)[:, order]
    low, high = np.empty((3, len(begin))), np.empty((3, len(begin)))
    for node in range(len(begin) - 1, -1, -1):  # children have higher numbers than their parent
        if left[node] < 0:
            low[:, node] = low_all[:, begin[node] : end[node]].min(axis=1)
            high[:, node] = high_all[:, begin[node] : end[node]].max(axis=1)
        else:
            children = [left[node], right[node]]
            low[:, node], high[:, node] = low[:, children].min(axis=1), high[:, children].max(axis=1)
    return low, high


def _split(
    a: IntArray, b: IntArray, left: IntArray, right: IntArray, size: IntArray
) -> tuple[IntArray, IntArray]:
    """Children of pairs; the larger cluster is split, on the diagonal both are (lower half only)."""
    same = a == b
    d = a[same]
    pairs = [(left[d], left[d]), (right[d], right[d]), (right[d], left[d])]
    a, b = a[~same], b[~same]
    first = (left[b] < 0) | ((left[a] >= 0) & (size[a] >= size[b]))
    pairs += [(child[a[first]], b[first]) for child in (left, right)]
    pairs += [(a[~first], child[b[~first]]) for child in (left, right)]
    return np.concatenate([p[0] for p in pairs]), np.concatenate([p[1] for p in pairs])
