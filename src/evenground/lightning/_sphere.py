"""Rolling sphere in three dimensions.

The centre of a rolling sphere may be anywhere that is at least the radius away from every terminal and above
the ground. A point is reached when some such centre lies within the radius of it; its clearance is the
distance to the nearest centre less the radius. A raster of centres finds the neighbourhood, then the nearest
centre is found by steps that never leave the permitted space: distances to straight pieces and boxes are
convex, so a constraint replaced by its tangent plane is the stricter one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from evenground.errors import TooLargeError
from evenground.lightning._scene import Scene

__all__ = ["RollingSphere"]

Floats = NDArray[np.float64]

_MOST_CELLS = 6_000_000
_NEIGHBOURS = 100


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
        self._tree = cKDTree(self._boundary())

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

    def rest(self, points: Floats, starts: int = 6) -> tuple[Floats, Floats]:
        """Nearest permitted centre of every point, and its distance. [m]

        The space has many hollows; the search starts in ``starts`` places of the raster that are near the
        point but apart from each other, and in four to its sides.
        """
        from evenground.lightning._sphere_kernels import polish

        points = np.asarray(points, dtype=np.float64).reshape(-1, 3)
        best = np.full(len(points), np.inf)
        centre = np.zeros_like(points)
        for start in self._starts(points, starts):
            at = polish(start, points, *self._pieces, self.scene.ground_m)
            away = np.linalg.norm(at - points, axis=1)
            better = away < best
            best[better], centre[better] = away[better], at[better]
        return centre, best

    def _starts(self, points: Floats, count: int) -> Iterator[Floats]:
        """Raster centres to start from, one array of shape (n, 3) after the other."""
        near = min(_NEIGHBOURS, self._tree.n)
        _, index = self._tree.query(points, k=near)
        found = self._tree.data[np.asarray(index).reshape(len(points), near)]
        apart = np.full((len(points), near), np.inf)
        rows = np.arange(len(points))
        for _ in range(count):
            # the nearest one that keeps its distance from those taken; the farthest off when none does
            pick = np.where(
                np.any(apart > 2.5 * self.cell_m, axis=1),
                np.argmax(apart > 2.5 * self.cell_m, axis=1),
                np.argmax(apart, axis=1),
            )
            chosen = found[rows, pick]
            yield chosen
            apart = np.minimum(apart, np.linalg.norm(found - chosen[:, None, :], axis=2))
        half = 0.5 * self.radius_m
        for shift in ((half, 0.0, 0.0), (-half, 0.0, 0.0), (0.0, half, 0.0), (0.0, -half, 0.0)):
            yield self._tree.data[self._tree.query(points + np.array(shift))[1]]

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

    def height_allowed(self, plan: Floats) -> Floats:
        """Greatest protected height above places in plan; 0 where not even the ground is. [m]"""
        low = np.zeros(len(plan))
        high = np.full(len(plan), self.scene.highest_m + 0.1 * self.radius_m)
        for _ in range(math.ceil(math.log2(max(2.0, self.scene.highest_m + 1.0) / 1e-3))):
            middle = 0.5 * (low + high)
            clear = self.sign_distance(np.column_stack([plan, middle])) > 0.0
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
