"""Metal that crosses the boundary of the site: cables, pipes, rails, low-voltage supplies."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.site import Point2

__all__ = ["Service"]


@dataclass(frozen=True, slots=True)
class Service:
    """One thing of metal that leaves the site, or that something without metal replaces.

    Attributes
    ----------
    name : str
    kind : str
        ``"telecom"``, ``"lv supply"``, ``"pipe"``, ``"rail"``, ``"cable sheath"`` or ``"other"``.
    disposal : str
        ``"no metal"``, ``"isolated"``, ``"bonded"`` or ``"open"``.
    crosses_m : (x, y) or None
        Where it crosses the boundary. [m]
    withstand_v : float or None
        Isolated: voltage that the isolation bears. [V]
    route_m : tuple of (x, y)
        Bare metal in the ground outside, in order; empty: none is modelled. [m]
    route_depth_m, route_diameter_m : float
        Of that metal. [m]
    remote_rods_m : tuple of (x, y)
        Electrodes at its far end. [m]
    remote_rod_length_m, remote_rod_diameter_m : float
        [m]
    impedance_ohm : complex
        Bonded: of the metal from the mat to the far electrodes. [ohm]
    system : str or None
        ``"tt"`` or ``"tn"``, of a low-voltage supply.
    tn_factor : float
        Multiple F of the permissible touch voltage for a TN system.
    line_to_neutral_v : float
        Of a low-voltage supply. [V]
    reliable : bool
        Telecommunication: the lines that cause it are of high reliability.
    reason, by : str
        Why, and who decided.
    path : tuple
    """

    name: str
    kind: str
    disposal: str
    crosses_m: Point2 | None = None
    withstand_v: float | None = None
    route_m: tuple[Point2, ...] = ()
    route_depth_m: float = 0.8
    route_diameter_m: float = 0.1
    remote_rods_m: tuple[Point2, ...] = ()
    remote_rod_length_m: float = 2.0
    remote_rod_diameter_m: float = 0.016
    impedance_ohm: complex = 0j
    system: str | None = None
    tn_factor: float = 2.0
    line_to_neutral_v: float = 230.0
    reliable: bool = False
    reason: str = ""
    by: str = ""
    path: tuple[str | int, ...] = ()
