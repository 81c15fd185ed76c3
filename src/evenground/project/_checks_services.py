"""Cross-field checks of services: insulating joints, and metal that belongs to an earth of the network."""

from __future__ import annotations

from itertools import pairwise
from math import dist

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, points, records, section, words
from evenground.project._words import nearest, shorten

__all__ = ["check_far_end", "check_network_earth", "check_routes"]

GAP_SLACK = 0.1
"""Metal beyond a joint may start this share of the section nearer than stated (rounded coordinates)."""


def check_far_end(look: Look, path: Path, service: Record) -> None:
    """An insulating joint ends bare metal that is bonded to the mat."""
    end = service.get("far_end")
    if not isinstance(end, dict):
        return
    place: Path = (*path, "far_end")
    if service.get("disposal") not in (None, "bonded"):
        text = f"far_end ends bonded metal, disposal is {service.get('disposal')}"
        look.error("service-far-end", place, text, "write disposal: bonded, or remove it")
    if service.get("kind") in ("telecom", "lv_supply"):
        text = f"far_end belongs to a pipe, rail or sheath, kind is {service.get('kind')}"
        look.error("service-far-end", place, text, "isolate such a service at the boundary")
    route = points(service.get("route_m"))
    if service.get("route_m") is None:
        text = "far_end without the route that leads there"
        look.error("service-far-end", place, text, "give route_m; the joint is at its last point")
    if service.get("remote_rods_m"):
        text = "remote_rods_m beside far_end: the metal ends at the joint"
        look.error("service-far-end", (*path, "remote_rods_m"), text, "keep one of them")
    beyond, gap = points(end.get("beyond_m")), number(end, "section_m")
    if route and beyond and gap is not None and dist(route[-1], beyond[0]) < (1 - GAP_SLACK) * gap:
        text = (
            f"metal beyond the joint starts {dist(route[-1], beyond[0]):.2f} m from it, "
            f"the section is {gap:g} m long"
        )
        look.error("service-far-end", (*place, "beyond_m"), text, "correct the place or section_m")


def check_routes(look: Look, path: Path, service: Record) -> None:
    """Points of bare metal in order lie further apart than it is thick."""
    width = (number(service, "route_diameter_mm") or 100.0) / 1000.0
    for holder, place in ((service, path), (service.get("far_end"), (*path, "far_end"))):
        if not isinstance(holder, dict):
            continue
        for key in ("route_m", "beyond_m"):
            for k, (a, b) in enumerate(pairwise(points(holder.get(key)) or ()), 1):
                if dist(a, b) <= width:
                    text = (
                        f"points {k} and {k + 1} are {dist(a, b):g} m apart, the metal is {width:g} m thick"
                    )
                    look.error("service-route", (*place, key, k), text, "leave one of them out")


def check_network_earth(look: Look, path: Path, service: Record) -> None:
    """The name is one of the network, and nothing else describes the far end."""
    name = words(service, "network_earth")
    if not name:
        return
    place: Path = (*path, "network_earth")
    lists = [records(section(look.data.get("network")).get(k)) for k in ("stations", "groups", "cables")]
    names = [own for rows in lists for _, row in rows if (own := words(row, "name"))]
    if name not in names:
        meant = nearest(name, names)
        shown = ", ".join(shorten(n) for n in names[:12]) or "none, there is no network"
        advice = f"did you mean '{meant}'?" if meant else f"there are: {shown}"
        text = f"'{shorten(name)}' is no station, earth or cable of the network"
        look.error("network-reference", place, text, advice)
    if service.get("disposal") == "no_metal":
        text = "network_earth for a service without metal"
        look.error("service-no-metal", place, text, "check disposal")
    for key in ("remote_rods_m", "route_m", "impedance_ohm", "far_end"):
        if service.get(key):
            text = f"{key} beside network_earth: its potential is described twice"
            look.error("service-network", (*path, key), text, "keep one of them")
