"""From the places of the file to earths that are coupled through the soil."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from math import cos, radians, sin

from evenground.errors import Finding, InputError
from evenground.model.coupling import PlacedEarth, PlacedWire
from evenground.model.site import Point2
from evenground.project._explain import Path
from evenground.project._schema_network import LineFile, NetworkFile
from evenground.project._schema_places import EarthPlaceFile, TowerPlacesFile

__all__ = ["to_placed"]

MILLI = 1e-3
LEGS_M = 5.0
"""Distance of the legs of a tower, when it is not stated. [m]"""
FRAME_METAL_M = 0.01
ROD_M = 0.02
"""Diameter of the metal of a far mat, and of a single rod. [m]"""


def to_placed(file: NetworkFile) -> tuple[PlacedEarth, ...]:
    """Every earth of the network with a place.

    Raises
    ------
    InputError
        With every refusal of a shape, each with the path of its entry.
    """
    rows, findings = [], []
    for path, given in _given(file):
        try:
            rows.append(PlacedEarth(**given, path=path))  # type: ignore[arg-type]
        except ValueError as error:
            findings.append(Finding("network-value", f"{error}", path=path))
    if findings:
        raise InputError(findings)
    return tuple(rows)


def _given(file: NetworkFile) -> Iterator[tuple[Path, dict[str, object]]]:
    for kind, lines in (("lines", file.lines), ("neutrals", file.neutrals)):
        for i, line in enumerate(lines):
            if line.towers is not None:
                yield from _towers(line, line.towers, kind, ("network", kind, i, "towers"))
    for i, cable in enumerate(file.cables):
        for k, joint in enumerate(cable.joints, 1):
            if joint.place is not None:
                path: Path = ("network", "cables", i, "joints", k - 1, "place")
                yield path, _simple(f"{cable.name}/joint {k}", f"{cable.name}, joint {k}", joint.place)
    for i, station in enumerate(file.stations):
        if station.place is not None:
            yield ("network", "stations", i, "place"), _simple(station.name, station.name, station.place)
    for i, group in enumerate(file.groups):
        if group.place is not None:
            yield ("network", "groups", i, "place"), _simple(group.name, group.name, group.place)


def _simple(name: str, label: str, place: EarthPlaceFile) -> dict[str, object]:
    frame = place.width_m > 0
    return {
        "name": name,
        "label": label,
        "at_m": (place.at_m[0], place.at_m[1]),
        "width_m": place.width_m,
        "depth_m": place.depth_m,
        "diameter_m": FRAME_METAL_M if frame else ROD_M,
        "frame": frame,
    }


def _towers(
    line: LineFile, towers: TowerPlacesFile, kind: str, path: Path
) -> Iterator[tuple[Path, dict[str, object]]]:
    word = "pole" if kind == "neutrals" else "tower"
    width = towers.footing.width_m
    if width is None:
        width = LEGS_M if kind == "lines" else 0.0
    feet = line.tower_resistances_ohm
    for k, at_m in enumerate(_places(line, towers), 1):
        if feet is not None and feet[k - 1] is None:
            continue  # a tower without earth has nothing to couple
        wires = tuple(
            PlacedWire(tuple((p[0], p[1]) for p in w.points_m), w.depth_m, w.diameter_mm * MILLI)
            for w in towers.counterpoises
            if w.tower == k
        )
        yield (
            (*path, "at_m", k - 1) if towers.at_m is not None else path,
            {
                "name": f"{line.name}/{k}",
                "label": f"{line.name}, {word} {k}",
                "at_m": at_m,
                "width_m": width,
                "depth_m": towers.footing.depth_m,
                "diameter_m": towers.footing.diameter_mm * MILLI,
                "wires": wires,
            },
        )


def _places(line: LineFile, towers: TowerPlacesFile) -> list[Point2]:
    if towers.at_m is not None:
        return [(x, y) for x, y in towers.at_m]
    assert towers.from_m is not None, "the checks have seen it"
    assert towers.bearing_deg is not None, "the checks have seen it"
    spans = line.span_lengths_m or ([line.spans.length_m] * line.spans.count if line.spans else [])
    way = (sin(radians(towers.bearing_deg)), cos(radians(towers.bearing_deg)))
    x, y = towers.from_m
    return [(x + d * way[0], y + d * way[1]) for d in accumulate(spans[: towers.count])]
