"""Metal that is not equipotential: axial currents, internal impedance, self and mutual induction.

Nodal form: every segment leaks at the mean of its ends' potentials through the earth's matrix, and carries
an axial current driven by their difference through its internal impedance and the induction of all
segments (Otero, Cidras and del Alamo, IEEE Trans. Power Delivery 14 (1999)). The earth's matrix is the
static one; induction has no earth-return term, so the site must be small against the skin depth of the
soil, 503 sqrt(rho/f) metres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import InputError, TooLargeError
from evenground.field._dense import assemble_matrix
from evenground.field._images import ImageSet, fit_images
from evenground.field._metal import MU_0, Metal, internal_impedance
from evenground.field._segments import SHORTEST_RADII, Segments, cut_conductors
from evenground.field._solution import evaluate_potential
from evenground.field._solve import Progress, default_limit, teller
from evenground.model.electrode import Electrode, Point3
from evenground.model.soil import LayeredSoil

__all__ = ["Injection", "NetworkSolution", "solve_network"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]

NEAR_M = 0.05
"""An injection point may lie this far from the metal's nearest node. [m]"""


@dataclass(frozen=True, slots=True)
class Injection:
    """Current fed into the metal at a place; its return is far away. [m, A]"""

    at_m: Point3
    current_a: complex


@dataclass(frozen=True, eq=False)
class NetworkSolution:
    """Potentials and currents of metal with impedance.

    Attributes
    ----------
    nodes_m : (k, 3)
        Ends of segments, joined where they touch. [m]
    node_potential_v : (k,)
    ends : (2, n)
        Node at the start and end of each segment.
    leaked_a : (n,)
        Current each segment leaks. [A]
    axial_a : (n,)
        Mean axial current from start to end. [A]
    injected_at : (j,)
        Node of each injection.
    notes : tuple of str
    """

    soil: LayeredSoil
    segments: Segments
    images: ImageSet
    nodes_m: FloatArray
    ends: IntArray
    node_potential_v: ComplexArray
    leaked_a: ComplexArray
    axial_a: ComplexArray
    injected_at: IntArray
    injections: tuple[Injection, ...]
    notes: tuple[str, ...] = ()

    @property
    def impedance_ohm(self) -> complex:
        """Potential of the first injection point over its current (a single injection only). [ohm]"""
        if len(self.injections) != 1:
            raise InputError("impedance_ohm needs exactly one injection")
        return complex(self.node_potential_v[self.injected_at[0]] / self.injections[0].current_a)

    @property
    def greatest_difference_v(self) -> float:
        """Largest magnitude of the difference between an injection point and any other metal. [V]"""
        v = self.node_potential_v
        return float(max(np.max(np.abs(v - v[k])) for k in self.injected_at))

    def potential_v(self, points_m: ArrayLike) -> ComplexArray:
        """Potential in the soil at points (n, 3), z is depth. [m -> V]"""
        real, imag = (
            evaluate_potential(self.soil, self.segments, self.images, np.ascontiguousarray(part), points_m)
            for part in (self.leaked_a.real, self.leaked_a.imag)
        )
        return np.asarray(real + 1j * imag)


def solve_network(
    electrode: Electrode,
    soil: LayeredSoil,
    metals: Mapping[str, Metal],
    injections: Sequence[Injection],
    *,
    frequency_hz: float = 50.0,
    segment_m: float | None = None,
    memory_limit_bytes: int | None = None,
    progress: Progress | None = None,
) -> NetworkSolution:
    """Solve bonded metal with its impedance for currents injected at stated places.

    Parameters
    ----------
    metals : mapping
        Conductor kind -> Metal.
    injections : sequence of Injection
    frequency_hz : float

    Raises
    ------
    InputError
        A kind without metal, no injection, or one away from the metal.
    TooLargeError
        The dense complex matrices would need more memory than allowed.
    """
    tell = teller(progress)
    missing = sorted({c.kind for c in electrode} - set(metals))
    if missing:
        raise InputError(f"metals: no metal given for {', '.join(missing)}")
    if not injections:
        raise InputError("injections: none given")
    images = fit_images(soil)
    segments = cut_conductors(electrode.conductors, soil, segment_m)
    _refuse_too_large(len(segments), memory_limit_bytes)
    nodes, ends = _join_ends(segments)
    at = np.array([_nearest(nodes, i.at_m) for i in injections], dtype=np.int64)
    tell("earth", 0.1)
    earth = np.asarray(np.linalg.inv(assemble_matrix(segments, images)), dtype=np.float64)
    tell("induction", 0.4)
    along = _axial_admittance(electrode, segments, metals, frequency_hz)
    tell("network", 0.7)
    v = _node_potentials(earth, along, ends, len(nodes), at, injections)
    mean, drop = 0.5 * (v[ends[0]] + v[ends[1]]), v[ends[0]] - v[ends[1]]
    tell("done", 1.0)
    notes = (*segments.notes, *_size_notes(segments, soil, frequency_hz))
    return NetworkSolution(
        soil, segments, images, nodes, ends, v, earth @ mean, along @ drop, at, tuple(injections), notes
    )


def _refuse_too_large(n: int, limit: int | None) -> None:
    allowed = limit if limit is not None else default_limit()
    memory = 80 * n**2
    if memory > allowed:
        raise TooLargeError(
            f"{n} segments with axial currents need {memory / 1e9:.3g} GB; {allowed / 1e9:.3g} GB are "
            "allowed. Give a larger segment_m"
        )


def _join_ends(segments: Segments) -> tuple[FloatArray, IntArray]:
    """Number the ends of segments so that ends which touch share a node."""
    from scipy.sparse import coo_matrix
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
    graph = coo_matrix((np.ones(int(keep.sum())), (a[keep], b[keep])), shape=(2 * n, 2 * n))
    count, number = connected_components(graph, directed=False)
    size = np.bincount(number, minlength=count)
    nodes = np.stack([np.bincount(number, points[:, k], count) / size for k in range(3)], axis=1)
    return nodes, number.reshape(2, n).astype(np.int64)


def _nearest(nodes: FloatArray, at_m: Point3) -> int:
    gap = np.linalg.norm(nodes - np.array(at_m), axis=1)
    k = int(np.argmin(gap))
    if gap[k] > NEAR_M:
        raise InputError(
            f"injection at {at_m}: the nearest joint or end of metal lies {gap[k]:.3g} m away "
            f"(allowed {NEAR_M} m)"
        )
    return k


def _axial_admittance(
    electrode: Electrode, segments: Segments, metals: Mapping[str, Metal], frequency_hz: float
) -> ComplexArray:
    """Inverse of the matrix of internal impedances and inductive reactances. [S]"""
    n = len(segments)
    pairs = (1, 2)
    direct = ImageSet(
        first=np.zeros(pairs, dtype=np.int64),
        count=np.ones(pairs, dtype=np.int64),
        coefficient=np.ones(1),
        flip=np.ones(1),
        shift=np.zeros(1),
        error=0.0,
        terms=1,
        layers=1,
    )
    one_layer = _in_one_layer(segments)
    inverse_distance = assemble_matrix(one_layer, direct)
    reactance = MU_0 / (4.0 * pi) * (segments.vector.T @ segments.vector) * inverse_distance
    impedance = 2j * pi * frequency_hz * reactance
    per_metre = np.zeros(len(electrode.conductors), dtype=complex)
    known: dict[tuple[str, float], complex] = {}
    for k, c in enumerate(electrode):
        key = (c.kind, c.radius_m)
        if key not in known:
            known[key] = internal_impedance(metals[c.kind], c.radius_m, frequency_hz)
        per_metre[k] = known[key]
    impedance[np.arange(n), np.arange(n)] += per_metre[segments.conductor] * segments.length_m
    return np.asarray(np.linalg.inv(impedance))


def _in_one_layer(segments: Segments) -> Segments:
    from dataclasses import replace

    return replace(segments, layer=np.zeros(len(segments), dtype=np.int64))


def _node_potentials(
    earth: FloatArray,
    along: ComplexArray,
    ends: IntArray,
    nodes: int,
    at: IntArray,
    injections: Sequence[Injection],
) -> ComplexArray:
    n = ends.shape[1]
    rows = np.arange(n)
    incidence, mean = np.zeros((n, nodes)), np.zeros((n, nodes))
    np.add.at(incidence, (rows, ends[0]), 1.0)
    np.add.at(incidence, (rows, ends[1]), -1.0)
    np.add.at(mean, (rows, ends[0]), 0.5)
    np.add.at(mean, (rows, ends[1]), 0.5)
    y = incidence.T @ along @ incidence + mean.T @ earth @ mean
    fed = np.zeros(nodes, dtype=complex)
    np.add.at(fed, at, [i.current_a for i in injections])
    return np.asarray(np.linalg.solve(y, fed))


def _size_notes(segments: Segments, soil: LayeredSoil, frequency_hz: float) -> tuple[str, ...]:
    low = np.minimum(segments.start, segments.end).min(axis=1)
    high = np.maximum(segments.start, segments.end).max(axis=1)
    extent = hypot(*(high - low)[:2])
    depth = 503.0 * sqrt(min(soil.resistivities_ohm_m) / frequency_hz)
    if extent > 0.5 * depth:
        return (
            f"the metal extends over {extent:.0f} m, more than half the skin depth of the soil "
            f"({depth:.0f} m): the induction has no earth-return term and is overestimated",
        )
    return ()
