"""An outer ring around the mats, tied to them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from evenground.model.site import ExtraRun, MatLayout

__all__ = ["is_ring", "ring_runs"]


def _base(mats: Sequence[MatLayout]) -> BaseGeometry:
    return shapely.union_all([Polygon(m.outline_m) for m in mats])


def is_ring(run: ExtraRun, mats: Sequence[MatLayout]) -> bool:
    """Whether a run belongs to a ring or its ties: it touches the inside of no mat."""
    inside = _base(mats).buffer(-0.01)
    return not inside.intersects(LineString(run.points_m))


def ring_runs(mats: Sequence[MatLayout], distance_m: float) -> tuple[ExtraRun, ...]:
    """A ring this far outside the mats at the depth of the first, tied at corners and middles of sides.

    Nothing for a distance of 0. [m]
    """
    if distance_m <= 0:
        return ()
    base, depth, key = _base(mats), mats[0].depth_m, mats[0].conductor
    runs: list[ExtraRun] = []
    for part in shapely.get_parts(base.buffer(distance_m, join_style="mitre")):
        ring = [(round(float(x), 6), round(float(y), 6)) for x, y in part.exterior.coords]
        middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(ring)]
        runs.append(ExtraRun(tuple(ring), depth, key))
        for x, y in (*ring[:-1], *middles):
            foot = nearest_points(base, Point(x, y))[0]
            runs.append(ExtraRun(((x, y), (round(foot.x, 6), round(foot.y, 6))), depth, key))
    return tuple(runs)
