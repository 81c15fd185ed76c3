"""Earths of the network with a place in plan, and their coupling with the mat through the soil."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from evenground.model.site import Point2
from evenground.model.split import EarthMatrix

__all__ = ["CoupledEarth", "CouplingEffect", "NearbyFault", "PlacedEarth", "PlacedWire", "SoilCoupling"]


@dataclass(frozen=True, slots=True)
class PlacedWire:
    """A counterpoise: bare wire in the ground joined to the footing of a tower. [m]"""

    points_m: tuple[Point2, ...]
    depth_m: float = 0.6
    diameter_m: float = 0.01


@dataclass(frozen=True, slots=True)
class PlacedEarth:
    """Metal in the ground of a tower, pole, joint, far station or other earth of the network.

    Attributes
    ----------
    name : str
        As the network knows it: ``"line/1"``, ``"cable/joint 1"``, a station or a group.
    label : str
        For people: ``"north line, tower 1"``.
    at_m : (x, y)
        Its middle. [m]
    width_m : float
        Side of the square on whose corners the legs stand, or of the frame; 0: one rod. [m]
    depth_m : float
        Length of the legs or of the rod, or depth of the frame. [m]
    diameter_m : float
        Of the metal or concrete. [m]
    frame : bool
        A square of horizontal metal instead of legs.
    wires : tuple of PlacedWire
    path : tuple
    """

    name: str
    label: str
    at_m: Point2
    width_m: float = 0.0
    depth_m: float = 2.0
    diameter_m: float = 0.1
    frame: bool = False
    wires: tuple[PlacedWire, ...] = ()
    path: tuple[str | int, ...] = ()

    def __post_init__(self) -> None:
        values = (*self.at_m, self.width_m, self.depth_m, self.diameter_m)
        if not all(isfinite(v) for v in values) or self.depth_m <= 0 or self.diameter_m <= 0:
            raise ValueError(f"{self.label}: depth and diameter must be above 0")
        if self.width_m != 0.0 and self.width_m < 4.0 * self.diameter_m:
            raise ValueError(f"{self.label}: a width of {self.width_m:g} m is less than four diameters")
        if self.frame and self.width_m == 0.0:
            raise ValueError(f"{self.label}: a frame needs a width")
        if not self.frame and self.depth_m < 2.0 * self.diameter_m:
            raise ValueError(f"{self.label}: a rod must be longer than two diameters")


@dataclass(frozen=True, slots=True)
class CoupledEarth:
    """One placed earth beside the mat. [m, ohm]

    ``distance_m`` is to the nearest metal of the mat, ``mutual_ohm`` the potential that one ampere from the
    mat gives it (and the other way round), ``own_ohm`` the resistance stated for it, ``computed_ohm`` that
    of its drawn metal in this soil.
    """

    name: str
    label: str
    at_m: Point2
    distance_m: float
    mutual_ohm: float
    own_ohm: float
    computed_ohm: float


@dataclass(frozen=True, slots=True)
class SoilCoupling:
    """The placed earths and the matrix that goes into the network, for one soil."""

    earths: tuple[CoupledEarth, ...]
    matrix: EarthMatrix


@dataclass(frozen=True, slots=True)
class NearbyFault:
    """A fault at a placed tower, which lifts the ground beside the mat far more than one in the station. [V]

    ``mat_alone_v`` is what the mat's own current gives there; ``uneven_v`` and ``uneven_fences_v`` bound how
    unevenly the neighbours lift the ground along mats and fences.
    """

    place: str
    mat_alone_v: float
    uneven_v: float
    uneven_fences_v: float


@dataclass(frozen=True, slots=True)
class CouplingEffect:
    """What the coupling through the soil changes for the governing place of one fault. [V, A]

    ``coupling`` is that of this soil; ``gpr_without_v`` and ``split_without`` are those of the same place
    with every earth standing alone; ``mat_alone_v`` is the part of the potential rise that the mat's own
    current gives. ``potential_v``, ``potential_without_v`` and ``current_a`` (into the soil) belong to the
    earths of ``coupling`` in their order.
    ``uneven`` bounds how unevenly the neighbours lift the ground along the mat, as a share of the
    potential rise, ``uneven_fences`` the same along fences of metal: the touch voltages at places leave that
    out, and a check of their own adds it. ``nearby`` are the faults at placed towers.
    """

    coupling: SoilCoupling
    gpr_v: float
    gpr_without_v: float
    split_factor: float
    split_without: float
    mat_alone_v: float
    potential_v: tuple[float, ...]
    potential_without_v: tuple[float, ...]
    current_a: tuple[float, ...]
    uneven: float
    uneven_fences: float = 0.0
    nearby: tuple[NearbyFault, ...] = ()
