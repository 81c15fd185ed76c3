"""Search for the worst touch and step voltage of the unit solution (potential rise of one volt).

Both searches sample a raster, then refine around the worst places of each zone until the answer
stands still. The potential of the surface comes in as a function, so this module knows neither
soil nor metal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates, spline_filter
from shapely.geometry import MultiPolygon, Polygon

from evenground.safety._surface import Surface
from evenground.safety._zones import EDGE_M, FloatArray, ZoneIndex

__all__ = ["STEP_M", "Raster", "UnitWorst", "make_raster", "worst_step", "worst_touch"]

Area = Polygon | MultiPolygon
STEP_M = 1.0
"""Length of a step (IEEE Std 80, definitions; common practice elsewhere). [m]"""

CANDIDATES = 6
"""Places of each zone from which the search climbs."""
FINEST_M = 0.02
"""The climb ends when its stride is below this."""
QUICK_CANDIDATES, QUICK_FINEST_M = 3, 0.1
"""The same for a first look."""
TOLERANCE = 2e-4
ROUNDS = 14
RIM = 12
"""Raster lines added on each side for the spline."""
RING = np.array([(np.cos(t), np.sin(t)) for t in np.arange(8) * np.pi / 4])
"""Eight directions around a place."""


@dataclass(frozen=True)
class UnitWorst:
    """Worst place in one zone; ``value`` is a fraction of the potential rise."""

    zone: int
    value: float
    x_m: float
    y_m: float
    direction_deg: float | None
    change: float
    converged: bool


@dataclass(frozen=True)
class Raster:
    """Surface potential on a regular raster over the step area's bounding box. [m, -]

    ``candidates`` and ``finest_m`` say how thoroughly the search climbs from its places.
    """

    x_m: FloatArray
    y_m: FloatArray
    potential: FloatArray
    in_touch: NDArray[np.bool_]
    in_step: NDArray[np.bool_]
    candidates: int = CANDIDATES
    finest_m: float = FINEST_M

    @cached_property
    def _coefficients(self) -> FloatArray:
        """Of the cubic spline, with a rim in which the values at the edge are repeated."""
        padded = np.pad(self.potential, RIM, mode="edge")
        return np.asarray(spline_filter(padded, order=3, mode="nearest"))

    def at(self, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """Cubic interpolation, for finding candidates only."""
        row = (y_m - self.y_m[0]) / (self.y_m[1] - self.y_m[0]) + RIM
        column = (x_m - self.x_m[0]) / (self.x_m[1] - self.x_m[0]) + RIM
        result: FloatArray = map_coordinates(
            self._coefficients, [row, column], order=3, mode="nearest", prefilter=False
        )
        return result

    def shifted(self, dx_m: float, dy_m: float) -> FloatArray:
        """The same interpolation at every raster place moved by one distance: much quicker. [m]"""
        cells = dy_m / (self.y_m[1] - self.y_m[0]), dx_m / (self.x_m[1] - self.x_m[0])
        if max(abs(c) for c in cells) > RIM - 3:
            gx, gy = np.meshgrid(self.x_m, self.y_m)
            return self.at(gx + dx_m, gy + dy_m)
        values = self._coefficients
        for axis, (cell, count) in enumerate(zip(cells, self.potential.shape, strict=True)):
            first = int(np.floor(cell))
            t = cell - first
            weights = ((1 - t) ** 3, 4 - 3 * t * t * (2 - t), 4 - 3 * (1 - t) ** 2 * (1 + t), t**3)
            start = RIM + first - 1
            pieces = (np.take(values, range(start + k, start + k + count), axis=axis) for k in range(4))
            values = np.asarray(sum(w / 6.0 * piece for w, piece in zip(weights, pieces, strict=True)))
        return values


def make_raster(
    surface: Surface,
    touch: Area,
    step: Area,
    raster_m: float,
    *,
    inside_only: bool = False,
    quick: bool = False,
) -> Raster:
    """Sample the potential at most ``raster_m`` apart, with one step length of rim around.

    With ``inside_only`` the potential is nan outside the touch area: enough for a search of touch alone.
    """
    x0, y0, x1, y1 = step.bounds
    rim = STEP_M
    nx = max(4, int(np.ceil((x1 - x0 + 2 * rim) / raster_m)) + 1)
    ny = max(4, int(np.ceil((y1 - y0 + 2 * rim) / raster_m)) + 1)
    x = np.linspace(x0 - rim, x1 + rim, nx)
    y = np.linspace(y0 - rim, y1 + rim, ny)
    gx, gy = np.meshgrid(x, y)
    in_touch = shapely.contains_xy(touch.buffer(EDGE_M), gx, gy)
    if inside_only:
        values = np.full(gx.shape, np.nan)
        values[in_touch] = surface(gx[in_touch], gy[in_touch])
    else:
        values = surface(gx.ravel(), gy.ravel()).reshape(gx.shape)
    return Raster(
        x_m=x,
        y_m=y,
        potential=values,
        in_touch=in_touch,
        in_step=shapely.contains_xy(step.buffer(EDGE_M), gx, gy),
        candidates=QUICK_CANDIDATES if quick else CANDIDATES,
        finest_m=QUICK_FINEST_M if quick else FINEST_M,
    )


def _edge_points(area: Area, zones: ZoneIndex, spacing_m: float) -> tuple[FloatArray, FloatArray]:
    """Points just inside the rim of every part of the area that one zone covers, and one in its middle.

    Extremes tend to lie on edges, and a part narrower than the raster would else have no sample.
    """
    found: list[FloatArray] = []
    for piece in zones.pieces(area):
        middle = piece.representative_point()
        found.append(np.array([[middle.x, middle.y]]))
        rings = [
            ring
            for part in shapely.get_parts(piece.buffer(-2 * EDGE_M))
            for ring in (part.exterior, *part.interiors)
        ]
        found += [shapely.get_coordinates(shapely.segmentize(ring, spacing_m)) for ring in rings]
    points = np.concatenate(found)
    return points[:, 0], points[:, 1]


def _peaks(x: FloatArray, y: FloatArray, value: FloatArray, apart_m: float, most: int) -> list[int]:
    """Indices of the highest values that stand apart from each other."""
    order = np.argsort(value)[::-1]
    chosen: list[int] = []
    for i in order[: 200 * most]:
        if all((x[i] - x[j]) ** 2 + (y[i] - y[j]) ** 2 > apart_m**2 for j in chosen):
            chosen.append(int(i))
            if len(chosen) == most:
                break
    return chosen


def worst_touch(surface: Surface, raster: Raster, area: Area, zones: ZoneIndex) -> dict[int, UnitWorst]:
    """Worst touch voltage of each zone that has a part in the touch area.

    Touch voltage is the potential of the metal within reach less the surface potential under the feet.
    """
    spacing = float(raster.x_m[1] - raster.x_m[0])
    gx, gy = np.meshgrid(raster.x_m, raster.y_m)
    ex, ey = _edge_points(area, zones, spacing)
    own_x, own_y = gx[raster.in_touch], gy[raster.in_touch]
    x, y = np.concatenate([own_x, ex]), np.concatenate([own_y, ey])
    inside = surface.touch_at(own_x, own_y, raster.potential[raster.in_touch])
    value = np.concatenate([inside, surface.touch_at(ex, ey)])
    zone = zones.at(x, y)
    limit = area.buffer(EDGE_M)
    shapely.prepare(limit)
    found: dict[int, UnitWorst] = {}
    for index in np.unique(zone):
        own = zone == index
        xs, ys, vs = x[own], y[own], value[own]
        starts = _peaks(xs, ys, vs, 3 * spacing, raster.candidates)

        def touch_at(places: FloatArray, index: int = int(index)) -> FloatArray:
            px, py = places.T
            held = shapely.contains_xy(limit, px, py) & (zones.at(px, py) == index)
            result = np.full(len(px), -np.inf)
            if held.any():
                result[held] = surface.touch_at(px[held], py[held])
            return result

        starts_at = np.column_stack([xs[starts], ys[starts]])
        top, (px, py), change, still = _climb(
            touch_at, starts_at, vs[starts], RING, np.full(2, spacing), raster.finest_m
        )
        found[int(index)] = UnitWorst(int(index), top, px, py, None, change, still)
    return found


def _climb(
    value: Callable[[FloatArray], FloatArray],
    state: FloatArray,
    best: FloatArray,
    moves: FloatArray,
    stride: FloatArray,
    finest_m: float,
) -> tuple[float, tuple[float, ...], float, bool]:
    """Compass search from several starts at once, all tried states in one call.

    Parameters
    ----------
    value : callable
        States (n, d) -> values, -inf where a state is not allowed.
    state, best : (n, d), (n,)
        Starts and their values.
    moves : (m, d)
        Directions to try, in units of ``stride`` (d,), whose first entry is a distance. [m]
    finest_m : float
        Stride below which the climb may end. [m]

    Returns
    -------
    value, state, change, converged
        Of the best start; ``change`` is the relative gain of the last round.
    """
    rows = np.arange(len(state))
    change, still = np.inf, 0
    for _ in range(4 * ROUNDS):
        tried = state[:, None, :] + stride * moves
        values = value(tried.reshape(-1, state.shape[1])).reshape(tried.shape[:2])
        k = np.argmax(values, axis=1)
        better = values[rows, k] > best
        before = best.max()
        state = np.where(better[:, None], tried[rows, k], state)
        best = np.where(better, values[rows, k], best)
        change = float((best.max() - before) / max(abs(best.max()), 1e-12))
        if not better.any():
            stride = stride / 2
        still = still + 1 if change < TOLERANCE else 0
        if still >= 3 and stride[0] < finest_m:
            break
    top = int(np.argmax(best))
    return float(best[top]), tuple(float(v) for v in state[top]), change, bool(change < TOLERANCE)


def worst_step(
    surface: Surface, raster: Raster, area: Area, zones: ZoneIndex, strictness: FloatArray
) -> dict[int, UnitWorst]:
    """Worst step voltage of each zone: largest difference over one metre in any direction.

    A step with its feet in two zones belongs to the one with the lower limit; ``strictness`` ranks
    the zones by their step limit (lower = stricter).
    """
    gx, gy = np.meshgrid(raster.x_m, raster.y_m)
    own = raster.in_step
    spacing = float(raster.x_m[1] - raster.x_m[0])
    ex, ey = _edge_points(area, zones, spacing)
    x, y = np.concatenate([gx[own], ex]), np.concatenate([gy[own], ey])
    angles = np.arange(16) * np.pi / 16
    mid_x, mid_y, rough, zone = [], [], [], []
    limit = area.buffer(EDGE_M)
    shapely.prepare(limit)
    count = int(own.sum())
    allowed = np.concatenate([np.ones(count, dtype=bool), shapely.contains_xy(limit, ex, ey)])
    stricter = _Stricter(zones, strictness, gx[own], gy[own])
    for angle in angles:
        hx, hy = 0.5 * STEP_M * np.cos(angle), 0.5 * STEP_M * np.sin(angle)
        # middles on the raster, and middles half a step from an edge, so that one foot stands on it
        px, py = np.concatenate([x, ex + hx, ex - hx]), np.concatenate([y, ey + hy, ey - hy])
        a, b = (px - hx, py - hy), (px + hx, py + hy)
        loose = [np.stack(foot)[:, count:] for foot in (a, b)]
        drop = np.concatenate(
            [
                np.abs(raster.shifted(-hx, -hy) - raster.shifted(hx, hy))[own],
                np.abs(raster.at(*loose[0]) - raster.at(*loose[1])),
            ]
        )
        outside = shapely.contains_xy(limit, px[len(x) :], py[len(x) :])
        rough.append(np.where(np.concatenate([allowed, outside]), drop, -np.inf))
        zone.append(stricter.of_feet(a, b))
        mid_x.append(px)
        mid_y.append(py)
    return _worst_of_zones(
        surface,
        zones,
        strictness,
        area,
        (np.array(mid_x), np.array(mid_y), np.array(rough), np.array(zone), angles),
        raster,
    )


def _worst_of_zones(
    surface: Surface,
    zones: ZoneIndex,
    strictness: FloatArray,
    area: Area,
    rough: tuple[FloatArray, FloatArray, FloatArray, NDArray[np.int64], FloatArray],
    raster: Raster,
) -> dict[int, UnitWorst]:
    """Refine around the best rough candidates of each zone."""
    mid_x, mid_y, drop, zone, angles = rough
    columns = np.arange(drop.shape[1])
    found: dict[int, UnitWorst] = {}
    for index in np.unique(zone[np.isfinite(drop)]):
        masked = np.where(zone == index, drop, -np.inf)
        k = np.argmax(masked, axis=0)
        x, y, value = mid_x[k, columns], mid_y[k, columns], masked[k, columns]
        starts = [i for i in _peaks(x, y, value, 2 * STEP_M, raster.candidates) if np.isfinite(value[i])]
        found[int(index)] = _refine_step(
            surface, zones, strictness, area, int(index), x[starts], y[starts], angles[k[starts]], raster
        )
    return found


def _feet(
    x: FloatArray, y: FloatArray, angle: FloatArray | float
) -> tuple[tuple[FloatArray, FloatArray], ...]:
    hx, hy = 0.5 * STEP_M * np.cos(angle), 0.5 * STEP_M * np.sin(angle)
    return (x - hx, y - hy), (x + hx, y + hy)


def _stricter(
    zones: ZoneIndex,
    strictness: FloatArray,
    a: tuple[FloatArray, FloatArray],
    b: tuple[FloatArray, FloatArray],
) -> NDArray[np.int64]:
    za, zb = zones.at(*a), zones.at(*b)
    return np.where(strictness[za] <= strictness[zb], za, zb)


class _Stricter:
    """The stricter zone of both feet; away from all edges of zones that is the zone of the middle.

    The first middles of every call are the same places, ``x_m``, ``y_m``.
    """

    def __init__(self, zones: ZoneIndex, strictness: FloatArray, x_m: FloatArray, y_m: FloatArray) -> None:
        self._zones, self._strictness = zones, strictness
        self._known = zones.at(x_m, y_m)
        self._close = zones.near_edge(x_m, y_m, 0.51 * STEP_M)

    def of_feet(
        self, a: tuple[FloatArray, FloatArray], b: tuple[FloatArray, FloatArray]
    ) -> NDArray[np.int64]:
        """Zone of each step between the feet a and b. [m]"""
        rest = len(a[0]) - len(self._known)
        look = np.concatenate([self._close, np.ones(rest, dtype=bool)])
        found = np.concatenate([self._known, np.zeros(rest, dtype=np.int64)])
        feet = [(foot[0][look], foot[1][look]) for foot in (a, b)]
        found[look] = _stricter(self._zones, self._strictness, *feet)
        return found


def _refine_step(
    surface: Surface,
    zones: ZoneIndex,
    strictness: FloatArray,
    area: Area,
    index: int,
    x: FloatArray,
    y: FloatArray,
    angle: FloatArray,
    raster: Raster,
) -> UnitWorst:
    """Compass search over place and direction together."""
    limit = area.buffer(EDGE_M)
    shapely.prepare(limit)

    def value(states: FloatArray) -> FloatArray:
        px, py, pa = states.T
        a, b = _feet(px, py, pa)
        result = surface.between(*a, *b)
        allowed = np.asarray(shapely.contains_xy(limit, px, py))
        allowed &= _stricter(zones, strictness, a, b) == index
        result[~allowed] = -np.inf
        return result

    moves = np.array([(mx, my, 0.0) for mx, my in RING] + [(0, 0, 1.0), (0, 0, -1.0)])
    starts = np.column_stack([x, y, angle])
    reach_m = float(raster.x_m[1] - raster.x_m[0])
    stride = np.array([reach_m, reach_m, np.pi / 32])
    top, (px, py, pa), change, still = _climb(value, starts, value(starts), moves, stride, raster.finest_m)
    return UnitWorst(index, top, px, py, float(np.degrees(pa) % 180), change, still)
