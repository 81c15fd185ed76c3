"""Buried metal as a net: conductors cut where they meet, with shared nodes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evenground.model.electrode import Conductor, Point3

__all__ = ["Metalwork"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Metalwork:
    """A net of straight pieces.

    Attributes
    ----------
    nodes_m : array of shape (n, 3)
        Places of the nodes; z is depth, positive down. [m]
    start, end : arrays of shape (m,)
        Node at either end of each piece.
    radius_m, length_m : arrays of shape (m,)
        [m]
    conductor : array of shape (m,)
        Index of the conductor that each piece was cut from.
    """

    nodes_m: Floats
    start: Ints
    end: Ints
    radius_m: Floats
    length_m: Floats
    conductor: Ints

    @classmethod
    def from_conductors(
        cls,
        conductors: Iterable[Conductor],
        *,
        tolerance_m: float = 1e-3,
        longest_m: float = math.inf,
        cut_at_m: Iterable[Point3] = (),
        snap_m: float = 0.05,
    ) -> Metalwork:
        """Cut conductors where they touch or cross, and into pieces no longer than ``longest_m``. [m]

        Ends and crossings nearer than ``tolerance_m`` become one node. ``cut_at_m`` are more places to cut
        at, such as the feet of risers: the nearest conductor within ``snap_m`` gets a node there.
        """
        metal = tuple(conductors)
        if not metal:
            raise ValueError("conductors: a net needs at least one")
        if not longest_m > 0:
            raise ValueError(f"longest_m: {longest_m} is not above 0")
        starts = np.array([c.start_m for c in metal], dtype=np.float64)
        ends = np.array([c.end_m for c in metal], dtype=np.float64)
        lengths = np.linalg.norm(ends - starts, axis=1)
        points: list[Floats] = []
        pieces: list[tuple[int, int, int]] = []
        first = 0
        wanted = _cuts(starts, ends, tolerance_m)
        for place in cut_at_m:
            _cut_nearest(wanted, starts, ends, np.asarray(place, dtype=np.float64), snap_m)
        for index, cuts in enumerate(wanted):
            stations = _stations(cuts, float(lengths[index]), tolerance_m, longest_m)
            points.append(starts[index] + np.outer(stations, ends[index] - starts[index]))
            pieces += [(first + k, first + k + 1, index) for k in range(len(stations) - 1)]
            first += len(stations)
        nodes, where = _merge(np.vstack(points), tolerance_m)
        net = np.array(
            [(where[a], where[b], c) for a, b, c in pieces if where[a] != where[b]], dtype=np.int64
        )
        _, kept = np.unique(np.sort(net[:, :2], axis=1), axis=0, return_index=True)
        net = net[np.sort(kept)]  # two conductors on top of each other count once
        radius = np.array([c.radius_m for c in metal])[net[:, 2]]
        length = np.linalg.norm(nodes[net[:, 1]] - nodes[net[:, 0]], axis=1)
        return cls(nodes, net[:, 0].copy(), net[:, 1].copy(), radius, length, net[:, 2].copy())

    def nearest_node(self, point_m: tuple[float, float, float]) -> tuple[int, float]:
        """The node nearest to a place, and its distance. [m]"""
        gaps = np.linalg.norm(self.nodes_m - np.asarray(point_m, dtype=np.float64), axis=1)
        node = int(np.argmin(gaps))
        return node, float(gaps[node])

    def distances_along_m(self, node: int) -> Floats:
        """Shortest way along the metal from one node to every other; inf where there is none. [m]"""
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import dijkstra

        count = len(self.nodes_m)
        graph = csr_array((self.length_m, (self.start, self.end)), shape=(count, count))
        found: Floats = np.asarray(dijkstra(graph, directed=False, indices=node), dtype=np.float64)
        return found

    def pieces_of_bonded_net(self) -> Ints:
        """Number of the connected part that each node belongs to, from 0."""
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import connected_components

        count = len(self.nodes_m)
        graph = csr_array((np.ones(len(self.start)), (self.start, self.end)), shape=(count, count))
        labels: Ints = np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)
        return labels


def _cuts(starts: Floats, ends: Floats, tolerance: float) -> list[list[float]]:
    """For each conductor the fractions at which another one touches or crosses it."""
    count = len(starts)
    cuts: list[list[float]] = [[] for _ in range(count)]
    way = ends - starts
    square = np.einsum("ij,ij->i", way, way)
    low, high = np.minimum(starts, ends) - tolerance, np.maximum(starts, ends) + tolerance
    for i in range(count):
        near = np.flatnonzero(np.all((low <= high[i]) & (high >= low[i]), axis=1))
        near = near[near != i]
        for tip in (starts, ends):
            along = (tip[near] - starts[i]) @ way[i] / square[i]
            gap = np.linalg.norm(starts[i] + np.outer(along, way[i]) - tip[near], axis=1)
            inside = (gap <= tolerance) & (along > 0.0) & (along < 1.0)
            cuts[i] += along[inside].tolist()
        cuts[i] += _crossings(i, near, starts, way, square, tolerance)
    return cuts


def _cut_nearest(cuts: list[list[float]], starts: Floats, ends: Floats, place: Floats, snap: float) -> None:
    """Cut the conductor nearest to a place at its nearest point, unless that is farther than ``snap``."""
    way = ends - starts
    share = np.clip(np.einsum("ij,ij->i", place - starts, way) / np.einsum("ij,ij->i", way, way), 0.0, 1.0)
    gap = np.linalg.norm(starts + share[:, None] * way - place, axis=1)
    index = int(np.argmin(gap))
    if gap[index] <= snap and 0.0 < share[index] < 1.0:
        cuts[index].append(float(share[index]))


def _crossings(
    i: int, near: Ints, starts: Floats, way: Floats, square: Floats, tolerance: float
) -> list[float]:
    """Fractions at which the inner parts of other conductors cross conductor ``i``."""
    offset = starts[i] - starts[near]
    across = way[near] @ way[i]
    determinant = square[i] * square[near] - across**2
    skew = determinant > 1e-12 * square[i] * square[near]
    near, offset, across, determinant = near[skew], offset[skew], across[skew], determinant[skew]
    d, e = offset @ way[i], np.einsum("ij,ij->i", offset, way[near])
    here = (across * e - square[near] * d) / determinant
    there = (square[i] * e - across * d) / determinant
    gap = np.linalg.norm(offset + np.outer(here, way[i]) - there[:, None] * way[near], axis=1)
    inside = (gap <= tolerance) & (here > 0.0) & (here < 1.0) & (there >= 0.0) & (there <= 1.0)
    found: list[float] = here[inside].tolist()
    return found


def _stations(cuts: list[float], length: float, tolerance: float, longest: float) -> Floats:
    """Fractions of all nodes on one conductor, ends included."""
    marks = [0.0]
    for cut in sorted(cuts):
        if (cut - marks[-1]) * length > tolerance and (1.0 - cut) * length > tolerance:
            marks.append(cut)
    marks.append(1.0)
    fine: list[float] = [0.0]
    for a, b in pairwise(marks):
        parts = max(1, math.ceil((b - a) * length / longest - 1e-9))
        fine += [a + (b - a) * (k + 1) / parts for k in range(parts)]
    return np.asarray(fine)


def _merge(points: Floats, tolerance: float) -> tuple[Floats, Ints]:
    """Nodes without doubles, and the node of each point."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    links = csr_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points)))
    count, labels = connected_components(links, directed=False)
    nodes = np.zeros((count, 3))
    first = np.full(count, -1)
    for index in range(len(points) - 1, -1, -1):
        first[labels[index]] = index
    nodes[:] = points[first]
    return nodes, np.asarray(labels, dtype=np.int64)
