"""Several pieces of metal that are not bonded: energised, floating, or joined through impedances."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import InputError
from evenground.field._backfill import Backfill, embed, series_resistance
from evenground.field._checks import check_solution
from evenground.field._geometry import find_meetings
from evenground.field._images import ImageSet, fit_images
from evenground.field._segments import Segments, cut_conductors
from evenground.field._solution import SolverReport, evaluate_potential
from evenground.field._solve import Progress, default_limit, solve_segments, teller
from evenground.model.electrode import Conductor, Electrode, Point3
from evenground.model.soil import LayeredSoil

__all__ = [
    "GroupSolution",
    "GroupState",
    "Link",
    "bonded_pieces",
    "solve_groups",
    "touching_conductors",
    "touching_groups",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

EARTH = ""
"""Name of far earth in a link."""


@dataclass(frozen=True, slots=True)
class Link:
    """A connection above ground between two groups, or between a group and far earth (``""``). [ohm]"""

    one: str
    other: str
    impedance_ohm: complex

    def __post_init__(self) -> None:
        if self.one == self.other:
            raise InputError(f"link from {self.one!r} to itself")
        if not (np.isfinite(self.impedance_ohm) and abs(self.impedance_ohm) > 0.0):
            raise InputError(
                f"link {self.one!r} to {self.other!r}: impedance_ohm {self.impedance_ohm} must be finite "
                "and not zero; bond the metal into one group instead"
            )


@dataclass(frozen=True, eq=False)
class GroupState:
    """Potentials and currents of one condition of the groups.

    Attributes
    ----------
    potential_v, current_a : dict
        Of each group: potential against far earth, and current it leaks into the soil. [V, A]
    """

    solution: GroupSolution
    potential_v: dict[str, complex]
    current_a: dict[str, complex]

    def leakage_a_per_m(self) -> ComplexArray:
        """Current leaked by each segment per metre. [A/m]"""
        return np.asarray(self._current() / self.solution.segments.length_m)

    def field_v(self, points_m: ArrayLike) -> ComplexArray:
        """Potential against far earth at points (n, 3), z is depth. [m -> V]"""
        s, current = self.solution, self._current()
        real = evaluate_potential(s.soil, s.segments, s.images, np.ascontiguousarray(current.real), points_m)
        if not np.any(current.imag):
            return real.astype(complex)
        imag = evaluate_potential(s.soil, s.segments, s.images, np.ascontiguousarray(current.imag), points_m)
        return np.asarray(real + 1j * imag)

    def _current(self) -> ComplexArray:
        v = np.array([self.potential_v[g] for g in self.solution.groups])
        return np.asarray(self.solution.current_a_per_v @ v)


@dataclass(frozen=True, eq=False)
class GroupSolution:
    """Field of several pieces of equipotential metal.

    Attributes
    ----------
    groups : tuple of str
    conductance_s : (G, G)
        Current into the soil from group g per volt on group h, all others at zero. [S]
    resistance_ohm : (G, G)
        Its inverse: potential of group g per ampere leaked by group h, all others leaking nothing in
        sum; diagonal: own earth resistances, off it: mutual ones. [ohm]
    current_a_per_v : (n, G)
        Of each segment per volt on each group.
    relative_error : (G,)
        Estimated discretisation error of each group's own conductance, as for
        :class:`~evenground.field.Solution`.
    """

    soil: LayeredSoil
    groups: tuple[str, ...]
    segments: Segments
    images: ImageSet
    current_a_per_v: FloatArray
    conductance_s: FloatArray
    resistance_ohm: FloatArray
    report: SolverReport
    relative_error: FloatArray

    def energise(
        self,
        *,
        potential_v: Mapping[str, complex] | None = None,
        current_a: Mapping[str, complex] | None = None,
        links: Sequence[Link] = (),
    ) -> GroupState:
        """State for given potentials and injected currents; groups named in neither float.

        Parameters
        ----------
        potential_v : mapping, optional
            Groups held at a potential against far earth. [V]
        current_a : mapping, optional
            Currents fed into groups from outside; a floating group gets none. [A]
        links : sequence of Link, optional
            Impedances between groups, or from a group to far earth.

        Raises
        ------
        InputError
            Unknown groups, or one with both potential and current.
        """
        held, fed = dict(potential_v or {}), dict(current_a or {})
        self._check(held, fed, links)
        index = {g: k for k, g in enumerate(self.groups)}
        y = self.conductance_s.astype(complex)
        for link in links:
            ends = [index[e] for e in (link.one, link.other) if e != EARTH]
            for a in ends:
                y[a, a] += 1.0 / link.impedance_ohm
            if len(ends) == 2:
                y[ends[0], ends[1]] -= 1.0 / link.impedance_ohm
                y[ends[1], ends[0]] -= 1.0 / link.impedance_ohm
        v = np.array([held.get(g, 0.0) for g in self.groups], dtype=complex)
        free = np.array([g not in held for g in self.groups])
        if free.any():
            right = np.array([fed.get(g, 0.0) for g in self.groups], dtype=complex) - y @ v
            v[free] = np.linalg.solve(y[np.ix_(free, free)], right[free])
        leaked = self.conductance_s @ v
        return GroupState(
            self,
            {g: complex(x) for g, x in zip(self.groups, v, strict=True)},
            {g: complex(x) for g, x in zip(self.groups, leaked, strict=True)},
        )

    def _check(self, held: dict[str, complex], fed: dict[str, complex], links: Sequence[Link]) -> None:
        named = {*held, *fed, *(e for link in links for e in (link.one, link.other) if e != EARTH)}
        unknown = sorted(named - set(self.groups))
        if unknown:
            raise InputError(f"unknown groups {', '.join(unknown)}; there are {', '.join(self.groups)}")
        both = sorted(set(held) & set(fed))
        if both:
            raise InputError(f"group {both[0]}: give a potential or a current, not both")


def solve_groups(
    electrode: Electrode,
    soil: LayeredSoil,
    *,
    segment_m: float | None = None,
    method: str = "auto",
    backfill: Mapping[str, Backfill] | None = None,
    memory_limit_bytes: int | None = None,
    progress: Progress | None = None,
) -> GroupSolution:
    """Solve for the earth's conductance matrix between the groups of an electrode.

    The field of each group's metal at one volt with the others at zero; parameters and errors as for
    :func:`evenground.field.solve`.

    Raises
    ------
    InputError
        Also when conductors of different groups, or their backfill, touch.
    """
    tell = teller(progress)
    groups = electrode.groups
    owner = np.array([groups.index(c.group) for c in electrode], dtype=np.int64)
    wrapped = Electrode(embed(electrode.conductors, backfill or {}))
    _refuse_touching(wrapped)
    images = fit_images(soil)
    segments = cut_conductors(wrapped.conductors, soil, segment_m)
    series = series_resistance(segments, electrode.conductors, backfill or {})
    right = np.zeros((len(segments), len(groups)))
    right[np.arange(len(segments)), owner[segments.conductor]] = 1.0
    limit = memory_limit_bytes if memory_limit_bytes is not None else default_limit()
    result, memory = solve_segments(segments, images, right, method, limit, tell, series)
    y = np.asarray(right.T @ result.current, dtype=np.float64)
    checks = [
        check_solution(soil, segments, images, np.ascontiguousarray(current), target, series)
        for current, target in zip(result.current.T, right.T, strict=True)
    ]
    doubt = np.array([c.relative_error for c in checks])
    asymmetry = float(np.max(np.abs(y - y.T)) / np.max(np.abs(y)))
    y = np.asarray(0.5 * (y + y.T), dtype=np.float64)
    report = SolverReport(
        method=result.method,
        segments=len(segments),
        layers=soil.layers,
        images=images.terms,
        kernel_error=images.error,
        residual=result.residual,
        energy_balance=asymmetry,
        iterations=result.iterations,
        longest_segment_m=float(segments.length_m.max()),
        shortest_segment_m=float(segments.length_m.min()),
        memory_bytes=memory,
        notes=segments.notes,
    )
    tell("done", 1.0)
    return GroupSolution(soil, groups, segments, images, result.current, y, _inverse(y), report, doubt)


def _inverse(matrix: FloatArray) -> FloatArray:
    inverse = np.linalg.inv(matrix)
    return np.asarray(0.5 * (inverse + inverse.T), dtype=np.float64)


def touching_groups(electrode: Electrode) -> tuple[tuple[str, str, Point3], ...]:
    """Pairs of groups whose conductors touch, each with the start of one such conductor. [m]"""
    metal = electrode.conductors
    pairs = touching_conductors(metal)
    return tuple((metal[i].group, metal[j].group, metal[i].start_m) for i, j in pairs)


def touching_conductors(conductors: Sequence[Conductor]) -> tuple[tuple[int, int], ...]:
    """For each pair of groups whose conductors touch, the places in the list of two that do."""
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for i, j in find_meetings(conductors).pairs:
        one, other = conductors[i].group, conductors[j].group
        if one != other and (other, one) not in found:
            found.setdefault((one, other), (i, j))
    return tuple(found.values())


def bonded_pieces(conductors: Sequence[Conductor]) -> tuple[int, ...]:
    """Number of the piece, from 0, that each conductor belongs to: what touches hangs together."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    size = len(conductors)
    pairs = np.array(find_meetings(conductors).pairs, dtype=np.int64).reshape(-1, 2)
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
    return tuple(int(k) for k in connected_components(graph, directed=False)[1])


def _refuse_touching(electrode: Electrode) -> None:
    for one, other, place in touching_groups(electrode):
        raise InputError(
            f"conductors of groups {one!r} and {other!r} touch near {place}; "
            "touching metal belongs to one group"
        )
