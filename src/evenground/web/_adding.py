"""New objects of the plan as changes of the project file; each follows the latest of its kind."""

from __future__ import annotations

from collections.abc import Callable
from math import hypot
from typing import Any

from evenground.errors import InputError
from evenground.project._edit import Change, Put
from evenground.web._view import entries, points_of

__all__ = ["ADDING", "MOST", "place_of", "tidy"]

Data = dict[str, Any]
FURTHEST_M = 1e6
MOST = 20_000
ROUND = 4

START_DEPTH_M, START_SPACING_M, START_ROD_M, START_ROD_MM, START_CUT_M = 0.6, 10.0, 3.0, 14.2, 10.0
"""What a first drawn object gets when the file holds none of its kind to follow; shown at once in
the table beside the plan (usual values, common practice)."""


def place_of(value: Any) -> list[float]:
    """A point [x, y] within reason, rounded to a tenth of a millimetre."""
    rows = points_of([value])
    if not rows or max(abs(v) for v in rows[0]) > FURTHEST_M:
        raise InputError("a point needs two finite coordinates in metres")
    return [tidy(rows[0][0]), tidy(rows[0][1])]


def tidy(value: float) -> float:
    """A coordinate rounded to a tenth of a millimetre, whole numbers without decimals."""
    rounded = round(value, ROUND)
    return int(rounded) if rounded == int(rounded) else rounded


def _line(value: Any, least: int) -> list[list[float]]:
    if not isinstance(value, list) or not least <= len(value) <= MOST:
        raise InputError(f"at least {least} points are needed")
    rows = [place_of(p) for p in value]
    kept = [p for i, p in enumerate(rows) if i == 0 or p != rows[i - 1]]
    if least > 2 and len(kept) > 1 and kept[0] == kept[-1]:
        kept.pop()
    if len(kept) < least:
        raise InputError(f"at least {least} different points are needed")
    return kept


def _append(data: Data, path: tuple[str, ...], value: Data) -> list[Change]:
    holder: Any = data
    for part in path[:-1]:
        if not isinstance(holder.get(part), dict):
            return [Put((part,), {path[-1]: [value]})]
        holder = holder[part]
    rows = holder.get(path[-1])
    if isinstance(rows, list):
        return [Put((*path, len(rows)), value)]
    return [Put(path, [value])]


def _last(data: Data, section: str, key: str, default: Any) -> Any:
    """The value that the latest entry of a kind has, to go on like it."""
    for _, entry in reversed(entries(data, section)):
        if entry.get(key) is not None:
            return entry[key]
    return default


def _depth(data: Data) -> float:
    own = _last(data, "runs", "depth_m", None)
    return float(own if own is not None else _last(data, "mats", "depth_m", START_DEPTH_M))


def _conductor(data: Data) -> str:
    known = data.get("conductors")
    keys = list(known) if isinstance(known, dict) else []
    return "mat" if "mat" in keys or not keys else str(keys[0])


def _add_run(data: Data, command: Data) -> list[Change]:
    value = {
        "points_m": _line(command.get("points"), 2),
        "depth_m": tidy(_depth(data)),
        "conductor": _conductor(data),
    }
    return _append(data, ("runs",), value)


def _add_rod(data: Data, command: Data) -> list[Change]:
    place = place_of(command.get("at"))
    lists = entries(data, "rods")
    if lists:
        index, entry = lists[-1]
        held = points_of(entry.get("at_m"))
        if any(hypot(x - place[0], y - place[1]) < 0.05 for x, y in held):
            raise InputError("a rod stands there already")
        return [Put(("rods", index, "at_m", len(entry.get("at_m") or [])), place)]
    rule = next((r for _, m in entries(data, "mats") for _, r in entries(m, "rods")), {})
    value = {
        "at_m": [place],
        "length_m": rule.get("length_m", START_ROD_M),
        "diameter_mm": rule.get("diameter_mm", START_ROD_MM),
    }
    return _append(data, ("rods",), value)


def _fresh(data: Data, holder: Any, section: str, stem: str) -> str:
    names = {str(e.get("name")) for _, e in entries(holder, section)} if isinstance(holder, dict) else set()
    number = 1
    while f"{stem} {number}" in names:
        number += 1
    return f"{stem} {number}"


def _add_mat(data: Data, command: Data) -> list[Change]:
    value = {
        "name": _fresh(data, data, "mats", "mat"),
        "outline_m": _line(command.get("points"), 3),
        "spacing_m": START_SPACING_M,
        "depth_m": _last(data, "mats", "depth_m", START_DEPTH_M),
        "conductor": _conductor(data),
    }
    return _append(data, ("mats",), value)


def _add_cover(data: Data, command: Data) -> list[Change]:
    value = {"name": _fresh(data, data, "surface", "cover"), "outline_m": _line(command.get("points"), 3)}
    for key in ("material", "state", "resistivity_ohm_m", "thickness_m"):
        known = _last(data, "surface", key, None)
        if known is not None:
            value[key] = known
    return _append(data, ("surface",), value)


def _add_line(data: Data, command: Data) -> list[Change]:
    name = _fresh(data, data.get("assessment"), "profiles", "line")
    return _append(
        data, ("assessment", "profiles"), {"name": name, "points_m": _line(command.get("points"), 2)}
    )


def _add_cut(data: Data, command: Data) -> list[Change]:
    start, end, *more = _line(command.get("points"), 2)
    if more:
        raise InputError("a section in depth has two ends")
    assessment = data.get("assessment")
    depth = _last(assessment if isinstance(assessment, dict) else {}, "sections", "depth_m", START_CUT_M)
    value = {
        "name": _fresh(data, assessment, "sections", "section"),
        "from_m": start,
        "to_m": end,
        "depth_m": depth,
    }
    return _append(data, ("assessment", "sections"), value)


def _add_fence(data: Data, command: Data) -> list[Change]:
    value = {
        "name": _fresh(data, data, "fences", "fence"),
        "points_m": _line(command.get("points"), 2),
        "bonding": _last(data, "fences", "bonding", "bonded"),
    }
    return _append(data, ("fences",), value)


def _add_gate(data: Data, command: Data) -> list[Change]:
    start, end, *more = _line(command.get("points"), 2)
    if more:
        raise InputError("a gate has two posts")
    value = {
        "name": _fresh(data, data, "gates", "gate"),
        "start_m": start,
        "end_m": end,
        "opens": _last(data, "gates", "opens", "both"),
    }
    return _append(data, ("gates",), value)


def _add_item(data: Data, command: Data) -> list[Change]:
    tags = {str(e.get("tag")) for _, e in entries(data, "equipment")}
    number = 1
    while f"E{number}" in tags:
        number += 1
    value = {
        "tag": f"E{number}",
        "kind": _last(data, "equipment", "kind", "structure"),
        "at_m": place_of(command.get("at")),
        "connections": 1,
    }
    known = data.get("conductors")
    if isinstance(known, dict) and "riser" not in known:
        value["conductor"] = _conductor(data)
    return _append(data, ("equipment",), value)


ADDING: dict[str, Callable[[Data, Data], list[Change]]] = {
    "add_run": _add_run,
    "add_rod": _add_rod,
    "add_mat": _add_mat,
    "add_cover": _add_cover,
    "add_line": _add_line,
    "add_cut": _add_cut,
    "add_fence": _add_fence,
    "add_gate": _add_gate,
    "add_item": _add_item,
}
"""Commands that make something new. A fence starts bonded (its touch voltage is then checked), a gate opens
both ways, equipment has one connection: the careful side, shown at once beside the plan to be put right."""
