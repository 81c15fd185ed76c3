"""Changes to the text of a project file that leave everything else, comments included, as it was.

A change names a place by its path. The text is cut only where the change needs it; then the new
text is read again and must hold exactly the wanted values. Where the cutting does not manage (rare
ways of writing), the text goes through a round trip that keeps comments but may re-indent.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import Any

import yaml

from evenground.errors import InputError
from evenground.project._cut import AwkwardError, cut
from evenground.project._nodes import scalar_value

__all__ = ["Change", "Drop", "Insert", "Path", "Put", "edit_text", "read_values", "unwrapped"]

Path = tuple[str | int, ...]
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Put:
    """Set the value at a path; a key that is missing is added, an index one past the end appends.

    A value written with its origin keeps the origin, unless the new value is a mapping with the key
    ``value`` itself.
    """

    path: Path
    value: Any


@dataclass(frozen=True, slots=True)
class Insert:
    """Put a value into a list before the index at the end of the path."""

    path: Path
    value: Any


@dataclass(frozen=True, slots=True)
class Drop:
    """Take out the key or list entry at a path."""

    path: Path


Change = Put | Insert | Drop


def edit_text(text: str, changes: Iterable[Change]) -> str:
    """The text with the changes made, in their order.

    Raises
    ------
    InputError
        When a path leads nowhere, or the place is written in a way that can not be changed without
        changing something else (an alias).
    """
    for change in changes:
        text = _edited(text, change)
    return text


def _edited(text: str, change: Change) -> str:
    before = read_values(text)
    wanted = _applied(before, change)
    try:
        new = cut(text, yaml.compose(text, Loader=_LOADER), change)
        if read_values(new) == wanted:
            return new
    except (AwkwardError, yaml.YAMLError):
        pass
    new = _round_trip(text, change)
    if read_values(new) != wanted:
        raise InputError(
            f"{_words(change.path)}: is written in a way that can only be changed in the file itself"
        )
    return new


def read_values(text: str) -> Any:
    """Plain values of the text (YAML 1.2 core schema), origins still in place."""
    try:
        return _plain(yaml.compose(text, Loader=_LOADER))
    except yaml.YAMLError as error:
        raise InputError(f"is not YAML: {error}") from None


def _plain(node: Any) -> Any:
    if node is None:
        return None
    if isinstance(node, yaml.MappingNode):
        return {key.value: _plain(value) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item) for item in node.value]
    return node.value if node.style else scalar_value(node.value)


def wrapped(value: Any) -> bool:
    """True for a value that is written with its origin."""
    return isinstance(value, dict) and "value" in value and set(value) <= {"value", "origin"}


def unwrapped(value: Any) -> Any:
    """The values without their origins."""
    if wrapped(value):
        return unwrapped(value["value"])
    if isinstance(value, dict):
        return {k: unwrapped(v) for k, v in value.items() if k != "origin"}
    if isinstance(value, list):
        return [unwrapped(v) for v in value]
    return value


def _words(path: Sequence[str | int]) -> str:
    return ".".join(str(p) for p in path)


def _inside(value: Any) -> Any:
    while wrapped(value):
        value = value["value"]
    return value


def _applied(data: Any, change: Change) -> Any:
    """A copy of the values with the change made."""
    data = copy.deepcopy(data)
    _change_in_place(data, change, lambda value: value)
    return data


def _change_in_place(data: Any, change: Change, make: Any) -> None:
    holder, last = data, change.path[-1]
    try:
        for part in change.path[:-1]:
            holder = _inside(holder)[part]
        holder = _inside(holder)
        if isinstance(change, Drop):
            del holder[last]
        elif isinstance(change, Insert):
            holder.insert(_index(holder, last), make(change.value))
        elif isinstance(holder, list) and last == len(holder):
            holder.append(make(change.value))
        elif _keeps_origin(holder, last, change.value):
            while wrapped(holder[last]):
                holder, last = holder[last], "value"
            holder[last] = make(change.value)
        else:
            holder[last] = make(change.value)
    except (KeyError, IndexError, TypeError, AttributeError):
        raise InputError(f"{_words(change.path)}: there is no such place in the project file") from None


def _index(holder: list[Any], index: str | int) -> int:
    if not isinstance(index, int) or not 0 <= index <= len(holder):
        raise IndexError(index)
    return index


def _keeps_origin(holder: Any, last: str | int, value: Any) -> bool:
    present = last in holder if isinstance(holder, dict) else True
    return present and wrapped(holder[last]) and not wrapped(value)


def _round_trip(text: str, change: Change) -> str:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    machine = YAML()
    machine.preserve_quotes = True
    machine.width = 10**6
    machine.indent(mapping=2, sequence=4, offset=2)
    try:
        data = machine.load(text)
        _change_in_place(data, change, copy.deepcopy)
        stream = StringIO()
        machine.dump(data, stream)
    except YAMLError as error:
        raise InputError(f"{_words(change.path)}: the file could not be changed: {error}") from None
    return stream.getvalue()
