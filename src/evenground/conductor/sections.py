"""Cross-sections: what metal they hold, and what corrosion leaves of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenground.standards.stock import StockSize

__all__ = [
    "STRAND_FILL",
    "STRIP_ASPECT",
    "Section",
    "equivalent_radius_mm",
    "new_area_for_round",
    "new_area_for_strip",
]

STRAND_FILL = 0.75
"""Metal over circumscribed circle of a strand; 0.76 to 0.78 for 7 to 61 wires. Common practice."""
STRIP_ASPECT = 8.0
"""Width over thickness taken for a strip whose dimensions are not stated."""


@dataclass(frozen=True, slots=True)
class Section:
    """A round, strand or strip. ``area_mm2`` is of metal, new. [mm, mm2]"""

    shape: str
    area_mm2: float
    diameter_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None

    @classmethod
    def round(cls, diameter_mm: float, area_mm2: float | None = None) -> Section:
        """A full round, or one whose metal area is stated."""
        full = math.pi / 4.0 * diameter_mm**2
        return cls("round", full if area_mm2 is None else area_mm2, diameter_mm=diameter_mm)

    @classmethod
    def strand(cls, diameter_mm: float | None, area_mm2: float | None) -> Section:
        """A strand from its outer diameter, its metal area, or both; the usual fill gives the other."""
        if area_mm2 is None:
            if diameter_mm is None:
                raise ValueError("a strand needs a diameter or an area")
            area_mm2 = STRAND_FILL * math.pi / 4.0 * diameter_mm**2
        if diameter_mm is None:
            diameter_mm = math.sqrt(4.0 * area_mm2 / (math.pi * STRAND_FILL))
        return cls("strand", area_mm2, diameter_mm=diameter_mm)

    @classmethod
    def strip(cls, width_mm: float, thickness_mm: float, area_mm2: float | None = None) -> Section:
        """A rectangle; ``width_mm`` is its longer side."""
        width, thickness = max(width_mm, thickness_mm), min(width_mm, thickness_mm)
        area = width * thickness if area_mm2 is None else area_mm2
        return cls("strip", area, width_mm=width, thickness_mm=thickness)

    @classmethod
    def of_stock(cls, size: StockSize) -> Section:
        """A stock size."""
        return cls(size.shape, size.area_mm2, size.diameter_mm, size.width_mm, size.thickness_mm)

    def remaining_area_mm2(self, loss_mm: float) -> float:
        """Metal left when every surface has lost ``loss_mm``; 0 when nothing is left. [mm2]

        For strands the ring lost from the circumscribed circle counts as full metal, which is on the safe
        side of a loss on the outside; wires that corrode inside as well lose more.
        """
        if self.diameter_mm is not None:
            if 2.0 * loss_mm >= self.diameter_mm:
                return 0.0
            lost = math.pi * loss_mm * (self.diameter_mm - loss_mm)
        else:
            assert self.width_mm is not None
            assert self.thickness_mm is not None
            if 2.0 * loss_mm >= self.thickness_mm:
                return 0.0
            lost = 2.0 * loss_mm * (self.width_mm + self.thickness_mm) - 4.0 * loss_mm**2
        return max(0.0, self.area_mm2 - lost)


def equivalent_radius_mm(section: Section) -> float:
    """Radius of the round wire that leaks alike: half the diameter, or a quarter of a strip's width. [mm]

    A thin strip of width w in a field has the radius w/4 (Dwight; common practice).
    """
    if section.diameter_mm is not None:
        return section.diameter_mm / 2.0
    assert section.width_mm is not None
    return section.width_mm / 4.0


def new_area_for_round(left_mm2: float, loss_mm: float, fill: float = 1.0) -> float:
    """Metal area of a new round (or strand, by its fill) that keeps ``left_mm2`` after the loss. [mm2]

    Solves fill pi/4 D^2 - pi c D + pi c^2 = left for D.
    """
    c = loss_mm
    diameter = 2.0 / fill * (c + math.sqrt(c**2 - fill * (c**2 - left_mm2 / math.pi)))
    return fill * math.pi / 4.0 * diameter**2


def new_area_for_strip(left_mm2: float, loss_mm: float, thickness_mm: float | None) -> float:
    """Area of a new strip that keeps ``left_mm2`` after the loss on both faces and edges. [mm2]

    With a stated thickness the width is found, else both at the usual ratio of width to thickness.
    A thickness that corrodes away altogether is treated as not stated.
    """
    c = loss_mm
    if thickness_mm is not None and thickness_mm > 2.0 * c:
        return (left_mm2 / (thickness_mm - 2.0 * c) + 2.0 * c) * thickness_mm
    r = STRIP_ASPECT
    p = 2.0 * c * (r + 1.0)
    thickness = (p + math.sqrt(p**2 - 4.0 * r * (4.0 * c**2 - left_mm2))) / (2.0 * r)
    return r * thickness**2
