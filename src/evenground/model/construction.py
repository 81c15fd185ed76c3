"""Rules of construction, and what may be chosen: the search for the cheapest design keeps to them."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as with_default

from evenground.model.conductor import ConductorRequest
from evenground.model.site import BackfillLayout, Point2

__all__ = ["Construction", "CoverChoice", "ForbiddenArea", "MetalChoice"]


@dataclass(frozen=True, slots=True)
class ForbiddenArea:
    """Where no conductor and no rod may lie: a foundation, a duct, a neighbour's ground. [m]"""

    name: str
    outline_m: tuple[Point2, ...]


@dataclass(frozen=True, slots=True)
class MetalChoice:
    """A conductor that may be bought for a key under ``conductors``."""

    name: str
    request: ConductorRequest


@dataclass(frozen=True, slots=True)
class CoverChoice:
    """A cover that may be laid in a zone, in any of these thicknesses. [ohm m, m]"""

    zone: str
    material: str
    state: str
    resistivity_ohm_m: float
    thicknesses_m: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Construction:
    """Rules of construction and choices; what has no choice stays as drawn.

    Attributes
    ----------
    trench_width_m, trench_below_m : float
        Width that the machine digs, and how far below the conductor's axis. [m]
    depths_m : tuple of float
        Depths at which the machine can lay the mat; empty: as drawn. [m]
    line_step_m : float
        Mesh lines stand at whole multiples of this from the lowest corner of their mat. [m]
    least_spacing_m, greatest_spacing_m : float
        Between parallel lines of one mat. [m]
    rod_section_m : float
        Stock length of a rod; longer rods are coupled sections. [m]
    most_rod_sections : int
        Most sections that can be driven.
    least_rod_spacing_m : float
        Along the outline. [m]
    ring_distances_m : tuple of float
        Distances of an outer ring from the mats that may be tried, 0 for none; empty: no ring is searched
        and the runs stay as drawn. [m]
    forbidden : tuple of ForbiddenArea
    metal : tuple of MetalChoice
        Other conductors for the mats and the ring.
    covers : tuple of CoverChoice
    rod_backfills : tuple of BackfillLayout
        What rods may be embedded in.
    lines : bool
        Whether the mesh lines are searched.
    rods : bool
        Whether the rods placed by rule are searched.
    """

    trench_width_m: float = 0.4
    trench_below_m: float = 0.05
    depths_m: tuple[float, ...] = ()
    line_step_m: float = 0.5
    least_spacing_m: float = 2.0
    greatest_spacing_m: float = 20.0
    rod_section_m: float = 3.0
    most_rod_sections: int = 3
    least_rod_spacing_m: float = 3.0
    ring_distances_m: tuple[float, ...] = ()
    forbidden: tuple[ForbiddenArea, ...] = ()
    metal: tuple[MetalChoice, ...] = ()
    covers: tuple[CoverChoice, ...] = ()
    rod_backfills: tuple[BackfillLayout, ...] = ()
    lines: bool = True
    rods: bool = True
    path: tuple[str | int, ...] = with_default(default=("construction",))
