"""Starter files: small, realistic, commented."""

from __future__ import annotations

from importlib import resources

from evenground.errors import InputError
from evenground.project._words import nearest

__all__ = ["STARTERS", "starter_text"]

STARTERS = ("substation", "plant")


def starter_text(kind: str = "substation") -> str:
    """Text of a starter project file.

    Parameters
    ----------
    kind : str
        ``"substation"`` (a 110/20 kV yard with an outline, rods by rule and crushed rock) or
        ``"plant"`` (a 20/0.4 kV transformer station of a factory, rectangle and stated soil).

    Raises
    ------
    InputError
        When there is no starter of that kind.
    """
    if kind not in STARTERS:
        meant = nearest(kind, STARTERS)
        hint = f"; did you mean {meant}?" if meant else ""
        raise InputError(f"there is no starter '{kind}': must be {' or '.join(STARTERS)}{hint}")
    return (resources.files("evenground.project") / "starters" / f"{kind}.yaml").read_text(encoding="utf-8")
