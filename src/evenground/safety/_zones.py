"""Areas where people can be, and the cover under their feet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.ops import unary_union

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


def areas_of(outlines_m: Sequence[Sequence[Point2]], assessment: Assessment) -> Areas:
    """Touch and step areas: the outlines of the metal widened by the stated distances.

    A person reaches the distance in any direction, so corners are rounded.
    """
    base = unary_union([Polygon(o) for o in outlines_m])
    touch = (
        Polygon(assessment.touch_area_m)
        if assessment.touch_area_m
        else base.buffer(assessment.touch_outside_m, quad_segs=QUADRANT)
    )
    step = touch.union(base.buffer(assessment.step_outside_m, quad_segs=QUADRANT))
    if not isinstance(step, Polygon | MultiPolygon):
        raise TypeError("the union of two areas is an area")
    return Areas(touch=touch, step=step)


class ZoneIndex:
    """Which surface zone a point belongs to: the first that holds it, else bare soil (the last)."""

    def __init__(self, zones: Sequence[SurfaceZone]) -> None:
        open_ended = [z for z in zones if z.outline_m is None]
        shaped = [z for z in zones if z.outline_m is not None]
        self.zones: tuple[SurfaceZone, ...] = (*shaped, open_ended[0] if open_ended else BARE)
        self._shapes = [Polygon(z.outline_m).buffer(EDGE_M) for z in shaped if z.outline_m is not None]
        for shape in self._shapes:
            shapely.prepare(shape)

    def at(self, x_m: FloatArray, y_m: FloatArray) -> NDArray[np.int64]:
        """Index of the zone of each point."""
        index = np.full(np.shape(x_m), len(self._shapes), dtype=np.int64)
        for i in range(len(self._shapes) - 1, -1, -1):
            index[shapely.contains_xy(self._shapes[i], x_m, y_m)] = i
        return index

    @property
    def edges(self) -> list[Polygon]:
        """Outlines of the shaped zones."""
        return self._shapes
