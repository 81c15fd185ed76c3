"""From validation errors to findings in plain words that point at the right place of the file."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from evenground.errors import Finding
from evenground.project._nodes import Key, ListNode, MapNode, Node, ScalarNode
from evenground.project._source import Source
from evenground.project._words import meant_by, nearest, number_advice, shorten, unit_of, with_unit

__all__ = [
    "MOST_FINDINGS",
    "Path",
    "fields_at",
    "locate",
    "meant_place",
    "models_in",
    "sections_of",
    "validate",
]

Path = tuple[str | int, ...]
M = TypeVar("M", bound=BaseModel)

MOST_FINDINGS = 300
"""Findings of one kind of check that are explained; a file with more has one cause for most of them."""


def locate(root: Node, path: Path) -> tuple[Key | None, Node, bool]:
    """Follow a path as far as it exists.

    Returns
    -------
    key, node, complete
        The last key on the way that leads directly to the node (None for a list item or the root), the
        node, and whether the whole path was there.
    """
    key: Key | None = None
    node = root
    for part in path:
        if isinstance(node, MapNode) and isinstance(part, str) and part in node.entries:
            key, node = node.entries[part]
        elif isinstance(node, ListNode) and isinstance(part, int) and 0 <= part < len(node.items):
            key, node = None, node.items[part]
        else:
            return key, node, False
    return key, node, True


def validate(
    source: Source, root: Node, model: type[M], data: Any, base: Path = ()
) -> tuple[M | None, list[Finding]]:
    """Validate plain data against a model.

    Parameters
    ----------
    source, root
        File and tree for places and excerpts.
    model
        What the data must fit.
    data
        Plain values of the tree at ``base``.
    base
        Path of the data in the tree.
    """
    try:
        return model.model_validate(data), []
    except ValidationError as error:
        rows = error.errors(include_url=False)
    findings = [_explain(source, root, model, row, base) for row in rows[:MOST_FINDINGS]]
    if len(rows) > MOST_FINDINGS:
        message = f"{len(rows) - MOST_FINDINGS} more errors are not shown"
        findings.append(source.finding("more-errors", message, "correct those above first"))
    return None, _without_consequences(findings)


def _without_consequences(findings: list[Finding]) -> list[Finding]:
    """Drop 'missing' where a misspelt key of the same section is the reason."""
    meant = {place for f in findings if (place := meant_place(f))}
    return [f for f in findings if f.code != "value-missing" or f.path not in meant]


def meant_place(finding: Finding) -> Path | None:
    """Path of the field that a misspelt key stands for, None when the finding is of another kind."""
    match = re.match(r"did you mean '([^']+)'", finding.advice) if finding.code == "key-unknown" else None
    return (*finding.path[:-1], match[1]) if match else None


def _explain(source: Source, root: Node, model: type[BaseModel], row: Any, base: Path) -> Finding:
    local: Path = tuple(row["loc"])
    path = (*base, *local)
    key, node, complete = locate(root, path)
    name = next((p for p in reversed(path) if isinstance(p, str)), "")
    kind = row["type"]
    line, column = (node.line, node.column) if complete or key is None else (key.line, key.column)
    if kind == "missing":
        code, message, advice = _missing(model, local, complete)
        if complete and key is not None:
            line, column = key.line, key.column
    elif kind == "extra_forbidden":
        code, message, advice = _unknown(model, local, node, root, path)
        if key is not None:
            line, column = key.line, key.column
    else:
        maker = _MAKERS.get(kind, _other)
        code, message, advice = maker(row, name, node, path)
    return source.finding(code, message, advice, line=line, column=column, path=path)


Words = tuple[str, str, str]


def _missing(model: type[BaseModel], local: Path, complete: bool) -> Words:
    name = str(local[-1])
    field = fields_at(model, local[:-1]).get(name)
    about = field.description or "" if field else ""
    message = f"'{name}' has no value" if complete else f"'{name}' is missing"
    return "value-missing", message, f"give {name}: {about}" if about else f"give {name}"


def _unknown(model: type[BaseModel], local: Path, node: Node, root: Node, path: Path) -> Words:
    name = str(local[-1])
    known = fields_at(model, local[:-1])
    message = f"unknown key '{shorten(name)}'"
    parent = locate(root, path[:-1])[1]
    if _is_null(node) and isinstance(parent, MapNode) and parent.flow:
        advice = "a comma ends a text inside braces; put a text with commas in quotes"
        return "key-unknown", message, _split_number(parent, name) or advice
    if name == "<<":
        return "key-unknown", message, "merge keys are not part of YAML 1.2; write the values out"
    meant = nearest(name, known) or _same_stem(name, known)
    if meant:
        unit = unit_of(meant)
        return "key-unknown", message, f"did you mean '{meant}'" + (f" (in {unit})?" if unit else "?")
    home = sections_of(model).get(name)
    if home:
        return "key-unknown", message, f"this key belongs to {', '.join(home)}"
    return "key-unknown", message, f"known here: {', '.join(known)}"


def _point_advice(count: int) -> str:
    return "write [x, y]" + (
        "; a decimal comma splits a number, write 0.5 for 0,5" if count in (3, 4) else ""
    )


def _split_number(parent: MapNode, name: str) -> str:
    """Advice for a decimal comma inside braces, ``{length_m: 1,5}``; empty for anything else."""
    names = list(parent.entries)
    before = names[names.index(name) - 1] if name.isdigit() and names.index(name) else None
    node = parent.entries[before][1] if before is not None else None
    if isinstance(node, ScalarNode) and re.fullmatch(r"[-+]?\d+", node.text):
        return f"a decimal comma? write {before}: {node.text}.{name}"
    return ""


def _same_stem(name: str, known: dict[str, FieldInfo]) -> str | None:
    """``depth_cm`` means ``depth_m``: the same words with another unit."""
    stem = name.rsplit("_", 1)[0]
    return next((k for k in known if unit_of(k) and k.rsplit("_", 1)[0] in (stem, name)), None)


def _is_null(node: Node) -> bool:
    return isinstance(node, ScalarNode) and node.value is None


def _shown(node: Node, name: str) -> str:
    if isinstance(node, MapNode):
        return "a mapping"
    if isinstance(node, ListNode):
        return f"a list of {len(node.items)}"
    if node.value is None:
        return "an empty value"
    text = shorten(node.text)
    return with_unit(text, name) if isinstance(node.value, float | int) else f"'{text}'"


def _number_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    whole = "a whole number" if row["type"].startswith("int") else "a number"
    unit = unit_of(name)
    message = f"must be {whole}{f' in {unit}' if unit else ''}, not {_shown(node, '')}"
    text = node.text if isinstance(node, ScalarNode) and isinstance(node.value, str) else ""
    advice = number_advice(text, name) if text else (f"write {name}: number" if name else "write a number")
    if isinstance(node, ListNode) and path and isinstance(path[-1], int):
        advice = "one bracket too many, or a list where a point should be"
    return "value-type", message, advice


def _text_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    advice = "put the text in quotes" if isinstance(node, MapNode) else "write one text"
    return "value-type", f"must be a text, not {_shown(node, '')}", advice


def _list_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    advice = "write a list: one '- ' line for each entry, or [ ... ]"
    if name in ("at_m", "points_m", "outline_m", "touch_area_m"):
        advice = "write a list of points: [[x, y], [x, y]]"
        if isinstance(path[-1], int):
            return "value-type", f"must be a point [x, y], not {_shown(node, '')}", advice
    return "value-type", f"must be a list, not {_shown(node, '')}", advice


def _mapping_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    return (
        "value-type",
        f"must be a mapping of keys and values, not {_shown(node, '')}",
        "write key: value lines",
    )


def _truth_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    words = {"yes": "true", "on": "true", "no": "false", "off": "false"}
    text = node.text.lower() if isinstance(node, ScalarNode) else ""
    advice = f"write {words[text]}" if text in words else "write true or false"
    return "value-type", f"must be true or false, not {_shown(node, '')}", advice


def _choice_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    expected = str(row["ctx"]["expected"])
    words = re.findall(r"'([^']+)'", expected) or re.findall(r"\d+", expected)
    if name == "evenground":
        message = f"file format {_shown(node, '')} is not known; this program reads {', '.join(words)}"
        return "file-version", message, "use a program that knows this format, or write evenground: 1"
    text = node.text if isinstance(node, ScalarNode) else ""
    advice = meant_by(text, words, same_digits=True).replace("'", "")
    return "value-choice", f"{_shown(node, name)} is not one of {', '.join(words)}", advice


_BOUNDS = {
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
}


def _bound_broken(row: Any, name: str, node: Node, path: Path) -> Words:
    word, bound = _BOUNDS[row["type"]]
    limit = f"{row['ctx'][bound]:g}"
    value = float(row["input"])
    advice = f"must be {word} {with_unit(limit, name)}"
    if name in ("split_factor", "current_share", "noise") and 1 < value <= 100:
        advice += f"; a percentage? {value:g} % is written {value / 100:g}"
    elif name == "growth_factor" and 0 < value < 1:
        advice += f"; growth of {value:.0%} is written {1 + value:g}"
    return "value-range", f"{_shown(node, name)} is out of range", advice


def _finite_wanted(row: Any, name: str, node: Node, path: Path) -> Words:
    return "value-finite", f"{_shown(node, '')} is not a finite number", number_advice("", name)


def _length_wrong(row: Any, name: str, node: Node, path: Path) -> Words:
    context = row["ctx"]
    count = int(context.get("actual_length") or 0)
    needed = context.get("min_length", context.get("max_length"))
    point = isinstance(path[-1], int) and name in ("at_m", "points_m", "outline_m", "touch_area_m")
    if point or name == "corner_m":
        return "point-size", f"a point needs 2 numbers, has {count}", _point_advice(count)
    if name.startswith("z") and name.endswith("_ohm"):
        return "impedance-size", f"an impedance needs 2 numbers, has {count}", "write [resistance, reactance]"
    if name in ("outline_m", "touch_area_m"):
        return "outline-corners", f"an outline needs at least 3 corners, has {count}", "add corners [x, y]"
    word = "at least" if "min_length" in context else "at most"
    return "value-count", f"has {count} entries; {word} {needed} needed", f"{word} {needed} in '{name}'"


def _empty_text(row: Any, name: str, node: Node, path: Path) -> Words:
    return "value-missing", f"'{name}' is empty", f"write a text for {name}"


def _date_wrong(row: Any, name: str, node: Node, path: Path) -> Words:
    text = node.text if isinstance(node, ScalarNode) else ""
    match = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", text)
    advice = "write year-month-day, as 2026-02-11"
    if match:
        advice = f"write {match[3]}-{int(match[2]):02d}-{int(match[1]):02d}"
    return "value-date", f"'{shorten(text)}' {row['msg']}", advice


def _other(row: Any, name: str, node: Node, path: Path) -> Words:
    return "value", f"{_shown(node, name)}: {row['msg']}", ""


_MAKERS: dict[str, Callable[[Any, str, Node, Path], Words]] = {
    "float_type": _number_wanted,
    "float_parsing": _number_wanted,
    "int_type": _number_wanted,
    "int_parsing": _number_wanted,
    "int_from_float": _number_wanted,
    "string_type": _text_wanted,
    "list_type": _list_wanted,
    "dict_type": _mapping_wanted,
    "model_type": _mapping_wanted,
    "bool_type": _truth_wanted,
    "bool_parsing": _truth_wanted,
    "literal_error": _choice_wanted,
    **dict.fromkeys(_BOUNDS, _bound_broken),
    "finite_number": _finite_wanted,
    "too_short": _length_wrong,
    "too_long": _length_wrong,
    "string_too_short": _empty_text,
    "date_form": _date_wrong,
    "date_real": _date_wrong,
}


def models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The models inside a type, as ``MatFile`` in ``list[MatFile]``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from models_in(part)


@cache
def _child(model: type[BaseModel], name: str) -> tuple[type[BaseModel] | None, bool]:
    """Model of a field's content and whether the field is a mapping with free keys."""
    field = model.model_fields.get(name)
    if field is None:
        return None, False
    return next(models_in(field.annotation), None), getattr(field.annotation, "__origin__", None) is dict


def fields_at(model: type[BaseModel], path: Path) -> dict[str, FieldInfo]:
    """Fields of the section at a path; empty when the path leads to none."""
    current: type[BaseModel] | None = model
    free = False
    for part in path:
        if isinstance(part, int):
            continue
        if free:
            free = False
            continue
        if current is None:
            return {}
        current, free = _child(current, part)
    return dict(current.model_fields) if current is not None and not free else {}


@cache
def sections_of(model: type[BaseModel], prefix: str = "") -> dict[str, tuple[str, ...]]:
    """Key -> the sections that know it, as ``soil.traverses``."""
    found: dict[str, tuple[str, ...]] = {}
    for name, field in model.model_fields.items():
        here = prefix or "the top level"
        found[name] = (*found.get(name, ()), here)
        for child in models_in(field.annotation):
            for key, places in sections_of(child, f"{prefix}.{name}".lstrip(".")).items():
                found[key] = (*found.get(key, ()), *(p for p in places if p not in found.get(key, ())))
    return found
