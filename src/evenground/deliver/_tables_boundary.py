"""CSV tables of connections, fences, services, contours and coverage."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.model.surroundings import Boundary, Surroundings

__all__ = ["boundary_tables"]

Csv = Callable[[Sequence[str], Iterable[Sequence[Any]]], str]


def boundary_tables(study: Study, csv: Csv) -> dict[str, str]:
    """File name -> CSV text; a table without rows is left out, that of coverage never."""
    found = study.surroundings
    if found is None:
        return {}
    tables = {"completeness.csv": _coverage(found, csv)}
    if found.connections:
        tables["equipment-connections.csv"] = _connections(study, found, csv)
    if found.suggestions:
        columns = "name change touch step fence resistance_ohm helps passes remark"
        rows = [[getattr(s, name) for name in columns.split()] for s in found.suggestions]
        tables["what-would-help.csv"] = csv(columns.split(), rows)
    if found.boundary is not None:
        tables |= _boundary(found.boundary, csv)
    return tables


def _coverage(found: Surroundings, csv: Csv) -> str:
    rows = [[r.subject, r.status, r.how, r.by] for r in found.coverage]
    return csv(["subject", "status", "how", "by"], rows)


def _connections(study: Study, found: Surroundings, csv: Csv) -> str:
    items = {e.path: e for e in study.project.installation.equipment}
    rows = []
    for r in found.connections:
        item = items.get(r.path[:2])
        place = [None] * 4 if item is None else [item.voltage_kv, item.x_m, item.y_m, item.conductor]
        rows.append([r.tag, r.kind, *place, r.rule, r.wanted, r.drawn, r.outcome, r.source, r.evidence])
    columns = "tag kind voltage_kv x_m y_m conductor rule wanted drawn outcome source evidence"
    return csv(columns.split(), rows)


def _boundary(found: Boundary, csv: Csv) -> dict[str, str]:
    tables = {}
    if found.touched:
        columns = "name side zone scenario value_v limit_v x_m y_m"
        rows = [
            [t.name, t.side, t.zone, t.scenario, t.value_v, t.limit_v, t.place.x_m, t.place.y_m]
            for t in found.touched
        ]
        tables["fences-and-gates.csv"] = csv(columns.split(), rows)
    for number, p in enumerate(found.profiles, 1):
        parts = (
            p.distance_m,
            p.x_m,
            p.y_m,
            p.inside_v,
            p.outside_v,
            p.inside_limit_v,
            p.outside_limit_v,
        )
        columns = "distance_m x_m y_m inside_v outside_v inside_limit_v outside_limit_v"
        tables[f"fence-{number}.csv"] = csv(columns.split(), zip(*(x.tolist() for x in parts), strict=True))
    if found.transfers:
        columns = (
            "name kind disposal scenario meaning value_v limit_v local_v clause evidence remark reason by"
        )
        rows = [[getattr(t, name) for name in columns.split()] for t in found.transfers]
        tables["services.csv"] = csv(columns.split(), rows)
    if found.contours:
        lines = [
            [c.voltage_v, c.around, float(x), float(y)]
            for c in found.contours
            for x, y in c.points_m
            if np.isfinite(x)
        ]
        tables["contours.csv"] = csv(["voltage_v", "around", "x_m", "y_m"], lines)
    return tables
