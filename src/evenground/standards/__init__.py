"""Formulas and tables of the standards: pure functions and data, one file per standard.

Every formula carries an :func:`~evenground.provenance.equation` declaration. A formula refuses
inputs for which it has no value (:class:`~evenground.errors.OutOfRangeError`); its stated range of
validity is listed in the declaration and checked by whoever draws conclusions from it.
"""

from __future__ import annotations

import importlib
import pkgutil

__all__ = ["load_all"]


def load_all() -> tuple[str, ...]:
    """Import every module of this package, so that all equations are registered; returns the names."""
    names = tuple(sorted(f"{__name__}.{m.name}" for m in pkgutil.iter_modules(__path__) if m.name[0] != "_"))
    for name in names:
        importlib.import_module(name)
    return names
