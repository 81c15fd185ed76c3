"""Share of the earth-fault current that leaves through the earth, by kind of line (EN 50522, Annex I).

From memory and not confirmed: orientation, never a design value.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["REDUCTION_FACTORS", "ReductionFactor"]


@dataclass(frozen=True, slots=True)
class ReductionFactor:
    """Typical reduction factor r of a line or cable; ``low`` equals ``high`` for a single value. [-]"""

    line: str
    low: float
    high: float
    source: str = "EN 50522, Annex I"
    evidence: str = "from memory"


REDUCTION_FACTORS: tuple[ReductionFactor, ...] = (
    ReductionFactor("110 kV overhead line, earth wire St 50 to 70", 0.98, 0.98),
    ReductionFactor("110 kV overhead line, earth wire Al/St 44/32", 0.77, 0.77),
    ReductionFactor("110 kV overhead line, earth wire Al/St 300/50", 0.61, 0.61),
    ReductionFactor("10 to 20 kV paper cable Cu 95, lead sheath", 0.20, 0.60),
    ReductionFactor("10 to 20 kV paper cable Al 95, aluminium sheath", 0.20, 0.30),
    ReductionFactor("10 to 20 kV XLPE cable Cu 95, screen 16", 0.50, 0.60),
    ReductionFactor("110 kV oil-filled cable Cu 300, aluminium sheath", 0.37, 0.37),
    ReductionFactor("110 kV gas-pressure cable in a steel pipe", 0.01, 0.03),
    ReductionFactor("110 kV XLPE cable Cu 300, screen 35", 0.32, 0.32),
    ReductionFactor("400 kV oil-filled cable Cu 1200, aluminium sheath", 0.01, 0.01),
)
"""Rows of the annex as remembered."""
