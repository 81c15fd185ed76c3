"""Errors of geometry that only the drawn metal shows: all of them at once, before anything is solved."""

from __future__ import annotations

from collections.abc import Mapping
from math import dist
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import nearest_points

from evenground._study_field import MAIN, main_group
from evenground._study_metal import FURTHEST_ENTRY_M
from evenground.electrode import boundary_metal, fence_pieces
from evenground.errors import Finding, InputError
from evenground.field import bonded_pieces, touching_conductors

if TYPE_CHECKING:
    from evenground.model.conductor import ConductorResult
    from evenground.model.electrode import Conductor, Electrode
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.project import Project

__all__ = ["geometry_findings", "refuse_geometry"]

Path = tuple[str | int, ...]
MOST = 40
"""More findings than this help nobody."""
SAME_M = 0.02


def refuse_geometry(
    project: Project, layout: ElectrodeLayout, conductors: Mapping[str, ConductorResult]
) -> None:
    """Raise every error of geometry at once.

    Raises
    ------
    InputError
        With all findings of :func:`geometry_findings`.
    """
    rows = geometry_findings(project, layout, conductors)
    if rows:
        raise InputError(rows)


def geometry_findings(
    project: Project, layout: ElectrodeLayout, conductors: Mapping[str, ConductorResult]
) -> list[Finding]:
    """Metal that touches what it is separate from, names used twice, current that enters beside the metal.

    Parameters
    ----------
    project : Project
    layout : ElectrodeLayout
        All drawn metal.
    conductors : mapping
        Sized conductors by key, whose metal the voltage along it needs.

    Returns
    -------
    list of Finding
        Each with the path of what is to be mended; both partners are named by their paths.
    """
    rows: list[Finding] = []
    own = _boundary_metal(project, rows)
    rows += _names(project, own)
    rows += _touching(project, layout, own)
    rows += _entries(project, layout, conductors)
    return rows[:MOST]


def _boundary_metal(project: Project, rows: list[Finding]) -> list[Conductor]:
    """Metal of separate fences and services; what can not be built becomes a finding."""
    built = project.installation
    try:
        return list(boundary_metal(built, fence_pieces(built.fences)).electrode)
    except InputError as error:
        rows.extend(error.findings)
        return []


def _names(project: Project, own: list[Conductor]) -> list[Finding]:
    """A name stands for one piece of metal in the ground."""
    stated: dict[str, Path] = {MAIN: ("mats",)}
    stated |= {item.name: item.path for item in project.separate}
    paths = _own_paths(project)
    rows = []
    for name in dict.fromkeys(c.group for c in own):
        if name in stated:
            text = f"“{name}” is the name of other metal in the ground, {_field(stated[name])}"
            rows.append(Finding("name-twice", text, "give each its own", path=(*paths[name], "name")))
    owners = _owners(project)
    for name, (first, *others) in owners.items():
        for other in others:
            text = f"“{name}” is the name of two pieces of metal in the ground, the other is {_field(first)}"
            rows.append(Finding("name-twice", text, "give each its own", path=(*other, "name")))
    return rows


def _owners(project: Project) -> dict[str, list[Path]]:
    """Entries of the file whose metal in the ground bears a name: pieces of fence, services, metal beyond."""
    built = project.installation
    fences = {f.name: f.path for f in built.fences}
    given = [(p.name, fences[p.fence]) for p in fence_pieces(built.fences) if p.bonding == "separate"]
    given += [(s.beyond_name, s.path) for s in built.services if s.far_end and s.far_end.beyond_m]
    given += [(s.name, s.path) for s in built.services if s.route_m or s.remote_rods_m]
    found: dict[str, list[Path]] = {}
    for name, path in given:
        found.setdefault(name, []).append(path)
    return found


def _own_paths(project: Project) -> dict[str, Path]:
    """Place in the file of every piece of fence and every service, by name of its metal."""
    built = project.installation
    fences = {f.name: f.path for f in built.fences}
    found = {p.name: fences[p.fence] for p in fence_pieces(built.fences)}
    found |= {s.beyond_name: (*s.path, "far_end", "beyond_m") for s in built.services if s.far_end}
    return found | {s.name: s.path for s in built.services}


def _field(path: Path) -> str:
    return Finding("", "", path=path).field


def _touching(project: Project, layout: ElectrodeLayout, own: list[Conductor]) -> list[Finding]:
    """Metal that is stated as separate and touches other metal."""
    metal: Electrode = main_group(layout.electrode) + layout.separate
    every = [*metal, *own]
    if not layout.separate.conductors and not own:
        return []
    paths = _own_paths(project)
    separate = {item.name: item.path for item in project.separate}
    rows = []
    for i, j in touching_conductors(every):
        one, other = sorted((every[i], every[j]), key=lambda c: _rank(c.group, paths, separate))
        place = _meeting(one, other)
        path = paths.get(one.group) or separate.get(one.group) or ()
        partner = _main_path(project, other, place) if other.group == MAIN else None
        partner = partner or paths.get(other.group) or separate.get(other.group) or ("mats",)
        what = "the bonded metal" if other.group == MAIN else f"“{other.group}”"
        text = (
            f"“{one.group}” ({_field(path)}) touches {what} ({_field(partner)}) near "
            f"({place[0]:.2f}, {place[1]:.2f}) m at a depth of {place[2]:.2f} m"
        )
        rows.append(Finding("metal-touches", text, _advice(path, partner), path=path))
    return rows


def _rank(group: str, paths: Mapping[str, Path], separate: Mapping[str, Path]) -> int:
    """Which of two partners the finding stands at: what surrounds the site before the mat."""
    return 0 if group in paths else 1 if group in separate else 2


def _advice(path: Path, partner: Path) -> str:
    """What would be right, by what touches what."""
    kind = path[0] if path else ""
    if kind == "fences":
        if partner and partner[0] == "fences":
            return "draw both as one fence, or leave a gap where they meet"
        if partner and partner[0] in ("services", "separate_electrodes"):
            return "keep them apart"
        return "write bonding: bonded, or keep a separate fence clear of it (2 m by common practice)"
    if kind == "services":
        return "write disposal: bonded, or lead it clear of other metal"
    return "move it apart, or draw it under mats, rods or runs when it is bonded"


def _meeting(one: Conductor, other: Conductor) -> tuple[float, float, float]:
    """Where two conductors meet: the nearest place in plan, at the depth of the one that lies flat. [m]"""
    foot = nearest_points(_plan(one), _plan(other))[0]
    for c in (one, other):
        flat = dist(c.start_m[:2], c.end_m[:2])
        if flat > 1e-9:
            share = dist(c.start_m[:2], (foot.x, foot.y)) / flat
            return foot.x, foot.y, c.start_m[2] + share * (c.end_m[2] - c.start_m[2])
    return foot.x, foot.y, max(min(one.start_m[2], one.end_m[2]), min(other.start_m[2], other.end_m[2]))


def _plan(c: Conductor) -> LineString:
    (x0, y0, _), (x1, y1, _) = c.start_m, c.end_m
    return LineString([(x0, y0), (x1, y1 + 1e-9 if (x0, y0) == (x1, y1) else y1)])


def _main_path(project: Project, conductor: Conductor, place: tuple[float, float, float]) -> Path | None:
    """Which entry of the file a piece of bonded metal comes from."""
    spot = Point(place[:2])
    if conductor.kind == "run":
        for k, run in enumerate(project.runs):
            if LineString(run.points_m).distance(spot) < SAME_M:
                return run.path or ("runs", k)
    if conductor.kind == "rod":
        for k, rods in enumerate(project.rods):
            if any(dist(p, conductor.start_m[:2]) < SAME_M for p in rods.at_m):
                return rods.path or ("rods", k)
    for k, mat in enumerate(project.mats):
        if conductor.tag.rpartition(" ")[0] == mat.name or Polygon(mat.outline_m).distance(spot) < SAME_M:
            return mat.path or ("mats", k)
    return None


def _entries(
    project: Project, layout: ElectrodeLayout, conductors: Mapping[str, ConductorResult]
) -> list[Finding]:
    """Entry points beside the metal, metal that no current enters, conductors whose metal is not known."""
    entries = project.assessment.entry_points
    metal = list(layout.electrode)
    if not entries or not metal:
        return []
    rows = []
    tree = shapely.STRtree([_plan(c) for c in metal])
    entered = []
    for entry in entries:
        (k,) = tree.query_nearest(Point(entry.at_m), all_matches=False)
        line = _plan(metal[int(k)])
        gap = line.distance(Point(entry.at_m))
        foot = nearest_points(line, Point(entry.at_m))[0]
        if gap > FURTHEST_ENTRY_M:
            text = (
                f"({entry.at_m[0]:g}, {entry.at_m[1]:g}) m: the nearest metal lies {gap:.2f} m away "
                f"(at most {FURTHEST_ENTRY_M:g} m)"
            )
            advice = f"give a place on the metal, the nearest is [{foot.x:.2f}, {foot.y:.2f}]"
            rows.append(Finding("entry-beside", text, advice, path=(*entry.path, "at_m")))
        entered.append(int(k))
    rows += _apart(metal, entered)
    unknown = sorted({c.key for c in metal if c.key not in conductors and "mat" not in conductors})
    for key in unknown:
        text = f"the voltage along the metal needs the metal of “{key}”"
        rows.append(Finding("metal-unknown", text, f"give conductors.{key}", path=("conductors",)))
    return rows


def _apart(metal: list[Conductor], entered: list[int]) -> list[Finding]:
    """Pieces of bonded metal that hang together with no entry point."""
    piece_of = bonded_pieces(metal)
    fed = {piece_of[k] for k in entered}
    rows = []
    for piece in sorted(set(piece_of) - fed):
        x, y, z = metal[piece_of.index(piece)].start_m
        text = (
            f"no current enters the metal drawn apart from the rest near ({x:.2f}, {y:.2f}) m at a depth of "
            f"{z:.2f} m"
        )
        advice = "draw the link under runs, give it an entry point, or list it under separate_electrodes"
        rows.append(Finding("entry-pieces", text, advice, path=("assessment", "entry_points")))
    return rows
