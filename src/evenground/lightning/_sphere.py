"""Rolling sphere in three dimensions.

The centre of a rolling sphere may be anywhere that is at least the radius away from every terminal and above
the ground. A point is reached when some such centre lies within the radius of it; its clearance is the
distance to the nearest centre less the radius. A raster of centres finds the neighbourhood, then the nearest
centre is found by steps that never leave the permitted space: distances to straight pieces and boxes are
convex, so a constraint replaced by its tangent plane is the stricter one.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from evenground.errors import TooLargeError
from evenground.lightning._scene import Scene

__all__ = ["RollingSphere"]

Floats = NDArray[np.float64]

_MOST_CELLS = 6_000_000
_NEIGHBOURS = 100
_SHARE = 32
"""Least number of points that a thread of its own is worth."""


class RollingSphere:
    """A scene with its permitted centres, ready to be asked about points in a window.

    Parameters
    ----------
    scene : Scene
    window_m : array of shape (2, 2)
        Lowest and highest (x, y) of the points that will be asked about. [m]
    top_m : float
        Greatest height of such a point. [m]
    """

    def __init__(self, scene: Scene, window_m: Floats, top_m: float) -> None:
        self.scene = scene
        self.radius_m = scene.ground_m
        reach = float(max(scene.reach_m, default=scene.ground_m))
        margin = reach + max(scene.highest_m, top_m)
        low = np.array([*(window_m[0] - margin), scene.ground_m])
        high = np.array([*(window_m[1] + margin), max(scene.highest_m, top_m) + reach])
        self.cell_m = self._cell(high - low)
        count = np.ceil((high - low) / self.cell_m).astype(np.int64) + 2
        self._low, self._count = low, count
        self._pieces = (scene.tail, scene.way, scene.square, scene.box_table(), scene.reach_m)
        self._nodes = np.ascontiguousarray(self._boundary())
        self._tree = cKDTree(self._nodes)

    def _cell(self, size: Floats) -> float:
        cell = self.radius_m / 12.0
        volume = float(np.prod(size + 2.0 * cell))
        cell = max(cell, math.cbrt(volume / _MOST_CELLS))
        if cell > self.radius_m / 4.0:
            raise TooLargeError(
                f"a raster of {cell:.3g} m is too coarse for a sphere of {self.radius_m:.3g} m: "
                "look at a smaller part of the site"
            )
        return cell

    def _boundary(self) -> Floats:
        """Permitted raster centres that have a forbidden neighbour, or lie on the lowest level."""
        from evenground.lightning._sphere_kernels import raster_free

        free = raster_free(self._low, self.cell_m, self._count, *self._pieces, self.scene.all_bounds())
        inner = np.zeros_like(free)
        inner[1:-1, 1:-1, 1:-1] = (
            free[2:, 1:-1, 1:-1]
            & free[:-2, 1:-1, 1:-1]
            & free[1:-1, 2:, 1:-1]
            & free[1:-1, :-2, 1:-1]
            & free[1:-1, 1:-1, 2:]
            & free[1:-1, 1:-1, :-2]
        )
        result: Floats = self._low + self.cell_m * np.argwhere(free & ~inner).astype(np.float64)
        return result

    def coarse_distance(self, points: Floats) -> Floats:
        """Distance to the nearest raster centre: at least the true one, about two cells more at most. [m]"""
        return np.asarray(self._tree.query(points)[0], dtype=np.float64)

    def rest(self, points: Floats, starts: int = 6, *, enough_m: float = 0.0) -> tuple[Floats, Floats]:
        """Nearest permitted centre of every point, and its distance. [m]

        The space has many hollows; the search starts in ``starts`` places of the raster that are near the
        point but apart from each other, and in four to its sides. It ends as soon as a centre is as near
        as ``enough_m``; then the nearest may be nearer still.
        """
        points = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
        if len(points) < 2 * _SHARE:
            return self._rest(points, starts, enough_m)
        shares = np.array_split(points, 2)  # the compiled loop leaves other threads room
        with ThreadPoolExecutor(2) as pool:
            found = list(pool.map(lambda part: self._rest(part, starts, enough_m), shares))
        centre, distance = zip(*found, strict=True)
        return np.concatenate(centre), np.concatenate(distance)

    def _rest(self, points: Floats, starts: int, enough_m: float) -> tuple[Floats, Floats]:
        from evenground.lightning._sphere_kernels import rest

        near = min(_NEIGHBOURS, self._tree.n)
        _, index = self._tree.query(points, k=near)
        half = 0.5 * self.radius_m
        shifts = np.array([(half, 0.0, 0.0), (-half, 0.0, 0.0), (0.0, half, 0.0), (0.0, -half, 0.0)])
        _, sides = self._tree.query(points[:, None, :] + shifts)
        found: tuple[Floats, Floats] = rest(
            points,
            self._nodes,
            np.asarray(index, dtype=np.int64).reshape(len(points), near),
            np.asarray(sides, dtype=np.int64),
            starts,
            self.cell_m,
            enough_m,
            *self._pieces,
            self.scene.ground_m,
        )
        return found

    def clearance(self, points: Floats, starts: int = 6) -> tuple[Floats, Floats]:
        """Least distance of the sphere from points, negative when it reaches over them; its centres. [m]"""
        centre, distance = self.rest(points, starts)
        return distance - self.radius_m, centre

    def sign_distance(self, points: Floats) -> Floats:
        """Clearance, exact only near zero and from the raster elsewhere: for contours. [m]"""
        coarse = self.coarse_distance(points) - self.radius_m
        close = np.flatnonzero(np.abs(coarse - self.cell_m) < 3.0 * self.cell_m)
        if len(close):
            fine, _ = self.clearance(points[close], starts=4)
            coarse[close] = np.minimum(coarse[close], fine)
        return coarse

    def clear_of(self, points: Floats, least_m: float) -> NDArray[np.bool_]:
        """Whether the sphere stays farther away than a small distance; quicker than the distance. [m]"""
        coarse = self.coarse_distance(points) - self.radius_m
        clear = coarse > least_m
        doubtful = np.flatnonzero(clear & (coarse < 4.0 * self.cell_m))
        if len(doubtful):
            _, distance = self.rest(points[doubtful], 4, enough_m=self.radius_m + least_m)
            clear[doubtful] = distance > self.radius_m + least_m
        return clear

    def height_allowed(self, plan: Floats) -> Floats:
        """Greatest protected height above places in plan; 0 where not even the ground is. [m]"""
        low = np.zeros(len(plan))
        high = np.full(len(plan), self.scene.highest_m + 0.1 * self.radius_m)
        for _ in range(math.ceil(math.log2(max(2.0, self.scene.highest_m + 1.0) / 1e-3))):
            middle = 0.5 * (low + high)
            clear = self.clear_of(np.column_stack([plan, middle]), 0.0)
            low, high = np.where(clear, middle, low), np.where(clear, high, middle)
        return low

    def resting_on(self, centre: Floats) -> tuple[str, ...]:
        """Names of the terminals that a sphere touches."""
        touching: list[str] = []
        if len(self.scene.names):
            gap = self.scene.gaps(centre[None, :])[0]
            touching = [n for n, g in zip(self.scene.names, gap, strict=True) if g < 2e-3 * self.radius_m]
        if centre[2] - self.scene.ground_m < 2e-3 * self.radius_m:
            touching.append("ground")
        return tuple(dict.fromkeys(touching))
