"""Cross-field checks of faults, conductors, names and references."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from functools import cache
from math import pi
from typing import Any

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, records, section, words
from evenground.project._words import meant_by, nearest, shorten

__all__ = ["check_conductors", "check_faults", "check_metal", "check_names"]

_CURRENTS = ("current_ka", "current_a", "sequence")
_AREA_SLACK = 0.05
"""A stated area may differ this much from that of a full section (rounded sizes) without a warning."""


def check_names(look: Look) -> None:
    """No two entries of a list may share a name, as results are listed by name."""
    for where in (("soil", "traverses"), ("faults",), ("mats",), ("surface",)):
        first: dict[str, int] = {}
        for i, record in records(look.at(*where)):
            name = words(record, "name")
            if name is None:
                continue
            if name in first:
                line = look.place((*where, first[name], "name"))[0]
                look.error(
                    "name-twice",
                    (*where, i, "name"),
                    f"'{shorten(name)}' is the name of two entries, first in line {line}",
                    "give each its own name",
                )
            first.setdefault(name, i)
    for i, zone in records(look.at("surface")):
        if words(zone, "name") == "bare soil" and zone.get("outline_m") is not None:
            look.error(
                "zone-name",
                ("surface", i, "name"),
                "'bare soil' is the ground that no zone covers",
                "give this zone another name",
            )


def check_faults(look: Look) -> None:
    """One source of current, and times and split that make sense together."""
    for i, fault in records(look.at("faults")):
        path: Path = ("faults", i)
        given = [key for key in _CURRENTS if fault.get(key) is not None]
        if not given:
            look.error(
                "fault-current",
                path,
                "a fault without a current",
                "give current_ka, or current_a, or sequence with z1_ohm and z0_ohm",
            )
        elif len(given) > 1:
            look.error(
                "fault-current",
                (*path, given[1]),
                f"{' and '.join(given)} are given together",
                "keep one of them",
            )
        _times(look, path, fault)
        _backup(look, path, fault)
        _split(look, path, fault)
        _sequence(look, path, section(fault.get("sequence")))


def _times(look: Look, path: Path, fault: Record) -> None:
    shock, thermal = number(fault, "shock_time_s"), number(fault, "thermal_time_s")
    if shock is not None and thermal is not None and shock > thermal > 0:
        look.error(
            "fault-times",
            (*path, "shock_time_s"),
            f"shock_time_s {shock:g} s is longer than thermal_time_s {thermal:g} s",
            "metal must carry the current at least as long as a person may; are the two exchanged?",
        )


def _backup(look: Look, path: Path, fault: Record) -> None:
    shock, late = number(fault, "shock_time_s"), number(fault, "backup_time_s")
    if shock is not None and late is not None and late <= shock:
        look.error(
            "fault-times",
            (*path, "backup_time_s"),
            f"backup_time_s {late:g} s is not longer than shock_time_s {shock:g} s",
            "give the clearing time of the back-up protection, or leave it out",
        )
    made = f"{words(fault, 'name')}, back-up clearing"
    if late is not None and any(words(f, "name") == made for _, f in records(look.at("faults"))):
        text = f"'{shorten(made)}' is also the name that backup_time_s gives to its scenario"
        look.error("name-twice", (*path, "name"), text, "rename the other fault")


def _split(look: Look, path: Path, fault: Record) -> None:
    factor = number(fault, "split_factor")
    place = (*path, "split_factor")
    if factor is not None and 0 < factor < 1 and place not in look.origins:
        look.warn(
            "split-unsourced",
            place,
            f"split_factor {factor:g} is stated without an origin",
            "give {value: ..., origin: {document: ..., note: ...}}; without proof the factor is 1",
        )


def _sequence(look: Look, path: Path, sequence: Record) -> None:
    total = 0j
    for key in ("z1_ohm", "z2_ohm", "z0_ohm"):
        pair = sequence.get("z1_ohm" if key == "z2_ohm" and sequence.get(key) is None else key)
        parts = {"r": pair[0], "x": pair[1]} if isinstance(pair, list) and len(pair) == 2 else {}
        resistance, reactance = number(parts, "r"), number(parts, "x")
        if resistance is None or reactance is None:
            return
        if resistance < 0 and sequence.get(key) is not None:
            look.error(
                "impedance-sign",
                (*path, "sequence", key, 0),
                f"a resistance of {resistance:g} ohm is negative",
                "write [resistance, reactance]",
            )
        total += complex(resistance, reactance)
    total += 3 * (number(sequence, "fault_resistance_ohm") or 0.0)
    if total == 0:
        look.error(
            "impedance-zero",
            (*path, "sequence"),
            "the impedances add up to 0 ohm, so the current has no limit",
            "give the sequence impedances seen from the fault",
        )


def check_conductors(look: Look) -> None:
    """Known metals, sections that fit their shape, and references that lead somewhere."""
    conductors = section(look.data.get("conductors"))
    for key, value in conductors.items():
        check_metal(look, ("conductors", key), section(value))
    for name in ("mats", "runs"):
        for i, record in records(look.data.get(name)):
            reference = "mat" if record.get("conductor") is None else words(record, "conductor")
            if reference is None or reference in conductors:
                continue
            known = ", ".join(shorten(k) for k in list(conductors)[:12])
            advice = meant_by(reference, conductors) or f"defined under conductors: {known or 'none'}"
            look.error(
                "conductor-unknown",
                (name, i, "conductor"),
                f"conductor '{shorten(reference)}' is not defined",
                advice,
            )


def check_metal(look: Look, path: Path, record: Record) -> None:
    """A known metal and a section that fits its shape."""
    _material(look, path, record)
    _section(look, path, record)


@cache
def _known_materials() -> Mapping[str, Any]:
    """The material table; empty when this build has none."""
    try:
        module = importlib.import_module("evenground.standards.materials")
    except ImportError:
        return {}
    table: Mapping[str, Any] = module.MATERIALS
    return table


def _material(look: Look, path: Path, record: Record) -> None:
    material = words(record, "material")
    known = _known_materials()
    if not material or not known or material in known:
        return
    metals = dict.fromkeys(key.split("_")[0] for key in known)
    metal = nearest(material.split("_")[0], metals)
    same = [key for key in known if metal and key.split("_")[0] == metal]
    advice = meant_by(material, known) or (
        f"did you mean {' or '.join(same)}?" if same else f"known: {', '.join(known)}"
    )
    look.error(
        "material-unknown", (*path, "material"), f"material '{shorten(material)}' is not known", advice
    )


def _section(look: Look, path: Path, record: Record) -> None:
    shape = record.get("shape") or "round"
    alien: tuple[str, ...]
    needed: tuple[str, ...]
    if shape == "strip":
        alien, needed = ("diameter_mm",), ("width_mm", "thickness_mm")
    elif shape in ("round", "strand"):
        alien, needed = ("width_mm", "thickness_mm"), ()
    else:
        return
    for key in alien:
        if record.get(key) is not None:
            look.error(
                "section-shape", (*path, key), f"{key} does not belong to the shape '{shape}'", "check shape"
            )
    given = [key for key in needed if record.get(key) is not None]
    if len(given) == 1:
        lacking = next(key for key in needed if key not in given)
        look.error("section-shape", (*path, given[0]), f"{given[0]} without {lacking}", f"give {lacking} too")
    _area(look, path, record, str(shape))


def _area(look: Look, path: Path, record: Record, shape: str) -> None:
    area = number(record, "area_mm2")
    if shape == "strip":
        width, thickness = number(record, "width_mm"), number(record, "thickness_mm")
        full = width * thickness if width and thickness else None
        if width and thickness and thickness > width:
            message = f"thickness_mm {thickness:g} mm exceeds width_mm {width:g} mm"
            look.error("section-shape", (*path, "thickness_mm"), message, "are the two exchanged?")
    else:
        diameter = number(record, "diameter_mm")
        full = pi / 4 * diameter**2 if diameter else None
    if area is None or full is None or area <= 0:
        return
    if area > full * (1 + _AREA_SLACK):
        look.error(
            "section-area",
            (*path, "area_mm2"),
            f"area_mm2 {area:g} mm2 is more than the full section of {full:.4g} mm2 has room for",
            "check diameter, width and thickness against the area",
        )
    elif shape != "strand" and area < full * (1 - _AREA_SLACK):
        look.warn(
            "section-area",
            (*path, "area_mm2"),
            f"area_mm2 {area:g} mm2 is less than the full section of {full:.4g} mm2",
            "write shape: strand when it is stranded, or leave area_mm2 out",
        )
