"""Cross-field checks of the soil section."""

from __future__ import annotations

from typing import Any

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, records, section

__all__ = ["check_soil"]

_MEASURED = ("resistance_ohm", "apparent_resistivity_ohm_m")
_SCHLUMBERGER = ("half_current_spacing_m", "half_potential_spacing_m")


def check_soil(look: Look) -> None:
    """Readings against their array, and the model against the readings."""
    traverses = look.at("soil", "traverses")
    used = 0
    for i, traverse in records(traverses):
        used += _source_of_readings(look, i, traverse)
        _rod(look, ("soil", "traverses", i), traverse)
        for k, reading in records(traverse.get("readings")):
            path: Path = ("soil", "traverses", i, "readings", k)
            _array(look, path, reading, traverse.get("array"))
            _rod_reading(look, path, reading, traverse.get("array"))
            _measured(look, path, reading)
            used += reading.get("use") is not False
    _model(look, section(look.at("soil", "model")), used, look.at("soil"))
    _fill(look, section(look.at("soil", "fill")))


def _fill(look: Look, fill: Record) -> None:
    """Fill needs a resistivity; without thickness and cut there is nothing to do."""
    thickness, removed = number(fill, "thickness_m") or 0.0, number(fill, "removed_m") or 0.0
    if thickness > 0 and fill.get("resistivity_ohm_m") is None:
        look.error(
            "fill", ("soil", "fill"), "fill without a resistivity", "give resistivity_ohm_m, of the fill"
        )
    if fill and thickness == 0 and removed == 0:
        look.error(
            "fill", ("soil", "fill"), "fill without thickness_m or removed_m", "give one, or leave fill out"
        )


def _source_of_readings(look: Look, index: int, traverse: Record) -> int:
    """One place for the readings, not none and not two; 1 when they are in another file."""
    path: Path = ("soil", "traverses", index)
    here, elsewhere = traverse.get("readings"), traverse.get("readings_file")
    if elsewhere is not None:
        if here:
            look.error(
                "readings-twice", (*path, "readings_file"), "readings and readings_file", "keep one of them"
            )
        return 1
    if not here:
        look.error("traverse-empty", path, "a traverse without a reading", "give readings, or readings_file")
    return 0


def _rod(look: Look, path: Path, traverse: Record) -> None:
    """The diameter belongs to a driven rod, and a driven rod has one."""
    rod, given = traverse.get("array") == "driven_rod", traverse.get("rod_diameter_mm") is not None
    if rod and not given:
        look.error(
            "rod-diameter", path, "a driven rod without a diameter", "give rod_diameter_mm, of the rod"
        )
    elif given and not rod and isinstance(traverse.get("array"), str):
        message = "rod_diameter_mm belongs to readings of a driven rod"
        look.error("array-key", (*path, "rod_diameter_mm"), message, "remove it, or write array: driven_rod")


def _rod_reading(look: Look, path: Path, reading: Record, array: Any) -> None:
    if array != "driven_rod":
        if reading.get("rod_length_m") is not None:
            message = "rod_length_m belongs to readings of a driven rod"
            look.error("array-key", (*path, "rod_length_m"), message, "for probes give probe_depth_m")
        return
    for key in ("spacing_m", *_SCHLUMBERGER, "positions_m", "probe_depth_m"):
        if reading.get(key) is not None:
            message = f"{key} does not belong to a reading of a driven rod"
            look.error("array-key", (*path, key), message, "give rod_length_m and the resistance")
    if reading.get("rod_length_m") is None:
        look.error(
            "reading-spacing",
            path,
            "a reading of a driven rod without rod_length_m",
            "give rod_length_m, the length in the ground, in m",
        )


def _array(look: Look, path: Path, reading: Record, array: Any) -> None:
    if array == "wenner":
        for key in _SCHLUMBERGER:
            if reading.get(key) is not None:
                look.error(
                    "array-key", (*path, key), f"{key} does not belong to a Wenner reading", "give spacing_m"
                )
        if reading.get("spacing_m") is None:
            look.error("reading-spacing", path, "a Wenner reading without spacing_m", "give spacing_m, in m")
        _probe(look, path, reading, "spacing_m")
    elif array == "schlumberger":
        if reading.get("spacing_m") is not None:
            advice = "give half_current_spacing_m and half_potential_spacing_m"
            message = "spacing_m does not belong to a Schlumberger reading"
            look.error("array-key", (*path, "spacing_m"), message, advice)
        missing = [key for key in _SCHLUMBERGER if reading.get(key) is None]
        if missing:
            look.error(
                "reading-spacing",
                path,
                f"a Schlumberger reading without {' and '.join(missing)}",
                f"give {' and '.join(missing)}, in m",
            )
        _halves(look, path, reading)
        _probe(look, path, reading, "half_current_spacing_m")
    elif array == "four_probe":
        for key in ("spacing_m", *_SCHLUMBERGER):
            if reading.get(key) is not None:
                message = f"{key} does not belong to a reading of four stated probes"
                look.error("array-key", (*path, key), message, "give positions_m: [A, M, N, B]")
        places = reading.get("positions_m")
        if places is None:
            look.error(
                "reading-spacing",
                path,
                "a reading without positions_m",
                "give positions_m: [A, M, N, B], in m",
            )
        elif isinstance(places, list) and len(places) == 4 and len(set(map(str, places))) < 4:
            look.error(
                "probe-places",
                (*path, "positions_m"),
                "two probes at one place",
                "give four different places",
            )


def _halves(look: Look, path: Path, reading: Record) -> None:
    current, potential = (number(reading, key) for key in _SCHLUMBERGER)
    if current is not None and potential is not None and potential >= current > 0:
        look.error(
            "schlumberger-order",
            (*path, "half_potential_spacing_m"),
            f"half_potential_spacing_m {potential:g} m is not below half_current_spacing_m {current:g} m",
            "the potential probes stand between the current probes; are the two exchanged?",
        )


def _probe(look: Look, path: Path, reading: Record, key: str) -> None:
    depth, spacing = number(reading, "probe_depth_m"), number(reading, key)
    if depth is not None and spacing is not None and depth >= spacing > 0:
        look.error(
            "probe-depth",
            (*path, "probe_depth_m"),
            f"probes driven {depth:g} m deep at a spacing of {spacing:g} m",
            "probe_depth_m is the driven length and must be smaller than the spacing; in cm?",
        )


def _measured(look: Look, path: Path, reading: Record) -> None:
    voltage, current = reading.get("voltage_v"), reading.get("current_a")
    if (voltage is None) != (current is None):
        there, lacking = ("voltage_v", "current_a") if current is None else ("current_a", "voltage_v")
        look.error("reading-pair", (*path, there), f"{there} without {lacking}", f"give {lacking} as well")
    elif voltage is None and all(reading.get(key) is None for key in _MEASURED):
        look.error(
            "reading-empty",
            path,
            "a reading without a measured value",
            "give resistance_ohm, or voltage_v and current_a, or apparent_resistivity_ohm_m",
        )


def _model(look: Look, model: Record, used: int, soil: Any) -> None:
    select = model.get("select") or "auto"
    given = model.get("given")
    path: Path = ("soil", "model")
    if select == "given":
        if given is None:
            look.error("soil-given", (*path, "select"), "select is 'given' but no model is given", _GIVE)
        elif used and not model.get("reason"):
            look.error(
                "soil-reason",
                (*path, "select"),
                "a given model beside readings without a reason",
                "give reason: why the readings do not decide",
            )
    else:
        if given is not None and isinstance(select, str):
            message = f"a model is given but select is '{select}'"
            look.error("soil-given", (*path, "given"), message, "write select: given, or remove the model")
        if not used and isinstance(soil, dict):
            look.error(
                "survey-empty",
                ("soil",),
                "no soil reading to make a model from",
                "give traverses, or " + _GIVE,
            )
    _layers(look, section(given))


_GIVE = "select: given with given: {resistivities_ohm_m: [...], thicknesses_m: [...]}"


def _layers(look: Look, given: Record) -> None:
    resistivities, thicknesses = given.get("resistivities_ohm_m"), given.get("thicknesses_m")
    if not isinstance(resistivities, list) or not resistivities:
        return
    count = len(thicknesses) if isinstance(thicknesses, list) else 0 if thicknesses is None else None
    if count is not None and count != len(resistivities) - 1:
        key = "resistivities_ohm_m" if thicknesses is None else "thicknesses_m"
        look.error(
            "soil-layers",
            ("soil", "model", "given", key),
            f"{len(resistivities)} layers with {count} thicknesses",
            f"give {len(resistivities) - 1}: the last layer has no end",
        )
