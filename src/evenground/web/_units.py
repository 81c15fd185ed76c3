"""Numbers with a unit as people type them: ``12 ft``, ``3' 6"``, ``4/0 AWG``, ``250 kcmil``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from evenground.errors import InputError
from evenground.standards.stock import STOCK

__all__ = ["Typed", "parse_quantity"]

INCH_MM = 25.4
"""Exact since 1959."""
_LENGTHS_M = {
    "m": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "km": 1000.0,
    "ft": 0.3048,
    "foot": 0.3048,
    "feet": 0.3048,
    "'": 0.3048,
    "in": 0.0254,
    "inch": 0.0254,
    "inches": 0.0254,
    '"': 0.0254,
    "yd": 0.9144,
    "mil": 2.54e-5,
    "mile": 1609.344,
    "miles": 1609.344,
}
_AREAS_MM2 = {"mm2": 1.0, "cm2": 100.0, "in2": INCH_MM**2, "sq in": INCH_MM**2}
_PLAIN: dict[str, dict[str, float]] = {
    "A": {"A": 1.0, "kA": 1e3, "mA": 1e-3},
    "V": {"V": 1.0, "kV": 1e3, "mV": 1e-3},
    "ohm": {"ohm": 1.0, "mohm": 1e-3, "kohm": 1e3},
    "ohm m": {"ohm m": 1.0, "ohm cm": 0.01, "ohm ft": 0.3048, "kohm cm": 10.0},
    "ohm/km": {"ohm/km": 1.0, "ohm/m": 1e3, "ohm/mile": 1 / 1.609344, "ohm/kft": 1 / 0.3048},
    "s": {"s": 1.0, "ms": 1e-3, "min": 60.0},
    "kg": {"kg": 1.0, "lb": 0.45359237},
    "mm/year": {"mm/year": 1.0, "mil/year": 0.0254, "um/year": 1e-3},
    "Hz": {"Hz": 1.0},
}
_BASE = {"kA": ("A", 1e3), "kV": ("V", 1e3), "mA": ("A", 1e-3)}
_FIELD = {
    "Ω": "ohm",
    "Ω·m": "ohm m",
    "ohm_m": "ohm m",
    "mm²": "mm2",
    "Ω/km": "ohm/km",
    "°C": "degC",
}
_VALUE = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_FEET_AND_INCHES = re.compile(
    r"(\d+)\s*(?:ft|feet|foot|')\s*([\d ./]+?)\s*(?:in|inch|inches|\"|'')", re.IGNORECASE
)
_GAUGE = re.compile(r"(?:AWG\s*(\d/0|\d{1,2})|(?:#\s*)?(\d/0|\d{1,2})\s*AWG)", re.IGNORECASE)
_MILS = re.compile(rf"({_VALUE})\s*(kcmil|MCM|cmil)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Typed:
    """A number in the unit of its field, and what was typed when that was another unit."""

    value: float | int
    written: str = ""


def _plain(text: str) -> float | None:
    fraction = re.fullmatch(r"(?:(\d+)\s+)?(\d+)/([1-9]\d*)", text)
    if fraction:
        return int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    tidy = text.replace(" ", "")
    return float(tidy) if re.fullmatch(_VALUE, tidy) else None


def parse_quantity(text: str, unit: str, *, stranded: bool = False) -> Typed:
    """A number with a unit, in the unit of the field.

    Parameters
    ----------
    text : str
        As typed; it holds a unit.
    unit : str
        Of the field, as the form shows it: ``"m"``, ``"mm"``, ``"mm²"``, ``"kA"``, ...
    stranded : bool
        A gauge typed into a diameter is that of a concentric strand, not of a solid wire.

    Raises
    ------
    InputError
        In words, when unit and field do not go together.
    """
    tidy = " ".join(text.strip().replace("−", "-").replace("′", "'").replace("″", '"').split())
    field = _FIELD.get(unit, unit)
    value = _gauge(tidy, field, stranded)
    if value is None:
        value = _length_or_area(tidy, field)
    if value is None:
        value = _other(tidy, field)
    if value is None:
        wanted = f"a number in {unit}" if unit else "a number without a unit"
        raise InputError(f"“{text.strip()}” is not a number, or its unit does not fit: {wanted} is wanted")
    rounded = float(f"{value:.12g}")
    number: float | int = int(rounded) if rounded == int(rounded) and abs(rounded) < 1e15 else rounded
    return Typed(number, tidy)


def _gauge(text: str, field: str, stranded: bool) -> float | None:
    """Area [mm2] or diameter [mm, m] of an American wire gauge or of circular mils.

    The gauge is a geometric series: 0000 is 0.46 in, 36 is 0.005 in (ASTM B258). A circular mil is the
    area of a circle of one thousandth of an inch.
    """
    gauge, mils = _GAUGE.fullmatch(text), _MILS.fullmatch(text)
    if gauge:
        size = gauge[1] or gauge[2]
        number = 1 - int(size[0]) if "/" in size else int(size)
        if not -3 <= number <= 40:
            raise InputError(f"“{text}”: wire gauges go from 4/0 to 40; larger sizes are in kcmil")
        solid_mm = 0.127 * 92 ** ((36 - number) / 39)
        name = f"{size} AWG"
    elif mils:
        thousands = float(mils[1]) / (1000 if mils[2].lower() == "cmil" else 1)
        if thousands <= 0:
            raise InputError(f"“{text}”: a section is above 0")
        solid_mm, name = math.sqrt(1000 * thousands) * INCH_MM / 1000, f"{thousands:g} kcmil"
    else:
        return None
    if field == "mm2":
        return float(f"{math.pi / 4 * solid_mm**2:.5g}")
    if field not in ("mm", "m"):
        raise InputError(f"“{text}” is a size of wire; it goes into a section in mm² or a diameter in mm")
    if stranded:
        rows = [s.diameter_mm for s in STOCK if s.name == name and s.shape == "strand"]
        if not rows or rows[0] is None:
            raise InputError(
                f"“{text}”: the outer diameter of this strand is not in the table; give it in mm"
            )
        solid_mm = rows[0]
    return float(f"{solid_mm / (1000 if field == 'm' else 1):.5g}")


def _length_or_area(text: str, field: str) -> float | None:
    both = _FEET_AND_INCHES.fullmatch(text)
    if field in ("m", "mm", "km", "cm"):
        if both:
            inches = _plain(both[2])
            if inches is None:
                return None
            metres = int(both[1]) * 0.3048 + inches * 0.0254
        else:
            found = _split(text, _LENGTHS_M)
            if found is None:
                return None
            metres = found
        return metres / _LENGTHS_M[field]
    return _split(text, _AREAS_MM2) if field == "mm2" else None


def _other(text: str, field: str) -> float | None:
    if field == "degC":
        degrees = re.fullmatch(rf"({_VALUE})\s*(?:°\s*|deg)?([CF])", text, re.IGNORECASE)
        if degrees is None:
            return None
        value = float(degrees[1])
        return (value - 32) / 1.8 if degrees[2].upper() == "F" else value
    base, factor = _BASE.get(field, (field, 1.0))
    found = _split(text, _PLAIN.get(base, {}))
    return None if found is None else found / factor


def _split(text: str, units: dict[str, float]) -> float | None:
    """Number times the factor of its unit; capitals count, as m and M differ."""
    tidy = text.replace("Ω", "ohm").replace("µ", "u").replace("²", "2").replace("·", " ").replace("^2", "2")
    for name in sorted(units, key=len, reverse=True):
        if tidy.endswith(name):
            value = _plain(tidy.removesuffix(name).strip())
            return None if value is None else value * units[name]
    return None
