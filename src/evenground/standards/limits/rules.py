"""Rules of practice by country and limits on lasting or transferred voltage: read from data files."""

from __future__ import annotations

import csv
import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, fields
from importlib import resources
from typing import TypeVar

from evenground.errors import OutOfRangeError
from evenground.standards._checks import need

__all__ = ["CountryRule", "VoltageLimit", "country_rules", "read_table", "voltage_limits"]

_EVIDENCE = ("found", "from memory")
_SENSES = ("min", "max", "about", "is", "")
Row = TypeVar("Row", bound="CountryRule | VoltageLimit")


@dataclass(frozen=True, slots=True)
class CountryRule:
    """One rule of practice.

    Attributes
    ----------
    country, topic, key : str
        Where, on what (``"fence"``, ``"depth"``, ...), and a stable name.
    sense : str
        ``"min"``, ``"max"``, ``"about"``, ``"is"``, or empty for a rule without a number.
    value, upper : float or None
        The number, and the other end of a range. [unit]
    unit, text, source, evidence : str
    """

    country: str
    topic: str
    key: str
    sense: str
    value: float | None
    upper: float | None
    unit: str
    text: str
    source: str
    evidence: str

    def __post_init__(self) -> None:
        need(bool(self.country and self.topic and self.key and self.text), f"rule {self.key!r} lacks a word")
        _common(self.key, self.source, self.evidence)
        need(self.sense in _SENSES, f"rule {self.key!r}: unknown sense {self.sense!r}")
        need((self.value is None) == (self.sense == ""), f"rule {self.key!r}: sense and value go together")
        need(self.value is None or bool(self.unit), f"rule {self.key!r} has no unit")
        if self.upper is not None:
            need(self.value is not None and self.upper > self.value, f"rule {self.key!r}: range upside down")


@dataclass(frozen=True, slots=True)
class VoltageLimit:
    """A voltage that may last or may be carried off the site.

    ``longest_s`` is the longest fault for which it counts (infinite: for ever). [V, s]
    """

    key: str
    voltage_v: float
    longest_s: float
    applies_to: str
    text: str
    source: str
    evidence: str

    def __post_init__(self) -> None:
        need(bool(self.key and self.applies_to and self.text), f"limit {self.key!r} lacks a word")
        _common(self.key, self.source, self.evidence)
        need(0.0 < self.voltage_v < 1e6, f"limit {self.key!r}: voltage {self.voltage_v!r}")
        need(self.longest_s > 0.0, f"limit {self.key!r}: duration {self.longest_s!r}")


def _common(key: str, source: str, evidence: str) -> None:
    need(len(source) > 5, f"{key!r} names no source")
    need(evidence in _EVIDENCE, f"{key!r}: evidence must be one of {_EVIDENCE}, got {evidence!r}")


def _number(text: str, where: str) -> float:
    try:
        value = float(text)
    except ValueError as error:
        raise OutOfRangeError(f"{where}: {text!r} is not a number") from error
    need(not math.isnan(value), f"{where}: {text!r} is not a number")
    return value


def read_table(
    text: str, make: Callable[..., Row], columns: tuple[str, ...], numbers: tuple[str, ...]
) -> tuple[Row, ...]:
    """Rows of a CSV text with exactly these columns; empty numbers become None. Keys must be unique.

    Raises
    ------
    OutOfRangeError
        Naming line and field, for a wrong header, a wrong number of fields, a bad value or a repeated key.
    """
    reader = csv.reader(text.splitlines(), strict=True)
    header = tuple(next(reader, ()))
    need(header == columns, f"header must be {','.join(columns)}, got {','.join(header)}")
    rows: dict[str, Row] = {}
    for cells in reader:
        where = f"line {reader.line_num}"
        need(len(cells) == len(columns), f"{where}: {len(cells)} fields instead of {len(columns)}")
        values: dict[str, str | float | None] = dict(zip(columns, (c.strip() for c in cells), strict=True))
        for name in numbers:
            cell = str(values[name])
            values[name] = _number(cell, f"{where}, {name}") if cell else None
        key = str(values["key"])
        need(key not in rows, f"{where}: key {key!r} is there twice")
        rows[key] = make(**values)
    return tuple(rows.values())


def _data(name: str) -> str:
    return (resources.files("evenground.standards") / "data" / name).read_text(encoding="utf-8")


@functools.cache
def _all_rules() -> tuple[CountryRule, ...]:
    columns = tuple(f.name for f in fields(CountryRule))
    return read_table(_data("country_rules.csv"), CountryRule, columns, ("value", "upper"))


def country_rules(country: str | None = None, topic: str | None = None) -> tuple[CountryRule, ...]:
    """Rules of practice, all or of one country and topic.

    Raises
    ------
    OutOfRangeError
        For a country or topic that the table does not know.
    """
    rules = _all_rules()
    for name, wanted in (("country", country), ("topic", topic)):
        known = sorted({getattr(rule, name) for rule in rules})
        need(wanted is None or wanted in known, f"unknown {name} {wanted!r}; there are {', '.join(known)}")
    return tuple(r for r in rules if country in (None, r.country) and topic in (None, r.topic))


@functools.cache
def voltage_limits() -> tuple[VoltageLimit, ...]:
    """Limits on lasting, low-voltage and telecommunication voltages. [V]"""
    columns = tuple(f.name for f in fields(VoltageLimit))
    return read_table(_data("voltage_limits.csv"), VoltageLimit, columns, ("voltage_v", "longest_s"))
