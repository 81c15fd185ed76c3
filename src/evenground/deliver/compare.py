"""Two studies side by side: which inputs changed, and what that did to margins and quantities.

Works on what ``study.json`` holds, so that a study of last year needs nothing but its result folder.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isclose
from pathlib import Path
from typing import Any

from evenground.errors import Finding, InputError
from evenground.model._serial import FORMAT

__all__ = [
    "Change",
    "CheckChange",
    "Comparison",
    "compare_studies",
    "comparison_rows",
    "read_study",
    "unlike_parts",
]

MOST_BYTES = 500_000_000
SAME = 1e-9
"""Numbers that differ by less, relatively, are equal."""
NOT_INPUTS = ("register", "warnings", "file_name", "input_hash", "site_drawing")
"""Parts of a project that are not stated by the designer, or stand elsewhere as well."""
NO_VALUE = ("path", "line")
KEYS = ("name", "tag", "subject", "revision", "key")
"""What names the entries of a list."""
LONGEST = 90
"""Lists longer than this many characters are shown by their differing parts; tables for machines hold all."""


@dataclass(frozen=True, slots=True)
class Change:
    """One value that differs; None: not there. ``what`` is a path for inputs, words for results."""

    what: str
    before: Any
    after: Any
    unit: str = ""

    @property
    def relative(self) -> float | None:
        """Change as a fraction of the earlier value; None when there is none."""
        a, b = self.before, self.after
        if not _is_number(a) or not _is_number(b) or a == 0:
            return None
        return float((b - a) / abs(a))


@dataclass(frozen=True, slots=True)
class CheckChange:
    """One check in both studies; a verdict of None: the study did not make it.

    Margins are fractions of the limit.
    """

    identity: str
    title: str
    scenario: str
    unit: str
    verdict_before: str | None
    verdict_after: str | None
    value_before: float | None
    value_after: float | None
    limit_before: float | None
    limit_after: float | None
    margin_before: float | None
    margin_after: float | None
    governing: bool = True

    @property
    def changed(self) -> bool:
        """Whether verdict, value or limit differ."""
        return (
            self.verdict_before != self.verdict_after
            or not _equal(self.value_before, self.value_after)
            or not _equal(self.limit_before, self.limit_after)
        )


@dataclass(frozen=True, slots=True)
class Comparison:
    """What differs between an earlier (A) and a later study (B).

    ``a`` and ``b`` hold file, SHA-256 of the input, program version, verdict, title and revision.
    """

    a: Mapping[str, str]
    b: Mapping[str, str]
    inputs: tuple[Change, ...]
    results: tuple[Change, ...]
    checks: tuple[CheckChange, ...]
    quantities: tuple[Change, ...]

    @property
    def same_input(self) -> bool:
        """Whether both studies were made from the same bytes."""
        return bool(self.a["sha256"]) and self.a["sha256"] == self.b["sha256"]


def read_study(path: Path) -> dict[str, Any]:
    """The plain data of a ``study.json``, or of the one in a result folder.

    Raises
    ------
    InputError
        When there is none, or it is not one of this program.
    """
    file = path / "study.json" if path.is_dir() else path
    try:
        if file.stat().st_size > MOST_BYTES:
            raise _refuse(file, "is larger than 500 MB")
        data = json.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise _refuse(file, error.strerror or str(error)) from error
    except (ValueError, RecursionError) as error:
        raise _refuse(file, f"is not JSON: {error}") from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise _refuse(file, f"is not a study of this program (format {FORMAT})")
    return data


def _refuse(file: Path, message: str) -> InputError:
    advice = "give a study.json, a result folder, or a project file"
    return InputError([Finding("study-file", message, advice, file=str(file))])


def compare_studies(a: Mapping[str, Any], b: Mapping[str, Any]) -> Comparison:
    """Set two studies side by side.

    Parameters
    ----------
    a, b : mapping
        The earlier and the later study as plain data, from :func:`read_study` or
        ``study_to_dict``.
    """
    return Comparison(
        a=_about(a),
        b=_about(b),
        inputs=tuple(_changes(_inputs(a), _inputs(b), "")),
        results=tuple(c for c in _results(a, b) if not _equal(c.before, c.after)),
        checks=tuple(_checks(a, b)),
        quantities=tuple(
            Change(name.replace("_", " "), p, q)
            for name, p, q in _both(_map(a, "quantities"), _map(b, "quantities"))
            if not _equal(p, q)
        ),
    )


def _about(study: Mapping[str, Any]) -> dict[str, str]:
    identity = _map(_map(study, "project"), "identity")
    revisions = identity.get("revisions") or [{}]
    source = _map(study, "input")
    return {
        "title": str(identity.get("title", "")),
        "revision": str(revisions[-1].get("revision", "")),
        "file": str(source.get("file", "")),
        "sha256": str(source.get("sha256", "")),
        "version": str(study.get("version", "")),
        "verdict": str(study.get("verdict", "")),
    }


def _map(data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = data.get(key)
    return value if isinstance(value, Mapping) else {}


def _inputs(study: Mapping[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in _map(study, "project").items() if k not in NOT_INPUTS}


def _both(a: Mapping[str, Any], b: Mapping[str, Any]) -> Iterator[tuple[str, Any, Any]]:
    for key in dict.fromkeys((*a, *b)):
        yield key, a.get(key), b.get(key)


def _changes(a: Any, b: Any, path: str) -> Iterator[Change]:
    """Leaves that differ; entries of lists are matched by name, else by position."""
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        for key, p, q in _both(a, b):
            if key not in NO_VALUE:
                yield from _changes(p, q, f"{path}.{key}" if path else key)
    elif _entries(a) and _entries(b):
        for key, p, q in _both(_named(a), _named(b)):
            yield from _changes(p, q, f"{path}[{key}]")
    elif not _equal(a, b):
        yield Change(path, a, b)


def _entries(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(item, Mapping) for item in value)


def _named(rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for index, row in enumerate(rows):
        name = next((str(row[k]) for k in KEYS if row.get(k)), str(index))
        found[name if name not in found else f"{name} {index}"] = row
    return found


def _equal(a: Any, b: Any) -> bool:
    if _is_number(a) and _is_number(b):
        return isclose(a, b, rel_tol=SAME, abs_tol=1e-15)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(_equal(p, q) for p, q in zip(a, b, strict=True))
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        return set(a) - set(NO_VALUE) == set(b) - set(NO_VALUE) and all(
            _equal(v, b[k]) for k, v in a.items() if k not in NO_VALUE
        )
    return bool(a == b)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _results(a: Mapping[str, Any], b: Mapping[str, Any]) -> Iterator[Change]:
    yield Change("verdict", a.get("verdict"), b.get("verdict"))
    yield Change(
        "resistance to earth",
        _map(a, "field").get("resistance_ohm"),
        _map(b, "field").get("resistance_ohm"),
        "ohm",
    )
    for name, p, q in _both(_map(a, "gpr_v"), _map(b, "gpr_v")):
        yield Change(f"earth potential rise, {name}", p, q, "V")
    for quantity in ("touch", "step"):
        worst = [_map(s, f"worst_{quantity}") for s in (a, b)]
        for key, words in (("value_v", "worst {} voltage"), ("limit_v", "limit at the worst {} voltage")):
            yield Change(words.format(quantity), worst[0].get(key), worst[1].get(key), "V")
    soils = [_map(s, "soil_used") for s in (a, b)]
    for key, unit in (("resistivities_ohm_m", "ohm m"), ("thicknesses_m", "m")):
        yield Change(f"soil {key.split('_')[0]}", soils[0].get(key), soils[1].get(key), unit)


def _checks(a: Mapping[str, Any], b: Mapping[str, Any]) -> Iterator[CheckChange]:
    before, after = _keyed(a), _keyed(b)
    for key in dict.fromkeys((*before, *after)):
        p, q = before.get(key, {}), after.get(key, {})
        any_row = q or p
        change = CheckChange(
            identity=str(any_row.get("identity")),
            title=str(any_row.get("title")),
            scenario=str(any_row.get("scenario", "")),
            unit=str(any_row.get("unit", "")),
            verdict_before=p.get("verdict"),
            verdict_after=q.get("verdict"),
            value_before=p.get("value"),
            value_after=q.get("value"),
            limit_before=p.get("limit"),
            limit_after=q.get("limit"),
            margin_before=p.get("margin"),
            margin_after=q.get("margin"),
            governing=bool(any_row.get("governing", True)),
        )
        if change.changed:
            yield change


def _keyed(study: Mapping[str, Any]) -> dict[tuple[str, int], Mapping[str, Any]]:
    rows: dict[tuple[str, int], Mapping[str, Any]] = {}
    for row in study.get("checks") or ():
        number = 0
        while (str(row.get("identity")), number) in rows:
            number += 1
        rows[str(row.get("identity")), number] = row
    return rows


def comparison_rows(comparison: Comparison) -> list[list[Any]]:
    """Rows for CSV: kind, what, before, after, change (a fraction; for margins the difference)."""
    rows: list[list[Any]] = [
        ["study", key, comparison.a[key], comparison.b[key], None] for key in comparison.a
    ]
    for kind, changes in (
        ("input", comparison.inputs),
        ("result", comparison.results),
        ("quantity", comparison.quantities),
    ):
        rows += [[kind, _with_unit(c), plain(c.before), plain(c.after), c.relative] for c in changes]
    for c in comparison.checks:
        rows.append(["verdict", c.title, c.verdict_before, c.verdict_after, None])
        for what in ("value", "limit", "margin"):
            p, q = getattr(c, f"{what}_before"), getattr(c, f"{what}_after")
            change = q - p if what == "margin" and p is not None and q is not None else None
            rows.append([what, f"{c.title} [{c.unit}]" if what != "margin" else c.title, p, q, change])
    return rows


def _with_unit(change: Change) -> str:
    return f"{change.what} [{change.unit}]" if change.unit else change.what


def plain(value: Any) -> Any:
    """A value in one cell: numbers and text as they are, groups as JSON in full."""
    if value is None or isinstance(value, str | int | float):
        return value
    return json.dumps(_told(value), ensure_ascii=False)


def _told(value: Any) -> Any:
    """A group without what its author did not write: empty entries, and its place in the file."""
    if isinstance(value, dict):
        return {k: _told(v) for k, v in value.items() if k != "path" and v not in (None, "")}
    return [_told(v) for v in value] if isinstance(value, list | tuple) else value


def unlike_parts(before: Any, after: Any) -> tuple[Any, Any]:
    """Two values for reading side by side: of long lists only what is not alike at both ends, with how many
    entries each has; anything else whole."""
    if not (isinstance(before, list) and isinstance(after, list)):
        return before, after
    if max(len(json.dumps(v)) for v in (before, after)) <= LONGEST:
        return before, after
    most = min(len(before), len(after))
    first = next((i for i in range(most) if not _equal(before[i], after[i])), most)
    last = next((i for i in range(most - first) if not _equal(before[-1 - i], after[-1 - i])), most - first)
    return _middle(before, first, last), _middle(after, first, last)


def _middle(values: list[Any], first: int, last: int) -> str:
    shown = json.dumps(values[first : len(values) - last], ensure_ascii=False)[1:-1] or "–"
    return f"[{'… ' if first else ''}{shown}{' …' if last else ''}] ({len(values)})"
