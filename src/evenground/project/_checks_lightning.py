"""Cross-field checks of the section ``lightning``."""

from __future__ import annotations

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, records, section, words
from evenground.project._words import shorten

__all__ = ["check_lightning"]

_RULES = ("protection_level", "insulation", "sphere_radius_m")
_NAMED = ("masts", "wires", "buildings", "protected", "arresters", "transformers", "elevations", "transients")


def check_lightning(look: Look) -> None:
    """One rule for the sphere, names given once, heights above ground, and fields that belong together."""
    data = section(look.data.get("lightning"))
    if not data:
        return
    _rule(look, data)
    for name in _NAMED:
        _twice(look, name, data)
    for i, wire in records(data.get("wires")):
        _wire(look, ("lightning", "wires", i), wire)
    for i, thing in records(data.get("protected")):
        _thing(look, ("lightning", "protected", i), thing)
    for i, line in records(data.get("elevations")):
        if line.get("from_m") is not None and line.get("from_m") == line.get("to_m"):
            path: Path = ("lightning", "elevations", i, "to_m")
            look.error("elevation-length", path, "a section without length", "give two places")
    if data.get("impulse") is not None and not data.get("masts"):
        look.error("impulse-masts", ("lightning", "impulse"), "impulse without any mast", "give masts")


def _rule(look: Look, data: Record) -> None:
    given = [r for r in _RULES if data.get(r) is not None]
    if len(given) > 1:
        message = f"{given[0]} and {given[1]} both give the sphere"
        look.error("sphere-twice", ("lightning", given[1]), message, "keep one")
    if data.get("protected") and not given:
        message = "there is something to protect, but no rule for the sphere"
        look.error("sphere-missing", ("lightning",), message, f"give one of {', '.join(_RULES)}")
    if data.get("protected") and not any(data.get(k) for k in ("masts", "wires", "buildings")):
        look.warn(
            "shield-missing",
            ("lightning", "protected"),
            "nothing shields these objects",
            "give masts or wires",
        )


def _twice(look: Look, name: str, data: Record) -> None:
    first: dict[str, int] = {}
    for i, record in records(data.get(name)):
        word = words(record, "name")
        if word is None:
            continue
        if word in first:
            line = look.place(("lightning", name, first[word], "name"))[0]
            message = f"'{shorten(word)}' is the name of two entries, first in line {line}"
            look.error("name-twice", ("lightning", name, i, "name"), message, "give each its own")
        first.setdefault(word, i)


def _wire(look: Look, path: Path, wire: Record) -> None:
    ends = [wire.get("start_m"), wire.get("end_m")]
    for key, end in zip(("start_m", "end_m"), ends, strict=True):
        if isinstance(end, list) and len(end) == 3 and isinstance(end[2], int | float) and end[2] <= 0:
            look.error("wire-height", (*path, key), f"a wire at height {end[2]:g} m", "heights count up")
    if all(isinstance(e, list) and len(e) == 3 for e in ends) and ends[0][:2] == ends[1][:2]:  # type: ignore[index]
        look.error("wire-upright", (*path, "end_m"), "both ends stand on one place", "use a mast")
    sag = number(wire, "sag_m")
    lowest = [e[2] for e in ends if isinstance(e, list) and len(e) == 3 and isinstance(e[2], int | float)]
    if sag is not None and lowest and sag >= min(lowest) > 0:
        look.error("wire-sag", (*path, "sag_m"), f"a sag of {sag:g} m reaches the ground", "check sag_m")


def _thing(look: Look, path: Path, thing: Record) -> None:
    if bool(thing.get("points_m")) == (thing.get("box") is not None):
        look.error("shielded-shape", path, "an object needs points_m or a box", "give one of them")
    for k, place in enumerate(thing.get("points_m") or ()):
        if isinstance(place, list) and len(place) == 3 and isinstance(place[2], int | float) and place[2] < 0:
            where = (*path, "points_m", k)
            look.error("shielded-height", where, f"a height of {place[2]:g} m", "heights count up")
