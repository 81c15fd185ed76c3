"""Resistivity of materials that people stand on, and of soils, as printed in the standards. Orientation only.

A design value has to be measured on the material of the site, wet; no figure here replaces that.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SOILS", "SURFACE_MATERIALS", "ResistivityRange", "SurfaceMaterial"]


@dataclass(frozen=True, slots=True)
class ResistivityRange:
    """Lowest and highest value; equal when a single one is printed. [ohm m]"""

    low_ohm_m: float
    high_ohm_m: float


@dataclass(frozen=True, slots=True)
class SurfaceMaterial:
    """A material with its resistivity dry and wet; None where nothing is printed.

    ``condition`` says how it was wetted.
    """

    name: str
    dry: ResistivityRange | None
    wet: ResistivityRange | None
    condition: str = ""
    source: str = "IEEE Std 80-2000, Table 7"
    evidence: str = "from memory"


def _r(low: float, high: float | None = None) -> ResistivityRange:
    return ResistivityRange(low, low if high is None else high)


_GROUND_WATER = "ground water of 45 ohm m"
SURFACE_MATERIALS: tuple[SurfaceMaterial, ...] = (
    SurfaceMaterial("crusher run granite with fines", _r(140e6), _r(1300), _GROUND_WATER),
    SurfaceMaterial("crusher run granite with fines, 38 mm", _r(4000), _r(1200), "rain water"),
    SurfaceMaterial(
        "granite with fines, 19 to 25 mm", None, _r(6513), "10 min after water of 45 ohm m drained"
    ),
    SurfaceMaterial("washed granite, 25 to 50 mm", _r(1.5e6, 4.5e6), _r(5000), "rain water"),
    SurfaceMaterial("washed granite, 50 to 100 mm", _r(2.6e6, 3e6), _r(10e3), "rain water"),
    SurfaceMaterial("washed limestone", _r(7e6), _r(2000, 3000), _GROUND_WATER),
    SurfaceMaterial("washed granite, about 19 mm", _r(2e6), _r(10e3)),
    SurfaceMaterial("washed granite, 19 mm", _r(40e6), _r(5000)),
    SurfaceMaterial("washed granite, pea gravel", _r(7e6), _r(5000)),
    SurfaceMaterial("washed granite no. 57, 19 mm", _r(190e6), _r(8000), _GROUND_WATER),
    SurfaceMaterial("asphalt", _r(2e6, 30e6), _r(10e3, 6e6)),
    SurfaceMaterial("concrete", _r(1e6, 1e9), _r(21, 100), "dry: dried in an oven"),
    SurfaceMaterial(
        "crushed rock", None, _r(3000, 4000), source="NAVFAC MO-201, Table 3-3", evidence="found"
    ),
)
"""Rows as printed. The 3000 ohm m often met is an example of the guide, not a recommendation."""

SOILS: tuple[tuple[str, ResistivityRange], ...] = (
    ("marsh", _r(5, 40)),
    ("loam, clay, humus", _r(20, 200)),
    ("sand", _r(200, 2500)),
    ("gravel", _r(2000, 3000)),
    ("sandstone", _r(2000, 3000)),
)
"""EN 50522, Table J.1, rows with both ends (from memory)."""
