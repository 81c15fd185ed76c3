"""Fall of potential, simulated with the real mat in the real soil."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from evenground.errors import InputError, OutOfRangeError
from evenground.model.site import Point2
from evenground.model.sitetest import FallSimulation, MatUnderTest, ProbePosition
from evenground.sitetest._kernel import surface_kernel
from evenground.standards.ieee81 import (
    UNIFORM_POSITION,
    apparent_resistance,
    slope_coefficient,
    slope_position,
)

__all__ = ["far_reference_ratio", "reading_at", "simulate_fall"]

Floats = NDArray[np.float64]

_LEAST_SHARE, _MOST_SHARE = 0.02, 0.995
_SCANNED = 160
"""Places of the profile that are computed at once, between which the crossings are then found."""
_CLOSE = 1e-9
"""Width to which a crossing is found, as a share of the distance to the current probe."""


class _Test:
    """The mutual resistances of mat and probes for one place of the current probe."""

    def __init__(self, mat: MatUnderTest, distance_m: float, bearing_deg: float) -> None:
        self.mat = mat
        self.kernel = surface_kernel(mat.soil)
        self.current_m = _place(mat.origin_m, distance_m, bearing_deg)
        self.to_current = float(self._of_mat(np.array([self.current_m]))[0])

    def _of_mat(self, plan: Floats) -> Floats:
        points = np.column_stack([plan, np.zeros(len(plan))])
        value: Floats = np.asarray(self.mat.potential_v_per_a(points), dtype=np.float64)
        if value.shape != (len(plan),) or not np.all(np.isfinite(value)):
            raise InputError("potential_v_per_a: must give one finite number per point")
        return value

    def readings(self, distances: Floats, bearing_deg: float) -> Floats:
        """What the test reads with the potential probe at distances along a bearing. [ohm]"""
        plan = np.array([_place(self.mat.origin_m, float(d), bearing_deg) for d in distances])
        to_potential = self._of_mat(plan)
        apart = self.kernel(np.hypot(*(plan - np.array(self.current_m)).T))
        return np.array(
            [
                apparent_resistance(self.mat.resistance_ohm, self.to_current, float(p), float(k))
                for p, k in zip(to_potential, apart, strict=True)
            ]
        )


def _place(origin: Point2, distance: float, bearing_deg: float) -> Point2:
    turn = math.radians(bearing_deg)
    return origin[0] + distance * math.cos(turn), origin[1] + distance * math.sin(turn)


def reading_at(
    mat: MatUnderTest,
    current_distance_m: float,
    potential_distances_m: Sequence[float],
    *,
    current_bearing_deg: float = 0.0,
    potential_bearing_deg: float | None = None,
) -> tuple[float, ...]:
    """Resistances that a test would read at given places of the potential probe. [ohm]"""
    test = _Test(mat, current_distance_m, current_bearing_deg)
    bearing = current_bearing_deg if potential_bearing_deg is None else potential_bearing_deg
    return tuple(float(v) for v in test.readings(np.asarray(potential_distances_m, float), bearing))


def far_reference_ratio(mat: MatUnderTest, distance_m: float, bearing_deg: float = 0.0) -> float:
    """Reading over true resistance, both probes at the same distance and leads at right angles. [-]"""
    test = _Test(mat, distance_m, bearing_deg)
    reading = test.readings(np.array([distance_m]), bearing_deg + 90.0)[0]
    return float(reading) / mat.resistance_ohm


def simulate_fall(
    mat: MatUnderTest,
    current_distance_m: float,
    *,
    current_bearing_deg: float = 0.0,
    potential_bearing_deg: float | None = None,
    band: float = 0.02,
    shares: Sequence[float] = (0.1, 0.2, 0.3, 0.4, 0.5, 0.55, 0.6, 0.618, 0.65, 0.7, 0.8, 0.9),
) -> FallSimulation:
    """Readings along a profile, and where the potential probe reads the true resistance.

    The probes are points on the surface; the mat's own disturbance of the probes' field is left out, which
    is right as long as they stand a few times its size away (a note says when they do not).

    Raises
    ------
    InputError
        When the distance is not above the mat's half diagonal, or the potential is not finite.
    """
    if not current_distance_m > 0.5 * mat.diagonal_m:
        raise InputError(
            f"current_distance_m: {current_distance_m} m does not leave the mat "
            f"(diagonal {mat.diagonal_m:.3g} m)"
        )
    bearing = current_bearing_deg if potential_bearing_deg is None else potential_bearing_deg
    test = _Test(mat, current_distance_m, current_bearing_deg)

    def ratio(distance: float) -> float:
        return float(test.readings(np.array([distance]), bearing)[0]) / mat.resistance_ohm

    profile = np.linspace(_LEAST_SHARE, _MOST_SHARE, _SCANNED) * current_distance_m
    scan = profile, test.readings(profile, bearing) / mat.resistance_ohm
    stands = _crossings(ratio, scan, 1.0)
    stand = stands[0] if stands else None
    low, high = (None, None) if stand is None else _window(ratio, stand, scan, band)
    at = np.array(shares, dtype=np.float64) * current_distance_m
    expected = test.readings(at, bearing)
    return FallSimulation(
        current_distance_m=current_distance_m,
        current_bearing_deg=current_bearing_deg,
        potential_bearing_deg=bearing,
        current_at_m=test.current_m,
        positions=tuple(
            ProbePosition(
                float(d), _place(mat.origin_m, float(d), bearing), float(v), float(v) / mat.resistance_ohm
            )
            for d, v in zip(at, expected, strict=True)
        ),
        stand_m=stand,
        stand_share=None if stand is None else stand / current_distance_m,
        stand_low_m=low,
        stand_high_m=high,
        band=band,
        all_stands_m=stands,
        uniform_rule_ratio=ratio(UNIFORM_POSITION * current_distance_m),
        slope_ratio=_slope_ratio(ratio, current_distance_m),
        far_reference_ratio=far_reference_ratio(mat, current_distance_m, current_bearing_deg),
        notes=_notes(mat, current_distance_m, stands, ratio(UNIFORM_POSITION * current_distance_m), band),
    )


def _crossings(
    ratio: Callable[[float], float], scan: tuple[Floats, Floats], level: float
) -> tuple[float, ...]:
    """Places where the profile passes a level, bracketed by its values at the places scanned. [m]"""
    at, above = scan[0], scan[1] >= level
    change = np.flatnonzero(above[:-1] != above[1:])
    close = _CLOSE * float(at[-1])
    return tuple(
        float(brentq(lambda d: ratio(d) - level, at[k], at[k + 1], xtol=close, rtol=_CLOSE)) for k in change
    )


def _window(
    ratio: Callable[[float], float], stand: float, scan: tuple[Floats, Floats], band: float
) -> tuple[float | None, float | None]:
    """The places nearest to the stand on both sides where the reading leaves the band. [m]"""
    edges = [c for level in (1 - band, 1 + band) for c in _crossings(ratio, scan, level)]
    return max((c for c in edges if c < stand), default=None), min(
        (c for c in edges if c > stand), default=None
    )


def _slope_ratio(ratio: Callable[[float], float], distance: float) -> float | None:
    """What the slope method would find, over the truth."""
    three = [ratio(share * distance) for share in (0.2, 0.4, 0.6)]
    try:
        share = slope_position(slope_coefficient(*three))
    except OutOfRangeError:
        return None
    return ratio(share * distance)


def _notes(
    mat: MatUnderTest, distance: float, stands: tuple[float, ...], rule: float, band: float
) -> tuple[str, ...]:
    notes = []
    if not stands:
        notes.append("the profile never reads the true resistance: correct readings by the simulated ratio")
    if len(stands) > 1:
        notes.append(f"the profile reads the true resistance at {len(stands)} places")
    if abs(rule - 1.0) > band:
        notes.append(f"a probe at 61.8 % would read {100 * (rule - 1):+.1f} %")
    if distance < 2.0 * mat.diagonal_m:
        notes.append(
            f"current probe only {distance / mat.diagonal_m:.1f} diagonals away: the mat disturbs the "
            "probes' field, which the simulation leaves out"
        )
    return tuple(notes)
