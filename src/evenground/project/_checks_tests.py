"""Cross-field checks of the sections ``tests`` and ``upkeep``."""

from __future__ import annotations

from evenground.model.site_test import TASK_NAMES
from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, records, section, words
from evenground.project._words import shorten

__all__ = ["check_tests"]

_IN_FORM = ("fall_of_potential", "injection", "continuity")
_ALL = (*_IN_FORM, "joints", "gravel", "buried_metal")


def check_tests(look: Look) -> None:
    """Names given once, a form or readings, known conductors and tasks, dates in order."""
    first: dict[str, int] = {}
    for i, test in records(look.data.get("tests")):
        path: Path = ("tests", i)
        name = words(test, "name")
        if name is not None and name in first:
            line = look.place(("tests", first[name], "name"))[0]
            message = f"'{shorten(name)}' is the name of two tests, first in line {line}"
            look.error("name-twice", (*path, "name"), message, "give each its own")
        if name is not None:
            first.setdefault(name, i)
        _parts(look, path, test)
        _soil(look, path, section(test.get("soil")))
        _fall(look, (*path, "fall_of_potential"), section(test.get("fall_of_potential")))
        _injection(look, (*path, "injection"), section(test.get("injection")))
        _sections(look, path, test)
        _risers(look, (*path, "continuity"), section(test.get("continuity")))
    _upkeep(look)


def _parts(look: Look, path: Path, test: Record) -> None:
    given = [p for p in _ALL if test.get(p)]
    if test.get("form") is not None:
        for part in _IN_FORM:
            if test.get(part):
                message = f"{part} stands beside a form, which holds it already"
                look.error("test-twice", (*path, part), message, "keep one of the two")
    elif not given:
        message = "a test without any reading"
        look.error("test-empty", path, message, f"give a form or one of {', '.join(_ALL)}")


def _soil(look: Look, path: Path, soil: Record) -> None:
    layers, depths = soil.get("resistivities_ohm_m"), soil.get("thicknesses_m") or []
    if isinstance(layers, list) and isinstance(depths, list) and len(depths) != len(layers) - 1:
        message = f"{len(layers)} resistivities and {len(depths)} thicknesses"
        advice = "one thickness less than resistivities: the last layer is infinite"
        look.error("test-soil", (*path, "soil"), message, advice)


def _fall(look: Look, path: Path, fall: Record) -> None:
    if not fall:
        return
    if number(fall, "lead_spacing_m") is not None and number(fall, "frequency_hz") is None:
        message = "leads side by side, but no frequency"
        look.error(
            "test-frequency", (*path, "lead_spacing_m"), message, "give frequency_hz of the instrument"
        )
    seen: dict[float, int] = {}
    for k, reading in records(fall.get("readings")):
        distance = number(reading, "distance_m")
        if distance is None:
            continue
        if distance in seen:
            message = f"two readings at {distance:g} m"
            look.error("test-reading-twice", (*path, "readings", k, "distance_m"), message, "keep one")
        seen.setdefault(distance, k)


def _injection(look: Look, path: Path, data: Record) -> None:
    if not data:
        return
    lead = [k for k in ("lead_spacing_m", "lead_length_m", "frequency_hz") if number(data, k) is not None]
    if lead and len(lead) < 3 and lead != ["frequency_hz"]:
        message = f"{' and '.join(lead)} alone do not give the coupling of the remote lead"
        advice = "give lead_spacing_m, lead_length_m and frequency_hz, or none"
        look.error("test-lead", (*path, lead[0]), message, advice)
    if data.get("remote_angle_deg") is not None and data.get("remote_voltage_v") is None:
        message = "an angle without a remote voltage"
        look.error("test-remote", (*path, "remote_angle_deg"), message, "give remote_voltage_v")
    if data.get("places") is None and data.get("remote_voltage_v") is None:
        message = "neither places nor the remote voltage were read"
        look.error("test-injection", path, message, "give places or remote_voltage_v")
    seen = set()
    for k, place in records(data.get("places")):
        key = (words(place, "name"), words(place, "quantity"))
        if None not in key and key in seen:
            message = f"{key[1]} at '{shorten(str(key[0]))}' stands twice"
            look.error(
                "test-place-twice", (*path, "places", k, "name"), message, "give each place its own name"
            )
        seen.add(key)


def _risers(look: Look, path: Path, data: Record) -> None:
    """Risers are tags of the equipment, each read once."""
    tags = [words(e, "tag") for _, e in records(look.data.get("equipment"))]
    reference = words(data, "reference")
    advice = "give a tag under equipment"
    if reference and reference not in tags:
        message = f"'{shorten(reference)}' is no tag under equipment"
        look.error("test-riser", (*path, "reference"), message, advice)
    seen: set[str] = set()
    for k, row in records(data.get("readings")):
        name, place = words(row, "riser"), (*path, "readings", k, "riser")
        if name is None:
            continue
        if name not in tags:
            look.error("test-riser", place, f"'{shorten(name)}' is no tag under equipment", advice)
        elif name in seen:
            look.error("test-riser-twice", place, f"riser '{shorten(name)}' was read twice", "keep one")
        seen.add(name)


def _sections(look: Look, path: Path, test: Record) -> None:
    known = section(look.data.get("conductors"))
    for k, row in records(test.get("buried_metal")):
        key = words(row, "conductor")
        if key is not None and key not in known:
            message = f"'{shorten(key)}' is no key under conductors"
            place: Path = (*path, "buried_metal", k, "conductor")
            look.error("test-conductor", place, message, f"known: {', '.join(map(str, known))}")


def _upkeep(look: Look) -> None:
    data = section(look.data.get("upkeep"))
    if not data:
        return
    for field in ("intervals_years", "done"):
        for name in section(data.get(field)):
            if name not in TASK_NAMES:
                message = f"'{shorten(str(name))}' is no task of upkeep"
                look.error("upkeep-task", ("upkeep", field, name), message, f"known: {', '.join(TASK_NAMES)}")
    since, until = words(data, "in_service"), words(data, "as_of")
    if since is not None and until is not None and until < since:
        message = f"as_of {until} lies before in_service {since}"
        look.error("upkeep-dates", ("upkeep", "as_of"), message, "give a later day")
    now = section(data.get("now"))
    fault = words(now, "fault")
    names = [words(f, "name") for _, f in records(look.data.get("faults"))]
    if fault is not None and fault not in names:
        message = f"'{shorten(fault)}' is the name of no fault"
        look.error("upkeep-fault", ("upkeep", "now", "fault"), message, "give a name under faults")
