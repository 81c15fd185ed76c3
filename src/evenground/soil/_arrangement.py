"""Where the four probes of a reading stand, whatever the array."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import isfinite

from evenground.model.soil import ArrayKind, SoilReading
from evenground.soil._arrays import (
    driven_rod_factor,
    driven_rod_resistivity,
    four_probe_factor,
    four_probe_resistivity,
    schlumberger_factor,
    schlumberger_resistivity,
    wenner_factor,
    wenner_resistivity,
)

__all__ = ["Arrangement", "arrangement_of", "lengths_needed", "order_fault"]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """One array with its lengths: (a,), (AB/2, MN/2), the abscissae (C1, P1, P2, C2), or length and
    diameter of a driven rod. [m]"""

    array: ArrayKind
    lengths_m: tuple[float, ...]

    @property
    def position_m(self) -> float:
        """Abscissa of the sounding curve: a, AB/2, or a third of the overall length. [m]"""
        if self.array is ArrayKind.FOUR_PROBE:
            return (max(self.lengths_m) - min(self.lengths_m)) / 3.0
        return self.lengths_m[0]

    @property
    def half_potential_m(self) -> float | None:
        """MN/2 of the Schlumberger array. [m]"""
        return self.lengths_m[1] if self.array is ArrayKind.SCHLUMBERGER else None

    @property
    def positions_m(self) -> tuple[float, float, float, float] | None:
        """Abscissae C1, P1, P2, C2 of a general arrangement. [m]"""
        if self.array is not ArrayKind.FOUR_PROBE:
            return None
        c1, p1, p2, c2 = self.lengths_m
        return c1, p1, p2, c2

    @property
    def shortest_m(self) -> float:
        """Shortest distance between two probes; a rod has none and gives its length. [m]"""
        if self.array is ArrayKind.DRIVEN_ROD:
            return self.lengths_m[0]
        if self.array is ArrayKind.WENNER:
            return self.lengths_m[0]
        if self.array is ArrayKind.SCHLUMBERGER:
            outer, inner = self.lengths_m
            return min(outer - inner, 2.0 * inner)
        return min(abs(a - b) for a, b in combinations(self.lengths_m, 2))

    @property
    def words(self) -> str:
        """For people: ``"a = 3 m"``."""
        if self.array is ArrayKind.WENNER:
            return f"a = {self.lengths_m[0]:g} m"
        if self.array is ArrayKind.SCHLUMBERGER:
            return f"AB/2 = {self.lengths_m[0]:g} m, MN/2 = {self.lengths_m[1]:g} m"
        if self.array is ArrayKind.DRIVEN_ROD:
            return f"rod {self.lengths_m[0]:g} m deep"
        return "probes at " + ", ".join(f"{x:g}" for x in self.lengths_m) + " m"

    def factor(self, point_depth_m: float) -> float:
        """Geometric factor, not noted on the sheet of equations. [m]"""
        if self.array is ArrayKind.WENNER:
            return wenner_factor(self.lengths_m[0], point_depth_m)
        if self.array is ArrayKind.SCHLUMBERGER:
            outer, inner = self.lengths_m
            return schlumberger_factor(outer, inner, point_depth_m)
        if self.array is ArrayKind.DRIVEN_ROD:
            return driven_rod_factor(*self.lengths_m)
        c1, p1, p2, c2 = self.lengths_m
        return abs(four_probe_factor((c1, p1, p2, c2), point_depth_m))

    def resistivity(self, resistance_ohm: float, point_depth_m: float) -> float:
        """Apparent resistivity, noted on the sheet of equations. [ohm m]"""
        if self.array is ArrayKind.WENNER:
            return wenner_resistivity(resistance_ohm, self.lengths_m[0], point_depth_m)
        if self.array is ArrayKind.SCHLUMBERGER:
            outer, inner = self.lengths_m
            return schlumberger_resistivity(resistance_ohm, outer, inner, point_depth_m)
        if self.array is ArrayKind.DRIVEN_ROD:
            return driven_rod_resistivity(resistance_ohm, *self.lengths_m)
        c1, p1, p2, c2 = self.lengths_m
        return four_probe_resistivity(resistance_ohm, c1, p1, p2, c2, point_depth_m)


def lengths_needed(array: ArrayKind) -> tuple[str, ...]:
    """Fields of a reading that place its probes."""
    return {
        ArrayKind.WENNER: ("spacing_m",),
        ArrayKind.SCHLUMBERGER: ("half_current_m", "half_potential_m"),
        ArrayKind.FOUR_PROBE: ("positions_m",),
        ArrayKind.DRIVEN_ROD: ("rod_length_m", "rod_diameter_m"),
    }[array]


def arrangement_of(reading: SoilReading, array: ArrayKind) -> Arrangement:
    """The arrangement of a reading whose fields have been checked to be there."""
    values: list[float] = []
    for name in lengths_needed(array):
        value = getattr(reading, name)
        values += value if isinstance(value, tuple) else [value]
    return Arrangement(array, tuple(float(v) for v in values))


def order_fault(arrangement: Arrangement) -> tuple[str, str] | None:
    """What is wrong with the order of the probes, and what would be right; None when nothing is."""
    lengths = arrangement.lengths_m
    if arrangement.array is ArrayKind.SCHLUMBERGER and lengths[1] >= lengths[0]:
        return "MN/2 is not below AB/2", "MN/2 must be smaller; are the two exchanged?"
    if arrangement.array is ArrayKind.DRIVEN_ROD and lengths[1] >= lengths[0] / 4:
        return "a rod thicker than a quarter of its length", "give rod_length_m in m and the diameter in mm"
    if arrangement.array is not ArrayKind.FOUR_PROBE:
        return None
    if len(lengths) != 4 or not all(isfinite(x) for x in lengths):
        return "the positions are not four finite numbers", "give C1, P1, P2, C2 along the line"
    try:
        arrangement.factor(0.0)
    except ValueError as error:
        return str(error).removeprefix("positions_m: "), "give C1, P1, P2, C2 along the line, all apart"
    return None
