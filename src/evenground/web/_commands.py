"""Edit commands of the plan, turned into changes of the project file. Pure functions.

A command is a small mapping: ``{"do": "add_rod", "at": [3, 4]}``. It comes from a browser and is not
trusted: what is malformed is refused in words.
"""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite
from typing import Any

from evenground.errors import InputError
from evenground.model.site import Point2
from evenground.project._edit import Change, Drop, Put
from evenground.web._adding import ADDING, MOST, place_of, tidy
from evenground.web._fill import graded_lines, ring_points
from evenground.web._shapes import AREAS, SECTIONS, base_path, points_in, put_points
from evenground.web._trim import trim
from evenground.web._view import entries, points_of

__all__ = ["changes_of", "command_words"]

Data = dict[str, Any]
WORDS = {
    "add_run": "draw a conductor",
    "add_rod": "place a rod",
    "add_mat": "draw a mat",
    "add_cover": "draw a surface cover",
    "add_line": "draw a profile line",
    "add_cut": "draw a section in depth",
    "add_fence": "draw a fence",
    "add_gate": "draw a gate",
    "add_item": "place equipment",
    "add_ring": "lay a ring",
    "mesh": "fill with a mesh",
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


def split_identity(value: Any) -> tuple[str, tuple[int, ...]]:
    """``"rods/0/2"`` as section and indices."""
    section, *numbers = str(value).split("/")
    if section not in SECTIONS or not numbers:
        raise InputError("the object could not be found")
    if not all(n.isascii() and n.isdigit() and len(n) < 8 for n in numbers) or len(numbers) > 2:
        raise InputError("the object could not be found")
    return section, tuple(int(n) for n in numbers)


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
            rows[numbers[1]] = [tidy(x + dx), tidy(y + dy)]
        else:
            changes += _moved(section, entry, (*base_path(section), numbers[0]), dx, dy)
    return changes + [Put(("rods", i, "at_m"), rows) for i, rows in places.items()]


def _moved(section: str, entry: Data, path: tuple[str | int, ...], dx: float, dy: float) -> list[Change]:
    changes: list[Change] = []
    if isinstance(entry.get("rectangle"), dict) and not entry.get("outline_m"):
        x, y = entry["rectangle"].get("corner_m", [0.0, 0.0])
        changes.append(Put((*path, "rectangle", "corner_m"), [tidy(x + dx), tidy(y + dy)]))
    else:
        rows = points_in(section, entry)
        if rows:
            changes += put_points(section, path, entry, [[tidy(x + dx), tidy(y + dy)] for x, y in rows])
    for name, shift in (("lines_x_m", dx), ("lines_y_m", dy)):
        if isinstance(entry.get(name), list) and shift:
            changes.append(Put((*path, name), [tidy(float(v) + shift) for v in entry[name]]))
    return changes


def _corners(data: Data, command: Data) -> tuple[str, Data, tuple[str | int, ...], list[Any], int]:
    """Section, entry, path and points of the object of a command, and the index of the corner."""
    section, numbers, entry = find(data, command.get("item"))
    path: tuple[str | int, ...] = (*base_path(section), numbers[0])
    index: Any = command.get("index")
    rows = points_in(section, entry)
    if section == "rods" and len(numbers) == 2:
        index = numbers[1]
    if not isinstance(index, int) or isinstance(index, bool) or not 0 <= index <= len(rows):
        raise InputError("the corner is no longer there")
    return section, entry, path, rows, index


def _with_points(section: str, path: tuple[str | int, ...], entry: Data, rows: list[Any]) -> list[Change]:
    return put_points(section, path, entry, [[tidy(x), tidy(y)] for x, y in rows])


def _move_point(data: Data, command: Data) -> list[Change]:
    section, entry, path, rows, index = _corners(data, command)
    if index >= len(rows):
        raise InputError("the corner is no longer there")
    target = place_of(command.get("to"))
    closed = section in ("runs", "fences") and len(rows) > 2 and rows[0] == rows[-1]
    rows[index] = target
    if closed and index in (0, len(rows) - 1):
        rows[0] = rows[-1] = target
    return _with_points(section, path, entry, rows)


def _insert_point(data: Data, command: Data) -> list[Change]:
    section, entry, path, rows, index = _corners(data, command)
    rows.insert(index, place_of(command.get("at")))
    return _with_points(section, path, entry, rows)


def _remove_point(data: Data, command: Data) -> list[Change]:
    section, entry, path, rows, index = _corners(data, command)
    least = 3 if section in AREAS else 2
    if len(rows) <= least or index >= len(rows):
        raise InputError(f"at least {least} points must stay; delete the whole object instead")
    del rows[index]
    return _with_points(section, path, entry, rows)


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
        kept = [[tidy(x), tidy(y)] for i, (x, y) in enumerate(rows) if i not in gone]
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
    return with_mesh_line(entry, numbers[0], axis, tidy(float(at)))


def _mesh(data: Data, command: Data) -> list[Change]:
    """Fill a mat anew: equal spaces, other ones along x and y, or narrower towards the edge."""
    section, numbers, entry = find(data, command.get("item"))
    if section != "mats":
        raise InputError("only a mat is filled with a mesh")
    path: tuple[str | int, ...] = ("mats", numbers[0])
    rows = points_in(section, entry)
    widest = [command.get(k) for k in ("spacing_x", "spacing_y")]
    edge = command.get("edge", 1)
    if not all(isinstance(v, int | float) and isfinite(v) and v > 0 for v in (*widest, edge)):
        raise InputError("the widest spaces and the share of the outermost one must be numbers above 0")
    old = ("spacing_m", "spacing_x_m", "spacing_y_m", "lines_x_m", "lines_y_m")
    if edge == 1:
        x, y = (tidy(float(v)) for v in widest)  # type: ignore[arg-type]
        new = {"spacing_m": x} if x == y else {"spacing_x_m": x, "spacing_y_m": y}
    else:
        new = {}
        for axis, key in enumerate(("lines_x_m", "lines_y_m")):
            values = [p[axis] for p in rows]
            new[key] = graded_lines(min(values), max(values), float(widest[axis]), float(edge))  # type: ignore[arg-type,assignment]
    changes: list[Change] = [Put((*path, k), v) for k, v in new.items()]
    return [*changes, *(Drop((*path, k)) for k in old if k in entry and k not in new)]


def _add_ring(data: Data, command: Data) -> list[Change]:
    """A closed conductor at a distance around a mat."""
    section, _, entry = find(data, command.get("item"))
    if section not in AREAS:
        raise InputError("a ring goes round a mat or a zone")
    points = ring_points(points_in(section, entry), command.get("away"))
    return ADDING["add_run"](data, {"points": points})


_COMMANDS: dict[str, Callable[[Data, Data], list[Change]]] = {
    **ADDING,
    "add_ring": _add_ring,
    "mesh": _mesh,
    "move": _move,
    "move_point": _move_point,
    "insert_point": _insert_point,
    "remove_point": _remove_point,
    "delete": _delete,
    "trim": _trim,
    "mesh_line": _mesh_line,
}
