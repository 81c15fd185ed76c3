"""Risk of a fatal shock: results by zone and fault."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ScenarioRisk", "ZoneRisk"]


@dataclass(frozen=True, slots=True)
class ScenarioRisk:
    """What one fault adds to the risk in one zone.

    ``touch_v`` is the worst touch voltage of the zone with its discretisation error added. The probability of
    fibrillation is given twice: from one log-normal distribution and from straight lines through the three
    curves; ``individual_per_year`` rests on the larger. ``low_v`` is the touch voltage at which this fault
    alone reaches the upper end of the low band (None: no voltage does). [V, 1/year]
    """

    scenario: str
    touch_v: float
    faults_per_year: float
    duration_s: float
    fibrillation: float
    fibrillation_piecewise: float
    coincidence: float
    individual_per_year: float
    governing_path: str
    low_v: float | None


@dataclass(frozen=True, slots=True)
class ZoneRisk:
    """Risk of a fatal shock by touch in one zone, all faults together.

    Attributes
    ----------
    zone : str
    governs : bool
        Whether it takes the place of the touch limit.
    contacts_per_year, contact_duration_s, people
        As stated. [1/year, s, -]
    scenarios : tuple of ScenarioRisk
    individual_per_year : float or None
        Of the most exposed person; None: not decided, ``reason`` says why. [1/year]
    individual_band, societal_band, band : str
        ``"low"``, ``"intermediate"``, ``"intolerable"`` or ``"not decided"``; ``band`` is the worse.
    deaths_per_year : float or None
    societal : tuple of (persons, per year)
        How often N or more die in one fault.
    assumptions : tuple of str
        Each with its source and evidence.
    reason : str
    """

    zone: str
    governs: bool
    contacts_per_year: float
    contact_duration_s: float
    people: int
    scenarios: tuple[ScenarioRisk, ...]
    individual_per_year: float | None
    individual_band: str
    societal_band: str
    band: str
    deaths_per_year: float | None
    societal: tuple[tuple[int, float], ...]
    assumptions: tuple[str, ...]
    reason: str = ""
