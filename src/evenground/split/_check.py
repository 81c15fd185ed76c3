"""Does the network hang together? Every finding of one pass."""

from __future__ import annotations

from collections import Counter

from evenground.errors import Finding
from evenground.model.split import HOME, Cable, FaultPlace, OverheadLine, SplitNetwork

__all__ = ["check_network", "check_place"]

Path = tuple[str | int, ...]


def _finding(path: Path, field: str, message: str, advice: str = "") -> Finding:
    return Finding("network-reference", message, advice, path=(*path, field))


def check_network(network: SplitNetwork) -> list[Finding]:
    """References between lines, cables, stations, groups and sources."""
    rows = _doubles(network)
    stations = {HOME} | {s.name for s in network.stations}
    places = stations | {g.name for g in network.groups}
    routes: dict[str, OverheadLine | Cable] = {r.name: r for r in network.lines}
    routes |= {r.name: r for r in network.cables}
    for route in routes.values():
        for end in ("near_station", "far_station"):
            name = getattr(route, end)
            if name not in stations and not (name == "" and end == "far_station"):
                message = f"{route.name}: {end} {name!r} is not a station of the network"
                rows.append(_finding(route.path, end, message, f"stations: {', '.join(sorted(stations))}"))
    for group in network.groups:
        if group.bonded_to and (group.bonded_to not in places or group.bonded_to == group.name):
            message = f"earth group {group.name}: bonded_to {group.bonded_to!r} is not another earth"
            rows.append(_finding(group.path, "bonded_to", message))
    groups = {g.name for g in network.groups}
    for source in network.sources:
        head = f"source {source.name}"
        if source.station not in places:
            rows.append(_finding(source.path, "station", f"{head}: station {source.station!r} is not known"))
        if not source.via:
            if source.station in stations - {HOME}:
                rows.append(_finding(source.path, "via", f"{head}: a far source needs via, a line or cable"))
            continue
        if source.via not in routes:
            message = f"{head}: via {source.via!r} is neither a line nor a cable"
            rows.append(_finding(source.path, "via", message))
            continue
        route = routes[source.via]
        if route.near_station != HOME:
            message = f"{head}: {source.via} does not start at the station under study"
            rows.append(_finding(source.path, "via", message))
        elif source.station not in groups | {route.far_station}:
            message = (
                f"{head}: {source.via} ends at {route.far_station or 'no station'}, not {source.station}"
            )
            rows.append(_finding(source.path, "via", message))
    return rows


def _doubles(network: SplitNetwork) -> list[Finding]:
    kinds: dict[str, list[tuple[str, Path]]] = {
        "lines and cables": [(x.name, x.path) for x in network.lines]
        + [(x.name, x.path) for x in network.cables],
        "stations and groups": [(x.name, x.path) for x in network.stations]
        + [(x.name, x.path) for x in network.groups],
        "sources": [(x.name, x.path) for x in network.sources],
        "fault places": [(x.name, x.path) for x in network.places],
    }
    rows = []
    for kind, items in kinds.items():
        for name, count in Counter(name for name, _ in items).items():
            if count > 1:
                message = f"{kind}: the name {name!r} is used {count} times"
                rows.append(_finding(dict(items)[name], "name", message))
    return rows


def check_place(network: SplitNetwork, place: FaultPlace) -> list[Finding]:
    """Does the place exist, and does anything feed it?"""
    rows, head = [], f"fault place {place.name}"
    routes: dict[str, OverheadLine | Cable] = {r.name: r for r in network.lines}
    routes |= {r.name: r for r in network.cables}
    known = {s.name for s in network.sources}
    if place.line:
        route = routes.get(place.line)
        stops = 0 if route is None else _stops(route)
        if route is None:
            rows.append(
                _finding(place.path, "line", f"{head}: {place.line!r} is not an overhead line or cable")
            )
        elif route.near_station != HOME:
            message = f"{head}: {place.line} does not start at the station under study"
            rows.append(_finding(place.path, "line", message))
        elif place.tower > stops:
            what = "joints before its end" if isinstance(route, Cable) else "spans, the last to its far end"
            number = stops - 1 if isinstance(route, Cable) else stops
            rows.append(_finding(place.path, "tower", f"{head}: {place.line} has {number} {what}"))
    rows += [
        _finding(place.path, "sources", f"{head}: source {name!r} is not known")
        for name in place.sources
        if name not in known
    ]
    if not known:
        rows.append(_finding(place.path, "sources", f"{head}: nothing feeds it", "add a source"))
    return rows


def _stops(route: OverheadLine | Cable) -> int:
    """Places along a route where a fault can be: towers or joints, and the far end."""
    return len(route.joints) + 1 if isinstance(route, Cable) else len(route.span_lengths_m)
