"""The site drawing under the plan: its lines to look at and snap to, and what is taken over from it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from evenground.errors import InputError
from evenground.model.project import Project
from evenground.project._edit import Change, Put
from evenground.siteplan import (
    DrawingContents,
    LayerListing,
    LayerMap,
    LayerRule,
    Role,
    list_layers,
    read_dxf,
)
from evenground.web._view import path_text

__all__ = [
    "Backdrop",
    "drawings_in",
    "keep_drawing",
    "read_backdrop",
    "section_of",
    "signature",
    "take_over",
    "taken_lines",
]

MOST_LINES = 60_000
MOST_LAYERS = 300
_NAME = re.compile(r"[^\w.+-]+")
Point = list[float]


@dataclass(frozen=True)
class Backdrop:
    """What the plan shows of a drawing: all lines, those taken, and places of taken rods. [m]"""

    key: str
    listing: LayerListing | None
    shown: dict[str, Any]
    failure: str = ""


def drawings_in(folder: Path) -> list[str]:
    """Names of the DXF files in the folder of the project."""
    return sorted(p.name for p in folder.iterdir() if p.suffix.lower() == ".dxf" and p.is_file())[:100]


def keep_drawing(folder: Path, name: str, data: bytes) -> str:
    """Write an uploaded drawing beside the project file and give its name; nothing is written over.

    The name is taken apart: it can not lead out of the folder.
    """
    stem = _NAME.sub("-", Path(name.replace("\\", "/")).stem).strip(".-")[:80] or "drawing"
    for number in range(1, 100):
        target = folder / (f"{stem}.dxf" if number == 1 else f"{stem}-{number}.dxf")
        if target.is_file() and target.read_bytes() == data:
            return target.name
        try:
            with target.open("xb") as file:
                file.write(data)
        except FileExistsError:
            continue
        return target.name
    raise InputError(f"there are a hundred drawings named {stem} already")


def section_of(folder: Path, name: str) -> dict[str, Any]:
    """A section ``site_drawing`` that shows a drawing and takes nothing from it yet.

    Raises
    ------
    InputError
        When the file can not be read or holds nothing.
    """
    listing = list_layers(folder / name)
    if not listing.layers:
        raise InputError(f"{name} holds no lines in its model space")
    layers = [{"layer": _exact(layer), "take_as": "ignore"} for layer, _ in listing.layers[:MOST_LAYERS]]
    section: dict[str, Any] = {"file": name}
    if not listing.unit:
        section["unit"] = "m"
    contents = _everything(folder / name, section, None)
    if contents.origin_m != (0.0, 0.0):
        section["origin_m"] = [float(v) for v in contents.origin_m]
    return section | {"layers": layers}


def _exact(layer: str) -> str:
    """A layer name as a pattern that fits it."""
    return layer.replace("[", "?").replace("*", "?")


def _everything(file: Path, section: dict[str, Any], origin: Any) -> DrawingContents:
    rules = LayerMap((LayerRule("*", Role.CONDUCTOR, depth_m=0.5),))
    place = (float(origin[0]), float(origin[1])) if origin else None
    return read_dxf(
        file,
        rules,
        units=section.get("unit"),
        origin_m=place,
        sagitta_m=0.05,
        hidden_layers=bool(section.get("hidden_layers")),
    )


def signature(data: Any, folder: Path) -> str:
    """Changes when the section or the file it names does; empty without a drawing."""
    section = data.get("site_drawing") if isinstance(data, dict) else None
    if not isinstance(section, dict) or not isinstance(section.get("file"), str):
        return ""
    try:
        stat = (folder / section["file"]).stat()
        state = [stat.st_mtime_ns, stat.st_size]
    except OSError:
        state = []
    shown = {k: v for k, v in section.items() if k != "layers"}
    return json.dumps([shown, state], sort_keys=True, default=str)


def read_backdrop(section: dict[str, Any], folder: Path, key: str) -> Backdrop:
    """The drawing as the plan shows it; a drawing that can not be read is said in words."""
    try:
        file = folder / str(section["file"])
        listing = list_layers(file)
        contents = _everything(file, section, section.get("origin_m"))
    except InputError as error:
        return Backdrop(key, None, {}, str(error))
    lines = contents.lines[:MOST_LINES]
    text = path_text((*d.start_m[:2], *d.end_m[:2]) for d in lines)
    ends = [[round(v, 4) for v in d.start_m[:2]] for d in lines[:4000]]
    corners = [p for d in lines for p in (d.start_m, d.end_m)]
    xs, ys = [p[0] for p in corners], [p[1] for p in corners]
    bounds = [min(xs), min(ys), max(xs), max(ys)] if corners else None
    return Backdrop(key, listing, {"lines": text, "ends": ends, "bounds": bounds})


def taken_lines(project: Project) -> dict[str, Any]:
    """Conductors, rods and outlines that a study took from the drawing, to be drawn as metal."""
    runs = [r for r in project.runs if _drawn(r.path)]
    lines = [(*a, *b) for r in runs for a, b in pairwise(r.points_m)]
    for mat in project.mats:
        if _drawn(mat.path):
            ring = [*mat.outline_m, mat.outline_m[0]]
            lines += [(*a, *b) for a, b in pairwise(ring)]
    rods = [[*p] for r in project.rods if _drawn(r.path) for p in r.at_m]
    return {"taken": path_text(lines), "rods": rods}


def _drawn(path: Iterable[str | int]) -> bool:
    return next(iter(path), "") == "site_drawing"


def take_over(project: Project, data: Any) -> tuple[list[Change], dict[str, int]]:
    """Changes that write everything taken from the drawing into sections of its own.

    The drawing stays as a background; its layers are then left alone. What was taken can afterwards be
    edited on the plan like anything drawn there.

    Returns
    -------
    changes, counts
        Counts by section.

    Raises
    ------
    InputError
        When nothing is taken from the drawing.
    """
    found: dict[str, list[dict[str, Any]]] = {
        "runs": [_run(r) for r in project.runs if _drawn(r.path)],
        "rods": [_rods(r) for r in project.rods if _drawn(r.path)],
        "mats": [_mat(m) for m in project.mats if _drawn(m.path)],
        "surface": [_zone(z) for z in project.surface if _drawn(z.path)],
        "equipment": [_item(e) for e in project.installation.equipment if _drawn(e.path)],
        "fences": [_fence(f) for f in project.installation.fences if _drawn(f.path)],
        "gates": [_gate(g) for g in project.installation.gates if _drawn(g.path)],
    }
    changes: list[Change] = []
    for section, rows in found.items():
        present = data.get(section) or []
        if rows and section == "surface":
            # a zone that counts everywhere stays the last, as the first that holds a point counts
            everywhere = [z for z in present if not z.get("outline_m")]
            bounded = [z for z in present if z.get("outline_m")]
            changes.append(Put((section,), [*bounded, *rows, *everywhere]))
        elif rows and present:
            changes += [Put((section, len(present) + k), row) for k, row in enumerate(rows)]
        elif rows:
            changes.append(Put((section,), rows))
    if not changes:
        raise InputError("nothing is taken from the drawing; say first what its layers are")
    layers = data["site_drawing"]["layers"]
    changes.append(
        Put(("site_drawing", "layers"), [{"layer": r["layer"], "take_as": "ignore"} for r in layers])
    )
    return changes, {k: len(v) for k, v in found.items() if v}


def _places(points: Iterable[Iterable[float]]) -> list[Point]:
    return [[_tidy(v) for v in p] for p in points]


def _tidy(value: float) -> float:
    rounded = round(float(value), 4)
    return int(rounded) if rounded == int(rounded) else rounded


def _run(run: Any) -> dict[str, Any]:
    return {"points_m": _places(run.points_m), "depth_m": _tidy(run.depth_m), "conductor": run.conductor}


def _rods(rods: Any) -> dict[str, Any]:
    row = {
        "at_m": _places(rods.at_m),
        "length_m": _tidy(rods.length_m),
        "diameter_mm": _tidy(rods.diameter_mm),
    }
    return row if rods.top_depth_m is None else row | {"top_depth_m": _tidy(rods.top_depth_m)}


def _mat(mat: Any) -> dict[str, Any]:
    return {
        "name": mat.name,
        "outline_m": _places(mat.outline_m),
        "spacing_m": mat.spacing_x_m,
        "depth_m": mat.depth_m,
        "conductor": mat.conductor,
    }


def _zone(zone: Any) -> dict[str, Any]:
    row: dict[str, Any] = {"name": zone.name, "outline_m": _places(zone.outline_m)}
    for key in ("material", "state", "resistivity_ohm_m", "thickness_m"):
        if getattr(zone, key):
            row[key] = getattr(zone, key)
    return row


def _item(item: Any) -> dict[str, Any]:
    return {
        "tag": item.tag,
        "kind": item.kind.replace(" ", "_"),
        "at_m": _places([(item.x_m, item.y_m)])[0],
        "connections": item.terminals,
        "conductor": item.conductor,
    }


def _fence(fence: Any) -> dict[str, Any]:
    points = [*fence.points_m, fence.points_m[0]] if fence.closed else list(fence.points_m)
    return {"name": fence.name, "points_m": _places(points), "bonding": fence.bonding}


def _gate(gate: Any) -> dict[str, Any]:
    ends = _places([gate.start_m, gate.end_m])
    row: dict[str, Any] = {"name": gate.name, "start_m": ends[0], "end_m": ends[1], "opens": gate.opens}
    return row | {"leaves": gate.leaves} if gate.leaves != 1 else row
