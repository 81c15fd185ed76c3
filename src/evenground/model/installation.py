"""What is built round the electrode: equipment, fences, gates, test pits, and how trenches are dug."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.site import Point2

__all__ = ["EquipmentItem", "Fence", "Gate", "Installation"]


@dataclass(frozen=True, slots=True)
class EquipmentItem:
    """One piece of equipment that is joined to the mat.

    Attributes
    ----------
    tag : str
        As on the primary drawings; may be empty when the drawing names none.
    kind : str
        ``"transformer"``, ``"surge arrester"``, ... in the words of the equipment list.
    x_m, y_m : float
        Place in plan. [m]
    terminals : int
        Number of separate connections to the mat; two for any high-voltage frame is common practice.
    conductor : str
        Key of the conductor of the connection.
    height_m : float
        Height of the earth terminal above the surface. [m]
    note : str
        Special rule, e.g. ``"short straight lead, rod at the base"``.
    """

    tag: str
    kind: str
    x_m: float
    y_m: float
    terminals: int = 2
    conductor: str = "riser"
    height_m: float = 0.3
    note: str = ""

    def __post_init__(self) -> None:
        if self.terminals < 1 or self.height_m < 0:
            raise ValueError(
                f"equipment {self.tag or self.kind}: needs at least one terminal and a height from 0 up"
            )


@dataclass(frozen=True, slots=True)
class Fence:
    """A fence line, corners in order; closed when the last corner joins the first. [m]"""

    points_m: tuple[Point2, ...]
    name: str = "fence"
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Gate:
    """An opening in a fence, from post to post. [m]"""

    start_m: Point2
    end_m: Point2
    name: str = "gate"


@dataclass(frozen=True, slots=True)
class Installation:
    """What drawings and quantities need beyond the electrode.

    The defaults of the trench, the drum and the rod section are common practice, not design results; every
    schedule prints the values used.

    Attributes
    ----------
    equipment, fences, gates : tuples
    pit_rods : tuple of int
        Numbers (from 1) of the rods that get an inspection pit with a disconnecting link.
    trench_width_m : float
        [m]
    trench_below_m : float
        How far the trench is dug below the conductor's axis. [m]
    rod_section_m : float
        Length of one rod section; longer rods are coupled. [m]
    imported_backfill_share : float
        Share of the backfill that is brought in (fine soil round the conductor), 0 to 1.
    """

    equipment: tuple[EquipmentItem, ...] = ()
    fences: tuple[Fence, ...] = ()
    gates: tuple[Gate, ...] = ()
    pit_rods: tuple[int, ...] = ()
    trench_width_m: float = 0.4
    trench_below_m: float = 0.05
    rod_section_m: float = 3.0
    imported_backfill_share: float = 0.0

    def __post_init__(self) -> None:
        if self.trench_width_m <= 0 or self.trench_below_m < 0 or self.rod_section_m <= 0:
            raise ValueError("installation: trench width and rod section must be above 0, depth below from 0")
        if not 0 <= self.imported_backfill_share <= 1:
            raise ValueError("installation: imported_backfill_share must lie between 0 and 1")
        if any(n < 1 for n in self.pit_rods):
            raise ValueError("installation: pit_rods counts rods from 1")
