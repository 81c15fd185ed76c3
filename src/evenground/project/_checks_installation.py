"""Cross-field checks of equipment, fences, gates and services."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import dist

from evenground.project._checks_services import check_far_end, check_network_earth, check_routes
from evenground.project._explain import Path
from evenground.project._look import Look, Pair, Record, number, points, records, section, words
from evenground.project._polygons import SAME_PLACE_M
from evenground.project._words import meant_by, shorten

__all__ = ["check_installation"]

ON_FENCE_M = 0.5
"""A gate post or an insulated section may lie this far off the fence line. [m]"""
_ONLY_FOR = {
    "neutral_connections": ("transformer", "neutral_device"),
    "neutral_electrodes": ("transformer", "neutral_device"),
    "diameter_m": ("air_core_reactor",),
    "bond_spacing_m": ("cable_trench", "pipe", "rail", "gis"),
}


def check_installation(look: Look) -> None:
    """All checks of what stands round the electrode."""
    _twice(look, "equipment", "tag")
    for name in ("fences", "gates", "services"):
        _twice(look, name, "name")
    _equipment(look)
    _fences(look)
    _gates(look)
    for i, service in records(look.data.get("services")):
        _service(look, ("services", i), service)


def _twice(look: Look, name: str, key: str) -> None:
    first: dict[str, int] = {}
    for i, record in records(look.data.get(name)):
        word = words(record, key)
        if word is None:
            continue
        if word in first:
            line = look.place((name, first[word], key))[0]
            message = f"'{shorten(word)}' is the {key} of two entries, first in line {line}"
            look.error("name-twice", (name, i, key), message, "give each its own")
        first.setdefault(word, i)


def _equipment(look: Look) -> None:
    conductors = section(look.data.get("conductors"))
    for i, item in records(look.data.get("equipment")):
        path: Path = ("equipment", i)
        reference = "riser" if item.get("conductor") is None else words(item, "conductor")
        if reference is not None and reference not in conductors:
            known = ", ".join(shorten(k) for k in list(conductors)[:12]) or "none"
            advice = meant_by(reference, conductors) or f"defined under conductors: {known}"
            message = f"conductor '{shorten(reference)}' is not defined"
            look.error("conductor-unknown", (*path, "conductor"), message, advice)
        for key, kinds in _ONLY_FOR.items():
            if item.get(key) is not None and item.get("kind") not in kinds:
                message = f"{key} has no meaning for the kind '{shorten(str(item.get('kind')))}'"
                look.error("equipment-field", (*path, key), message, f"it belongs to {', '.join(kinds)}")


def _fences(look: Look) -> None:
    for i, fence in records(look.data.get("fences")):
        path: Path = ("fences", i)
        line = points(fence.get("points_m"))
        for k, (a, b) in enumerate(pairwise(line or ()), 1):
            if dist(a, b) < SAME_PLACE_M:
                message = f"points {k} and {k + 1} are the same place, [{b[0]:g}, {b[1]:g}]"
                look.error("fence-point-twice", (*path, "points_m", k), message, "remove one of them")
        bonding = fence.get("bonding")
        if fence.get("owner") == "neighbour" and bonding == "bonded":
            advice = "write bonding: separate, with an insulated section where the fences meet"
            look.error("fence-neighbour", (*path, "bonding"), "a neighbour's fence bonded to the mat", advice)
        if bonding in ("separate", "insulating") and fence.get("bond_spacing_m") is not None:
            message = f"bond_spacing_m for a fence that is {bonding}"
            look.error(
                "fence-bonds", (*path, "bond_spacing_m"), message, "remove it, or write bonding: bonded"
            )
        if bonding in ("bonded", "insulating"):
            for key in ("posts", "rods_m"):
                if fence.get(key):
                    message = f"{key} counts for a separate fence only, this one is {bonding}"
                    look.warn("fence-own-earth", (*path, key), message, "rods of the mat go under rods")
        for k, place in enumerate(points(fence.get("insulated_sections_m")) or ()):
            if line and _off(place, line) > ON_FENCE_M:
                message = f"an insulated section {_off(place, line):.2f} m off the fence line"
                advice = f"give a place on the line, within {ON_FENCE_M:g} m"
                look.error("fence-section", (*path, "insulated_sections_m", k), message, advice)


def _off(place: Pair, line: Iterable[Pair]) -> float:
    """Distance of a place from a polyline. [m]"""
    gaps = []
    for (ax, ay), (bx, by) in pairwise(line):
        square = (bx - ax) ** 2 + (by - ay) ** 2
        share = 0.0 if square == 0 else ((place[0] - ax) * (bx - ax) + (place[1] - ay) * (by - ay)) / square
        share = min(max(share, 0.0), 1.0)
        gaps.append(dist(place, (ax + share * (bx - ax), ay + share * (by - ay))))
    return min(gaps, default=0.0)


def _gates(look: Look) -> None:
    fences = {words(f, "name") or "": f for _, f in records(look.data.get("fences"))}
    for i, gate in records(look.data.get("gates")):
        path: Path = ("gates", i)
        posts = points([gate.get("start_m"), gate.get("end_m")])
        if posts is None:
            continue
        width = dist(*posts)
        if width < SAME_PLACE_M:
            look.error("gate-width", (*path, "end_m"), "both posts stand at the same place", "check end_m")
        elif width > 30.0:
            look.warn("gate-width", (*path, "end_m"), f"a gate of {width:g} m", "coordinates are in m")
        name = words(gate, "fence") or ""
        if look.data.get("site_drawing") and (not fences or (name and name not in fences)):
            continue  # the fence may stand in the drawing
        if not fences:
            look.error("gate-fence", path, "a gate without any fence", "draw the fence under fences")
        elif name and name not in fences:
            advice = meant_by(name, fences) or f"there are {', '.join(fences)}"
            look.error("gate-fence", (*path, "fence"), f"there is no fence '{shorten(name)}'", advice)
        else:
            lines = [points(f.get("points_m")) for f in ([fences[name]] if name else fences.values())]
            for key, post in zip(("start_m", "end_m"), posts, strict=True):
                off = min((_off(post, line) for line in lines if line), default=0.0)
                if off > ON_FENCE_M:
                    message = f"a gate post {off:.2f} m off the fence"
                    look.error("gate-off-fence", (*path, key), message, "posts stand on the fence line")


def _service(look: Look, path: Path, service: Record) -> None:
    disposal, kind = service.get("disposal"), service.get("kind")
    if disposal is not None and disposal not in ("no_metal", "isolated", "bonded", "open"):
        return  # the field itself is wrong, and that has been said
    if disposal == "no_metal":
        for key in ("withstand_v", "route_m", "remote_rods_m", "impedance_ohm"):
            if service.get(key):
                look.error(
                    "service-no-metal", (*path, key), f"{key} for a service without metal", "check disposal"
                )
    if disposal != "bonded" and service.get("impedance_ohm") is not None and disposal != "no_metal":
        message = f"impedance_ohm joins it to the mat, but disposal is {disposal}"
        look.error(
            "service-impedance", (*path, "impedance_ohm"), message, "write disposal: bonded, or remove it"
        )
    if disposal != "isolated" and disposal != "no_metal" and service.get("withstand_v") is not None:
        message = f"withstand_v belongs to an isolated service, disposal is {disposal}"
        look.error(
            "service-withstand", (*path, "withstand_v"), message, "write disposal: isolated, or remove it"
        )
    if service.get("impedance_ohm") is not None and not service.get("remote_rods_m"):
        message = "impedance_ohm without electrodes at the far end"
        look.error("service-impedance", (*path, "impedance_ohm"), message, "give remote_rods_m, or remove it")
    if service.get("system") is not None and kind != "lv_supply":
        look.error(
            "service-system", (*path, "system"), "system belongs to a low-voltage supply", "check kind"
        )
    if disposal in ("no_metal", "isolated") and not words(service, "by"):
        word = str(disposal).replace("_", " ")
        advice = "give by: and reason:, so that a reviewer can ask"
        look.warn("service-nobody", (*path, "disposal"), f"'{word}' without a name behind it", advice)
    check_far_end(look, path, service)
    check_network_earth(look, path, service)
    check_routes(look, path, service)
    rods = number(service, "remote_rod_length_m")
    if rods is not None and rods > 100.0:
        look.warn("service-rods", (*path, "remote_rod_length_m"), f"rods of {rods:g} m", "lengths are in m")
