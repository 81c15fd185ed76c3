"""The metal of a project solved in one soil: alone, with separate electrodes, or with its own impedance."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import dist
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, InputError
from evenground.field import Backfill, Link, solve, solve_groups
from evenground.model.electrode import Electrode, Embedding
from evenground.model.leak import SurfaceLeak
from evenground.model.metal import DepthSection, MetalDrop, SeparateResult
from evenground.model.study import FieldSummary
from evenground.safety import Potential, SeparateMetal, Surface

if TYPE_CHECKING:
    from evenground.field import SolverReport
    from evenground.field._segments import Segments
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.project import Project
    from evenground.model.site import DepthLine
    from evenground.model.soil import LayeredSoil

__all__ = [
    "MAIN",
    "SolvedMetal",
    "UnitDrop",
    "depth_sections",
    "field_summary",
    "links_of",
    "main_group",
    "shortest_segment_m",
    "solve_bonded",
    "surface_leak",
    "with_backfill",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Tell = Callable[[str, float], None]
MAIN = "mat"
SHORTEST_RADII = 4.0
"""Segments are at least this many radii long, as the field solution asks."""
SECTION_POINTS = (161, 81)
"""Points of a depth section along and down."""


@dataclass(frozen=True)
class UnitDrop:
    """Voltage along the metal per ampere of fault current. [ohm, m]"""

    impedance_ohm: complex
    resistance_ohm: float
    drop_ohm: float
    furthest_m: tuple[float, float, float]
    out_of_phase: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SolvedMetal:
    """The solved metal as the rest of the study needs it.

    ``unit_v`` gives the potential at points (n, 3) for one volt of potential rise. ``shares`` are the
    potentials of separate electrodes as fractions of the potential rise, ``leaked`` their parts of all
    current into the earth.
    """

    summary: FieldSummary
    surface: Surface
    unit_v: Callable[[FloatArray], FloatArray]
    shares: dict[str, float]
    leaked: dict[str, float]
    own_ohm: dict[str, float]
    mutual_ohm: dict[str, float]
    drop: UnitDrop | None = None
    separate_touch: dict[str, Potential] = field(default_factory=dict)
    phasor: Callable[[FloatArray], ComplexArray] | None = None
    leak: SurfaceLeak | None = None

    @property
    def resistance_ohm(self) -> float:
        """Potential rise per ampere into the earth. [ohm]"""
        return self.summary.resistance_ohm

    def separate(self, project: Project, gpr_v: Mapping[str, float]) -> tuple[SeparateResult, ...]:
        """The separate electrodes with their potentials in every scenario."""
        linked = _linked(project)
        return tuple(
            SeparateResult(
                name=name,
                resistance_ohm=self.own_ohm[name],
                mutual_ohm=self.mutual_ohm[name],
                share=share,
                leaked_share=self.leaked[name],
                potential_v={scenario: share * rise for scenario, rise in gpr_v.items()},
                floating=name not in linked,
            )
            for name, share in self.shares.items()
        )

    def metal_drop(self, gpr_v: Mapping[str, float]) -> MetalDrop | None:
        """Voltage along the metal in every scenario; None when the metal is at one potential."""
        if self.drop is None:
            return None
        per_volt = self.drop.drop_ohm / self.resistance_ohm
        return MetalDrop(
            self.drop.impedance_ohm,
            self.drop.resistance_ohm,
            {scenario: per_volt * rise for scenario, rise in gpr_v.items()},
            self.drop.furthest_m,
            self.drop.out_of_phase,
            self.drop.notes,
        )

    def touchable(self, project: Project, layout: ElectrodeLayout) -> tuple[SeparateMetal, ...]:
        """The separate electrodes that people can touch."""
        rows = []
        for item in project.separate:
            if item.touchable:
                metal = layout.separate.of_group(item.name)
                lines = tuple((c.start_m[:2], c.end_m[:2]) for c in metal)
                touch = self.separate_touch.get(item.name)
                rows.append(SeparateMetal(item.name, self.shares[item.name], lines, item.path, touch))
        return tuple(rows)


def solve_bonded(
    project: Project,
    layout: ElectrodeLayout,
    layers: LayeredSoil,
    *,
    segment_m: float | None = None,
    tell: Tell | None = None,
) -> SolvedMetal:
    """Solve all metal of the project in one soil, each bonded piece at one potential.

    Raises
    ------
    InputError
        When separate metal touches the main electrode, with the place in the project file.
    """
    if layout.separate.conductors:
        return _with_separate(project, layout, layers, segment_m, tell)
    electrode, backfill = with_backfill(layout.electrode)
    solution = solve(electrode, layers, segment_m=segment_m, backfill=backfill, progress=tell)

    def unit_v(points_m: FloatArray) -> FloatArray:
        return solution.potential_v(points_m, gpr_v=1.0)

    summary = field_summary(solution.report, layers, solution.resistance_ohm, solution.resistance_error_ohm)
    leak = surface_leak(solution.segments, solution.leakage_a_per_m())
    return SolvedMetal(summary, _at_surface(unit_v), unit_v, {}, {}, {}, {}, leak=leak)


def main_group(electrode: Electrode) -> Electrode:
    """The bonded metal as the group that the separate electrodes stand beside."""
    return Electrode(replace(c, group=MAIN) for c in electrode)


def links_of(project: Project) -> list[Link]:
    """The connections above ground of the separate electrodes."""
    return [Link(i.name, to.to, complex(to.resistance_ohm)) for i in project.separate for to in i.links]


def with_backfill(electrode: Electrode) -> tuple[Electrode, dict[str, Backfill]]:
    """The electrode with one kind per embedding, and what the field solution shall put around each kind."""
    kinds: dict[Embedding, str] = {}
    rows = []
    for c in electrode:
        if c.embedding is not None:
            kind = kinds.setdefault(c.embedding, f"embedded {len(kinds) + 1}")
            c = replace(c, kind=kind)
        rows.append(c)
    around = {kind: Backfill(e.outer_radius_m, e.resistivity_ohm_m) for e, kind in kinds.items()}
    return Electrode(rows), around


def _with_separate(
    project: Project, layout: ElectrodeLayout, layers: LayeredSoil, segment_m: float | None, tell: Tell | None
) -> SolvedMetal:
    electrode, backfill = with_backfill(main_group(layout.electrode) + layout.separate)
    _refuse_contact(project, layout)
    solution = solve_groups(electrode, layers, segment_m=segment_m, backfill=backfill, progress=tell)
    state = solution.energise(potential_v={MAIN: 1.0}, links=links_of(project))
    total = sum(current.real for current in state.current_a.values())
    resistance = 1.0 / total

    def unit_v(points_m: FloatArray) -> FloatArray:
        return np.asarray(state.field_v(points_m).real)

    others = [g for g in solution.groups if g != MAIN]
    row = {g: k for k, g in enumerate(solution.groups)}
    joined = {MAIN, *_linked(project)}
    error = max(float(solution.relative_error[row[g]]) for g in joined) * resistance
    return SolvedMetal(
        summary=field_summary(solution.report, layers, resistance, error),
        surface=_at_surface(unit_v),
        unit_v=unit_v,
        shares={g: state.potential_v[g].real for g in others},
        leaked={g: state.current_a[g].real / total for g in others},
        own_ohm={g: float(solution.resistance_ohm[row[g], row[g]]) for g in others},
        mutual_ohm={g: float(solution.resistance_ohm[row[g], row[MAIN]]) for g in others},
        leak=surface_leak(solution.segments, np.abs(state.leakage_a_per_m())),
    )


def surface_leak(segments: Segments, per_metre: FloatArray) -> SurfaceLeak:
    """Leakage over the outer surface of each segment."""
    density = np.abs(per_metre) / (2.0 * np.pi * segments.radius_m)
    return SurfaceLeak(density, np.asarray(segments.layer, dtype=np.int64), segments.middle.T)


def _linked(project: Project) -> set[str]:
    """Separate electrodes with a link to other metal, which carry a current of their own."""
    ends = {end for item in project.separate for link in item.links for end in (item.name, link.to)}
    return ends - {MAIN}


def _refuse_contact(project: Project, layout: ElectrodeLayout) -> None:
    """Separate metal that touches other metal is not separate."""
    from evenground.field import touching_groups

    paths = {item.name: item.path for item in project.separate}
    rows = []
    for one, other, place in touching_groups(main_group(layout.electrode) + layout.separate):
        name, with_what = (one, other) if one != MAIN else (other, one)
        what = "the main electrode" if with_what == MAIN else f"'{with_what}'"
        text = f"'{name}' touches {what} near ({place[0]:g}, {place[1]:g}) m at a depth of {place[2]:g} m"
        advice = "move it apart, or draw it under mats, rods or runs when it is bonded"
        rows.append(Finding("separate-touches", text, advice, path=paths.get(name, ())))
    if rows:
        raise InputError(rows[:20])


def _at_surface(unit_v: Callable[[FloatArray], FloatArray]) -> Surface:
    def potential(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        return unit_v(np.column_stack([x_m, y_m, np.zeros(len(x_m))]))

    return Surface(potential)


def field_summary(report: SolverReport, soil: LayeredSoil, resistance: float, error: float) -> FieldSummary:
    """What the report says about a field solution. [ohm]"""
    return FieldSummary(
        resistance_ohm=resistance,
        resistance_error_ohm=error,
        segments=report.segments,
        layers=soil.layers,
        kernel_error=report.kernel_error,
        residual=report.residual,
        energy_balance=report.energy_balance,
        iterations=report.iterations,
        method=report.method,
        longest_segment_m=report.longest_segment_m,
        notes=report.notes,
        memory_bytes=report.memory_bytes,
        node_balance=report.node_balance,
    )


def shortest_segment_m(layout: ElectrodeLayout) -> float:
    """Shortest segment that the thickest metal or backfill allows. [m]"""
    metal = layout.electrode + layout.separate
    thickest = max(c.embedding.outer_radius_m if c.embedding else c.radius_m for c in metal)
    return SHORTEST_RADII * thickest


def depth_sections(solved: SolvedMetal, lines: Sequence[DepthLine]) -> tuple[DepthSection, ...]:
    """Potential in depth below each line, for one volt of potential rise."""
    rows = []
    for line in lines:
        along = np.linspace(0.0, dist(line.start_m, line.end_m), SECTION_POINTS[0])
        depth = np.linspace(0.0, line.depth_m, SECTION_POINTS[1])
        part = along / along[-1]
        x, y = (a + part * (b - a) for a, b in zip(line.start_m, line.end_m, strict=True))
        points = np.column_stack(
            [np.tile(x, len(depth)), np.tile(y, len(depth)), np.repeat(depth, len(along))]
        )
        values = solved.unit_v(points).reshape(len(depth), len(along))
        rows.append(DepthSection(line.name, line.start_m, line.end_m, along, depth, values))
    return tuple(rows)
