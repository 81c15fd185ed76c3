"""Numbers and units as an engineer writes them."""

from __future__ import annotations

from math import floor, isfinite, isnan, log10
from typing import Any

__all__ = [
    "UNDECIDED",
    "format_number",
    "format_percent",
    "format_place",
    "format_quantity",
    "format_stated",
    "format_value",
    "unit_text",
]

UNDECIDED = "not decided"

_UNITS = {
    "ohm": "Ω",
    "mohm": "mΩ",
    "ohm m": "Ω·m",
    "ohm_m": "Ω·m",
    "m2": "m²",
    "m3": "m³",
    "mm2": "mm²",
    "degC": "°C",
    "1/m": "1/m",
    "A/m2": "A/m²",
    "ohm/mile": "Ω/mile",
    "A sqrt(s)": "A·√s",
    "A sqrt(s)/mm2": "A·√s/mm²",
    "kcmil/(kA sqrt(s))": "kcmil/(kA·√s)",
    "ohm mm": "Ω·mm",
    "uohm cm": "µΩ·cm",
    "-": "",
}

_LARGE = {"V": (10_000.0, 1e3, "kV"), "A": (1_000.0, 1e3, "kA"), "ohm": (10_000.0, 1e3, "kΩ")}
"""unit -> from which value on, divisor, larger unit. Volts stay volts up to 10 kV, so that a touch
voltage and its limit share a unit."""


LEAST_RATE = 1e-12
"""Smaller rates per year are printed as below this: nothing that is known carries them."""


def unit_text(unit: str) -> str:
    """A unit as printed: ``"ohm m"`` -> ``"Ω·m"``."""
    return _UNITS.get(unit, unit)


def format_number(value: float | int | None, digits: int = 4) -> str:
    """A number with ``digits`` significant digits, no exponent between 0.001 and 1e6."""
    if value is None or isnan(value):
        return UNDECIDED
    if not isfinite(value):
        return "∞" if value > 0 else "−∞"
    if value == 0:
        return "0"
    size = floor(log10(abs(value)))
    if -4 <= size < 6:
        places = max(0, digits - 1 - size)
        text = f"{value:.{places}f}"
        if isinstance(value, int):
            text = str(value)
    else:
        mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
        text = f"{mantissa}·10{_superscript(int(exponent))}"
    return text.replace("-", "−")


def _superscript(number: int) -> str:
    return str(number).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def format_quantity(value: float | None, unit: str, digits: int = 4) -> str:
    """A number with its unit, in kV and kA when large; ``"not decided"`` when there is none."""
    if value is None or isnan(value):
        return UNDECIDED
    if unit == "1/year" and 0.0 <= value < LEAST_RATE:
        return f"below 10⁻¹² {unit}"
    if unit in _LARGE and isfinite(value):
        threshold, divisor, name = _LARGE[unit]
        if abs(value) >= threshold:
            return f"{format_number(value / divisor, digits)} {name}"
    return f"{format_number(value, digits)} {unit_text(unit)}".strip()


def format_stated(value: float | None, unit: str) -> str:
    """A stated number with its unit and no more digits than it was given with: ``"0.5 s"``."""
    if value is None or isnan(value):
        return UNDECIDED
    if unit in _LARGE and isfinite(value) and abs(value) >= _LARGE[unit][0]:
        _, divisor, name = _LARGE[unit]
        return f"{format_value(value / divisor, 6)} {name}"
    return f"{format_value(value, 6)} {unit_text(unit)}".strip()


def format_percent(fraction: float | None, *, sign: bool = False) -> str:
    """A fraction in per cent with three digits at most: ``0.1234`` -> ``"12.3 %"``."""
    if fraction is None or isnan(fraction):
        return UNDECIDED
    value = 100 * fraction
    places = 0 if abs(value) >= 99.95 else 1
    text = f"{value:+.{places}f}" if sign else f"{value:.{places}f}"
    return f"{text.replace('-', '−')} %"


def format_place(place: Any) -> str:
    """Coordinates of a place in words; empty without a place. [m]"""
    if place is None:
        return ""
    return f"x = {_metres(place.x_m)} m, y = {_metres(place.y_m)} m"


def _metres(value: float) -> str:
    return f"{value + 0.0:.2f}".replace("-", "−")


def format_value(value: Any, digits: int = 5) -> str:
    """Any input or result of a formula: number, complex number, yes or no, word."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, complex):
        sign = "−" if value.imag < 0 else "+"
        real, imaginary = format_number(value.real, digits), format_number(abs(value.imag), digits)
        return f"{_trim(real)} {sign} j{_trim(imaginary)}"
    if isinstance(value, int | float):
        return _trim(format_number(value, digits))
    return UNDECIDED if value is None else str(value)


def _trim(text: str) -> str:
    """Drop zeros at the end of the decimals: ``"0.50000"`` -> ``"0.5"``, ``"4.60·10⁷"`` -> ``"4.6·10⁷"``."""
    mantissa, times, power = text.partition("·")
    if "." in mantissa:
        mantissa = mantissa.rstrip("0").rstrip(".")
    return mantissa + times + power
