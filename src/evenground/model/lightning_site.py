"""Lightning protection of a site as the project states it."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.lightning import ArresterPlace, ProtectedObject, SphereRule, Terminals
from evenground.model.site import Point2

__all__ = ["ImpulseWish", "LightningSite", "MastFoot", "Transient"]


@dataclass(frozen=True, slots=True)
class MastFoot:
    """Where a mast's down conductor meets the buried metal, in plan. [m]"""

    name: str
    at_m: Point2
    down_conductors: int = 1
    height_m: float = 0.0
    radius_m: float | None = None


@dataclass(frozen=True, slots=True)
class ImpulseWish:
    """Impulse impedance asked for at the feet of the masts. [ohm m, m, V/m]"""

    wave: str = "subsequent_stroke"
    resistivity_ohm_m: float | None = None
    reach_m: float = 20.0
    ionisation_v_per_m: float | None = None


@dataclass(frozen=True, slots=True)
class Transient:
    """A current that swings and dies out in the metal; ``watched`` is name, place and withstand voltage.
    [A, Hz, s, m, mm2, V]"""

    name: str
    at_m: Point2
    amplitude_a: float
    frequency_hz: float
    decay_s: float
    reach_m: float
    down_conductor_mm2: float | None
    watched: tuple[tuple[str, Point2, float], ...] = ()


@dataclass(frozen=True, slots=True)
class LightningSite:
    """Masts, wires, what they shield, arresters; one rule for the rolling sphere.

    Attributes
    ----------
    terminals : Terminals
    objects : tuple of ProtectedObject
    protection_level : str or None
        ``"I"`` to ``"IV"``.
    insulation : (withstand in kV, surge impedance in ohm, mast factor) or None
    rule : SphereRule or None
        A stated radius.
    cone_angle_deg : float or None
    clearance_m : float
        [m]
    flashes_per_km2_year : float or None
        [1/(km2 year)]
    feet : tuple of MastFoot
    arresters : tuple of ArresterPlace
    transformers : tuple of (name, (x, y))
        [m]
    contour_heights_m : tuple of float
        [m]
    elevations : tuple of (name, start, end)
        [m]
    window_m : (x from, y from, x to, y to) or None
        [m]
    impulse : ImpulseWish or None
    transients : tuple of Transient
    """

    terminals: Terminals
    objects: tuple[ProtectedObject, ...] = ()
    protection_level: str | None = None
    insulation: tuple[float, float, float] | None = None
    rule: SphereRule | None = None
    cone_angle_deg: float | None = None
    clearance_m: float = 0.0
    flashes_per_km2_year: float | None = None
    feet: tuple[MastFoot, ...] = ()
    arresters: tuple[ArresterPlace, ...] = ()
    transformers: tuple[tuple[str, Point2], ...] = ()
    contour_heights_m: tuple[float, ...] = ()
    elevations: tuple[tuple[str, Point2, Point2], ...] = ()
    window_m: tuple[float, float, float, float] | None = None
    impulse: ImpulseWish | None = None
    transients: tuple[Transient, ...] = ()
