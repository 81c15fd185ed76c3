"""Where conductors meet, found from the geometry and not from the way it was drawn.

A place is judged by its arms: the directions in which metal leaves it. Two arms in line are no joint, two
at an angle a corner, three a tee, four a crossing, more a star. A conductor drawn in one piece and the
same conductor drawn in ten therefore give the same joints.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np
import shapely
from numpy.typing import NDArray

from evenground.model.electrode import Conductor, Point3

__all__ = ["Joint", "JointSurvey", "find_joints"]

PLAN_TOLERANCE_M = 2e-3
"""Ends nearer than this meet."""
DEPTH_TOLERANCE_M = 0.05
"""Conductors of which one passes further below the other do not touch."""
END_TOLERANCE_M = 0.02
"""A crossing nearer than this to the end of a conductor is at its end."""
BEND_DEG = 30.0
"""Two ends that meet at a smaller change of direction are one bent conductor."""

_KINDS = {3: "tee", 4: "crossing"}


@dataclass(frozen=True, slots=True)
class Joint:
    """A place where metal is joined.

    ``kind`` is ``"crossing"``, ``"tee"``, ``"corner"``, ``"star"`` (five arms or more), ``"rod"`` or
    ``"riser"``. ``members`` are the positions of the conductors in the electrode. [m]
    """

    number: int
    kind: str
    place_m: Point3
    arms: int
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class JointSurvey:
    """All joints, and what is worth knowing besides.

    ``bends`` counts places where one conductor changes direction or goes on in line; ``passes_m`` are
    places where conductors cross in plan at different depths and are not joined; ``loose`` are the
    positions of rods and risers that meet no conductor. [m]
    """

    joints: tuple[Joint, ...]
    bends: int
    passes_m: tuple[Point3, ...]
    loose: tuple[int, ...]

    def count(self, kind: str) -> int:
        """Number of joints of one kind."""
        return sum(j.kind == kind for j in self.joints)


def find_joints(conductors: Sequence[Conductor]) -> JointSurvey:
    """Find every place where conductors meet.

    Parameters
    ----------
    conductors : sequence of Conductor

    Returns
    -------
    JointSurvey
        Joints numbered by row (y, then x), rods and risers last in the order of the electrode.
    """
    upright = [i for i, c in enumerate(conductors) if _plan_length(c) < PLAN_TOLERANCE_M]
    flat = [i for i in range(len(conductors)) if i not in set(upright)]
    if not flat:
        return JointSurvey((), 0, (), tuple(upright))
    starts = np.array([conductors[i].start_m for i in flat])
    ends = np.array([conductors[i].end_m for i in flat])
    lines = np.asarray(shapely.linestrings(np.stack([starts[:, :2], ends[:, :2]], axis=1)))
    tree = shapely.STRtree(lines.tolist())
    places, first, second, passes = _meetings(starts, ends, lines, tree)
    found, bends = _judge_places(places, first, second, starts, ends, flat)
    found.sort(key=lambda j: (round(j[1][1], 3), round(j[1][0], 3), j[1][2]))
    rods, loose = _upright_joints(conductors, upright, flat, tree, starts, ends)
    joints = tuple(Joint(n, *parts) for n, parts in enumerate([*found, *rods], 1))
    return JointSurvey(joints, bends, tuple(passes), tuple(loose))


def _plan_length(c: Conductor) -> float:
    return hypot(c.end_m[0] - c.start_m[0], c.end_m[1] - c.start_m[1])


_Array = NDArray[np.float64]
_Parts = tuple[str, Point3, int, tuple[int, ...]]


def _meetings(
    starts: _Array, ends: _Array, lines: NDArray[np.object_], tree: shapely.STRtree
) -> tuple[_Array, NDArray[np.int64], NDArray[np.int64], list[Point3]]:
    """Points (n, 3) at which pairs of lines meet, the pairs, and plan crossings at different depths."""
    i, j = tree.query(lines, predicate="dwithin", distance=PLAN_TOLERANCE_M)
    keep = i < j
    i, j = i[keep], j[keep]
    di, dj = ends[i] - starts[i], ends[j] - starts[j]
    cross = di[:, 0] * dj[:, 1] - di[:, 1] * dj[:, 0]
    lengths = np.hypot(di[:, 0], di[:, 1]) * np.hypot(dj[:, 0], dj[:, 1])
    skew = np.abs(cross) > 1e-6 * lengths
    gap = (starts[j] - starts[i])[skew]
    t = np.clip((gap[:, 0] * dj[skew, 1] - gap[:, 1] * dj[skew, 0]) / cross[skew], 0, 1)
    u = np.clip((gap[:, 0] * di[skew, 1] - gap[:, 1] * di[skew, 0]) / cross[skew], 0, 1)
    upper = starts[i[skew]] + t[:, None] * di[skew]
    lower = starts[j[skew]] + u[:, None] * dj[skew]
    parallel = _parallel_meetings(starts, ends, i[~skew], j[~skew])
    points = np.concatenate([(upper + lower) / 2, *[p for p, *_ in parallel]])
    heights = np.concatenate([np.abs(upper[:, 2] - lower[:, 2]), *[h for _, h, *_ in parallel]])
    first = np.concatenate([i[skew], *[a for *_, a, _ in parallel]]).astype(np.int64)
    second = np.concatenate([j[skew], *[b for *_, b in parallel]]).astype(np.int64)
    joined = heights < DEPTH_TOLERANCE_M
    passes: list[Point3] = [(float(p[0]), float(p[1]), float(p[2])) for p in points[~joined]]
    return points[joined], first[joined], second[joined], passes


def _parallel_meetings(
    starts: _Array, ends: _Array, i: NDArray[np.int64], j: NDArray[np.int64]
) -> list[tuple[_Array, _Array, NDArray[np.int64], NDArray[np.int64]]]:
    """Ends of one line that lie on a parallel line, for both lines of each pair."""
    found = []
    for a, b in ((i, j), (j, i)):
        axis = ends[b] - starts[b]
        length2 = (axis[:, :2] ** 2).sum(axis=1)
        for tips in (starts[a], ends[a]):
            t = ((tips - starts[b])[:, :2] * axis[:, :2]).sum(axis=1) / length2
            foot = starts[b] + np.clip(t, 0, 1)[:, None] * axis
            away = np.hypot(*(tips - foot)[:, :2].T)
            on = away < PLAN_TOLERANCE_M
            found.append((tips[on], np.abs(tips - foot)[on, 2], a[on], b[on]))
    return found


def _judge_places(
    places: _Array,
    first: NDArray[np.int64],
    second: NDArray[np.int64],
    starts: _Array,
    ends: _Array,
    flat: Sequence[int],
) -> tuple[list[_Parts], int]:
    members: dict[int, set[int]] = defaultdict(set)
    where: dict[int, Point3] = {}
    for cluster, point, a, b in zip(
        _clusters(places), places.tolist(), first.tolist(), second.tolist(), strict=True
    ):
        members[cluster] |= {a, b}
        where.setdefault(cluster, (point[0], point[1], point[2]))
    found: list[_Parts] = []
    bends = 0
    tips = (starts.tolist(), ends.tolist())
    for cluster, indexes in members.items():
        point3 = where[cluster]
        arms = _arms(point3, indexes, tips)
        if len(arms) < 2:
            continue
        if len(arms) == 2:
            turn = abs((arms[1] - arms[0]) % 360 - 180)
            if turn < BEND_DEG:
                bends += 1
                continue
        kind = "corner" if len(arms) == 2 else _KINDS.get(len(arms), "star")
        found.append((kind, point3, len(arms), tuple(sorted(flat[k] for k in indexes))))
    return found, bends


def _clusters(places: _Array) -> list[int]:
    """One number per point; points nearer than the tolerance share it."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    if not len(places):
        return []
    scaled = places * np.array([1.0, 1.0, 2 * PLAN_TOLERANCE_M / DEPTH_TOLERANCE_M])
    pairs = cKDTree(scaled).query_pairs(2 * PLAN_TOLERANCE_M, output_type="ndarray")
    n = len(places)
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    labels: list[int] = connected_components(graph, directed=False)[1].tolist()
    return labels


def _arms(point: Point3, indexes: set[int], tips: tuple[list[list[float]], list[list[float]]]) -> list[float]:
    """Distinct directions, in degrees from the x axis, in which conductors leave a point."""
    angles: list[float] = []
    for k in indexes:
        for tip in (tips[0][k], tips[1][k]):
            dx, dy = tip[0] - point[0], tip[1] - point[1]
            if hypot(dx, dy) > END_TOLERANCE_M:
                angles.append(degrees(atan2(dy, dx)) % 360)
    distinct: list[float] = []
    for angle in sorted(angles):
        if not distinct or angle - distinct[-1] > 1.0:
            distinct.append(angle)
    if len(distinct) > 1 and distinct[0] + 360 - distinct[-1] <= 1.0:
        distinct.pop()
    return distinct


def _upright_joints(
    conductors: Sequence[Conductor],
    upright: Sequence[int],
    flat: Sequence[int],
    tree: shapely.STRtree,
    starts: _Array,
    ends: _Array,
) -> tuple[list[_Parts], list[int]]:
    """One joint for each rod or riser that meets a horizontal conductor; the others are loose."""
    found: list[_Parts] = []
    loose: list[int] = []
    for i in upright:
        c = conductors[i]
        x, y = c.start_m[:2]
        top, bottom = sorted((c.start_m[2], c.end_m[2]))
        near = tree.query(shapely.points(x, y), predicate="dwithin", distance=DEPTH_TOLERANCE_M)
        met: dict[int, float] = {}
        for k in sorted(int(n) for n in near):
            depth = _depth_at(starts[k], ends[k], x, y)
            if top - DEPTH_TOLERANCE_M <= depth <= bottom + DEPTH_TOLERANCE_M:
                met[flat[k]] = depth
        if not met:
            loose.append(i)
            continue
        kind = c.kind if c.kind == "riser" else "rod"
        found.append((kind, (x, y, min(met.values())), 1, (i, *met)))
    return found, loose


def _depth_at(start: _Array, end: _Array, x: float, y: float) -> float:
    axis = (end - start)[:2]
    t = float(np.clip(((x - start[0]) * axis[0] + (y - start[1]) * axis[1]) / (axis @ axis), 0, 1))
    return float(start[2] + t * (end[2] - start[2]))
