"""Cross-field checks of the places of towers and other earths of the network."""

from __future__ import annotations

from itertools import pairwise
from math import dist

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, points, records, section

__all__ = ["check_places"]

SPAN_OFF = 0.25
"""Places of two towers further from their span length than this are a warning."""


def check_places(look: Look) -> None:
    """Places of towers are described in one way, belong to towers that exist and fit the spans."""
    for kind in ("lines", "neutrals"):
        for i, line in records(look.at("network", kind)):
            towers = line.get("towers")
            if isinstance(towers, dict):
                _towers(look, ("network", kind, i, "towers"), line, towers)
    for i, cable in records(look.at("network", "cables")):
        for k, joint in records(cable.get("joints")):
            if joint.get("place") is not None and joint.get("earth_resistance_ohm") is None:
                path: Path = ("network", "cables", i, "joints", k, "place")
                text = "a joint without an electrode has nothing to couple with the mat"
                look.error("place-unearthed", path, text, "give earth_resistance_ohm, or leave place out")


def _towers(look: Look, path: Path, line: Record, towers: Record) -> None:
    if line.get("reduction_factor") is not None:
        text = "towers beside reduction_factor: a line described so has none"
        look.error("network-double", path, text, "give spans, towers and wires instead of the factor")
        return
    places = points(towers.get("at_m"))
    straight = [k for k in ("from_m", "bearing_deg", "count") if towers.get(k) is not None]
    if towers.get("at_m") is None and len(straight) < 3:
        missing = [k for k in ("from_m", "bearing_deg", "count") if k not in straight]
        text = "towers without their places"
        look.error("network-missing", path, text, f"give at_m, or {' and '.join(missing)}")
    elif towers.get("at_m") is not None and straight:
        text = f"at_m and {straight[0]} are given together"
        look.error("network-double", (*path, straight[0]), text, "keep the places, or the way of the line")
    count = len(places) if places is not None else number(towers, "count")
    spans = _spans(line)
    if count is not None and spans:
        most = len(spans) - 1 if line.get("far_station") else len(spans)
        if count > most:
            text = f"places for {count:g} towers, the line has {most} before its end"
            key = "at_m" if places is not None else "count"
            look.error("place-count", (*path, key), text, "leave the others out; the far end is no tower")
    if places and spans:
        _fit(look, path, places, spans)
    for k, wire in records(towers.get("counterpoises")):
        number_ = number(wire, "tower")
        if number_ is not None and count is not None and number_ > count:
            text = f"a counterpoise at tower {number_:g}, of which no place is given"
            look.error("place-count", (*path, "counterpoises", k, "tower"), text, "place that tower too")


def _spans(line: Record) -> list[float]:
    lengths = line.get("span_lengths_m")
    if isinstance(lengths, list):
        return [float(v) for v in lengths if isinstance(v, int | float) and not isinstance(v, bool)]
    spans = section(line.get("spans"))
    count, length = number(spans, "count"), number(spans, "length_m")
    return [length] * int(count) if count is not None and length is not None and 0 < count <= 5000 else []


def _fit(look: Look, path: Path, places: list[tuple[float, float]], spans: list[float]) -> None:
    for k, ((a, b), span) in enumerate(zip(pairwise(places), spans[1:], strict=False), 1):
        gap = dist(a, b)
        if abs(gap - span) > SPAN_OFF * span:
            text = f"towers {k} and {k + 1} are {gap:.0f} m apart in plan, their span is {span:g} m"
            look.warn("place-span", (*path, "at_m", k), text, "correct one of them")
