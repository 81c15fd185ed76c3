"""Changes to a project that may help: denser metal, a ring, rods, cover, time, current, fences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import nearest_points

from evenground._mitigation_plot import COVERS, filled
from evenground.model.site import BackfillLayout, ExtraRun, MatLayout, RodRule

if TYPE_CHECKING:
    from evenground.model.installation import Fence
    from evenground.model.project import Project
    from evenground.model.site import Point2
    from evenground.model.study import Study

__all__ = ["CHANGES", "CURRENT", "FULL", "TIME", "Change", "Made"]

RING_M = 1.0
ROD_M, ROD_EVERY_M, DEEP_M = 6.0, 10.0, 20.0
COVER_TIMES, COVER_FURTHER_M = 2.0, 1.0
TIME, CURRENT = 0.5, 0.75
FULL = "full plot with"
"""Begins the names of the changes that fill the plot."""
SECTION_EVERY_M, SECTION_M = 20.0, 3.0
COMPOUND_OHM_M = 2.5
"""Bentonite at 300 % moisture. IEEE Std 80-2013, 14.5. [ohm m]"""
ROD_COMPOUND_MM, RING_COMPOUND_MM = 200.0, 300.0


@dataclass(frozen=True)
class Made:
    """A changed project, words for the change, and factors on current and duration."""

    project: Project
    words: str
    current: float = 1.0
    time: float = 1.0


@dataclass(frozen=True)
class Change:
    """One change by name; ``apply`` gives None when it has no meaning for a project."""

    name: str
    apply: Callable[[Study], Made | None]
    remark: str = ""


def _made(project: Project | None, words: str) -> Made | None:
    return None if project is None else Made(project, words)


def _ring(project: Project, around: BackfillLayout | None = None) -> Project | None:
    """A ring outside the mats, tied to them at its corners and in the middle of its sides."""
    if not project.mats:
        return None
    base = shapely.union_all([Polygon(m.outline_m) for m in project.mats])
    drawn = [p for r in project.runs for p in r.points_m]
    if any(base.distance(Point(p)) > 0.5 * RING_M for p in drawn):
        return None
    depth, key = project.mats[0].depth_m, project.mats[0].conductor
    runs = []
    for part in shapely.get_parts(base.buffer(RING_M, join_style="mitre")):
        ring = [(float(x), float(y)) for x, y in part.exterior.coords]
        middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(ring)]
        runs.append(ExtraRun(tuple(ring), depth, key, backfill=around))
        for x, y in (*ring[:-1], *middles):
            foot = nearest_points(base, Point(x, y))[0]
            runs.append(ExtraRun(((x, y), (round(foot.x, 9), round(foot.y, 9))), depth, key))
    return replace(project, runs=(*project.runs, *runs))


def _outer_ring(study: Study) -> Made | None:
    made = _ring(study.project)
    return _made(made, f"a ring {RING_M:g} m outside the mat at its depth, tied at corners and sides")


def _lines(mat: MatLayout, axis: str) -> list[float]:
    """Positions of the conductors across one axis, outline included. [m]"""
    values = [p[0 if axis == "x" else 1] for p in mat.outline_m]
    low, high = min(values), max(values)
    stated = mat.lines_x_m if axis == "x" else mat.lines_y_m
    if stated is not None:
        return sorted({low, *stated, high})
    count = ceil((high - low) / (mat.spacing_x_m if axis == "x" else mat.spacing_y_m) - 1e-9)
    return [low + k * (high - low) / count for k in range(count + 1)]


def _meshed(project: Project, change: Callable[[list[float]], list[float]]) -> Project | None:
    if not project.mats:
        return None
    mats = []
    for mat in project.mats:
        x, y = (tuple(change(_lines(mat, axis))) for axis in ("x", "y"))
        gaps = [max(b - a for a, b in pairwise(v)) for v in (x, y)]
        mats.append(replace(mat, lines_x_m=x, lines_y_m=y, spacing_x_m=gaps[0], spacing_y_m=gaps[1]))
    return replace(project, mats=tuple(mats))


def _halved(lines: list[float]) -> list[float]:
    return sorted([*lines, *((a + b) / 2 for a, b in pairwise(lines))])


def _edged(lines: list[float]) -> list[float]:
    """One more line a third of the outer mesh from either end."""
    if len(lines) < 2:
        return lines
    first, last = (lines[1] - lines[0]) / 3, (lines[-1] - lines[-2]) / 3
    return sorted([*lines, lines[0] + first, lines[-1] - last])


def _closer(study: Study) -> Made | None:
    made = _meshed(study.project, _halved)
    return _made(made, "every mesh of the mats halved both ways")


def _denser_edge(study: Study) -> Made | None:
    made = _meshed(study.project, _edged)
    return _made(made, "one more conductor along each edge, a third of the outer mesh from it")


def _rodded(project: Project, rule: RodRule) -> Project | None:
    if not project.mats:
        return None
    mats = tuple(replace(m, rods=(*(r for r in m.rods if r.where != rule.where), rule)) for m in project.mats)
    return replace(project, mats=mats)


def _diameter_mm(project: Project) -> float:
    sizes = [r.diameter_mm for m in project.mats for r in m.rods] + [r.diameter_mm for r in project.rods]
    return max(sizes, default=16.0)


def _rods(study: Study) -> Made | None:
    rule = RodRule("perimeter", ROD_M, _diameter_mm(study.project), spacing_m=ROD_EVERY_M)
    made = _rodded(study.project, rule)
    return _made(made, f"rods of {ROD_M:g} m every {ROD_EVERY_M:g} m along the edge")


def _deep_rods(study: Study) -> Made | None:
    made = _rodded(study.project, RodRule("corners", DEEP_M, _diameter_mm(study.project)))
    return _made(made, f"rods of {DEEP_M:g} m in the corners")


def _compound(diameter_mm: float) -> BackfillLayout:
    return BackfillLayout(diameter_mm, COMPOUND_OHM_M, "earthing compound")


def _treated_rods(study: Study) -> Made | None:
    """Rods that are there, in bored holes filled with compound; those that are filled already stay."""
    project = study.project
    around = _compound(ROD_COMPOUND_MM)
    bare = any(r.backfill is None for r in project.rods)
    if not bare and not any(r.backfill is None for m in project.mats for r in m.rods):
        return None
    mats = tuple(
        replace(m, rods=tuple(replace(r, backfill=r.backfill or around) for r in m.rods))
        for m in project.mats
    )
    rods = tuple(replace(r, backfill=r.backfill or around) for r in project.rods)
    words = f"every rod in a hole of {ROD_COMPOUND_MM:g} mm filled with compound of {COMPOUND_OHM_M:g} Ω·m"
    return Made(replace(project, mats=mats, rods=rods), words)


def _treated_ring(study: Study) -> Made | None:
    """An outer ring in compound; where runs outside the mats are a ring already, these in compound."""
    around = _compound(RING_COMPOUND_MM)
    fill = f"in {RING_COMPOUND_MM:g} mm of compound of {COMPOUND_OHM_M:g} Ω·m"
    made = _ring(study.project, around)
    if made is not None:
        return Made(made, f"a ring {RING_M:g} m outside the mat, {fill}")
    project = study.project
    if not project.mats:
        return None
    base = shapely.union_all([Polygon(m.outline_m) for m in project.mats]).buffer(0.1)
    runs = tuple(
        replace(r, backfill=around) if r.backfill is None and not base.covers(LineString(r.points_m)) else r
        for r in project.runs
    )
    return None if runs == project.runs else Made(replace(project, runs=runs), f"runs outside the mat {fill}")


def _covered(project: Project) -> Project | None:
    if not any(z.resistivity_ohm_m is not None for z in project.surface):
        return None
    zones = tuple(
        replace(z, thickness_m=COVER_TIMES * z.thickness_m) if z.resistivity_ohm_m is not None else z
        for z in project.surface
    )
    return replace(project, surface=zones)


def _thicker(study: Study) -> Made | None:
    made = _covered(study.project)
    return _made(made, f"every cover {COVER_TIMES:g} times as thick")


def _widened(project: Project) -> Project | None:
    rows = [z for z in project.surface if z.outline_m is not None and z.resistivity_ohm_m is not None]
    if not rows:
        return None
    zones = []
    for zone in project.surface:
        if zone in rows and zone.outline_m is not None:
            wide = Polygon(zone.outline_m).buffer(COVER_FURTHER_M, join_style="mitre")
            ring = tuple((float(x), float(y)) for x, y in wide.exterior.coords[:-1])
            zone = replace(zone, outline_m=ring)
        zones.append(zone)
    return replace(project, surface=tuple(zones))


def _further(study: Study) -> Made | None:
    made = _widened(study.project)
    return _made(made, f"every cover carried {COVER_FURTHER_M:g} m further out")


def _faster(study: Study) -> Made | None:
    return Made(study.project, "every fault cleared in half the time", time=TIME)


def _less_current(study: Study) -> Made | None:
    return Made(
        study.project, "a quarter less current through the mat: earth wires, sheaths", current=CURRENT
    )


def _with_fences(project: Project, fences: Sequence[Fence]) -> Project:
    return replace(project, installation=replace(project.installation, fences=tuple(fences)))


def _insulating(study: Study) -> Made | None:
    fences = study.project.installation.fences
    if not any(f.bonding == "bonded" for f in fences):
        return None
    made = [replace(f, bonding="insulating") if f.bonding == "bonded" else f for f in fences]
    return Made(_with_fences(study.project, made), "bonded fences of material that does not conduct")


def _separate(study: Study) -> Made | None:
    fences = study.project.installation.fences
    if not any(f.bonding == "bonded" for f in fences):
        return None
    made = [replace(f, bonding="separate") if f.bonding == "bonded" else f for f in fences]
    return Made(_with_fences(study.project, made), "bonded fences earthed on their own where they stand")


def _bonded(study: Study) -> Made | None:
    fences = study.project.installation.fences
    if not any(f.bonding == "separate" and f.owner == "own" for f in fences):
        return None
    made = [
        replace(f, bonding="bonded") if f.bonding == "separate" and f.owner == "own" else f for f in fences
    ]
    return Made(_with_fences(study.project, made), "own separate fences joined to the mat")


def _sectioned(study: Study) -> Made | None:
    fences = study.project.installation.fences
    if not any(f.bonding == "separate" for f in fences):
        return None
    made = [replace(f, **_cut(f)) if f.bonding == "separate" else f for f in fences]  # type: ignore[arg-type]
    words = f"insulated sections of {SECTION_M:g} m every {SECTION_EVERY_M:g} m in separate fences"
    return Made(_with_fences(study.project, made), words)


def _cut(fence: Fence) -> dict[str, object]:
    ring: list[Point2] = [*fence.points_m, fence.points_m[0]] if fence.closed else list(fence.points_m)
    line = LineString(ring)
    count = max(1, round(line.length / SECTION_EVERY_M))
    middles = [line.interpolate((k + 0.5) * line.length / count) for k in range(count)]
    return {"breaks_m": tuple((p.x, p.y) for p in middles), "break_length_m": SECTION_M}


def _all_metal(study: Study) -> Made | None:
    """Every change of metal and cover at once: an early answer to whether the site can pass at all."""
    project = study.project
    rule = RodRule("perimeter", ROD_M, _diameter_mm(project), spacing_m=ROD_EVERY_M)
    steps: tuple[Callable[[Project], Project | None], ...] = (
        lambda p: _meshed(p, lambda lines: _halved(_edged(lines))),
        lambda p: _rodded(p, rule),
        _ring,
        _covered,
        _widened,
    )
    done = 0
    for step in steps:
        made = step(project)
        if made is not None:
            project, done = made, done + 1
    return Made(project, "denser edge, halved meshes, rods, ring, thicker and wider cover") if done else None


def _plot_with(cover: str) -> Callable[[Study], Made | None]:
    def change(study: Study) -> Made | None:
        made = filled(study.project, cover)
        return None if made is None else Made(*made)

    return change


def _everything(study: Study) -> Made | None:
    """Asphalt over a plot full of metal, with faster clearing and less current besides."""
    made = filled(study.project, "asphalt")
    if made is None:
        return None
    project, words = made
    return Made(project, f"{words}; half the time, a quarter less current", CURRENT, TIME)


CHANGES = (
    Change("outer ring", _outer_ring),
    Change("denser edge", _denser_edge),
    Change("closer mesh", _closer),
    Change("rods along the edge", _rods),
    Change("deep rods", _deep_rods),
    Change("rods in compound", _treated_rods, "where the compound stays moist"),
    Change("outer ring in compound", _treated_ring),
    Change("thicker cover", _thicker),
    Change("wider cover", _further),
    Change("faster clearing", _faster, "conductors stay sized for the back-up time"),
    Change("less current in the mat", _less_current, "to be proved by the current split"),
    Change("fence that does not conduct", _insulating),
    Change("fence earthed on its own", _separate, "the distance from the mat is not looked at here"),
    Change("fence joined to the mat", _bonded),
    Change("insulated sections", _sectioned),
    Change("all of metal and cover", _all_metal),
    *(Change(f"{FULL} {cover}", _plot_with(cover)) for cover in COVERS),
    Change(f"{FULL} asphalt, time and current", _everything, "to be proved by the current split"),
)
