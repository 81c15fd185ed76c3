"""The metal with its own impedance: fault current entering at stated places, voltage along the metal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from evenground._study_field import (
    MAIN,
    SolvedMetal,
    UnitDrop,
    field_summary,
    main_group,
    solve_bonded,
    surface_leak,
)
from evenground.conductor import electrical_metal
from evenground.errors import Finding, InputError
from evenground.field import Backfill, Injection, Metal, solve_network
from evenground.model.electrode import Conductor, Electrode, Embedding, Point3
from evenground.safety import Potential, Surface

if TYPE_CHECKING:
    from evenground.field import NetworkSolution
    from evenground.model.conductor import ConductorResult
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.project import Project
    from evenground.model.site import EntryPoint, Point2
    from evenground.model.soil import LayeredSoil

__all__ = ["solve_metal"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Tell = Callable[[str, float], None]
FURTHEST_ENTRY_M = 1.0
"""An entry point may lie this far beside the metal; it is moved onto it. [m]"""
OUT_OF_PHASE = 0.05
"""A larger part of the surface potential out of phase is said in a note."""
ON_METAL_M = 1e-6


def solve_metal(
    project: Project,
    layout: ElectrodeLayout,
    layers: LayeredSoil,
    conductors: Mapping[str, ConductorResult],
    *,
    segment_m: float | None = None,
    tell: Tell | None = None,
) -> SolvedMetal:
    """Solve all metal of the project in one soil, with its own impedance when entry points are given.

    Raises
    ------
    InputError
        When separate metal touches the main electrode, an entry point lies beside the metal, or a conductor
        has no metal.
    """
    entries = project.assessment.entry_points
    if not entries:
        return solve_bonded(project, layout, layers, segment_m=segment_m, tell=tell)
    bonded = solve_bonded(project, layout, layers, segment_m=segment_m)
    main, places = _with_entries(layout.electrode, entries)
    every = main_group(main) + layout.separate
    electrode, backfill, metals = _with_metals(every, conductors)
    injections = [Injection(place, complex(e.share)) for place, e in zip(places, entries, strict=True)]
    solution = solve_network(
        electrode,
        layers,
        metals,
        injections,
        frequency_hz=project.frequency_hz,
        segment_m=segment_m,
        backfill=backfill,
        progress=tell,
    )
    return _joined(solution, bonded, electrode, layers, project.assessment.reach_m)


def _with_metals(
    electrode: Electrode, conductors: Mapping[str, ConductorResult]
) -> tuple[Electrode, dict[str, Backfill], dict[str, Metal]]:
    """The electrode with one kind per metal and backfill, and what both are."""
    metals: dict[str, Metal] = {}
    backfill: dict[str, Backfill] = {}
    embeddings: list[Embedding | None] = [None]
    rows = []
    for c in electrode:
        key = c.key if c.key in conductors else "mat"
        if key not in conductors:
            text = f"the voltage along the metal needs the metal of '{c.key}'"
            raise InputError(
                [Finding("metal-unknown", text, f"give conductors.{c.key}", path=("conductors",))]
            )
        if c.embedding not in embeddings:
            embeddings.append(c.embedding)
        kind = f"{key} {embeddings.index(c.embedding)}"
        if kind not in metals:
            metals[kind] = _metal(conductors[key])
        if c.embedding is not None:
            backfill[kind] = Backfill(c.embedding.outer_radius_m, c.embedding.resistivity_ohm_m)
        rows.append(replace(c, kind=kind))
    return Electrode(rows), backfill, metals


def _metal(result: ConductorResult) -> Metal:
    found = electrical_metal(result)
    return Metal(
        found.resistivity_ohm_m,
        found.relative_permeability,
        found.cladding_thickness_m,
        found.cladding_resistivity_ohm_m,
    )


def _with_entries(electrode: Electrode, entries: Sequence[EntryPoint]) -> tuple[Electrode, list[Point3]]:
    """The electrode with joints where current enters, and these places."""
    pieces, places = list(electrode), []
    findings = []
    for entry in entries:
        lines = shapely.linestrings([_plan(c) for c in pieces])
        spot = shapely.points(entry.at_m)
        distance = shapely.distance(lines, spot)
        k = int(np.argmin(distance))
        if distance[k] > FURTHEST_ENTRY_M:
            text = f"the nearest metal lies {distance[k]:.2f} m away (at most {FURTHEST_ENTRY_M:g} m)"
            findings.append(Finding("entry-beside", text, "give a place on the metal", path=entry.path))
            continue
        cut, place = _cut(pieces[k], float(shapely.line_locate_point(lines[k], spot, normalized=True)))
        pieces[k : k + 1] = cut
        places.append(place)
    if findings:
        raise InputError(findings)
    return Electrode(pieces), places


def _plan(conductor: Conductor) -> list[Point2]:
    """Two points in plan; an upright conductor becomes a very short line."""
    (x0, y0, _), (x1, y1, _) = conductor.start_m, conductor.end_m
    return [(x0, y0), (x1, y1 + ON_METAL_M if (x0, y0) == (x1, y1) else y1)]


def _cut(conductor: Conductor, part: float) -> tuple[list[Conductor], Point3]:
    """The conductor in two pieces that meet at a part of its length; whole when that is near an end."""
    start, end = conductor.start_m, conductor.end_m
    if start[:2] == end[:2]:
        return [conductor], start
    short = max(0.05, 10 * conductor.radius_m) / conductor.length_m
    if part < short:
        return [conductor], start
    if part > 1 - short:
        return [conductor], end
    x, y, z = (a + part * (b - a) for a, b in zip(start, end, strict=True))
    middle = (x, y, z)
    return [replace(conductor, end_m=middle), replace(conductor, start_m=middle)], middle


def _joined(
    solution: NetworkSolution,
    bonded: SolvedMetal,
    electrode: Electrode,
    layers: LayeredSoil,
    reach_m: float,
) -> SolvedMetal:
    """The network's solution in the terms of the rest of the study, per volt of its highest potential."""
    own = np.array([c.group == MAIN for c in electrode])[solution.segments.conductor]
    nodes = np.unique(solution.ends[:, own])
    potential = solution.node_potential_v
    highest = nodes[int(np.argmax(np.abs(potential[nodes])))]
    reference = complex(potential[highest])

    def unit(points_m: FloatArray) -> ComplexArray:
        return np.asarray(solution.potential_v(points_m) / reference)

    def unit_v(points_m: FloatArray) -> FloatArray:
        return np.asarray(unit(points_m).real)

    _refuse_pieces(solution, own, nodes)
    surface, out_of_phase = _surface(solution, own, unit, reference, reach_m)
    gaps = np.abs(potential[nodes][:, None] - potential[solution.injected_at])
    far = nodes[int(np.argmax(gaps.max(axis=1)))]
    x, y, z = (float(v) for v in solution.nodes_m[far])
    drop = UnitDrop(
        impedance_ohm=reference,
        resistance_ohm=bonded.resistance_ohm,
        drop_ohm=float(gaps.max()),
        furthest_m=(x, y, z),
        out_of_phase=out_of_phase,
        notes=_notes(out_of_phase),
    )
    relative = bonded.summary.resistance_error_ohm / bonded.resistance_ohm
    return SolvedMetal(
        summary=field_summary(solution.report, layers, abs(reference), relative * abs(reference)),
        surface=surface,
        unit_v=unit_v,
        shares=_shares(solution, electrode, reference),
        leaked=bonded.leaked,
        own_ohm=bonded.own_ohm,
        mutual_ohm=bonded.mutual_ohm,
        drop=drop,
        separate_touch=_separate_touch(solution, electrode, unit, reference, reach_m),
        phasor=unit,
        leak=surface_leak(
            solution.segments,
            np.abs(solution.leaked_a / reference) / solution.segments.length_m,
        ),
    )


def _notes(out_of_phase: float) -> tuple[str, ...]:
    rows = [
        "Resistivity of the metal is that at 20 °C and steel is linear: metal heated by the fault, and a "
        "higher permeability than taken, raise the voltage along it. Separate fences and services in the "
        "ground are solved with the whole mat at its potential rise."
    ]
    if out_of_phase > OUT_OF_PHASE:
        rows.append(
            f"Up to {out_of_phase:.0%} of the surface potential is out of phase with the potential rise. "
            "Touch and step voltages are magnitudes of phasors; maps of potential and sections show the "
            "part in phase."
        )
    return tuple(rows)


def _shares(solution: NetworkSolution, electrode: Electrode, reference: complex) -> dict[str, float]:
    """Potential of each separate electrode where it is highest, as a fraction of the potential rise."""
    groups = np.array([c.group for c in electrode])[solution.segments.conductor]
    shares = {}
    for name in dict.fromkeys(c.group for c in electrode if c.group != MAIN):
        nodes = np.unique(solution.ends[:, groups == name])
        shares[name] = float(np.max(np.abs(solution.node_potential_v[nodes] / reference)))
    return shares


class _Reach:
    """The metal that a person can touch from a place: all within reach in plan, else the nearest.

    Of upright metal the potential of its top counts, since that is what leads up.
    """

    def __init__(
        self, solution: NetworkSolution, own: NDArray[np.bool_], reference: complex, reach_m: float
    ) -> None:
        start, end = solution.segments.start[:, own].T, solution.segments.end[:, own].T
        low, high = (solution.node_potential_v[solution.ends[k, own]] / reference for k in (0, 1))
        upright = np.all(start[:, :2] == end[:, :2], axis=1)
        top = np.where(start[:, 2] <= end[:, 2], low, high)
        low, high = np.where(upright, top, low), np.where(upright, top, high)
        keep = ~upright | _highest(start, end)
        far = end[:, :2] + np.where(upright, ON_METAL_M, 0.0)[:, None]
        pairs = np.stack([start[keep, :2], far[keep]], axis=1)
        self.lines = np.asarray(shapely.linestrings(pairs), dtype=object)
        self.tree = shapely.STRtree(list(self.lines))
        self.low, self.high, self.reach_m = low[keep], high[keep], reach_m

    def largest(self, x_m: FloatArray, y_m: FloatArray, ground: ComplexArray) -> FloatArray:
        """Largest voltage between the ground at each place and the metal within reach of it. [m, - -> -]"""
        spots = np.asarray(shapely.points(x_m, y_m), dtype=object)
        near = self.tree.query_nearest(spots, all_matches=True)
        around = self.tree.query(spots, predicate="dwithin", distance=self.reach_m)
        place, line = np.concatenate([near, around], axis=1)
        part = shapely.line_locate_point(self.lines[line], spots[place], normalized=True)
        metal = self.low[line] + part * (self.high[line] - self.low[line])
        found = np.zeros(len(spots))
        np.maximum.at(found, place, np.abs(metal - ground[place]))
        return found


def _highest(start: FloatArray, end: FloatArray) -> NDArray[np.bool_]:
    """Of the upright segments at one place in plan the one nearest to the surface."""
    depth = np.minimum(start[:, 2], end[:, 2])
    upright = np.flatnonzero(np.all(start[:, :2] == end[:, :2], axis=1))
    order = upright[np.argsort(depth[upright], kind="stable")]
    first = np.unique(np.round(start[order, :2], 3), axis=0, return_index=True)[1]
    chosen = np.zeros(len(start), dtype=bool)
    chosen[order[first]] = True
    return chosen


def _surface(
    solution: NetworkSolution,
    own: NDArray[np.bool_],
    unit: Callable[[FloatArray], ComplexArray],
    reference: complex,
    reach_m: float,
) -> tuple[Surface, float]:
    """Touch against the bonded metal within reach, step as the magnitude of a phasor."""
    metal = _Reach(solution, own, reference, reach_m)

    def complex_at(x_m: FloatArray, y_m: FloatArray) -> ComplexArray:
        return unit(np.column_stack([x_m, y_m, np.zeros(len(x_m))]))

    def touch(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        return metal.largest(x_m, y_m, complex_at(x_m, y_m))

    def drop(xa: FloatArray, ya: FloatArray, xb: FloatArray, yb: FloatArray) -> FloatArray:
        both = complex_at(np.concatenate([xa, xb]), np.concatenate([ya, yb]))
        return np.asarray(np.abs(both[: len(xa)] - both[len(xa) :]))

    def potential(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        return np.asarray(complex_at(x_m, y_m).real)

    middle = 0.5 * (solution.segments.start[:2, own] + solution.segments.end[:2, own])
    return Surface(potential, touch, drop), float(np.max(np.abs(complex_at(*middle).imag)))


def _separate_touch(
    solution: NetworkSolution,
    electrode: Electrode,
    unit: Callable[[FloatArray], ComplexArray],
    reference: complex,
    reach_m: float,
) -> dict[str, Potential]:
    """Touch voltage at each separate electrode, against its own potential at that place."""
    groups = np.array([c.group for c in electrode])[solution.segments.conductor]
    found: dict[str, Potential] = {}
    for name in dict.fromkeys(c.group for c in electrode if c.group != MAIN):
        metal = _Reach(solution, groups == name, reference, reach_m)

        def touch(x_m: FloatArray, y_m: FloatArray, metal: _Reach = metal) -> FloatArray:
            return metal.largest(x_m, y_m, unit(np.column_stack([x_m, y_m, np.zeros(len(x_m))])))

        found[name] = touch
    return found


def _refuse_pieces(solution: NetworkSolution, own: NDArray[np.bool_], nodes: NDArray[np.int64]) -> None:
    """Bonded metal must hang together, since current can not jump to a piece drawn apart."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    low, high = solution.ends[:, own]
    size = len(solution.nodes_m)
    graph = coo_array((np.ones(len(low)), (low, high)), shape=(size, size))
    number = connected_components(graph, directed=False)[1]
    fed = set(number[solution.injected_at].tolist())
    lone = [k for k in nodes.tolist() if number[k] not in fed]
    if lone:
        x, y, z = solution.nodes_m[lone[0]]
        pieces = len({int(number[k]) for k in lone})
        text = (
            f"no current enters {pieces} piece(s) of metal drawn apart from the rest, one near "
            f"({x:.2f}, {y:.2f}) m at a depth of {z:.2f} m"
        )
        advice = "draw the link under runs, give it an entry point, or list it under separate_electrodes"
        raise InputError([Finding("entry-pieces", text, advice, path=("assessment", "entry_points"))])
