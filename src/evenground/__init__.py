"""Evenground: design of earthing systems for AC substations, plants and industrial sites.

A design aid: every result must be checked by a licensed engineer against the local code.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground._version import __version__

if TYPE_CHECKING:
    from evenground.project import load_project as load_project
    from evenground.study import run_study as run_study

__all__ = ["__version__", "load_project", "run_study"]


def __getattr__(name: str) -> Any:
    """Load the heavy parts only when they are asked for."""
    if name == "load_project":
        from evenground.project import load_project

        return load_project
    if name == "run_study":
        from evenground.study import run_study

        return run_study
    raise AttributeError(f"module 'evenground' has no attribute {name!r}")
