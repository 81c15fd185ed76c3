"""Sizes a supplier keeps: strands, round bars, strips. Common practice; actual metal areas.

Strand diameters and areas follow from wire count and wire diameter (circumscribed circle of the usual
lays of 7, 19, 37 and 61 wires). Metric strands: DIN 48201 for bare copper, IEC 60228 for the nominal
areas. American strands: areas by the wire gauge rule, diameters of class B strands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["STOCK", "StockSize", "stock_sizes"]


@dataclass(frozen=True, slots=True)
class StockSize:
    """One size.

    Attributes
    ----------
    name : str
    shape : str
        ``"strand"``, ``"round"``, ``"strip"``.
    metals : tuple of str
        Metals of the material table it is made of.
    series : str
        ``"metric"`` or ``"awg"``.
    nominal_area_mm2, area_mm2 : float
        As named in the trade, and of metal. [mm2]
    diameter_mm : float or None
        Outer diameter of rounds and strands. [mm]
    width_mm, thickness_mm : float or None
        Of strips. [mm]
    source : str
    """

    name: str
    shape: str
    metals: tuple[str, ...]
    series: str
    nominal_area_mm2: float
    area_mm2: float
    diameter_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    source: str = "common practice"


_SOFT = ("copper", "aluminium")
_STEELS = ("steel", "zinc-coated steel", "stainless steel")
_LAYERS = {7: 3, 19: 5, 37: 7, 61: 9}
# nominal area [mm2], wires, wire diameter [mm]
_METRIC_STRANDS = (
    (16, 7, 1.70),
    (25, 7, 2.10),
    (35, 7, 2.50),
    (50, 19, 1.80),
    (70, 19, 2.10),
    (95, 19, 2.50),
    (120, 19, 2.80),
    (150, 37, 2.25),
    (185, 37, 2.50),
    (240, 61, 2.25),
    (300, 61, 2.50),
    (400, 61, 2.89),
    (500, 61, 3.23),
)
# name, area [mm2], diameter [mm]
_AWG_STRANDS = (
    ("2 AWG", 33.63, 7.42),
    ("1 AWG", 42.41, 8.43),
    ("1/0 AWG", 53.49, 9.47),
    ("2/0 AWG", 67.43, 10.64),
    ("3/0 AWG", 85.03, 11.94),
    ("4/0 AWG", 107.2, 13.41),
    ("250 kcmil", 126.7, 14.61),
    ("300 kcmil", 152.0, 16.00),
    ("350 kcmil", 177.3, 17.30),
    ("500 kcmil", 253.4, 20.65),
    ("750 kcmil", 380.0, 25.35),
    ("1000 kcmil", 506.7, 29.26),
)
_COPPER_ROUNDS_MM = (6, 8, 10, 12, 15, 16, 20, 25)
_STEEL_ROUNDS_MM = (8, 10, 12, 16, 20, 25, 28, 32, 36, 40, 50)
_CLAD_ROUNDS_MM = (8, 10, 12.7, 14.2, 15, 17.2, 19.1, 20, 25)
_COPPER_STRIPS_MM = (
    (20, 2.5), (20, 3), (25, 3), (25, 4), (30, 3), (25, 6), (40, 4), (40, 5), (50, 4),
    (50, 5), (50, 6), (75, 6), (100, 6), (100, 10),
)  # fmt: skip
_STEEL_STRIPS_MM = (
    (30, 3), (30, 3.5), (30, 4), (40, 4), (40, 5), (50, 5), (50, 6), (65, 8),
    (75, 8), (75, 10), (75, 12), (100, 10), (100, 12),
)  # fmt: skip


def _strands() -> list[StockSize]:
    rows = [
        StockSize(
            f"{nominal} mm² ({wires} × {wire:g} mm)",
            "strand",
            _SOFT,
            "metric",
            nominal,
            wires * math.pi / 4.0 * wire**2,
            diameter_mm=_LAYERS[wires] * wire,
            source="DIN 48201, from memory, cross-checked with wire count and diameter",
        )
        for nominal, wires, wire in _METRIC_STRANDS
    ]
    rows += [
        StockSize(
            name, "strand", _SOFT, "awg", area, area, diameter_mm=d, source="common practice, class B strand"
        )
        for name, area, d in _AWG_STRANDS
    ]
    return rows


def _round(diameter_mm: float, metals: tuple[str, ...]) -> StockSize:
    area = math.pi / 4.0 * diameter_mm**2
    return StockSize(
        f"round {diameter_mm:g} mm", "round", metals, "metric", area, area, diameter_mm=diameter_mm
    )


def _strip(width_mm: float, thickness_mm: float, metals: tuple[str, ...]) -> StockSize:
    area = width_mm * thickness_mm
    return StockSize(
        f"strip {width_mm:g} × {thickness_mm:g} mm",
        "strip",
        metals,
        "metric",
        area,
        area,
        width_mm=width_mm,
        thickness_mm=thickness_mm,
    )


STOCK: tuple[StockSize, ...] = (
    *_strands(),
    *(_round(d, _SOFT) for d in _COPPER_ROUNDS_MM),
    *(_round(d, _STEELS) for d in _STEEL_ROUNDS_MM),
    *(_round(d, ("copper-clad steel",)) for d in _CLAD_ROUNDS_MM),
    *(_strip(w, t, _SOFT) for w, t in _COPPER_STRIPS_MM),
    *(_strip(w, t, _STEELS) for w, t in _STEEL_STRIPS_MM),
)
"""Every size, unsorted."""


def stock_sizes(metal: str, shape: str, series: str = "metric") -> tuple[StockSize, ...]:
    """Sizes of one metal and shape in order of area; rounds and strips exist in the metric series only."""
    rows = [
        s
        for s in STOCK
        if metal in s.metals and s.shape == shape and (s.shape != "strand" or s.series == series)
    ]
    return tuple(sorted(rows, key=lambda s: (s.area_mm2, s.name)))
