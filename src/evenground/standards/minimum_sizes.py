"""Smallest sections allowed for strength and life in soil, apart from heating."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["EARTHING_CONDUCTOR_MM2", "MINIMUM_DIMENSIONS", "MinimumDimension", "minimum_dimension"]

_EN_2022 = "EN 50522:2022, minimum dimensions of earth electrodes"


@dataclass(frozen=True, slots=True)
class MinimumDimension:
    """One row of a table of minimum dimensions.

    Attributes
    ----------
    metal : str
        As in the material table; ``"steel in concrete"`` for any steel cast in.
    form : str
        ``"round"`` (horizontal), ``"rod"`` (vertical), ``"strip"``, ``"strand"``, ``"tube"``, ``"plate"``,
        ``"lattice plate"``, ``"profile"``.
    diameter_mm, area_mm2, thickness_mm : float or None
        [mm, mm2]
    coating_um : float or None
        Mean thickness of the coating. [um]
    diameter_no_lightning_mm, area_no_lightning_mm2, thickness_no_lightning_mm : float or None
        Smaller value allowed where lightning protection does not govern. [mm, mm2]
    wire_diameter_mm : float or None
        Of each wire of a strand. [mm]
    source, evidence, note : str
    """

    metal: str
    form: str
    diameter_mm: float | None = None
    area_mm2: float | None = None
    thickness_mm: float | None = None
    coating_um: float | None = None
    diameter_no_lightning_mm: float | None = None
    area_no_lightning_mm2: float | None = None
    thickness_no_lightning_mm: float | None = None
    wire_diameter_mm: float | None = None
    source: str = _EN_2022
    evidence: str = "found"
    note: str = ""

    @property
    def section_mm2(self) -> float | None:
        """The row as a full section: the area, or that of the diameter; None for sheet and tube. [mm2]"""
        diameter = self.diameter_mm or self.diameter_no_lightning_mm
        if self.area_mm2 is not None:
            return self.area_mm2
        if diameter is None or self.form == "tube":
            return None
        return math.pi / 4.0 * diameter**2


_Row = MinimumDimension
MINIMUM_DIMENSIONS: tuple[MinimumDimension, ...] = (
    _Row("steel in concrete", "round", diameter_mm=10),
    _Row("steel in concrete", "strip", area_mm2=75, thickness_mm=3),
    _Row(
        "zinc-coated steel",
        "strip",
        area_mm2=90,
        thickness_mm=3,
        coating_um=63,
        note="350 g/m2, single 45 um",
    ),
    _Row("zinc-coated steel", "plate", area_mm2=90, thickness_mm=3, coating_um=63),
    _Row("zinc-coated steel", "rod", diameter_mm=16, coating_um=63),
    _Row("zinc-coated steel", "round", diameter_mm=10, coating_um=63),
    _Row("zinc-coated steel", "tube", diameter_mm=25, thickness_mm=2, coating_um=63),
    _Row("zinc-coated steel", "strand", area_mm2=70, note="in concrete"),
    _Row("zinc-coated steel", "profile", area_no_lightning_mm2=290, thickness_mm=3, note="cross profile rod"),
    _Row("copper-sheathed steel", "rod", diameter_no_lightning_mm=15, coating_um=2000),
    _Row("copper-clad steel", "rod", diameter_mm=14, coating_um=250),
    _Row("copper-clad steel", "round", diameter_no_lightning_mm=8, coating_um=70),
    _Row("copper-clad steel", "strip", area_mm2=90, thickness_mm=3, coating_um=70),
    _Row("stainless steel", "strip", area_mm2=90, thickness_mm=3),
    _Row("stainless steel", "plate", area_mm2=90, thickness_mm=3),
    _Row("stainless steel", "rod", diameter_mm=16),
    _Row("stainless steel", "round", diameter_mm=10),
    _Row("stainless steel", "tube", diameter_mm=25, thickness_mm=2),
    _Row("copper", "strip", area_mm2=50, thickness_mm=2),
    _Row("copper", "round", area_mm2=50, area_no_lightning_mm2=25),
    _Row("copper", "rod", diameter_mm=15, diameter_no_lightning_mm=12),
    _Row("copper", "strand", area_mm2=50, area_no_lightning_mm2=25, wire_diameter_mm=1.8),
    _Row("copper", "tube", diameter_mm=20, thickness_mm=2),
    _Row("copper", "plate", thickness_mm=2, thickness_no_lightning_mm=1.5),
    _Row("copper", "lattice plate", thickness_mm=2),
    _Row("galvanised copper", "strip", area_mm2=50, thickness_mm=2, coating_um=40, note="coating 20 / 40 um"),
    _Row("steel", "strip", area_mm2=90, thickness_mm=3, source="common practice, as for zinc-coated steel"),
    _Row("steel", "round", diameter_mm=10, source="common practice, as for zinc-coated steel"),
    _Row("steel", "rod", diameter_mm=16, source="common practice, as for zinc-coated steel"),
    _Row("steel", "strand", area_mm2=70, source="common practice, as for zinc-coated steel"),
)
"""Rows of the table; buried in soil unless the metal says otherwise."""

EARTHING_CONDUCTOR_MM2 = {"copper": 16.0, "aluminium": 35.0, "steel": 50.0, "zinc-coated steel": 50.0}
"""Earthing conductors between equipment and electrode. [mm2] EN 50522, clause 5.2.2 (from memory)."""


def minimum_dimension(metal: str, role: str, shape: str) -> MinimumDimension | None:
    """The row that holds for a conductor request; None when the tables have none.

    ``role`` is that of the request: ``"riser"`` falls under earthing conductors, ``"rod"`` under
    vertical rods, everything else under horizontal electrodes of the given shape.
    """
    if role == "riser":
        area = EARTHING_CONDUCTOR_MM2.get(metal)
        if area is None:
            return None
        source = "EN 50522, clause 5.2.2, earthing conductors"
        return MinimumDimension(metal, shape, area_mm2=area, source=source, evidence="from memory")
    form = "rod" if role == "rod" and shape == "round" else shape
    rows = (r for r in MINIMUM_DIMENSIONS if r.metal == metal and r.form == form)
    return next(rows, None)
