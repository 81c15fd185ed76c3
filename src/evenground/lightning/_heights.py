"""How high masts must be so that the sphere stays off every object."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from evenground.lightning._shielding import assess_shielding
from evenground.model.lightning import ContourRequest, RequiredHeight, ShieldingRequest

__all__ = ["required_heights"]

LEAST_M, MOST_M = 1.0, 100.0
ROOM_M = 0.02
"""Clearance that the search does not resolve; kept on top. [m]"""
CLOSE_M = 0.03
"""Clearance at which the search stops. [m]"""
STEPS = 12


def required_heights(request: ShieldingRequest, *, each: bool = True) -> tuple[RequiredHeight, ...]:
    """Common height of all masts, then with ``each`` that of every mast alone, the others as they are. [m]

    The height is the least one at which every object keeps its clearance; None when no height up to that of
    the sphere's radius or 100 m does it: then masts must be added or moved. Without masts or objects there
    is nothing to say.
    """
    masts = request.terminals.masts
    if not masts or not request.objects:
        return ()
    rows = [_required(request, tuple(m.name for m in masts), "all masts, one height")]
    if each and len(masts) > 1:
        rows += [_required(request, (m.name,), m.name) for m in masts]
    return tuple(rows)


def _required(request: ShieldingRequest, names: tuple[str, ...], title: str) -> RequiredHeight:
    plain = replace(request, contours=ContourRequest(), cone_angle_deg=None)
    own = [m.height_m for m in request.terminals.masts if m.name in names]
    stated = own[0] if len(set(own)) == 1 else None

    def spare(height: float) -> float:
        masts = tuple(replace(m, height_m=height) if m.name in names else m for m in request.terminals.masts)
        trial = replace(plain, terminals=replace(request.terminals, masts=masts))
        rows = assess_shielding(trial).objects
        return min(o.clearance_m for o in rows) - request.needed_clearance_m - ROOM_M

    return RequiredHeight(title, stated, _least(spare, min(MOST_M, request.rule.radius_m)))


def _least(spare: Callable[[float], float], high: float) -> float | None:
    """Height at which the spare clearance is next to nothing and not negative; it grows with the height.

    False position with the Illinois weight, as the clearance is smooth but for changes of what it rests on.
    """
    low = LEAST_M
    below, above = spare(low), spare(high)
    if above < 0:
        return None
    if below >= 0:
        return low
    weight_low, weight_high, side = below, above, 0
    for _ in range(STEPS):
        if above <= CLOSE_M or high - low < CLOSE_M:
            break
        middle = (low * weight_high - high * weight_low) / (weight_high - weight_low)
        middle = min(max(middle, low + 0.1 * (high - low)), high - 0.02 * (high - low))
        value = spare(middle)
        if value >= 0:
            high, above, weight_high = middle, value, value
            weight_low *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            low, below, weight_low = middle, value, value
            weight_high *= 0.5 if side == -1 else 1.0
            side = -1
    return high
