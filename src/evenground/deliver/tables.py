"""Tables as CSV: UTF-8, comma, decimal point, units in the column names."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground.deliver._report_coupling import coupling_rows
from evenground.deliver._report_network import angle_deg
from evenground.deliver._tables_boundary import boundary_tables

if TYPE_CHECKING:
    from evenground.model.study import DepthSection, Profile, Study, SurfaceMap

__all__ = ["csv_text", "study_tables"]


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """One table. A number that does not exist is an empty cell.

    A text that a spreadsheet would run as a formula (it starts with ``=``, ``+``, ``-`` or ``@`` and is
    not a number) gets an apostrophe in front.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return stream.getvalue()


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float | np.floating):
        return "" if np.isnan(value) else repr(float(value))
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") and not _is_number(value):
        return f"'{value}"
    return value


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def study_tables(study: Study) -> dict[str, str]:
    """File name -> CSV text."""
    tables = {
        "checks.csv": _checks(study),
        "limits.csv": _limits(study),
        "worst-places.csv": _shocks(study),
        "soil-readings.csv": _readings(study),
        "conductors.csv": _conductors(study),
        "inputs.csv": _inputs(study),
        "surface-map.csv": _map(study.map),
    }
    if study.split:
        tables |= {
            "current-paths.csv": _paths(study),
            "fault-places.csv": _places(study),
            "towers.csv": _towers(study),
        }
    if any(s.coupling for s in study.split):
        tables["soil-coupling.csv"] = csv_text(*coupling_rows(study.split))
    tables |= boundary_tables(study, csv_text)
    for number, profile in enumerate(study.profiles, start=1):
        tables[f"profile-{number}.csv"] = _profile(profile)
    for number, section in enumerate(study.sections, start=1):
        tables[f"section-{number}.csv"] = _section(section)
    return tables


def _paths(study: Study) -> str:
    columns = ["scenario", "fault_place", "path", "kind", "current_a", "angle_deg", "share"]
    rows = [
        [
            s.scenario,
            s.result.place.name,
            p.name,
            p.kind,
            abs(p.current_a),
            angle_deg(p.current_a, s.result.fault_current_a),
            p.share,
        ]
        for s in study.split
        for p in s.result.paths
    ]
    return csv_text(columns, rows)


def _places(study: Study) -> str:
    columns = (
        "scenario place route distance_m fault_current_a local_current_a mat_current_a split_factor gpr_v "
        "rise_at_fault_v governs"
    )
    rows = [
        [
            s.scenario,
            p.place,
            p.route,
            p.distance_m,
            p.fault_current_a,
            p.local_current_a,
            p.mat_current_a,
            p.split_factor,
            p.gpr_v,
            p.tower_rise_v,
            p.governs,
        ]
        for s in study.split
        for p in s.places
    ]
    return csv_text(columns.split(), rows)


def _towers(study: Study) -> str:
    columns = ["scenario", "fault_place", "line", "number", "distance_m", "potential_v", "earth_current_a"]
    rows = [
        [
            s.scenario,
            s.result.place.name,
            t.line,
            t.number,
            t.distance_m,
            abs(t.potential_v),
            abs(t.earth_current_a),
        ]
        for s in study.split
        for t in s.result.towers
    ]
    return csv_text(columns, rows)


def _section(section: DepthSection) -> str:
    rows = (
        (s, d, v)
        for d, line in zip(section.depth_m.tolist(), section.potential.tolist(), strict=True)
        for s, v in zip(section.along_m.tolist(), line, strict=True)
    )
    return csv_text(["distance_m", "depth_m", "potential_fraction"], rows)


def _checks(study: Study) -> str:
    columns = (
        "identity title verdict governing value limit unit sense margin x_m y_m scenario clause method reason"
    )
    rows = [
        [
            c.identity,
            c.title,
            c.verdict.value,
            c.governing,
            c.value,
            c.limit,
            c.unit,
            c.sense,
            c.margin,
            c.place.x_m if c.place else None,
            c.place.y_m if c.place else None,
            c.scenario,
            c.clause,
            c.method,
            c.reason,
        ]
        for c in study.checks
    ]
    return csv_text(columns.split(), rows)


def _limits(study: Study) -> str:
    columns = [
        "zone",
        "scenario",
        "standard",
        "surface_factor",
        "touch_v",
        "step_v",
        "clause",
        "outside_range",
    ]
    rows = [
        [r.zone, r.scenario, r.standard, r.surface_factor, r.touch_v, r.step_v, r.clause, r.outside]
        for r in study.limits
    ]
    return csv_text(columns, rows)


def _shocks(study: Study) -> str:
    columns = [
        "quantity",
        "zone",
        "scenario",
        "value_v",
        "limit_v",
        "x_m",
        "y_m",
        "direction_deg",
        "change",
        "converged",
        "metal",
    ]
    rows = [
        [
            s.quantity,
            s.zone,
            s.scenario,
            s.value_v,
            s.limit_v,
            s.place.x_m,
            s.place.y_m,
            s.direction_deg,
            s.change,
            s.converged,
            s.metal,
        ]
        for s in study.shocks
    ]
    return csv_text(columns, rows)


def _readings(study: Study) -> str:
    columns = (
        "traverse array position_m half_potential_m resistance_ohm apparent_resistivity_ohm_m probe_depth_m "
        "used model_ohm_m residual_ln flags"
    )
    rows = [
        [
            r.traverse,
            r.array.value,
            r.position_m,
            r.half_potential_m,
            r.resistance_ohm,
            r.apparent_resistivity_ohm_m,
            r.probe_depth_m,
            r.used,
            r.model_ohm_m,
            r.residual,
            "; ".join(r.flags),
        ]
        for r in study.soil.readings
    ]
    return csv_text(columns.split(), rows)


def _conductors(study: Study) -> str:
    columns = [
        "number",
        "kind",
        "group",
        "tag",
        "x1_m",
        "y1_m",
        "z1_m",
        "x2_m",
        "y2_m",
        "z2_m",
        "length_m",
        "radius_m",
    ]
    rows = [
        [number, c.kind, c.group, c.tag, *c.start_m, *c.end_m, c.length_m, c.radius_m]
        for number, c in enumerate(study.electrode + study.separate_metal, start=1)
    ]
    return csv_text(columns, rows)


def _inputs(study: Study) -> str:
    columns = [
        "field",
        "value",
        "line",
        "origin_stated",
        "document",
        "revision",
        "date",
        "note",
        "confidence",
    ]
    rows = []
    for r in study.project.register:
        field = "".join(f"[{p}]" if isinstance(p, int) else f".{p}" for p in r.path).lstrip(".")
        o = r.origin
        origin = [o.document, o.revision, o.date, o.note, o.confidence] if o is not None else [""] * 5
        rows.append([field, r.value, r.line, o is not None, *origin])
    return csv_text(columns, rows)


def _map(surface: SurfaceMap) -> str:
    """Raster in long form, x running first; written directly, since it may have a million rows."""
    x, y = np.meshgrid(surface.x_m, surface.y_m)
    parts = [x, y, surface.potential, surface.touch_utilisation, surface.step_utilisation]
    lines = ["x_m,y_m,potential_fraction,touch_utilisation,step_utilisation,zone"]
    zones = surface.zone.ravel().tolist()
    for row in zip(*(p.ravel().tolist() for p in parts), zones, strict=True):
        px, py, v, touch, step, zone = row
        lines.append(f"{px:.6g},{py:.6g},{v:.6g},{_short(touch)},{_short(step)},{zone}")
    return "\n".join(lines) + "\n"


def _short(value: float) -> str:
    return "" if value != value else f"{value:.6g}"


def _profile(profile: Profile) -> str:
    columns = ["distance_m", "potential_v", "touch_v", "step_v", "touch_limit_v", "step_limit_v"]
    parts = (
        profile.distance_m,
        profile.potential_v,
        profile.touch_v,
        profile.step_v,
        profile.touch_limit_v,
        profile.step_limit_v,
    )
    return csv_text(columns, zip(*(p.tolist() for p in parts), strict=True))
