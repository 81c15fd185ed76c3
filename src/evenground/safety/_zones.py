"""Areas where people can be, and the cover under their feet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from evenground.errors import Finding, InputError
from evenground.model.site import Assessment, Point2, SurfaceZone

__all__ = ["BARE", "Areas", "ZoneIndex", "areas_of"]

FloatArray = NDArray[np.float64]

BARE = SurfaceZone(name="bare soil")
"""Everywhere that no zone covers."""

EDGE_M = 1e-6
QUADRANT = 16
"""Chords in a quarter circle where a reach is rounded."""


@dataclass(frozen=True)
class Areas:
    """The plan areas over which touch and step are searched."""

    touch: Polygon | MultiPolygon
    step: Polygon | MultiPolygon


def areas_of(
    outlines_m: Sequence[Sequence[Point2]],
    assessment: Assessment,
    metal_m: Sequence[tuple[Point2, Point2]] = (),
) -> Areas:
    """Touch and step areas: the outlines of the mats widened by the stated distances.

    A person reaches the distance in any direction, so corners are rounded. Steps are also looked at
    around every other buried conductor (``metal_m``, its plan), since the ground is steep there too.
    """
    base = unary_union([Polygon(o) for o in outlines_m])
    touch = (
        Polygon(assessment.touch_area_m)
        if assessment.touch_area_m
        else base.buffer(assessment.touch_reach_m, quad_segs=QUADRANT)
    )
    step = touch.union(base.buffer(assessment.step_outside_m, quad_segs=QUADRANT))
    lines = [LineString(pair) if pair[0] != pair[1] else ShapelyPoint(pair[0]) for pair in metal_m]
    # what lies within a mat is within reach of its outline already
    lines = [line for line, held in zip(lines, shapely.covers(base, lines), strict=True) if not held]
    if lines:
        step = step.union(unary_union(lines).buffer(assessment.step_outside_m, quad_segs=QUADRANT))
    if not isinstance(step, Polygon | MultiPolygon):
        raise TypeError("the union of two areas is an area")
    return Areas(touch=touch, step=step)


class ZoneIndex:
    """Which surface zone a point belongs to: the first that holds it, else bare soil (the last)."""

    def __init__(self, zones: Sequence[SurfaceZone]) -> None:
        ends = next((i for i, z in enumerate(zones) if z.outline_m is None), len(zones))
        shaped, rest = list(zones[:ends]), zones[ends] if ends < len(zones) else BARE
        self.zones: tuple[SurfaceZone, ...] = (*shaped, rest)
        names = [z.name for z in self.zones]
        for zone in self.zones:
            if names.count(zone.name) > 1:
                text = f"two surface zones are called “{zone.name}”"
                advice = "give every zone a name of its own; “bare soil” is the ground that no zone covers"
                raise InputError([Finding("zone-name", text, advice, path=zone.path)])
        self._shapes = [Polygon(z.outline_m).buffer(EDGE_M) for z in shaped if z.outline_m is not None]
        for shape in self._shapes:
            shapely.prepare(shape)

    def at(self, x_m: FloatArray, y_m: FloatArray) -> NDArray[np.int64]:
        """Index of the zone of each point."""
        index = np.full(np.shape(x_m), len(self._shapes), dtype=np.int64)
        for i in range(len(self._shapes) - 1, -1, -1):
            index[shapely.contains_xy(self._shapes[i], x_m, y_m)] = i
        return index

    def near_edge(self, x_m: FloatArray, y_m: FloatArray, distance_m: float) -> NDArray[np.bool_]:
        """Whether a point lies within a distance of the outline of any zone. [m]"""
        if not self._shapes:
            return np.zeros(np.shape(x_m), dtype=bool)
        rim = shapely.union_all([shape.boundary for shape in self._shapes]).buffer(1.01 * distance_m)
        shapely.prepare(rim)
        return np.asarray(shapely.contains_xy(rim, x_m, y_m), dtype=bool)

    def pieces(self, area: Polygon | MultiPolygon) -> list[Polygon]:
        """The area cut into the parts that belong to one zone each, none of them empty."""
        left: BaseGeometry = area
        found: list[Polygon] = []
        for shape in [*self._shapes, None]:
            part = left if shape is None else left.intersection(shape)
            found += [p for p in shapely.get_parts(part) if isinstance(p, Polygon) and p.area > 1e-9]
            if shape is not None:
                left = left.difference(shape)
        return found

    @property
    def edges(self) -> list[Polygon]:
        """Outlines of the shaped zones."""
        return self._shapes
