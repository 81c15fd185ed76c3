"""What the cross-field checks share: places, findings, and reading values that may be malformed.

The checks run on the plain values, whether or not the schema accepted them, so that one run shows
everything. A value that the schema refuses reads as missing here and is not reported again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from evenground.errors import Finding, Severity
from evenground.model.project import Origin
from evenground.project._explain import Path, locate, meant_place
from evenground.project._nodes import Node
from evenground.project._source import Source

__all__ = ["FURTHEST_M", "Look", "number", "points", "records", "section", "words"]

FURTHEST_M = 1e8
"""Coordinates beyond are refused by the schema."""

HIDDEN = object()
"""Stands for a value that is given but wrong."""

Record = dict[str, Any]
Pair = tuple[float, float]


@dataclass(slots=True)
class Look:
    """One project file under inspection; the checks append to ``findings``.

    ``data`` is changed by :meth:`set_aside`.
    """

    source: Source
    root: Node
    data: Record
    origins: dict[Path, Origin]
    findings: list[Finding] = field(default_factory=list)

    def set_aside(self, findings: Iterable[Finding]) -> None:
        """Hide values that are wrong already, so that no check draws conclusions from them.

        They still count as given, as does a field whose key is misspelt.
        """
        for finding in findings:
            if finding.severity is not Severity.ERROR or not finding.path:
                continue
            holder: Any = self.data
            for part in finding.path[:-1]:
                holder = _entry(holder, part)
            last = finding.path[-1]
            meant = meant_place(finding)
            if meant is not None and isinstance(holder, dict):
                holder.setdefault(meant[-1], HIDDEN)
            elif isinstance(_entry(holder, last), int | float | str):
                holder[last] = HIDDEN

    def error(self, code: str, path: Path, message: str, advice: str = "") -> None:
        """Note an error at a path."""
        self._note(code, path, message, advice, Severity.ERROR)

    def warn(self, code: str, path: Path, message: str, advice: str = "") -> None:
        """Note a warning at a path."""
        self._note(code, path, message, advice, Severity.WARNING)

    def _note(self, code: str, path: Path, message: str, advice: str, severity: Severity) -> None:
        line, column = self.place(path)
        self.findings.append(
            self.source.finding(code, message, advice, line=line, column=column, path=path, severity=severity)
        )

    def place(self, path: Path) -> tuple[int, int]:
        """Line and column of the value at a path, or of the nearest section that exists."""
        key, node, complete = locate(self.root, path)
        return (node.line, node.column) if complete or key is None else (key.line, key.column)

    def at(self, *path: str) -> Any:
        """Value under nested keys, None when it is not there."""
        value: Any = self.data
        for part in path:
            value = value.get(part) if isinstance(value, dict) else None
        return value


def _entry(holder: Any, part: str | int) -> Any:
    if isinstance(holder, dict) and isinstance(part, str):
        return holder.get(part)
    if isinstance(holder, list) and isinstance(part, int) and part < len(holder):
        return holder[part]
    return None


def section(value: Any) -> Record:
    """The value when it is a mapping, else an empty one."""
    return value if isinstance(value, dict) else {}


def records(value: Any) -> Iterator[tuple[int, Record]]:
    """Index and mapping of the entries of a list; entries that are no mappings are passed over."""
    if isinstance(value, list):
        for index, entry in enumerate(value):
            if isinstance(entry, dict):
                yield index, entry


def number(record: Record, key: str) -> float | None:
    """A finite number, or None."""
    return _number(record.get(key))


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if isfinite(value) else None


def words(record: Record, key: str) -> str | None:
    """A text, or a number as it was written; None when neither."""
    value = record.get(key)
    written = getattr(value, "text", value)
    return written if isinstance(written, str) else None


def points(value: Any) -> list[Pair] | None:
    """A list of points, or None when any of it is malformed."""
    if not isinstance(value, list):
        return None
    found: list[Pair] = []
    for entry in value:
        if not isinstance(entry, list) or len(entry) != 2:
            return None
        x, y = _number(entry[0]), _number(entry[1])
        if x is None or y is None or max(abs(x), abs(y)) > FURTHEST_M:
            return None
        found.append((x, y))
    return found
