"""What the layers of somebody else's drawing mean: a table that the user edits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from math import isfinite
from typing import Any

from evenground.errors import Finding, InputError

__all__ = ["LayerMap", "LayerRule", "Role", "layer_map"]


class Role(StrEnum):
    """What the things on a layer are taken for."""

    CONDUCTOR = "conductor"
    ROD = "rod"
    FENCE = "fence"
    GATE = "gate"
    EQUIPMENT = "equipment"
    ZONE = "zone"
    OUTLINE = "outline"
    IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class LayerRule:
    """One row of the table.

    Attributes
    ----------
    pattern : str
        Layer name; ``*`` and ``?`` stand for any text and any character; capitals do not count.
    role : Role
    conductor : str
        Conductor key of lines on the layer.
    depth_m : float or None
        Depth of conductors, or of the tops of rods; None: taken from z (depth is -z). [m]
    rod_length_m, rod_diameter_mm : float or None
        Of rods that carry no attribute saying so. [m, mm]
    connections : int
        To the mat, of equipment whose block has no attribute TERMINALS.
    """

    pattern: str
    role: Role
    conductor: str = "mat"
    depth_m: float | None = None
    rod_length_m: float | None = None
    rod_diameter_mm: float | None = None
    connections: int = 2

    def __post_init__(self) -> None:
        if not self.pattern:
            raise ValueError("layer rule: pattern is empty")
        if self.depth_m is not None and not (isfinite(self.depth_m) and self.depth_m >= 0):
            raise ValueError(f"layer rule {self.pattern}: depth_m {self.depth_m} must be 0 or more")
        for name in ("rod_length_m", "rod_diameter_mm"):
            value = getattr(self, name)
            if value is not None and not (isfinite(value) and value > 0):
                raise ValueError(f"layer rule {self.pattern}: {name} {value} must be above 0")


@dataclass(frozen=True, slots=True)
class LayerMap:
    """Rules in order; the first whose pattern fits a layer counts, a layer without one is left."""

    rules: tuple[LayerRule, ...]

    def rule_for(self, layer: str) -> LayerRule | None:
        """The rule of a layer; None when no pattern fits."""
        name = layer.casefold()
        return next((r for r in self.rules if fnmatchcase(name, r.pattern.casefold())), None)


_FIELDS = {"pattern", "role", "conductor", "depth_m", "rod_length_m", "rod_diameter_mm"}


def layer_map(rows: Iterable[Mapping[str, Any]]) -> LayerMap:
    """Layer table from plain rows, as they come from a YAML or CSV file.

    Raises
    ------
    InputError
        With every slip at once.
    """
    rules: list[LayerRule] = []
    slips: list[Finding] = []
    for n, row in enumerate(rows):
        path = ("layers", n)
        unknown = sorted(str(k) for k in row if k not in _FIELDS)
        if unknown:
            slips.append(Finding("layer-rule", f"unknown {', '.join(unknown)}", path=path))
            continue
        try:
            values = {k: v for k, v in row.items() if v not in (None, "")}
            for key in _FIELDS - {"pattern", "role", "conductor"}:
                if key in values:
                    values[key] = float(values[key])
            role = Role(str(values.pop("role", "")))
            rules.append(LayerRule(role=role, **values))
        except (TypeError, ValueError) as error:
            roles = ", ".join(r.value for r in Role)
            slips.append(Finding("layer-rule", str(error), f"roles: {roles}", path=path))
    if not rules and not slips:
        slips.append(Finding("layer-rule", "the layer table is empty", "map at least one layer"))
    if slips:
        raise InputError(slips)
    return LayerMap(tuple(rules))
