"""Cross-field checks of the network: names, references, one way of describing each thing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from evenground.project._checks_places import check_places
from evenground.project._explain import Path
from evenground.project._look import Look, Record, records, section, words
from evenground.project._words import nearest, shorten
from evenground.standards.line_wires import LINE_WIRES

__all__ = ["check_network"]

HERE = "station"
_ROUTES = ("lines", "neutrals", "cables")
_FEEDERS = ("sources", "transformers")


def check_network(look: Look) -> None:
    """Every reference leads somewhere, and every route and current is described in one way."""
    if not isinstance(look.data.get("network"), dict):
        return
    _names(look)
    check_places(look)
    for key in ("lines", "neutrals"):
        for i, row in _rows(look, key):
            _line(look, ("network", key, i), row)
            _refer(look, ("network", key, i), row, "far_station", _known(look, "stations"), "stations")
    for i, row in _rows(look, "cables"):
        path: Path = ("network", "cables", i)
        _refer(look, path, row, "far_station", _known(look, "stations"), "stations")
        _one_of(look, path, row, ("sheath", "given"), "cable")
    for i, row in _rows(look, "groups"):
        known = [HERE, *_known(look, "stations"), *_known(look, "groups")]
        _refer(look, ("network", "groups", i), row, "bonded_to", known, "stations or groups")
    _feeders(look)
    for i, row in _rows(look, "fault_places"):
        path = ("network", "fault_places", i)
        _refer(look, path, row, "fault", _fault_names(look), "faults")
        _refer(look, path, row, "route", _known(look, *_ROUTES), "lines, neutrals or cables")


def _rows(look: Look, key: str) -> Iterator[tuple[int, Record]]:
    return records(look.at("network", key))


def _known(look: Look, *keys: str) -> list[str]:
    return [name for key in keys for _, row in _rows(look, key) if (name := words(row, "name"))]


def _fault_names(look: Look) -> list[str]:
    return [name for _, row in records(look.at("faults")) if (name := words(row, "name"))]


def _names(look: Look) -> None:
    """Routes, earths and feeders each have names of their own."""
    for keys in (_ROUTES, ("stations", "groups"), _FEEDERS):
        first: dict[str, Path] = {}
        for key in keys:
            for i, row in _rows(look, key):
                name, path = words(row, "name"), ("network", key, i, "name")
                if name is None:
                    continue
                if name == HERE and keys == ("stations", "groups"):
                    text = "'station' means the station under study"
                    look.error("network-name", path, text, "give this one another name")
                elif name in first:
                    line = look.place(first[name])[0]
                    text = f"'{shorten(name)}' is the name of two entries, first in line {line}"
                    look.error("name-twice", path, text, "give each its own name")
                first.setdefault(name, path)


def _refer(look: Look, path: Path, row: Record, key: str, known: Iterable[str], where: str) -> None:
    """The text under a key, when there is one, is a name of the list."""
    name, names = words(row, key), list(known)
    if not name or name in names:
        return
    meant = nearest(name, names)
    shown = ", ".join(shorten(n) for n in names[:12]) or "none"
    advice = f"did you mean '{meant}'?" if meant else f"under {where}: {shown}"
    look.error("network-reference", (*path, key), f"'{shorten(name)}' is not defined under {where}", advice)


def _one_of(look: Look, path: Path, row: Record, keys: Sequence[str], what: str) -> None:
    given = [key for key in keys if row.get(key) not in (None, [])]
    if not given:
        look.error("network-missing", path, f"a {what} without {' or '.join(keys)}", f"give {keys[0]}")
    elif len(given) > 1:
        text = f"{' and '.join(given)} are given together"
        look.error("network-double", (*path, given[1]), text, "keep one of them")


def _line(look: Look, path: Path, row: Record) -> None:
    if row.get("reduction_factor") is not None:
        alien = ("spans", "span_lengths_m", "tower_resistance_ohm", "tower_resistances_ohm", "ground_wires")
        for key in (*alien, "phases", "given"):
            if row.get(key) not in (None, []):
                text = f"{key} beside reduction_factor: the line is described twice"
                look.error("network-double", (*path, key), text, "keep the wires, or the reduction factor")
        return
    if row.get("chain_ohm") is not None:
        look.error(
            "network-double",
            (*path, "chain_ohm"),
            "chain_ohm goes with reduction_factor only",
            "leave it out",
        )
    _one_of(look, path, row, ("spans", "span_lengths_m"), "line")
    _one_of(look, path, row, ("tower_resistance_ohm", "tower_resistances_ohm"), "line")
    _one_of(look, path, row, ("phases", "given"), "line")
    for key in ("ground_wires", "phases"):
        for k, wire in records(row.get(key)):
            _wire(look, (*path, key, k), wire)


def _wire(look: Look, path: Path, row: Record) -> None:
    ways = ("type", "resistance_ohm_per_km", "dc_resistance_ohm_per_km")
    _one_of(look, path, row, ways, "wire")
    kind = words(row, "type")
    if kind is not None and kind not in LINE_WIRES:
        meant = nearest(kind, LINE_WIRES)
        advice = f"did you mean '{meant}'?" if meant else f"known: {', '.join(LINE_WIRES)}"
        look.error("wire-unknown", (*path, "type"), f"wire type '{shorten(kind)}' is not known", advice)
    for key, mate in (("resistance_ohm_per_km", "gmr_mm"), ("dc_resistance_ohm_per_km", "radius_mm")):
        if row.get(key) is not None and row.get(mate) is None:
            look.error("wire-size", (*path, key), f"{key} without {mate}", f"give {mate} too")


def _feeders(look: Look) -> None:
    faults = _fault_names(look)
    open_shares: dict[str, str] = {}
    for key in _FEEDERS:
        for i, row in _rows(look, key):
            path: Path = ("network", key, i)
            if key == "sources":
                _source(look, path, row)
            else:
                _refer(look, path, row, "neutral_at", [HERE, *_known(look, "groups")], "groups")
                if row.get("neutral") == "isolated" and row.get("contributions"):
                    text = "an isolated neutral carries no earth-fault current"
                    look.error("neutral-isolated", (*path, "contributions"), text, "leave contributions out")
            for k, given in records(row.get("contributions")):
                _contribution(look, (*path, "contributions", k), given, faults, open_shares)


def _source(look: Look, path: Path, row: Record) -> None:
    _refer(look, path, row, "station", _known(look, "stations"), "stations")
    _refer(look, path, row, "via", _known(look, *_ROUTES), "lines, neutrals or cables")
    via, station = words(row, "via"), words(row, "station")
    for key in _ROUTES:
        for _, route in _rows(look, key):
            if words(route, "name") != via or route.get("reduction_factor") is not None:
                continue
            end = words(route, "far_station")
            if end != station and station in _known(look, "stations"):
                text = (
                    f"'{shorten(via or '')}' ends at {end or 'no station'}, not at '{shorten(station or '')}'"
                )
                look.error("network-reference", (*path, "via"), text, "name the route that comes from there")


def _contribution(
    look: Look, path: Path, row: Record, faults: list[str], open_shares: dict[str, str]
) -> None:
    _refer(look, path, row, "fault", faults, "faults")
    given = [key for key in ("current_ka", "impedance_ohm") if row.get(key) is not None]
    if len(given) == 2:
        look.error(
            "network-double", (*path, given[1]), f"{' and '.join(given)} are given together", "keep one"
        )
    fault = words(row, "fault") or ""
    if not given and fault in open_shares:
        text = f"two contributions to '{shorten(fault)}' are left open"
        look.error("contribution-open", path, text, "give current_ka for all but one")
    elif not given:
        open_shares[fault] = fault
    if section(row).get("x_over_r") is not None and "current_ka" not in given:
        text = "x_over_r goes with current_ka"
        look.error("contribution-angle", (*path, "x_over_r"), text, "leave it out, or give the current")
