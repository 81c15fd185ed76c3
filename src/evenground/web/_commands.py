"""Edit commands of the plan, turned into changes of the project file. Pure functions.

A command is a small mapping: ``{"do": "add_rod", "at": [3, 4]}``. It comes from a browser and is not
trusted: what is malformed is refused in words.
"""

from __future__ import annotations

from collections.abc import Callable
from math import hypot, isfinite
from typing import Any

from evenground.errors import InputError
from evenground.model.site import Point2
from evenground.project._edit import Change, Drop, Put
from evenground.web._trim import trim
from evenground.web._view import entries, outline_of, points_of

__all__ = ["changes_of", "command_words"]

Data = dict[str, Any]
FURTHEST_M = 1e6
MOST = 20_000
ROUND = 4

START_DEPTH_M, START_SPACING_M, START_ROD_M, START_ROD_MM = 0.6, 10.0, 3.0, 14.2
"""What a first drawn object gets when the file holds none of its kind to follow; shown at once in
the table beside the plan (usual values, common practice)."""

WORDS = {
    "add_run": "draw a conductor",
    "add_rod": "place a rod",
    "add_mat": "draw a mat",
    "add_cover": "draw a surface cover",
    "add_line": "draw a profile line",
    "move": "move",
    "move_point": "move a corner",
    "insert_point": "insert a corner",
    "remove_point": "remove a corner",
    "delete": "delete",
    "trim": "trim",
    "mesh_line": "add a mesh line",
}


def command_words(command: Any) -> str:
    """A command in words, for undo."""
    return WORDS.get(str(command.get("do")), "edit") if isinstance(command, dict) else "edit"


def changes_of(data: Any, command: Any) -> list[Change]:
    """The changes that a command makes to the values of a project file.

    Raises
    ------
    InputError
        When the command is malformed or does not fit the file.
    """
    if not isinstance(command, dict) or not isinstance(data, dict):
        raise InputError("the edit could not be understood")
    make = _COMMANDS.get(str(command.get("do")))
    if make is None:
        raise InputError("the edit could not be understood")
    return make(data, command)


def place_of(value: Any) -> list[float]:
    """A point [x, y] within reason, rounded to a tenth of a millimetre."""
    rows = points_of([value])
    if not rows or max(abs(v) for v in rows[0]) > FURTHEST_M:
        raise InputError("a point needs two finite coordinates in metres")
    return [_tidy(rows[0][0]), _tidy(rows[0][1])]


def _tidy(value: float) -> float:
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


def split_identity(value: Any) -> tuple[str, tuple[int, ...]]:
    """``"rods/0/2"`` as section and indices."""
    section, *numbers = str(value).split("/")
    if section not in ("mats", "runs", "rods", "surface", "lines") or not numbers:
        raise InputError("the object could not be found")
    if not all(n.isascii() and n.isdigit() and len(n) < 8 for n in numbers) or len(numbers) > 2:
        raise InputError("the object could not be found")
    return section, tuple(int(n) for n in numbers)


def base_path(section: str) -> tuple[str, ...]:
    """Where a section's list stands in the file."""
    return ("assessment", "profiles") if section == "lines" else (section,)


def find(data: Data, identity: Any) -> tuple[str, tuple[int, ...], Data]:
    """Section, indices and entry of an object."""
    section, numbers = split_identity(identity)
    holder: Any = data
    for part in base_path(section)[:-1]:
        holder = holder.get(part) if isinstance(holder, dict) else None
    held = dict(entries(holder, base_path(section)[-1])) if isinstance(holder, dict) else {}
    if numbers[0] not in held:
        raise InputError("the object is no longer there")
    return section, numbers, held[numbers[0]]


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
        "depth_m": _tidy(_depth(data)),
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


def _points_key(section: str) -> str:
    return {"mats": "outline_m", "surface": "outline_m", "rods": "at_m"}.get(section, "points_m")


def _identities(command: Data) -> list[Any]:
    rows = command.get("items")
    if not isinstance(rows, list) or not 0 < len(rows) <= MOST:
        raise InputError("nothing is selected")
    return list(dict.fromkeys(str(r) for r in rows))


def _move(data: Data, command: Data) -> list[Change]:
    dx, dy = place_of(command.get("by"))
    changes: list[Change] = []
    places: dict[int, list[list[float]]] = {}
    for identity in _identities(command):
        section, numbers, entry = find(data, identity)
        if section == "rods" and len(numbers) == 2:
            rows = places.setdefault(numbers[0], [list(p) for p in points_of(entry.get("at_m"))])
            if numbers[1] >= len(rows):
                raise InputError("the object is no longer there")
            x, y = rows[numbers[1]]
            rows[numbers[1]] = [_tidy(x + dx), _tidy(y + dy)]
        else:
            changes += _moved(entry, (*base_path(section), numbers[0]), _points_key(section), dx, dy)
    return changes + [Put(("rods", i, "at_m"), rows) for i, rows in places.items()]


def _moved(entry: Data, path: tuple[str | int, ...], key: str, dx: float, dy: float) -> list[Change]:
    changes: list[Change] = []
    rows = points_of(entry.get(key))
    if rows:
        changes.append(Put((*path, key), [[_tidy(x + dx), _tidy(y + dy)] for x, y in rows]))
    elif isinstance(entry.get("rectangle"), dict):
        x, y = entry["rectangle"].get("corner_m", [0.0, 0.0])
        changes.append(Put((*path, "rectangle", "corner_m"), [_tidy(x + dx), _tidy(y + dy)]))
    for name, shift in (("lines_x_m", dx), ("lines_y_m", dy)):
        if isinstance(entry.get(name), list) and shift:
            changes.append(Put((*path, name), [_tidy(float(v) + shift) for v in entry[name]]))
    return changes


def _corners(data: Data, command: Data) -> tuple[list[Change], tuple[str | int, ...], list[Any], int]:
    """Changes that make the outline explicit, its path, the points, and the index of the command."""
    section, numbers, entry = find(data, command.get("item"))
    path: tuple[str | int, ...] = (*base_path(section), numbers[0])
    key, index = _points_key(section), command.get("index")
    area = section in ("mats", "surface")
    rows: list[Any] = [list(p) for p in (outline_of(entry) if area else points_of(entry.get(key)))]
    if section == "rods" and len(numbers) == 2:
        index = numbers[1]
    if not isinstance(index, int) or isinstance(index, bool) or not 0 <= index <= len(rows):
        raise InputError("the corner is no longer there")
    first: list[Change] = [Drop((*path, "rectangle"))] if "rectangle" in entry else []
    return first, (*path, key), rows, index


def _move_point(data: Data, command: Data) -> list[Change]:
    first, path, rows, index = _corners(data, command)
    if index >= len(rows):
        raise InputError("the corner is no longer there")
    target = place_of(command.get("to"))
    closed = path[-1] == "points_m" and len(rows) > 2 and rows[0] == rows[-1]
    rows[index] = target
    if closed and index in (0, len(rows) - 1):
        rows[0] = rows[-1] = target
    return [Put(path, [[_tidy(x), _tidy(y)] for x, y in rows]), *first]


def _insert_point(data: Data, command: Data) -> list[Change]:
    first, path, rows, index = _corners(data, command)
    rows.insert(index, place_of(command.get("at")))
    return [Put(path, [[_tidy(x), _tidy(y)] for x, y in rows]), *first]


def _remove_point(data: Data, command: Data) -> list[Change]:
    first, path, rows, index = _corners(data, command)
    least = 3 if path[-1] == "outline_m" else 2
    if len(rows) <= least or index >= len(rows):
        raise InputError(f"at least {least} points must stay; delete the whole object instead")
    del rows[index]
    return [Put(path, [[_tidy(x), _tidy(y)] for x, y in rows]), *first]


def _delete(data: Data, command: Data) -> list[Change]:
    whole: dict[str, set[int]] = {}
    single: dict[int, set[int]] = {}
    for identity in _identities(command):
        section, numbers, _ = find(data, identity)
        if section == "rods" and len(numbers) == 2:
            single.setdefault(numbers[0], set()).add(numbers[1])
        else:
            whole.setdefault(section, set()).add(numbers[0])
    changes: list[Change] = []
    for index, gone in single.items():
        rows = points_of(dict(entries(data, "rods"))[index].get("at_m"))
        kept = [[_tidy(x), _tidy(y)] for i, (x, y) in enumerate(rows) if i not in gone]
        if kept:
            changes.append(Put(("rods", index, "at_m"), kept))
        else:
            whole.setdefault("rods", set()).add(index)
    for section, numbers_gone in whole.items():
        changes += [Drop((*base_path(section), i)) for i in sorted(numbers_gone, reverse=True)]
    return changes


def _trim(data: Data, command: Data) -> list[Change]:
    section, numbers, entry = find(data, command.get("item"))
    at: Point2 = tuple(place_of(command.get("at")))  # type: ignore[assignment]
    return trim(data, section, numbers[0], entry, at)


def _mesh_line(data: Data, command: Data) -> list[Change]:
    from evenground.web._trim import with_mesh_line

    _, numbers, entry = find(data, command.get("item"))
    axis, at = command.get("axis"), command.get("at")
    if axis not in ("x", "y") or not isinstance(at, int | float) or not isfinite(at):
        raise InputError("a mesh line needs a direction and a position")
    return with_mesh_line(entry, numbers[0], axis, _tidy(float(at)))


_COMMANDS: dict[str, Callable[[Data, Data], list[Change]]] = {
    "add_run": _add_run,
    "add_rod": _add_rod,
    "add_mat": _add_mat,
    "add_cover": _add_cover,
    "add_line": _add_line,
    "move": _move,
    "move_point": _move_point,
    "insert_point": _insert_point,
    "remove_point": _remove_point,
    "delete": _delete,
    "trim": _trim,
    "mesh_line": _mesh_line,
}
