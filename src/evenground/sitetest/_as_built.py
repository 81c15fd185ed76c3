"""Design against as built, conductor by conductor."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from evenground.errors import InputError
from evenground.model.electrode import Conductor, Electrode, Point3
from evenground.model.sitetest import AsBuiltDelta, ElectrodeChange
from evenground.model.study import Check, Verdict

__all__ = ["compare_as_built"]

Floats = NDArray[np.float64]

_STEP_M = 0.25
_SHORTEST_M = 0.5


def compare_as_built(
    design: Electrode,
    built: Electrode,
    *,
    tolerance_m: float = 0.5,
    depth_tolerance_m: float = 0.15,
    length_share: float = 0.02,
) -> AsBuiltDelta:
    """Lengths of metal that are missing, added or at another depth.

    Metal counts as found when the other layout has metal within ``tolerance_m`` in plan and a depth within
    1 m of it (rods: within ``tolerance_m`` in space); stretches under 0.5 m are passed over. A new
    calculation is asked for when the changed length exceeds ``length_share`` of the design's, or any depth
    differs by more than its tolerance.

    Raises
    ------
    InputError
        When either layout is empty or a tolerance is not above 0.
    """
    if not len(design) or not len(built):
        raise InputError("design, built: both need at least one conductor")
    if not (tolerance_m > 0 and depth_tolerance_m > 0 and length_share >= 0):
        raise InputError("tolerance_m, depth_tolerance_m: must be above 0")
    missing, moved = _differences(design, built, tolerance_m, depth_tolerance_m, "missing")
    added, _ = _differences(built, design, tolerance_m, depth_tolerance_m, "added")
    lost, extra = sum(c.length_m for c in missing), sum(c.length_m for c in added)
    length = design.total_length_m
    again = (lost + extra) > length_share * length or bool(moved)
    check = Check(
        identity="as-built-length",
        title="Metal that differs between design and as built",
        verdict=Verdict.FAIL if again else Verdict.PASS,
        value=(lost + extra) / length,
        limit=length_share,
        unit="-",
        clause="common practice",
        method="comparison of layouts",
        governing=False,
        reason=f"{lost:.1f} m missing, {extra:.1f} m added, {len(moved)} stretches at another depth: "
        + ("calculate again with the as-built layout" if again else "the calculation still stands"),
    )
    return AsBuiltDelta(
        changes=(*missing, *moved, *added),
        design_length_m=length,
        built_length_m=built.total_length_m,
        missing_length_m=lost,
        added_length_m=extra,
        re_run_needed=again,
        checks=(check,),
    )


def _stations(conductor: Conductor) -> Floats:
    """Points in the middle of equal short parts of a conductor. [m]"""
    count = max(1, math.ceil(conductor.length_m / _STEP_M))
    share = (np.arange(count) + 0.5) / count
    start, end = np.array(conductor.start_m), np.array(conductor.end_m)
    result: Floats = start + np.outer(share, end - start)
    return result


def _differences(
    one: Electrode, other: Electrode, tolerance: float, depth_tolerance: float, kind: str
) -> tuple[list[ElectrodeChange], list[ElectrodeChange]]:
    cloud = np.vstack([_stations(c) for c in other])
    flat = np.array([1.0, 1.0, tolerance])  # a depth of 1 m counts as the tolerance in plan
    trees = {False: (flat, cKDTree(cloud * flat)), True: (np.ones(3), cKDTree(cloud))}
    gone: list[ElectrodeChange] = []
    moved: list[ElectrodeChange] = []
    for conductor in one:
        points = _stations(conductor)
        upright = abs(conductor.end_m[2] - conductor.start_m[2]) > 0.5 * conductor.length_m
        scale, tree = trees[upright]
        away, index = tree.query(points * scale)
        lost = away > math.hypot(tolerance, _STEP_M / 2.0)
        gone += _runs(conductor, points, lost, np.zeros(len(points)), kind)
        offset = cloud[index, 2] - points[:, 2]
        deeper = ~lost & (np.abs(offset) > depth_tolerance)
        if not upright:
            moved += _runs(conductor, points, deeper, offset, "moved")
    return gone, moved


def _runs(
    conductor: Conductor, points: Floats, marked: NDArray[np.bool_], offset: Floats, kind: str
) -> list[ElectrodeChange]:
    """Stretches of marked points."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(np.int8)))
    step = conductor.length_m / len(points)
    changes = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        length = float((last - first) * step)
        if length < _SHORTEST_M:
            continue
        changes.append(
            ElectrodeChange(
                kind,
                conductor.tag or conductor.kind,
                _point(points[first]),
                _point(points[last - 1]),
                length,
                float(np.mean(offset[first:last])),
            )
        )
    return changes


def _point(row: Floats) -> Point3:
    return float(row[0]), float(row[1]), float(row[2])
