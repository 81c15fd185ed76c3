"""Metal that crosses the boundary of the site: cables, pipes, rails, low-voltage supplies."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.site import Point2

__all__ = ["FarEnd", "NetworkPotential", "Service"]


@dataclass(frozen=True, slots=True)
class FarEnd:
    """An insulating joint or isolated section where bonded metal ends.

    Attributes
    ----------
    section_m : float
        Length without metal, or with the metal out of reach. [m]
    withstand_v : float or None
        Voltage that it bears. [V]
    beyond_m : tuple of (x, y)
        Bare metal beyond it in the ground; empty: none is drawn. [m]
    """

    section_m: float
    withstand_v: float | None = None
    beyond_m: tuple[Point2, ...] = ()


@dataclass(frozen=True, slots=True)
class NetworkPotential:
    """What the network of currents puts on metal of another station, with the decrement factor. [V]

    ``potential_v`` is its highest potential, ``apart_v`` the largest voltage between it and the mat; each
    with the place of the fault that gives it.
    """

    potential_v: float
    place: str
    apart_v: float
    apart_place: str


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
    network_earth : str
        Station, cable or other earth of the network whose metal it is: its potential is that of the solved
        network. Empty: none.
    far_end : FarEnd or None
        Bonded: the insulating joint at the end of ``route_m``.
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
    network_earth: str = ""
    far_end: FarEnd | None = None

    @property
    def beyond_name(self) -> str:
        """Group of the bare metal beyond its insulating joint."""
        return f"{self.name}, beyond the joint"
