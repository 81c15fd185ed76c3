"""Cluster tree over segments and the partition of the matrix into blocks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.field._segments import Segments

__all__ = ["Partition", "Tree", "bisect", "bounding_boxes", "partition"]

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


@dataclass(frozen=True)
class Tree:
    """Binary tree over an order of items; children stand behind their parents, -1: none.

    Node k holds the items ``begin[k]:end[k]`` of the order.
    """

    begin: IntArray
    end: IntArray
    left: IntArray
    right: IntArray
    parent: IntArray


def partition(segments: Segments) -> Partition:
    """Split segments into clusters of at most ``LEAF`` and pair the clusters off into blocks."""
    order, tree = bisect(segments.middle, LEAF)
    begin, end, left, right = tree.begin, tree.end, tree.left, tree.right
    low, high = bounding_boxes(
        tree,
        np.minimum(segments.start, segments.end)[:, order],
        np.maximum(segments.start, segments.end)[:, order],
    )
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


def bisect(points: FloatArray, leaf: int) -> tuple[IntArray, Tree]:
    """Order of points (3, n) and tree: halved at the median of the longest side down to ``leaf`` items."""
    order = np.arange(points.shape[1])
    rows: list[list[int]] = [[0, points.shape[1], -1, -1, -1]]
    stack = [0]
    while stack:
        node = stack.pop()
        b, e = rows[node][:2]
        if e - b <= leaf:
            continue
        part = points[:, order[b:e]]
        axis = int(np.argmax(part.max(axis=1) - part.min(axis=1)))
        half = (e - b) // 2
        order[b:e] = order[b:e][np.argpartition(part[axis], half)]
        rows[node][2:4] = [len(rows), len(rows) + 1]
        stack += [len(rows), len(rows) + 1]
        rows += [[b, b + half, -1, -1, node], [b + half, e, -1, -1, node]]
    table = np.array(rows, dtype=np.int64).T
    return order.astype(np.int64), Tree(*(np.ascontiguousarray(v) for v in table))


def bounding_boxes(tree: Tree, low_item: FloatArray, high_item: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bounding boxes (3, nodes) of all clusters; items (3, n) in the order of the tree. [m]"""
    n = len(tree.begin)
    low, high = np.empty((3, n)), np.empty((3, n))
    for node in range(n - 1, -1, -1):
        if tree.left[node] < 0:
            part = slice(int(tree.begin[node]), int(tree.end[node]))
            low[:, node], high[:, node] = low_item[:, part].min(axis=1), high_item[:, part].max(axis=1)
        else:
            children = [tree.left[node], tree.right[node]]
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
