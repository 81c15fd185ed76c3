"""Touch voltage along fences and across the swing of gates, both ways of earthing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from evenground.errors import InputError
from evenground.model.installation import Fence, Gate
from evenground.model.site import Point2
from evenground.model.study import Place, ShockResult
from evenground.model.surroundings import FencePiece
from evenground.safety._zones import FloatArray, ZoneIndex

if TYPE_CHECKING:
    from evenground.safety._boundary import BoundaryCase

__all__ = ["Spots", "fence_spots", "gate_piece", "ring_of", "swing_area", "swing_spots", "worst_by_zone"]

PITCH_M = 0.5
"""Distance between the places looked at along a fence. [m]"""
MOST_STATIONS = 4000
SHARES = (0.25, 0.5, 0.75, 1.0)
"""Shares of the reach at which feet are put."""
OPENING_RAD = pi / 2
"""A leaf is taken to open by a right angle (common practice)."""
SWING_RASTER_M = 0.25


@dataclass(frozen=True)
class Spots:
    """Places of feet from which one piece of metal can be touched; ``station`` is the index along it or -1.

    ``inside`` says on which side of the fence they are. [m]
    """

    x_m: FloatArray
    y_m: FloatArray
    inside: np.ndarray[tuple[int], np.dtype[np.bool_]]


def ring_of(piece: FencePiece) -> LineString:
    """The line of a piece, closed when it is a ring."""
    return LineString([*piece.points_m, piece.points_m[0]] if piece.closed else piece.points_m)


def stations(line: LineString) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance along a line, its places and the direction of walking at each. [m, rad]"""
    corners = np.asarray(line.coords)
    legs = np.hypot(*np.diff(corners, axis=0).T)
    marks = np.concatenate([[0.0], np.cumsum(legs)])
    count = min(int(np.ceil(marks[-1] / PITCH_M)), MOST_STATIONS) + 1
    s = np.unique(np.concatenate([np.linspace(0.0, marks[-1], count), marks]))
    places = np.column_stack([np.interp(s, marks, corners[:, k]) for k in (0, 1)])
    leg = np.clip(np.searchsorted(marks, s, side="right") - 1, 0, len(legs) - 1)
    way = np.diff(corners, axis=0)[leg]
    return s, places, np.arctan2(way[:, 1], way[:, 0])


def fence_spots(piece: FencePiece, fence: Fence, middle: Point2, reach_m: float) -> Spots:
    """Feet on both sides of a piece of fence, and all round its corners and ends."""
    line = ring_of(piece)
    _, places, heading = stations(line)
    rows = []
    for share in SHARES:
        off = share * reach_m
        across = off * np.column_stack([-np.sin(heading), np.cos(heading)])
        rows += [places + across, places - across]
        turn = np.arange(16) * pi / 8
        circle = off * np.column_stack([np.cos(turn), np.sin(turn)])
        rows += [np.asarray(corner) + circle for corner in piece.points_m]
    spots = np.vstack(rows)
    # a place near another leg of the fence than its own is on it or behind it
    near = shapely.distance(line, shapely.points(spots)) > 0.2 * SHARES[0] * reach_m
    spots = spots[near]
    return Spots(spots[:, 0], spots[:, 1], inside_of(fence, spots, middle))


def inside_of(fence: Fence, spots: FloatArray, middle: Point2) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether each place is inside a closed fence, or on the side of an open one where the mat is."""
    if fence.closed:
        found: np.ndarray[tuple[int], np.dtype[np.bool_]] = shapely.contains_xy(
            Polygon(fence.points_m), spots[:, 0], spots[:, 1]
        )
        return found
    line = LineString(fence.points_m)
    foot = shapely.get_coordinates(
        shapely.line_interpolate_point(line, shapely.line_locate_point(line, shapely.points(spots)))
    )
    own = np.hypot(spots[:, 0] - middle[0], spots[:, 1] - middle[1])
    return np.asarray(own < np.hypot(foot[:, 0] - middle[0], foot[:, 1] - middle[1]))


def gate_piece(gate: Gate, pieces: Sequence[FencePiece], fences: Sequence[Fence] = ()) -> FencePiece | None:
    """The piece of fence that a gate stands in; None in an insulating fence, or without any fence.

    ``fences`` are all of the site: a gate that names none may stand nearest to one that does not conduct.
    """
    own = [p for p in pieces if not gate.fence or p.fence == gate.fence]
    if not own:
        return None
    centre = LineString([gate.start_m, gate.end_m])

    def off(line: LineString) -> float:
        return float(line.distance(centre))

    piece = min(own, key=lambda p: off(ring_of(p)))
    bare = [f for f in fences if f.bonding == "insulating" and not gate.fence]
    lines = [LineString([*f.points_m, f.points_m[0]] if f.closed else f.points_m) for f in bare]
    return None if any(off(line) < off(ring_of(piece)) for line in lines) else piece


def swing_area(gate: Gate, fence: Fence, middle: Point2) -> Polygon:
    """The ground over which the leaf moves, closed position included. [m]"""
    (ax, ay), (bx, by) = gate.start_m, gate.end_m
    width = hypot(bx - ax, by - ay)
    if width <= 0.0:
        raise InputError(f"gate {gate.name}: both posts stand at the same place")
    if gate.opens == "sliding":
        dx, dy = (bx - ax), (by - ay)
        return LineString([(ax - dx, ay - dy), (bx, by)]).buffer(0.05)
    leaf = width / gate.leaves
    hinges = [(gate.start_m, gate.end_m)] + ([(gate.end_m, gate.start_m)] if gate.leaves == 2 else [])
    ways = {"inward": (True,), "outward": (False,), "both": (True, False)}[gate.opens]
    sectors = [_sector(h, other, leaf, fence, middle, way) for h, other in hinges for way in ways]
    joined = shapely.union_all([*sectors, LineString([gate.start_m, gate.end_m]).buffer(0.05)])
    shape = joined if isinstance(joined, Polygon) else joined.convex_hull
    assert isinstance(shape, Polygon)
    return shape


def _sector(hinge: Point2, other: Point2, leaf: float, fence: Fence, middle: Point2, inward: bool) -> Polygon:
    shut = atan2(other[1] - hinge[1], other[0] - hinge[0])
    probe = np.array(
        [
            [
                (hinge[0] + other[0]) / 2 + 0.3 * cos(shut + turn),
                (hinge[1] + other[1]) / 2 + 0.3 * sin(shut + turn),
            ]
            for turn in (pi / 2, -pi / 2)
        ]
    )
    inside = inside_of(fence, probe, middle)
    left = bool(inside[0]) if inside[0] != inside[1] else True
    sign = 1.0 if left == inward else -1.0
    arc = [shut + sign * t for t in np.linspace(0.0, OPENING_RAD, 16)]
    return Polygon([hinge, *((hinge[0] + leaf * cos(t), hinge[1] + leaf * sin(t)) for t in arc)])


def swing_spots(swing: Polygon, reach_m: float) -> FloatArray:
    """Feet from which the leaf can be touched in some position. [m]"""
    area = swing.buffer(reach_m)
    x0, y0, x1, y1 = area.bounds
    gx, gy = np.meshgrid(np.arange(x0, x1, SWING_RASTER_M), np.arange(y0, y1, SWING_RASTER_M))
    held = shapely.contains_xy(area, gx, gy)
    rim = shapely.get_coordinates(shapely.segmentize(area.exterior, SWING_RASTER_M))
    return np.vstack([np.column_stack([gx[held], gy[held]]), rim])


def worst_by_zone(
    case: BoundaryCase, index: ZoneIndex, voltage: FloatArray, spots: FloatArray, words: str
) -> list[ShockResult]:
    """The worst of unit touch voltages in each zone, for every scenario. [-, m -> V]"""
    zone = index.at(spots[:, 0], spots[:, 1])
    by_key = {(row.zone, row.scenario): row.touch_v for row in case.limits}
    rows = []
    for number in np.unique(zone):
        inside = np.where(zone == number, voltage, -np.inf)
        k = int(np.argmax(inside))
        name = index.zones[int(number)].name
        for fault in case.faults:
            scenario = fault.scenario.name
            rows.append(
                ShockResult(
                    quantity="touch",
                    zone=name,
                    scenario=scenario,
                    value_v=float(voltage[k]) * case.gpr_v[scenario],
                    limit_v=by_key[name, scenario],
                    place=Place(float(spots[k, 0]), float(spots[k, 1]), words),
                )
            )
    return rows
