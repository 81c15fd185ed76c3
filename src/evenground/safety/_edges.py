"""Findings about the edge of the cover and about stated lines that leave the touch area."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from evenground.errors import Finding, Severity
from evenground.model.study import Profile, ZoneLimit
from evenground.safety._surface import Surface
from evenground.safety._zones import Areas, ZoneIndex

__all__ = ["FOOT_M", "edge_findings"]

FOOT_M = 0.3
"""A foot may stand this far beyond the edge of a cover; about the length of a shoe. [m]"""


def edge_findings(
    surface: Surface,
    areas: Areas,
    index: ZoneIndex,
    limits: Sequence[ZoneLimit],
    gpr_v: Mapping[str, float],
    profiles: Sequence[Profile],
    stated: int,
) -> tuple[Finding, ...]:
    """What a reviewer would ask about edges.

    A cover that ends where people still reach metal protects nobody a shoe's length further on; a
    stated line (a gate swing) may run where no metal is assumed, though a gate leaf brings it there.

    Parameters
    ----------
    surface, areas, index, limits, gpr_v, profiles
        As found by the search.
    stated : int
        How many of the profiles, from the first, were stated by the engineer.
    """
    rows = [_cover_edge(surface, areas, index, limits, gpr_v, i) for i in range(len(index.edges))]
    rows += [_beyond_reach(profile, max(gpr_v.values())) for profile in profiles[:stated]]
    return tuple(row for row in rows if row is not None)


def _cover_edge(
    surface: Surface,
    areas: Areas,
    index: ZoneIndex,
    limits: Sequence[ZoneLimit],
    gpr_v: Mapping[str, float],
    number: int,
) -> Finding | None:
    """Touch voltage one shoe outside a covered zone against the limit of the ground there."""
    zone = index.zones[number]
    if zone.resistivity_ohm_m is None:
        return None
    rim = shapely.segmentize(index.edges[number].buffer(FOOT_M, quad_segs=4).exterior, 0.5)
    x, y = shapely.get_coordinates(rim).T
    near = shapely.contains_xy(areas.touch.buffer(FOOT_M + 1e-3), x, y)
    if not near.any():
        return None
    x, y = x[near], y[near]
    there = index.at(x, y)
    touch = surface.touch_at(x, y)
    by_key = {(row.zone, row.scenario): row.touch_v for row in limits}
    worst = (0.0, 0.0, 0.0, "", 0)
    for scenario, rise in gpr_v.items():
        allowed = np.array([by_key[z.name, scenario] for z in index.zones])[there]
        k = int(np.argmax(rise * touch / allowed))
        ratio = float(rise * touch[k] / allowed[k])
        if ratio > worst[0]:
            worst = (ratio, float(rise * touch[k]), float(allowed[k]), scenario, k)
    ratio, value, limit, scenario, k = worst
    if ratio <= 1.0:
        return None
    return Finding(
        code="cover-edge",
        message=(
            f"the cover of zone “{zone.name}” ends where metal can still be reached: {FOOT_M:g} m beyond "
            f"its edge, at ({x[k]:.2f}, {y[k]:.2f}) m, touch voltage would be {value:.0f} V against "
            f"{limit:.0f} V on “{index.zones[int(there[k])].name}” ({scenario})"
        ),
        advice="carry the cover further, at least a metre beyond the reach, and inspect its edge",
        severity=Severity.WARNING,
        path=zone.path,
    )


def _beyond_reach(profile: Profile, gpr_v: float) -> Finding | None:
    """A stated line outside the touch area, with the voltage metal would have over the ground there."""
    outside = np.isnan(profile.touch_v)
    if not outside.any():
        return None
    value = float(np.max(gpr_v - profile.potential_v[outside]))
    return Finding(
        code="profile-beyond-reach",
        message=(
            f"line “{profile.name}” leaves the area in which touch is assessed; metal brought there (a gate "
            f"leaf, a ladder, a fence) would stand up to {value:.0f} V above the ground"
        ),
        advice="widen touch_area_m when metal can be reached there",
        severity=Severity.WARNING,
        path=("assessment", "profiles"),
    )
