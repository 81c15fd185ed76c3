"""A project as it was built, and what differs from its design."""

from __future__ import annotations

from dataclasses import replace
from math import dist
from typing import TYPE_CHECKING

from evenground.electrode import without_stretches
from evenground.errors import Finding, InputError, Severity
from evenground.model.electrode import Conductor
from evenground.model.project import Revision
from evenground.sitetest import compare_as_built

if TYPE_CHECKING:
    from evenground.model.as_built import AsBuilt
    from evenground.model.project import Project
    from evenground.model.site import ExtraRun, MatLayout, Point2, RodList
    from evenground.model.sitetest import AsBuiltDelta, ElectrodeChange
    from evenground.model.study import Study

__all__ = ["as_built_project", "with_as_built_delta"]

NEAR_M = 0.25
MOST_CHANGES = 40
"""Differences named one by one; the rest is counted."""


def as_built_project(project: Project) -> Project:
    """The design with the changes of its section ``as_built``, and a revision of that name.

    Raises
    ------
    InputError
        Without that section, or when nothing of the metal is left.
    """
    built = project.as_built
    if built is None:
        raise InputError(
            [Finding("as-built-missing", f"{project.file_name}: has no section as_built", "add what differs")]
        )
    mats, runs, rods = built.drawn if built.drawn is not None else _changed(project, built)
    if not (mats or runs or rods):
        raise InputError([Finding("as-built-nothing", "no metal is left", "", path=built.path)])
    mark = Revision("as built", built.date, built.note or "as built", built.by)
    identity = replace(project.identity, revisions=(*project.identity.revisions, mark))
    return replace(project, mats=mats, runs=runs, rods=rods, identity=identity)


def _changed(
    project: Project, built: AsBuilt
) -> tuple[tuple[MatLayout, ...], tuple[ExtraRun, ...], tuple[RodList, ...]]:
    depths = dict(built.depths_m)
    mats = tuple(
        replace(
            m,
            depth_m=depths.get(m.name, m.depth_m),
            not_laid_m=(*m.not_laid_m, *built.not_laid_m),
            no_rods_m=(*m.no_rods_m, *built.no_rods_m),
        )
        for m in project.mats
        if m.name not in built.left_out
    )
    runs = [part for run in project.runs for part in _left(run, built.not_laid_m)]
    rods = [
        replace(r, at_m=kept)
        for r in project.rods
        if (kept := tuple(p for p in r.at_m if all(dist(p, q) > NEAR_M for q in built.no_rods_m)))
    ]
    return mats, (*runs, *built.runs), (*rods, *built.rods)


def _left(run: ExtraRun, gone: tuple[tuple[Point2, Point2], ...]) -> list[ExtraRun]:
    """What is left of a run, as straight pieces where something of it is gone."""
    if not gone:
        return [run]
    pieces = [
        Conductor((*a, run.depth_m), (*b, run.depth_m), 0.005)
        for a, b in zip(run.points_m, run.points_m[1:], strict=False)
    ]
    left = without_stretches(pieces, gone)
    if left == pieces:
        return [run]
    return [replace(run, points_m=(c.start_m[:2], c.end_m[:2])) for c in left]


def with_as_built_delta(study: Study, design: Study) -> tuple[Study, AsBuiltDelta]:
    """The as-built study with a check and a finding for every length that differs from the design."""
    delta = compare_as_built(design.electrode, study.electrode)
    rows = [_finding(change) for change in delta.changes[:MOST_CHANGES]]
    if len(delta.changes) > MOST_CHANGES:
        more = f"{len(delta.changes) - MOST_CHANGES} more differences between design and as built"
        rows.append(Finding("as-built-more", more, "see as-built-metal.csv", Severity.NOTE))
    return replace(study, checks=(*study.checks, *delta.checks), findings=(*study.findings, *rows)), delta


def _finding(change: ElectrodeChange) -> Finding:
    (x0, y0, _), (x1, y1, _) = change.start_m, change.end_m
    where = f"from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) m"
    words = {
        "missing": f"{change.length_m:.1f} m of {change.conductor} missing, {where}",
        "added": f"{change.length_m:.1f} m of {change.conductor} added, {where}",
        "moved": f"{change.length_m:.1f} m of {change.conductor} lie {abs(change.depth_difference_m):.2f} m "
        f"{'deeper' if change.depth_difference_m > 0 else 'higher'}, {where}",
    }
    message = f"as built: {words[change.kind]}"
    return Finding("as-built-change", message, "", Severity.NOTE, path=("as_built",))
