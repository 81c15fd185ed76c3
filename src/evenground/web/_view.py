"""The layout of a project file as things to draw; tolerant of entries that are not complete yet."""

from __future__ import annotations

import functools
import json
from collections.abc import Iterable, Sequence
from math import isfinite
from typing import Any

from evenground.electrode import build_electrode
from evenground.model.site import MatLayout, Point2, RodRule

__all__ = ["mat_geometry", "mat_layout", "outline_of", "plan_view", "points_of"]

Data = dict[str, Any]
DRAWING_RADIUS_M = 0.005


def points_of(value: Any) -> list[Point2]:
    """A list of points, or an empty one when any of it is malformed."""
    if not isinstance(value, list):
        return []
    rows = []
    for entry in value:
        if not (isinstance(entry, list) and len(entry) == 2 and all(_finite(v) for v in entry)):
            return []
        rows.append((float(entry[0]), float(entry[1])))
    return rows


def _positive(value: Any) -> bool:
    return _finite(value) and value > 0


def _finite(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def outline_of(mat: Data) -> list[Point2]:
    """Corners of a mat or zone, from its outline or rectangle; not closed."""
    rows = points_of(mat.get("outline_m"))
    if len(rows) > 1 and rows[0] == rows[-1]:
        rows = rows[:-1]
    box = mat.get("rectangle")
    if rows or not isinstance(box, dict):
        return rows
    corner = points_of([box.get("corner_m", [0.0, 0.0])])
    sides = [float(s or 0) for s in (box.get("length_x_m"), box.get("length_y_m")) if _positive(s)]
    if not corner or len(sides) < 2:
        return []
    (x, y), (dx, dy) = corner[0], sides
    return [(x, y), (x + dx, y), (x + dx, y + dy), (x, y + dy)]


def mat_layout(mat: Data) -> MatLayout | None:
    """A mat as the electrode stage takes it; None while it is not complete."""
    outline = outline_of(mat)
    lines = [[float(v) for v in mat.get(k) or [] if _finite(v)] for k in ("lines_x_m", "lines_y_m")]
    both = mat.get("spacing_m")
    spacings = [mat.get(k) or both for k in ("spacing_x_m", "spacing_y_m")]
    for given, spacing in zip(lines, spacings, strict=True):
        if not given and not _positive(spacing):
            return None
    if len(outline) < 3:
        return None
    rules = [
        RodRule(
            str(rule.get("where")),
            float(rule["length_m"]),
            float(rule.get("diameter_mm") or 14.0),
            rule.get("spacing_m"),
            rule.get("count"),
        )
        for rule in mat.get("rods") or []
        if isinstance(rule, dict) and _finite(rule.get("length_m"))
    ]
    widest = max(max(p[k] for p in outline) - min(p[k] for p in outline) for k in (0, 1))
    return MatLayout(
        name=str(mat.get("name", "")),
        outline_m=tuple(outline),
        spacing_x_m=float(spacings[0] or widest),
        spacing_y_m=float(spacings[1] or widest),
        depth_m=float(mat["depth_m"]) if _finite(mat.get("depth_m")) else 0.5,
        lines_x_m=tuple(lines[0]) or None,
        lines_y_m=tuple(lines[1]) or None,
        rods=tuple(rules),
    )


@functools.lru_cache(maxsize=128)
def _geometry(text: str) -> tuple[tuple[tuple[float, ...], ...], tuple[tuple[float, ...], ...]]:
    layout = mat_layout(json.loads(text))
    if layout is None:
        return (), ()
    try:
        electrode = build_electrode((layout,), (), (), {"mat": DRAWING_RADIUS_M}).electrode
    except Exception:
        return (), ()  # not drawable yet; the findings say why
    wires = [c for c in electrode if c.kind == "mat"]
    return (
        tuple((*c.start_m[:2], *c.end_m[:2]) for c in wires),
        tuple((*c.start_m[:2], c.length_m) for c in electrode if c.kind == "rod"),
    )


def mat_geometry(mat: Data) -> tuple[tuple[tuple[float, ...], ...], tuple[tuple[float, ...], ...]]:
    """Conductors (x1, y1, x2, y2) and rods by rule (x, y, length) of one mat. [m]"""
    return _geometry(json.dumps(mat, sort_keys=True, default=str))


def path_text(lines: Iterable[Sequence[float]]) -> str:
    """Many straight lines as one SVG path. [m]"""
    return "".join(f"M{a:.3f} {b:.3f}L{c:.3f} {d:.3f}" for a, b, c, d in lines)


def plan_view(data: Any) -> dict[str, Any]:
    """Everything that the plan draws, each thing with its identity in the file.

    Returns
    -------
    dict
        ``items`` (identity, kind, label, points, mesh as a path, rods), ``bounds`` of metal and
        cover and ``all`` of everything (x0, y0, x1, y1, None without anything to draw). [m]
    """
    data = data if isinstance(data, dict) else {}
    items = [*_zones(data), *_mats(data), *_runs(data), *_rods(data), *_site(data), *_lines(data)]
    near = _bounds(i for i in items if i["kind"] in ("mat", "run", "rod", "cover"))
    return {"items": items, "bounds": near or _bounds(items), "all": _bounds(items)}


def _bounds(items: Iterable[dict[str, Any]]) -> list[float] | None:
    corners = [p for item in items for p in item["points"]]
    if not corners:
        return None
    xs, ys = zip(*corners, strict=True)
    return [min(xs), min(ys), max(xs), max(ys)]


def entries(data: Data, key: str) -> list[tuple[int, Data]]:
    """Index and entry of a section; entries that are no mappings are passed over."""
    rows = data.get(key)
    return [(i, e) for i, e in enumerate(rows) if isinstance(e, dict)] if isinstance(rows, list) else []


def _item(identity: str, kind: str, label: str, points: list[Point2], **more: Any) -> dict[str, Any]:
    return {"id": identity, "kind": kind, "label": label, "points": [list(p) for p in points]} | more


def _zones(data: Data) -> list[dict[str, Any]]:
    rows = []
    for i, zone in entries(data, "surface"):
        outline = outline_of(zone)
        if outline:
            words = str(zone.get("material") or "bare soil")
            rows.append(_item(f"surface/{i}", "cover", f"{zone.get('name', '')}: {words}", outline))
    return rows


def _mats(data: Data) -> list[dict[str, Any]]:
    rows = []
    for i, mat in entries(data, "mats"):
        outline = outline_of(mat)
        if not outline:
            continue
        wires, rods = mat_geometry(mat)
        rows.append(
            _item(
                f"mats/{i}",
                "mat",
                str(mat.get("name", "mat")),
                outline,
                mesh=path_text(wires),
                xs=_stops(wires, 0),
                ys=_stops(wires, 1),
                rods=[list(r) for r in rods],
            )
        )
    return rows


def _stops(wires: Iterable[Sequence[float]], axis: int) -> list[float]:
    """Positions of the mesh lines across an axis, for snapping and dimensions."""
    return sorted({round(w[axis], 4) for w in wires if abs(w[axis] - w[axis + 2]) < 1e-6})


def _runs(data: Data) -> list[dict[str, Any]]:
    rows = []
    for i, run in entries(data, "runs"):
        line = points_of(run.get("points_m"))
        if len(line) > 1:
            rows.append(_item(f"runs/{i}", "run", f"conductor run {i + 1}", line))
    return rows


def _rods(data: Data) -> list[dict[str, Any]]:
    rows = []
    for i, rods in entries(data, "rods"):
        for k, place in enumerate(points_of(rods.get("at_m"))):
            rows.append(_item(f"rods/{i}/{k}", "rod", f"rod {rods.get('length_m', '?')} m", [place]))
    return rows


def _site(data: Data) -> list[dict[str, Any]]:
    """Fences, gates and equipment."""
    rows = []
    for i, fence in entries(data, "fences"):
        line = points_of(fence.get("points_m"))
        if len(line) > 1:
            words = f"{fence.get('name', 'fence')}, {fence.get('bonding', 'bonding not stated')}"
            rows.append(_item(f"fences/{i}", "fence", words, line))
    for i, gate in entries(data, "gates"):
        ends = points_of([gate.get("start_m"), gate.get("end_m")])
        if ends:
            rows.append(_item(f"gates/{i}", "gate", str(gate.get("name", "gate")), ends))
    for i, item in entries(data, "equipment"):
        place = points_of([item.get("at_m")])
        if place:
            kind = str(item.get("kind", "")).replace("_", " ")
            rows.append(_item(f"equipment/{i}", "item", f"{item.get('tag', '')}, {kind}", place))
    return rows


def _lines(data: Data) -> list[dict[str, Any]]:
    rows = []
    assessment = data.get("assessment")
    holder = assessment if isinstance(assessment, dict) else {}
    for i, line in entries(holder, "profiles"):
        points = points_of(line.get("points_m"))
        if len(points) > 1:
            rows.append(_item(f"lines/{i}", "line", str(line.get("name", "line")), points))
    for i, cut in entries(holder, "sections"):
        ends = points_of([cut.get("from_m"), cut.get("to_m")])
        if ends:
            rows.append(_item(f"cuts/{i}", "cut", f"{cut.get('name', 'section')}, in depth", ends))
    return rows
