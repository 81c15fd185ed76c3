"""Refusals shared by the formulas."""

from __future__ import annotations

import math

from evenground.errors import OutOfRangeError

__all__ = ["need", "need_positive"]


def need_positive(**values: float) -> None:
    """Refuse anything that is not a finite number above zero.

    Raises
    ------
    OutOfRangeError
        Naming the parameter and its value.
    """
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise OutOfRangeError(f"{name} must be a finite number above zero, got {value!r}")


def need(condition: bool, message: str) -> None:
    """Refuse with ``message`` unless the condition holds.

    Raises
    ------
    OutOfRangeError
    """
    if not condition:
        raise OutOfRangeError(message)
