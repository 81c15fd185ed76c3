"""Cross-field checks of the layout: mats, rods, runs, surface cover, raster."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import ceil, hypot
from typing import Any

from evenground.project._explain import Path
from evenground.project._look import FURTHEST_M, Look, Pair, Record, number, points, records, section
from evenground.project._polygons import SAME_PLACE_M, check_outline, opened

__all__ = ["check_site"]

MOST_RASTER_POINTS = 2_000_000
MOST_LINES = 5_000
_SPACINGS = ("spacing_m", "spacing_x_m", "spacing_y_m", "lines_x_m", "lines_y_m")
FAR_M = 1_000.0
LARGE_M = 5_000.0
SMALL_M = 0.1
_RIM_M = 1.0


def check_site(look: Look) -> None:
    """All checks of the layout."""
    mats = [(i, mat, _outline(look, i, mat)) for i, mat in records(look.data.get("mats"))]
    for i, mat, outline in mats:
        _mesh(look, ("mats", i), mat, outline)
        for k, rule in records(mat.get("rods")):
            _rod_rule(look, ("mats", i, "rods", k), rule)
    metal = [p for _, _, outline in mats for p in outline or ()]
    metal += _runs(look)
    _rods(look, metal)
    _surface(look)
    _assessment(look, metal)
    if not any(look.data.get(key) for key in ("mats", "rods", "runs", "site_drawing")):
        look.error("no-metal", (), "there is no mat, no rod and no run", "draw at least one under mats")


def _outline(look: Look, index: int, mat: Record) -> list[Pair] | None:
    """Corners of a mat when they can be used, with errors when not."""
    path: Path = ("mats", index)
    corners, rectangle = mat.get("outline_m"), mat.get("rectangle")
    if corners is not None and rectangle is not None:
        look.error(
            "mat-outline", (*path, "rectangle"), "outline_m and rectangle are given together", "keep one"
        )
    if corners is None and rectangle is None:
        look.error("mat-outline", path, "a mat without an outline", "give outline_m or rectangle")
        return None
    if corners is not None:
        found = points(corners)
        if found is None or not check_outline(look, (*path, "outline_m"), found):
            return None
        return opened(found) if _size(look, (*path, "outline_m"), found) else None
    found = rectangle_corners(section(rectangle))
    return found if found is not None and _size(look, (*path, "rectangle"), found) else None


def rectangle_corners(rectangle: Record) -> list[Pair] | None:
    """Corners of a rectangle, or None when a number is missing or not usable."""
    x, y = number(rectangle, "length_x_m"), number(rectangle, "length_y_m")
    corner = points([rectangle["corner_m"] if rectangle.get("corner_m") is not None else [0.0, 0.0]])
    if x is None or y is None or corner is None or min(x, y) <= 0 or max(x, y) > FURTHEST_M:
        return None
    (x0, y0) = corner[0]
    return [(x0, y0), (x0 + x, y0), (x0 + x, y0 + y), (x0, y0 + y)]


def _extents(places: list[Pair]) -> tuple[float, float]:
    xs, ys = zip(*places, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def _size(look: Look, path: Path, corners: list[Pair]) -> bool:
    smallest, largest = sorted(_extents(corners))
    if largest > LARGE_M:
        advice = (
            "the coordinates look like millimetres: divide them by 1000" if largest <= 2e6 else "check them"
        )
        look.error("mat-size", path, f"a mat of {largest:g} m is larger than {LARGE_M:g} m", advice)
        return False
    if smallest < SMALL_M:
        look.error("mat-size", path, f"a mat only {smallest:g} m wide", "coordinates are in m")
        return False
    if largest < 1.0:
        look.warn("mat-size", path, f"a mat of only {largest:g} m", "coordinates are in m")
    return True


def _mesh(look: Look, path: Path, mat: Record, outline: list[Pair] | None) -> None:
    both = mat.get("spacing_m")
    if not any(mat.get(k) is not None for k in _SPACINGS):
        advice = "give spacing_m, or for each direction spacing_x_m or lines_x_m, spacing_y_m or lines_y_m"
        look.error("mat-spacing", path, "a mat without a spacing", advice)
        return
    for axis in ("x", "y"):
        one, lines = mat.get(f"spacing_{axis}_m"), mat.get(f"lines_{axis}_m")
        given = [
            key
            for key, value in (("spacing_m", both), (f"spacing_{axis}_m", one), (f"lines_{axis}_m", lines))
            if value is not None
        ]
        if len(given) > 1:
            message = f"{' and '.join(given)} are given together"
            look.error("mat-spacing", (*path, given[1]), message, "keep one for each direction")
        if not given:
            advice = f"give spacing_m, or spacing_{axis}_m, or lines_{axis}_m"
            look.error("mat-spacing", path, f"a mat without a spacing along {axis}", advice)
        elif outline is not None and len(given) == 1:
            low, high = _bounds(outline, axis)
            if lines is None:
                _spacing(look, (*path, given[0]), number(mat, given[0]), high - low, axis)
            else:
                _lines(look, (*path, given[0]), lines, low, high)


def _bounds(outline: list[Pair], axis: str) -> Pair:
    values = [p[0 if axis == "x" else 1] for p in outline]
    return min(values), max(values)


def _spacing(look: Look, path: Path, spacing: float | None, extent: float, axis: str) -> None:
    if spacing is None or spacing <= 0:
        return
    name = str(path[-1])
    if spacing > extent * (1 + 1e-9):
        look.error(
            "mat-spacing-wide",
            path,
            f"{name} {spacing:g} m is larger than the mat along {axis}, {extent:g} m",
            f"at most {extent:g} m; for a plain ring use runs",
        )
    elif extent / spacing > MOST_LINES:
        look.error(
            "mat-spacing-fine",
            path,
            f"{name} {spacing:g} m over {extent:g} m makes {ceil(extent / spacing)} conductors",
            f"at most {MOST_LINES} are accepted",
        )


def _lines(look: Look, path: Path, lines: Any, low: float, high: float) -> None:
    values = [number({"v": v}, "v") for v in lines] if isinstance(lines, list) else []
    known = sorted((v, i) for i, v in enumerate(values) if v is not None)
    for value, i in known:
        if not low - SAME_PLACE_M <= value <= high + SAME_PLACE_M:
            message = f"the line at {value:g} m lies outside the mat, {low:g} to {high:g} m"
            look.error("mat-line-outside", (*path, i), message, "positions use the axes of the outline")
    for (a, _), (b, k) in pairwise(known):
        if b - a < SAME_PLACE_M:
            look.error("mat-line-twice", (*path, k), f"two lines at {b:g} m", "remove one of them")


def _rod_rule(look: Look, path: Path, rule: Record) -> None:
    given = [key for key in ("spacing_m", "count") if rule.get(key) is not None]
    if rule.get("where") == "corners" and given:
        message = f"{given[0]} has no meaning for rods in the corners"
        look.error("rod-rule", (*path, given[0]), message, "remove it, or write where: perimeter")
    elif rule.get("where") == "perimeter" and len(given) != 1:
        message = "rods on the perimeter " + ("with spacing_m and count" if given else "without a spacing")
        look.error("rod-rule", path, message, "give spacing_m or count, one of them")
    _rod_size(look, path, rule)


def _rod_size(look: Look, path: Path, rod: Record) -> None:
    length, diameter = number(rod, "length_m"), number(rod, "diameter_mm")
    if length is not None and diameter is not None and 0 < length <= 2e-3 * diameter:
        message = f"a rod of {length:g} m length and {diameter:g} mm diameter"
        look.error("rod-size", (*path, "length_m"), message, "a rod is much longer than thick")
    conductors = section(look.data.get("conductors"))
    mat, kind = number(section(conductors.get("mat")), "diameter_mm"), section(conductors.get("rod"))
    if diameter is None:
        return
    place = (*path, "diameter_mm")
    stated = number(kind, "diameter_mm")
    if stated is not None and abs(stated - diameter) > 0.05 * stated:
        message = f"rods of {diameter:g} mm, but conductors.rod has {stated:g} mm"
        look.warn(
            "rod-diameter", place, message, "the thermal check uses the one, the field solution the other"
        )
    if mat is not None and 0 < diameter < 0.75 * mat:
        message = f"rods of {diameter:g} mm are thinner than the mat conductor of {mat:g} mm"
        look.warn("rod-thin", place, message, "rods that are driven are usually the thicker ones")


def _runs(look: Look) -> list[Pair]:
    metal: list[Pair] = []
    for i, run in records(look.data.get("runs")):
        found = points(run.get("points_m")) or []
        metal += found
        for k, (a, b) in enumerate(pairwise(found), 1):
            if abs(a[0] - b[0]) < SAME_PLACE_M and abs(a[1] - b[1]) < SAME_PLACE_M:
                message = f"points {k} and {k + 1} are the same place, [{b[0]:g}, {b[1]:g}]"
                look.error("run-point-twice", ("runs", i, "points_m", k), message, "remove one of them")
    return metal


def _places(look: Look) -> Iterator[tuple[Path, Pair]]:
    for i, entry in records(look.data.get("rods")):
        for k, place in enumerate(points(entry.get("at_m")) or ()):
            yield ("rods", i, "at_m", k), place


def _rods(look: Look, metal: list[Pair]) -> None:
    for i, entry in records(look.data.get("rods")):
        _rod_size(look, ("rods", i), entry)
    first: dict[tuple[int, int], Path] = {}
    rows = list(_places(look))
    for path, (x, y) in rows:
        cell = (round(x / SAME_PLACE_M), round(y / SAME_PLACE_M))
        if cell in first:
            line = look.place(first[cell])[0]
            message = f"two rods at [{x:g}, {y:g}], first in line {line}"
            look.error("rod-twice", path, message, "remove one of them")
        first.setdefault(cell, path)
    if not rows or not metal:
        return
    xs, ys = zip(*metal, strict=True)
    low, high = (min(xs), min(ys)), (max(xs), max(ys))
    for path, place in rows:
        distance = hypot(*(max(a - v, v - b, 0.0) for v, a, b in zip(place, low, high, strict=True)))
        if distance > FAR_M:
            message = f"a rod {distance:.0f} m away from mats and runs"
            look.warn("rod-far", path, message, "is it in the same coordinates, in m?")


def _surface(look: Look) -> None:
    everywhere: int | None = None
    for i, zone in records(look.data.get("surface")):
        path: Path = ("surface", i)
        corners = points(zone.get("outline_m"))
        if corners is not None:
            check_outline(look, (*path, "outline_m"), corners)
        if everywhere is not None:
            line = look.place(("surface", everywhere))[0]
            message = f"this zone never counts: the one of line {line} has no outline and holds every point"
            look.warn("zone-hidden", path, message, "move the zone without outline to the end")
        if everywhere is None and zone.get("outline_m") is None:
            everywhere = i
        _cover(look, path, zone)


def _cover(look: Look, path: Path, zone: Record) -> None:
    thickness = number(zone, "thickness_m")
    covered = zone.get("resistivity_ohm_m") is not None
    if covered and (zone.get("thickness_m") is None or thickness == 0):
        message = "a cover with a resistivity but without a thickness"
        look.error("cover-thickness", (*path, "thickness_m"), message, "give thickness_m, in m")
    elif not covered and thickness is not None and thickness > 0:
        message = f"a cover of {thickness:g} m without a resistivity counts as bare soil"
        look.warn("cover-resistivity", (*path, "thickness_m"), message, "give resistivity_ohm_m")


def _assessment(look: Look, metal: list[Pair]) -> None:
    record = section(look.data.get("assessment"))
    area = points(record.get("touch_area_m"))
    if area is not None:
        check_outline(look, ("assessment", "touch_area_m"), area)
    places = [*metal, *(place for _, place in _places(look)), *(area or ())]
    raster = 0.5 if record.get("raster_m") is None else number(record, "raster_m")
    if not places or raster is None or raster <= 0:
        return
    outside = max(
        (1.0 if record.get("touch_outside_m") is None else number(record, "touch_outside_m")) or 0.0,
        (3.0 if record.get("step_outside_m") is None else number(record, "step_outside_m")) or 0.0,
    )
    x, y = (extent + 2 * (max(outside, 0.0) + _RIM_M) for extent in _extents(places))
    count = (x / raster + 1) * (y / raster + 1)
    if count > MOST_RASTER_POINTS:
        finest = max((x * y / MOST_RASTER_POINTS) ** 0.5, (x + y) / MOST_RASTER_POINTS) * 1.05
        look.error(
            "raster-fine",
            ("assessment", "raster_m"),
            f"raster_m {raster:g} m over {x:.0f} m by {y:.0f} m makes {count / 1e6:.3g} million points",
            f"at most {MOST_RASTER_POINTS / 1e6:g} million: give at least {finest:.2g} m, which is refined",
        )
