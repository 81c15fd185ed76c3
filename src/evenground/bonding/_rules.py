"""Rules for the connections of equipment, read from a data file with a source for each row."""

from __future__ import annotations

import csv
import functools
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import resources

__all__ = ["ASPECTS", "SENSES", "ConnectionRule", "connection_rules", "read_rules"]

SENSES = ("min", "max", "has", "stated")
ASPECTS = (
    "connections",
    "neutral_connections",
    "neutral_electrodes",
    "electrodes",
    "lead_m",
    "bond_spacing_m",
    "diameter_m",
    "mast_distance_m",
    "loops",
    "fence_loops",
    "section_mm2",
)
"""What a rule may ask for by number; any other aspect is a measure that has to be drawn (``has``)."""
_HEADER = "key,kinds,practice,aspect,sense,value,unit,weight,text,source,evidence"
_COLUMNS = _HEADER.split(",")
_WEIGHTS = ("required", "advised")
_EVIDENCE = ("found", "from memory")


@dataclass(frozen=True, slots=True)
class ConnectionRule:
    """One rule.

    Attributes
    ----------
    key : str
    kinds : tuple of str
        Kinds of equipment it is for.
    practice : str
        National practice that asks for it; empty: all.
    aspect, sense : str
        What is looked at, and how: at least, at most, drawn, or stated at all.
    value : float or None
        [unit]
    unit, weight, text, source, evidence : str
    """

    key: str
    kinds: tuple[str, ...]
    practice: str
    aspect: str
    sense: str
    value: float | None
    unit: str
    weight: str
    text: str
    source: str
    evidence: str


def read_rules(text: str) -> tuple[ConnectionRule, ...]:
    """Rules from CSV text.

    Raises
    ------
    ValueError
        Naming the line and what is wrong in it.
    """
    reader = csv.reader(text.splitlines(), strict=True)
    if next(reader, []) != _COLUMNS:
        raise ValueError(f"header must be {','.join(_COLUMNS)}")
    rules = [_rule(cells, f"line {reader.line_num}") for cells in reader]
    keys = [r.key for r in rules]
    twice = {k for k in keys if keys.count(k) > 1}
    if twice:
        raise ValueError(f"keys are there twice: {', '.join(sorted(twice))}")
    return tuple(rules)


def _rule(cells: list[str], where: str) -> ConnectionRule:
    if len(cells) != len(_COLUMNS):
        raise ValueError(f"{where}: {len(cells)} fields instead of {len(_COLUMNS)}")
    row = dict(zip(_COLUMNS, cells, strict=True))
    number = row["value"]
    checks: Iterable[tuple[bool, str]] = (
        (row["sense"] in SENSES, "sense"),
        (row["weight"] in _WEIGHTS, "weight"),
        (row["evidence"] in _EVIDENCE, "evidence"),
        ((row["sense"] in ("min", "max")) == bool(number), "value"),
        ((row["sense"] == "has") == (row["aspect"] not in ASPECTS), "aspect"),
        (len(row["source"]) > 5, "source"),
        (bool(row["kinds"] and row["text"]), "kinds or text"),
    )
    wrong = [name for fine, name in checks if not fine]
    if wrong:
        raise ValueError(f"{where}: {row['key']}: wrong {', '.join(wrong)}")
    return ConnectionRule(
        key=row["key"],
        kinds=tuple(kind.replace("_", " ") for kind in row["kinds"].split()),
        practice=row["practice"],
        aspect=row["aspect"],
        sense=row["sense"],
        value=float(number) if number else None,
        unit=row["unit"],
        weight=row["weight"],
        text=row["text"],
        source=row["source"],
        evidence=row["evidence"],
    )


@functools.cache
def connection_rules() -> tuple[ConnectionRule, ...]:
    """All rules that the program knows."""
    file = resources.files("evenground.bonding") / "data" / "connections.csv"
    return read_rules(file.read_text(encoding="utf-8"))
