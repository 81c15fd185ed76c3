"""The editable list of prices, labour and carbon."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from math import isfinite
from pathlib import Path
from typing import Any

from evenground.errors import Finding, InputError

__all__ = [
    "PriceItem",
    "PriceList",
    "parse_prices",
    "placeholder_prices",
    "read_prices",
    "starter_prices_text",
]

LARGEST_FILE_BYTES = 2_000_000


@dataclass(frozen=True, slots=True)
class PriceItem:
    """One item.

    ``price`` and ``carbon_kg_per_unit`` are per ``unit``; ``labour_h`` is per unit of the quantity measured;
    ``waste`` is the share bought above the net quantity. ``carbon_kg_per_unit`` None: no factor given.
    [currency, h, kg CO2e]
    """

    code: str
    unit: str
    price: float
    waste: float = 0.0
    labour_h: float = 0.0
    carbon_kg_per_unit: float | None = None
    carbon_source: str = ""


@dataclass(frozen=True, slots=True)
class PriceList:
    """Prices with their currency, date and standing (``"placeholder"`` or ``"quoted"``)."""

    currency: str
    date: str
    status: str
    source: str
    labour_rate_per_h: float
    items: Mapping[str, PriceItem]

    def rate(self, item: PriceItem, conversion: float) -> float:
        """Cost of one unit of a quantity, material with its waste and labour; ``conversion`` are price units
        per unit. [currency]"""
        return (1 + item.waste) * conversion * item.price + item.labour_h * self.labour_rate_per_h


def starter_prices_text() -> str:
    """The list shipped with the program: placeholders, to be copied and edited."""
    file = resources.files("evenground.schedules") / "data" / "prices-placeholder.yaml"
    return file.read_text(encoding="utf-8")


def placeholder_prices() -> PriceList:
    """The list shipped with the program, read."""
    return parse_prices(starter_prices_text(), "placeholder prices")


def read_prices(file: Path | str) -> PriceList:
    """Read a price file (YAML).

    Raises
    ------
    InputError
        With every slip of the file at once.
    """
    path = Path(file)
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise InputError(f"{path}: larger than 2 MB, which no price list is")
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: is not text in UTF-8") from error
    return parse_prices(text, path.name)


def parse_prices(text: str, name: str = "prices") -> PriceList:
    """Read a price list from text; see :func:`read_prices`."""
    import yaml

    try:
        data = yaml.load(text, _no_aliases(yaml))
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        raise InputError(f"{name}: not readable as YAML: {error}") from error
    if not isinstance(data, dict):
        raise InputError(f"{name}: expected keys currency, date, status, labour_rate_per_h, items")
    slips: list[Finding] = []
    reader = _Reader(name, slips)
    known = {"currency", "date", "status", "source", "labour_rate_per_h", "items"}
    reader.unknown(data, known, ())
    status = reader.word(data, "status", ())
    if status not in {"placeholder", "quoted", ""}:
        reader.slip(("status",), f"“{status}” is neither placeholder nor quoted")
    items = data.get("items")
    if not isinstance(items, dict) or not items:
        reader.slip(("items",), "expected at least one item")
        items = {}
    rate = reader.number(data, "labour_rate_per_h", (), required=True)
    read = {str(code): reader.item(str(code), row) for code, row in items.items()}
    currency = reader.word(data, "currency", ())
    date = reader.word(data, "date", ())
    if slips:
        raise InputError(slips)
    source = str(data.get("source") or "")
    return PriceList(currency, date, status, source, rate or 0.0, read)


def _no_aliases(yaml: Any) -> Any:
    """A safe loader that refuses aliases, which can blow a small file up to any size."""

    class Loader(yaml.SafeLoader):  # type: ignore[misc]
        def compose_node(self, parent: Any, index: Any) -> Any:
            if self.check_event(yaml.AliasEvent):
                raise yaml.YAMLError("aliases are not used in a price list")
            return super().compose_node(parent, index)

    return Loader


class _Reader:
    """Takes values out of the raw mapping and notes every slip."""

    def __init__(self, name: str, slips: list[Finding]) -> None:
        self.name = name
        self.slips = slips

    def slip(self, path: tuple[str | int, ...], message: str) -> None:
        self.slips.append(Finding("price-list", message, path=path, file=self.name))

    def unknown(self, data: dict[Any, Any], known: set[str], path: tuple[str | int, ...]) -> None:
        for key in data:
            if key not in known:
                self.slip((*path, str(key)), f"unknown key; expected one of {', '.join(sorted(known))}")

    def word(self, data: dict[Any, Any], key: str, path: tuple[str | int, ...]) -> str:
        value = data.get(key)
        if isinstance(value, datetime.date):
            return value.isoformat()
        if not isinstance(value, str) or not value.strip():
            self.slip((*path, key), "expected a word")
            return ""
        return value

    def number(
        self, data: dict[Any, Any], key: str, path: tuple[str | int, ...], *, required: bool = False
    ) -> float | None:
        value = data.get(key)
        if value is None and not required:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value) or value < 0:
            self.slip((*path, key), f"expected a number from 0 up (got {value!r})")
            return None
        return float(value)

    def item(self, code: str, row: Any) -> PriceItem:
        path: tuple[str | int, ...] = ("items", code)
        if not isinstance(row, dict):
            self.slip(path, "expected unit, price, ...")
            row = {"unit": "-", "price": 0}
        known = {"unit", "price", "waste", "labour_h", "carbon_kg_per_unit", "carbon_source"}
        self.unknown(row, known, path)
        carbon = self.number(row, "carbon_kg_per_unit", path)
        source = str(row.get("carbon_source") or "")
        if carbon is not None and not source:
            self.slip((*path, "carbon_source"), "a carbon factor needs its source")
        return PriceItem(
            code,
            self.word(row, "unit", path),
            self.number(row, "price", path, required=True) or 0.0,
            self.number(row, "waste", path) or 0.0,
            self.number(row, "labour_h", path) or 0.0,
            carbon,
            source,
        )
