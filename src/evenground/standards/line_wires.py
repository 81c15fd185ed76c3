"""Common wires of overhead lines: direct-current resistance at 20 °C and outer diameter.

Sizes of EN 50182 (aluminium with steel) and of zinc-coated steel strand, from memory; the resistances are
checked against area and resistivity. A maker's data sheet goes first.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LINE_WIRES", "LineWire"]


@dataclass(frozen=True, slots=True)
class LineWire:
    """One stranded wire. ``relative_permeability`` is 1 where aluminium carries the current.
    [mm2, mm, ohm/km, -]"""

    name: str
    aluminium_mm2: float
    steel_mm2: float
    diameter_mm: float
    resistance_ohm_per_km: float
    relative_permeability: float = 1.0
    source: str = "EN 50182"
    evidence: str = "from memory, cross-checked"


_STEEL = "7 wires of 3.0 mm and 19 of 2.1 mm, steel of 0.192 ohm mm2/m (common practice)"

LINE_WIRES: dict[str, LineWire] = {
    "al1_st1a_44_32": LineWire("44-AL1/32-ST1A", 44.0, 31.7, 11.2, 0.6566),
    "al1_st1a_48_8": LineWire("48-AL1/8-ST1A", 48.3, 8.0, 9.6, 0.5939),
    "al1_st1a_51_30": LineWire("51-AL1/30-ST1A", 51.2, 29.8, 11.7, 0.5644),
    "al1_st1a_70_11": LineWire("70-AL1/11-ST1A", 69.9, 11.4, 11.7, 0.4132),
    "al1_st1a_94_15": LineWire("94-AL1/15-ST1A", 94.4, 15.3, 13.6, 0.3060),
    "al1_st1a_97_56": LineWire("97-AL1/56-ST1A", 96.5, 56.3, 16.0, 0.2992),
    "al1_st1a_122_20": LineWire("122-AL1/20-ST1A", 121.6, 19.8, 15.5, 0.2376),
    "al1_st1a_184_30": LineWire("184-AL1/30-ST1A", 183.8, 29.8, 19.0, 0.1571),
    "al1_st1a_243_39": LineWire("243-AL1/39-ST1A", 243.1, 39.5, 21.8, 0.1188),
    "al1_st1a_304_49": LineWire("304-AL1/49-ST1A", 304.3, 49.5, 24.4, 0.0949),
    "steel_50": LineWire("steel strand 50 mm2", 0.0, 49.5, 9.0, 3.88, 75.0, _STEEL, "computed"),
    "steel_70": LineWire("steel strand 70 mm2", 0.0, 65.8, 10.5, 2.92, 75.0, _STEEL, "computed"),
}
"""Key of the project file -> wire. The permeability of steel strand is common practice (50 to 200)."""
