"""What is built round the electrode: equipment, fences, gates, test pits, and how trenches are dug."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.services import Service
from evenground.model.site import Point2

__all__ = ["EquipmentItem", "Fence", "Gate", "Installation", "Posts"]


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
    voltage_kv : float or None
        Nominal voltage; None: not stated. [kV]
    joint : str or None
        Kind of joint at the frame; None: that of the conductor.
    electrodes : int or None
        Own rods, tied to the mat; None: not stated.
    neutral_connections, neutral_electrodes : int or None
        Of the neutral of a transformer; None: not stated.
    lead_m : float or None
        Length of the lead from the high-voltage side to the mat. [m]
    bond_spacing_m : float or None
        Distance between the bonds of something long: a trench, a pipe, a rail. [m]
    diameter_m : float or None
        Of an air-core reactor. [m]
    measures : tuple of str
        What is drawn besides: ``"operator mat"``, ``"ring"``, ``"no closed loop"``, ...
    path : tuple
        Place in the project file.
    """

    tag: str
    kind: str
    x_m: float
    y_m: float
    terminals: int = 2
    conductor: str = "riser"
    height_m: float = 0.3
    note: str = ""
    voltage_kv: float | None = None
    joint: str | None = None
    electrodes: int | None = None
    neutral_connections: int | None = None
    neutral_electrodes: int | None = None
    lead_m: float | None = None
    bond_spacing_m: float | None = None
    diameter_m: float | None = None
    measures: tuple[str, ...] = ()
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        if self.terminals < 1 or self.height_m < 0:
            raise ValueError(
                f"equipment {self.tag or self.kind}: needs at least one terminal and a height from 0 up"
            )


@dataclass(frozen=True, slots=True)
class Posts:
    """Posts of a fence as electrodes: distance, depth in the ground, diameter. [m]"""

    spacing_m: float = 2.5
    depth_m: float = 0.6
    diameter_m: float = 0.06


@dataclass(frozen=True, slots=True)
class Fence:
    """A fence line, corners in order; closed when the last corner joins the first.

    Attributes
    ----------
    points_m : tuple of (x, y)
        [m]
    name : str
    closed : bool
    bonding : str
        ``"bonded"``: joined to the mat; ``"separate"``: earthed on its own, it floats;
        ``"insulating"``: made of material that does not conduct.
    owner : str
        ``"own"`` or ``"neighbour"``.
    bond_spacing_m : float or None
        Bonded: distance between its bonds to the mat; None: not stated. [m]
    rods_m : tuple of (x, y)
        Separate: places of its own rods. [m]
    rod_length_m, rod_diameter_m : float
        [m]
    posts : Posts
        Separate: its posts in the ground.
    breaks_m : tuple of (x, y)
        Middles of its insulated sections. [m]
    break_length_m : float
        Length of each insulated section. [m]
    path : tuple
    """

    points_m: tuple[Point2, ...]
    name: str = "fence"
    closed: bool = False
    bonding: str = "bonded"
    owner: str = "own"
    bond_spacing_m: float | None = None
    rods_m: tuple[Point2, ...] = ()
    rod_length_m: float = 3.0
    rod_diameter_m: float = 0.016
    posts: Posts = Posts()
    breaks_m: tuple[Point2, ...] = ()
    break_length_m: float = 3.0
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class Gate:
    """An opening in a fence, from post to post.

    Attributes
    ----------
    start_m, end_m : (x, y)
        The posts. [m]
    name : str
    opens : str
        ``"inward"``, ``"outward"``, ``"both"`` ways, or ``"sliding"``.
    leaves : int
        1: hinged at the start; 2: hinged at both posts and meeting in the middle.
    fence : str
        Name of the fence it stands in; empty: the nearest.
    bonded : bool or None
        Leaf to post by a flexible bond, and post to post below the opening; None: not stated.
    path : tuple
    """

    start_m: Point2
    end_m: Point2
    name: str = "gate"
    opens: str = "inward"
    leaves: int = 1
    fence: str = ""
    bonded: bool | None = None
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class Installation:
    """What drawings and quantities need beyond the electrode.

    The defaults of the trench, the drum and the rod section are common practice, not design results; every
    schedule prints the values used.

    Attributes
    ----------
    equipment, fences, gates : tuples
    services : tuple of Service
        Metal that crosses the boundary of the site.
    practice : str
        National practice whose rules for connections and fences count: ``"international"``, ``"uk"``, ...
    stated : tuple of str
        Which of the lists the project file holds, be they empty: ``"equipment"``, ``"fences"``, ...
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
    services: tuple[Service, ...] = ()
    practice: str = "international"
    stated: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.trench_width_m <= 0 or self.trench_below_m < 0 or self.rod_section_m <= 0:
            raise ValueError("installation: trench width and rod section must be above 0, depth below from 0")
        if not 0 <= self.imported_backfill_share <= 1:
            raise ValueError("installation: imported_backfill_share must lie between 0 and 1")
        if any(n < 1 for n in self.pit_rods):
            raise ValueError("installation: pit_rods counts rods from 1")
