"""The circuit that metal with impedance forms: joints, branches, and what stands in series with them.

Every segment is a branch between two joints. It leaks at the mean of its ends' potentials, half of the
leaked current taken from each end, and carries an axial current driven by their difference.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenground.errors import InputError
from evenground.field._backfill import Backfill, embed, series_resistance
from evenground.field._metal import Metal, internal_impedance
from evenground.field._segments import SHORTEST_RADII, Segments, cut_conductors
from evenground.model.electrode import Conductor, Electrode, Point3
from evenground.model.soil import LayeredSoil

__all__ = ["Branches", "Circuit", "Injection", "build_circuit", "join_ends"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]

NEAR_M = 0.05
"""An injection point may lie this far from the metal's nearest node. [m]"""


@dataclass(frozen=True, slots=True)
class Injection:
    """Current fed into the metal at a place; a negative one is taken out there. [m, A]

    What the injections sum up to returns far away.
    """

    at_m: Point3
    current_a: complex


@dataclass(frozen=True, eq=False)
class Circuit:
    """Segments as branches of a circuit.

    Attributes
    ----------
    segments : Segments
        With the radius at which current enters the soil.
    wires : Segments
        The same with the radius of the metal.
    bare : (m,)
        Segments that leak; the others are insulated.
    series_ohm : (m,)
        Resistance of the backfill around each of those.
    internal_ohm : (n,)
        Internal impedance of each segment.
    nodes_m : (k, 3)
    ends : (2, n)
    injected_at : (j,)
        Node of each injection.
    fed_a : (k,)
        Current fed into each node.
    """

    segments: Segments
    wires: Segments
    bare: IntArray
    series_ohm: FloatArray
    internal_ohm: ComplexArray
    nodes_m: FloatArray
    ends: IntArray
    injected_at: IntArray
    fed_a: ComplexArray

    @property
    def leaking(self) -> Segments:
        """The bare segments."""
        return subset(self.segments, self.bare)

    def incidence(self) -> Any:
        """Sparse (n, k): drop from start to end of every segment per node potential."""
        return self._sparse(np.arange(self.ends.shape[1]), -1.0, 1.0)

    def mean(self) -> Any:
        """Sparse (m, k): mean potential of the bare segments per node potential."""
        return self._sparse(self.bare, 0.5, 0.5)

    def _sparse(self, which: IntArray, at_end: float, at_start: float) -> Any:
        from scipy.sparse import csr_array

        n = len(which)
        rows = np.tile(np.arange(n), 2)
        values = np.concatenate([np.full(n, at_start), np.full(n, at_end)])
        columns = np.concatenate([self.ends[0, which], self.ends[1, which]])
        return csr_array((values, (rows, columns)), shape=(n, len(self.nodes_m)))


@dataclass(frozen=True, eq=False)
class Branches:
    """Solution of the circuit: node potentials, leaked (m,) and axial (n,) currents. [V, A]

    ``residual`` is the largest violation of the branch equations over the largest node potential.
    """

    potential_v: ComplexArray
    leaked_a: ComplexArray
    axial_a: ComplexArray
    residual: float
    iterations: int
    method: str


def subset(segments: Segments, which: IntArray) -> Segments:
    """Some of the segments."""
    return replace(
        segments,
        start=np.ascontiguousarray(segments.start[:, which]),
        end=np.ascontiguousarray(segments.end[:, which]),
        radius_m=segments.radius_m[which],
        length_m=segments.length_m[which],
        layer=segments.layer[which],
        conductor=segments.conductor[which],
    )


def build_circuit(
    electrode: Electrode,
    soil: LayeredSoil,
    metals: Mapping[str, Metal],
    injections: Sequence[Injection],
    frequency_hz: float,
    segment_m: float | None,
    backfill: Mapping[str, Backfill],
) -> Circuit:
    """Cut the metal, join touching ends, find the internal impedances and the nodes fed.

    Raises
    ------
    InputError
        A kind without metal, no injection, one away from the metal, metal that nothing earths.
    """
    conductors = electrode.conductors
    missing = sorted({c.kind for c in conductors} - set(metals))
    if missing:
        raise InputError(f"metals: no metal given for {', '.join(missing)}")
    if not injections:
        raise InputError("injections: none given")
    wrapped = sorted(kind for kind in backfill if kind in metals and metals[kind].insulated)
    if wrapped:
        raise InputError(f"backfill around insulated conductors: {', '.join(wrapped)}")
    segments = cut_conductors(embed(conductors, backfill), soil, segment_m)
    own = segments.conductor
    leaks = np.array([not metals[c.kind].insulated for c in conductors])
    nodes, ends = join_ends(segments, conductors)
    bare = np.flatnonzero(leaks[own]).astype(np.int64)
    _refuse_unearthed(segments, nodes, ends, bare)
    at = np.array([_nearest(nodes, i.at_m) for i in injections], dtype=np.int64)
    fed = np.zeros(len(nodes), dtype=complex)
    np.add.at(fed, at, [i.current_a for i in injections])
    return Circuit(
        segments,
        replace(segments, radius_m=np.array([c.radius_m for c in conductors])[own]),
        bare,
        series_resistance(segments, conductors, backfill)[bare],
        _per_metre(conductors, metals, frequency_hz)[own] * segments.length_m,
        nodes,
        ends,
        at,
        fed,
    )


def _per_metre(
    conductors: Sequence[Conductor], metals: Mapping[str, Metal], frequency_hz: float
) -> ComplexArray:
    found = np.zeros(len(conductors), dtype=complex)
    known: dict[tuple[str, float], complex] = {}
    for k, c in enumerate(conductors):
        key = (c.kind, c.radius_m)
        if key not in known:
            known[key] = internal_impedance(metals[c.kind], c.radius_m, frequency_hz)
        found[k] = known[key]
    return found


def join_ends(segments: Segments, conductors: Sequence[Conductor]) -> tuple[FloatArray, IntArray]:
    """Number the ends of segments so that ends which touch share a node.

    Within one group ends that come as near as the shortest segment are joined; ends of different groups only
    where their surfaces touch.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    n = len(segments)
    points = np.concatenate([segments.start.T, segments.end.T])
    radius = np.tile(segments.radius_m, 2)
    reach = 0.999 * SHORTEST_RADII * radius
    pairs = cKDTree(points).query_pairs(float(reach.max()) + 1e-3, output_type="ndarray")
    a, b = pairs[:, 0], pairs[:, 1]
    gap = np.linalg.norm(points[a] - points[b], axis=1)
    keep = (gap <= np.maximum(np.maximum(reach[a], reach[b]), 1e-3)) & (a % n != b % n)
    names = np.unique([c.group for c in conductors], return_inverse=True)[1]
    group = np.tile(names[segments.conductor], 2)
    keep &= (group[a] == group[b]) | (gap <= radius[a] + radius[b] + 1e-3)
    graph = coo_array((np.ones(int(keep.sum())), (a[keep], b[keep])), shape=(2 * n, 2 * n))
    count, number = connected_components(graph, directed=False)
    size = np.bincount(number, minlength=count)
    nodes = np.stack([np.bincount(number, points[:, k], count) / size for k in range(3)], axis=1)
    return nodes, number.reshape(2, n).astype(np.int64)


def _refuse_unearthed(segments: Segments, nodes: FloatArray, ends: IntArray, bare: IntArray) -> None:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    n = len(segments)
    graph = coo_array((np.ones(n), (ends[0], ends[1])), shape=(len(nodes), len(nodes)))
    count, number = connected_components(graph, directed=False)
    earthed = np.zeros(count, dtype=bool)
    earthed[number[ends[0, bare]]] = True
    if not earthed.all():
        where = nodes[np.flatnonzero(~earthed[number])[0]]
        raise InputError(
            f"{int(np.sum(~earthed))} pieces of insulated metal touch no bare metal, one of them near "
            f"({where[0]:.2f}, {where[1]:.2f}, {where[2]:.2f}); their potential is undetermined"
        )


def _nearest(nodes: FloatArray, at_m: Point3) -> int:
    gap = np.linalg.norm(nodes - np.array(at_m), axis=1)
    k = int(np.argmin(gap))
    if gap[k] > NEAR_M:
        raise InputError(
            f"injection at {at_m}: the nearest joint or end of metal lies {gap[k]:.3g} m away "
            f"(allowed {NEAR_M} m)"
        )
    return k
