"""Refusals shared by the shapes."""

from __future__ import annotations

from math import isfinite

__all__ = ["above_zero"]


def above_zero(**values: float) -> None:
    """Refuse anything that is not a finite number above zero."""
    for name, value in values.items():
        if not (isfinite(value) and value > 0):
            raise ValueError(f"{name}: {value} is not a finite number above 0")
