"""Drafts: one choice for everything that may be chosen, and the project that follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import ceil, floor
from typing import Any

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from evenground.electrode import perimeter_points
from evenground.errors import InputError
from evenground.model.construction import Construction, MetalChoice
from evenground.model.project import Project
from evenground.model.site import BackfillLayout, ExtraRun, MatLayout, Point2, RodRule, SurfaceZone
from evenground.search._pins import missed, pinned, places_of
from evenground.search._ring import is_ring, ring_runs

__all__ = ["Choice", "Draft", "Line", "Space", "mesh_positions", "space_of"]

EDGE_RATIOS = (1.0, 0.8, 0.65, 0.5, 0.4, 0.3, 0.2)
"""Outermost mesh over the middle one, when lines stand denser toward the edge."""
PERIMETER_COUNTS = (0, 4, 6, 8, 10, 12, 14, 16, 20, 24, 30, 36, 48)
"""Rods along the outline of a mat."""
Line = tuple[int, int, float]
"""A mesh line: number of the mat, axis (0: at an x, 1: at a y), position. [m]"""


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that may be chosen: a key, words, and its options from the least to the most."""

    key: str
    title: str
    options: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """Number of the option taken of each choice, and mesh lines left out."""

    genes: tuple[int, ...]
    dropped: tuple[Line, ...] = ()


def mesh_positions(
    low_m: float,
    high_m: float,
    meshes: int,
    edge_ratio: float,
    step_m: float,
    needed_m: Sequence[float] = (),
) -> tuple[float, ...]:
    """Positions of mesh lines from edge to edge, meshes shrinking toward both edges by equal factors.

    Parameters
    ----------
    low_m, high_m : float
        The edges. [m]
    meshes : int
        Number of meshes, at least 1.
    edge_ratio : float
        Outermost mesh over the middle one; 1 for equal meshes.
    step_m : float
        Lines between the edges stand at whole multiples of this from the lower edge. [m]
    needed_m : sequence of float
        Places that must have a line: edges of the outline inside the extent. The nearest line moves there.
    """
    middle = (meshes - 1) / 2
    widths = [edge_ratio ** (abs(k - middle) / middle if middle else 0.0) for k in range(meshes)]
    scale = (high_m - low_m) / sum(widths)
    places, at = [low_m], low_m
    for width in widths[:-1]:
        at += width * scale
        places.append(round(low_m + step_m * round((at - low_m) / step_m), 6))
    places.append(high_m)
    for place in needed_m:
        inner = range(1, len(places) - 1)
        nearest = min(inner, key=lambda k: abs(places[k] - place), default=None)
        if nearest is None or place in places:
            places = sorted({*places, place})
        else:
            places[nearest] = place
    return tuple(sorted(set(places)))


@dataclass(frozen=True)
class Space:
    """Everything that may be chosen for a project, under its rules of construction.

    ``start`` is the draft nearest to the project as drawn (for the first guess only: unequal lines as drawn
    need not be among the options).
    """

    project: Project
    rules: Construction
    choices: tuple[Choice, ...]
    start: Draft

    @property
    def size(self) -> int:
        """Number of drafts without lines left out."""
        total = 1
        for choice in self.choices:
            total *= len(choice.options)
        return total

    def chosen(self, draft: Draft) -> dict[str, Any]:
        """The option taken of each choice, by key."""
        return {c.key: c.options[g] for c, g in zip(self.choices, draft.genes, strict=True)}

    def words(self, draft: Draft) -> dict[str, str]:
        """What is chosen, in words, by the title of the choice."""
        found = {c.title: self.option_words(c, g) for c, g in zip(self.choices, draft.genes, strict=True)}
        if draft.dropped:
            places = ", ".join(f"{'xy'[axis]} = {at:g} m" for _, axis, at in draft.dropped)
            found["lines left out"] = places
        return found

    def option_words(self, choice: Choice, gene: int) -> str:
        """One option in words."""
        option = choice.options[gene]
        if option is None:
            return "none" if choice.key == "rod_fill" else "as drawn"
        if isinstance(option, MetalChoice):
            return option.name
        if isinstance(option, BackfillLayout):
            return f"{option.material or 'backfill'}, {option.outer_diameter_mm:g} mm"
        if isinstance(option, tuple):
            kind, thickness = option
            return f"{kind.material}, {1000 * thickness:g} mm"
        return f"{option:g} m" if choice.key in ("depth_m", "ring") and option else f"{option:g}"

    def lines(self, draft: Draft) -> tuple[Line, ...]:
        """Mesh lines of a draft that are not on the edge of their mat."""
        found: list[Line] = []
        for i, mat in enumerate(self.made(draft).mats):
            for axis, row in ((0, mat.lines_x_m), (1, mat.lines_y_m)):
                found += [(i, axis, place) for place in (row or ())[1:-1]]
        return tuple(found)

    def made(self, draft: Draft) -> Project:
        """The project of a draft; whether the rules allow it, :meth:`broken` says."""
        chosen = self.chosen(draft)
        mats = tuple(self._mat(i, mat, chosen, draft) for i, mat in enumerate(self.project.mats))
        conductors = self.project.conductors
        metal = chosen.get("metal")
        if metal is not None:
            for key in {m.conductor for m in mats}:
                conductors = {**conductors, key: replace(metal.request, role=key)}
        runs = self.project.runs
        if "ring" in chosen:
            runs = tuple(r for r in runs if not is_ring(r, self.project.mats))
            runs = (*runs, *ring_runs(mats, chosen["ring"]))
        depth = chosen.get("depth_m")
        if depth is not None and "ring" not in chosen:
            runs = tuple(replace(r, depth_m=depth) if is_ring(r, self.project.mats) else r for r in runs)
        surface = tuple(_covered(z, chosen.get(f"cover {z.name}")) for z in self.project.surface)
        return replace(self.project, mats=mats, conductors=conductors, runs=runs, surface=surface)

    def _mat(self, index: int, mat: MatLayout, chosen: dict[str, Any], draft: Draft) -> MatLayout:
        mat = replace(mat, depth_m=chosen.get("depth_m") or mat.depth_m)
        if self.rules.lines:
            x, y = (self._positions(index, mat, chosen, axis) for axis in (0, 1))
            x, y = pinned(mat, (x, y), self.places)
            x, y = (
                tuple(p for p in row if (index, axis, p) not in draft.dropped)
                for axis, row in ((0, x), (1, y))
            )
            widest = [max(b - a for a, b in pairwise(row)) for row in (x, y)]
            mat = replace(mat, lines_x_m=x, lines_y_m=y, spacing_x_m=widest[0], spacing_y_m=widest[1])
        return replace(mat, rods=_rods(mat, index, chosen, self.rules)) if self.rules.rods else mat

    def _positions(self, index: int, mat: MatLayout, chosen: dict[str, Any], axis: int) -> tuple[float, ...]:
        name = "xy"[axis]
        meshes, ratio = chosen[f"meshes_{name} {index}"], chosen[f"edge_{name} {index}"]
        low, high, needed = _stops(mat, axis)
        return mesh_positions(low, high, meshes, ratio, self.rules.line_step_m, needed)

    @cached_property
    def places(self) -> tuple[tuple[str, Point2], ...]:
        """Places that need metal, with their names. [m]"""
        return places_of(self.project)

    def broken(self, made: Project) -> str:
        """The first rule of construction that a project breaks; empty when it keeps them all."""
        rules = self.rules
        for mat in made.mats:
            for name, row in (("x", mat.lines_x_m), ("y", mat.lines_y_m)):
                gaps = [b - a for a, b in pairwise(row or ())] if rules.lines else []
                if gaps and min(gaps) < rules.least_spacing_m - 1e-9:
                    return f"lines of {mat.name} {min(gaps):.3g} m apart along {name}"
                if gaps and max(gaps) > rules.greatest_spacing_m + 1e-9:
                    return f"lines of {mat.name} {max(gaps):.3g} m apart along {name}"
        return _forbidden(made, rules) or (missed(made, self.places) if rules.lines else "")


def _forbidden(made: Project, rules: Construction) -> str:
    for area in rules.forbidden:
        inside = Polygon(area.outline_m).buffer(-1e-3)
        shapely.prepare(inside)
        for mat in made.mats:
            if any(inside.intersects(line) for line in _straight(mat)):
                return f"a line of {mat.name} through {area.name}"
            places = [p for r in mat.rods for p in _places(mat, r)]
            if any(inside.contains(Point(p)) for p in places):
                return f"a rod of {mat.name} in {area.name}"
        if any(inside.intersects(LineString(r.points_m)) for r in made.runs):
            return f"a run through {area.name}"
    return ""


def _places(mat: MatLayout, rule: RodRule) -> tuple[Point2, ...]:
    if rule.where == "corners":
        return mat.outline_m
    return perimeter_points(mat.outline_m, spacing_m=rule.spacing_m, count=rule.count)


def _straight(mat: MatLayout) -> list[BaseGeometry]:
    """Mesh lines of a mat inside its outline."""
    polygon = Polygon(mat.outline_m)
    x0, y0, x1, y1 = polygon.bounds
    lines = [LineString([(x, y0), (x, y1)]) for x in mat.lines_x_m or ()]
    lines += [LineString([(x0, y), (x1, y)]) for y in mat.lines_y_m or ()]
    return [line.intersection(polygon) for line in lines]


def _stops(mat: MatLayout, axis: int) -> tuple[float, float, tuple[float, ...]]:
    """Extent of a mat along one axis, and edges of its outline that lie between. [m]"""
    values = [p[axis] for p in mat.outline_m]
    low, high = min(values), max(values)
    ring = [*mat.outline_m, mat.outline_m[0]]
    edges = {a[axis] for a, b in pairwise(ring) if abs(a[axis] - b[axis]) < 1e-9}
    return low, high, tuple(sorted(e for e in edges if low < e < high))


def _rods(mat: MatLayout, index: int, chosen: dict[str, Any], rules: Construction) -> tuple[RodRule, ...]:
    diameter = _diameter(mat)
    fill = chosen.get("rod_fill")
    found = []
    corner, count = chosen[f"corner_sections {index}"], chosen[f"edge_rods {index}"]
    if corner:
        found.append(RodRule("corners", corner * rules.rod_section_m, diameter, backfill=fill))
    if count:
        length = chosen[f"edge_sections {index}"] * rules.rod_section_m
        found.append(RodRule("perimeter", length, diameter, count=count, backfill=fill))
    return tuple(found)


def _diameter(mat: MatLayout) -> float:
    return max((r.diameter_mm for r in mat.rods), default=16.0)


def _covered(zone: SurfaceZone, cover: tuple[Any, float] | None) -> SurfaceZone:
    if cover is None:
        return zone
    kind, thickness = cover
    return replace(
        zone,
        material=kind.material,
        state=kind.state,
        resistivity_ohm_m=kind.resistivity_ohm_m,
        thickness_m=thickness,
    )


def space_of(project: Project) -> Space:
    """What may be chosen for a project.

    Raises
    ------
    InputError
        When the file states no rules of construction, has no mat, or leaves nothing to choose.
    """
    rules = project.construction
    if rules is None:
        raise InputError(
            "the file has no section construction: it states what may be chosen and what may not"
        )
    if not project.mats:
        raise InputError("there is no mat to search; draw one under mats")
    choices, genes = _choices(project, rules)
    if all(len(c.options) == 1 for c in choices):
        raise InputError("construction leaves nothing to choose")
    return Space(project, rules, tuple(choices), Draft(tuple(genes)))


def _choices(project: Project, rules: Construction) -> tuple[list[Choice], list[int]]:
    choices: list[Choice] = []
    genes: list[int] = []

    def add(key: str, title: str, options: Sequence[Any], start: Any) -> None:
        choices.append(Choice(key, title, tuple(options)))
        genes.append(min(range(len(options)), key=lambda k: _distance(options[k], start)))

    if rules.depths_m:
        add("depth_m", "depth of the mats", rules.depths_m, project.mats[0].depth_m)
    if rules.metal:
        add("metal", "conductor of the mats", (None, *rules.metal), None)
    for i, mat in enumerate(project.mats):
        _add_mat(add, i, mat, rules)
    if rules.rods and rules.rod_backfills:
        add("rod_fill", "backfill of the rods", (None, *rules.rod_backfills), None)
    if rules.ring_distances_m:
        drawn = [r for r in project.runs if is_ring(r, project.mats)]
        add("ring", "distance of the outer ring", rules.ring_distances_m, _ring_distance(drawn, project))
    for zone in project.surface:
        own = [(c, t) for c in rules.covers if c.zone == zone.name for t in c.thicknesses_m]
        if own:
            add(f"cover {zone.name}", f"cover of {zone.name}", (None, *own), None)
    return choices, genes


def _add_mat(add: Any, i: int, mat: MatLayout, rules: Construction) -> None:
    for axis, name in ((0, "x"), (1, "y")) if rules.lines else ():
        low, high, _ = _stops(mat, axis)
        fewest = max(1, ceil((high - low) / rules.greatest_spacing_m - 1e-9))
        most = max(fewest, floor((high - low) / rules.least_spacing_m + 1e-9))
        drawn = (mat.lines_x_m, mat.lines_y_m)[axis]
        spacing = (mat.spacing_x_m, mat.spacing_y_m)[axis]
        start = len({low, *drawn, high}) - 1 if drawn else ceil((high - low) / spacing - 1e-9)
        row = sorted({low, *drawn, high}) if drawn else [low, high]
        gaps = [b - a for a, b in pairwise(row)]
        ratio = min(gaps[0], gaps[-1]) / max(gaps)
        add(f"meshes_{name} {i}", f"meshes of {mat.name} along {name}", range(fewest, most + 1), start)
        add(
            f"edge_{name} {i}",
            f"outermost mesh over the middle one, {mat.name} along {name}",
            EDGE_RATIOS,
            ratio,
        )
    if not rules.rods:
        return
    around = LineString([*mat.outline_m, mat.outline_m[0]]).length
    counts = [n for n in PERIMETER_COUNTS if n == 0 or around / n >= rules.least_rod_spacing_m]
    corners = next((r for r in mat.rods if r.where == "corners"), None)
    edge = next((r for r in mat.rods if r.where == "perimeter"), None)
    sections = range(1, rules.most_rod_sections + 1)
    drawn_count = 0 if edge is None else len(_places(mat, edge))
    long = corners.length_m / rules.rod_section_m if corners else 0
    edge_long = edge.length_m / rules.rod_section_m if edge else 1
    add(f"corner_sections {i}", f"sections of each corner rod of {mat.name}", (0, *sections), long)
    add(f"edge_rods {i}", f"rods along the edge of {mat.name}", counts, drawn_count)
    add(f"edge_sections {i}", f"sections of each edge rod of {mat.name}", sections, edge_long)


def _ring_distance(drawn: Sequence[ExtraRun], project: Project) -> float:
    base = shapely.union_all([Polygon(m.outline_m) for m in project.mats])
    return max((base.distance(Point(p)) for r in drawn for p in r.points_m), default=0.0)


def _distance(option: Any, start: Any) -> float:
    """How far an option is from what is drawn; options that are no numbers match only as drawn."""
    if option is None or start is None:
        return 0.0 if option is start else 1.0
    return abs(float(option) - float(start))
