"""What takes strokes, as straight pieces and boxes with exact distances; heights are positive up."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from evenground.model.lightning import Building, ProtectedObject, ShieldWire, SphereRule, Terminals

__all__ = ["Scene", "box_edges", "object_points", "wire_points"]

Floats = NDArray[np.float64]


def wire_points(wire: ShieldWire, piece_m: float) -> Floats:
    """Points along a hanging wire, ends included, about ``piece_m`` apart in plan; shape (n, 3). [m]"""
    start, end = np.asarray(wire.start_m), np.asarray(wire.end_m)
    span = float(np.hypot(*(end - start)[:2]))
    share = np.linspace(0.0, 1.0, max(2, math.ceil(span / piece_m) + 1))
    points: Floats = start + np.outer(share, end - start)
    if wire.sag_m == 0.0:
        return points
    rise = float(end[2] - start[2])

    def lowest(c: float) -> float:
        """Distance from midspan back to the lowest point of the catenary."""
        return c * math.asinh(rise / (2.0 * c * math.sinh(span / (2.0 * c))))

    def sag(c: float) -> float:
        half = span / (2.0 * c)
        return c * math.cosh(lowest(c) / c) * 2.0 * math.sinh(half / 2.0) ** 2

    guess = span**2 / (8.0 * wire.sag_m)
    low, high = 0.05 * span, 4.0 * guess + span
    if sag(low) < wire.sag_m:
        raise ValueError(f"wire {wire.name}: sag {wire.sag_m} m is too deep for a span of {span:.3g} m")
    c = float(brentq(lambda v: sag(v) - wire.sag_m, low, high, xtol=1e-9 * span))
    offset = lowest(c)
    at = (share - 0.5) * span + offset
    base = start[2] - c * math.cosh((-0.5 * span + offset) / c)
    points[:, 2] = base + c * np.cosh(at / c)
    return points


def _corners(box: Building) -> Floats:
    """The four corners in plan, in order. [m]"""
    turn = math.radians(box.angle_deg)
    along = np.array([math.cos(turn), math.sin(turn)]) * box.length_m / 2.0
    across = np.array([-math.sin(turn), math.cos(turn)]) * box.width_m / 2.0
    corners: Floats = np.array(box.centre_m) + np.array(
        [-along - across, along - across, along + across, across - along]
    )
    return corners


def box_edges(box: Building, spacing_m: float) -> Floats:
    """Points on the roof's outline, where a sphere meets a box first. [m]"""
    corners = _corners(box)
    rings = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = max(1, math.ceil(float(np.hypot(*(b - a))) / spacing_m))
        rings.append(a + np.outer(np.arange(count) / count, b - a))
    plan = np.vstack(rings)
    return np.column_stack([plan, np.full(len(plan), box.height_m)])


def _roof(box: Building, spacing_m: float) -> Floats:
    """Raster over the inside of a roof. [m]"""
    nx, ny = (max(1, math.ceil(s / spacing_m)) for s in (box.length_m, box.width_m))
    u, v = np.meshgrid((np.arange(nx) + 0.5) / nx - 0.5, (np.arange(ny) + 0.5) / ny - 0.5)
    turn = math.radians(box.angle_deg)
    x = u.ravel() * box.length_m
    y = v.ravel() * box.width_m
    plan = np.array(box.centre_m) + np.column_stack(
        [x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)]
    )
    return np.column_stack([plan, np.full(len(plan), box.height_m)])


def object_points(thing: ProtectedObject, spacing_m: float) -> Floats:
    """Points of an object to be searched, shape (n, 3). [m]"""
    parts: list[Floats] = []
    corners = np.array(thing.points_m, dtype=np.float64).reshape(-1, 3)
    if thing.joined and len(corners) > 1:
        for a, b in pairwise(corners):
            count = max(1, math.ceil(float(np.linalg.norm(b - a)) / spacing_m))
            parts.append(a + np.outer(np.arange(count) / count, b - a))
        parts.append(corners[-1:])
    elif len(corners):
        parts.append(corners)
    if thing.box is not None:
        parts += [box_edges(thing.box, spacing_m), _roof(thing.box, 2.0 * spacing_m)]
    return np.vstack(parts)


class Scene:
    """Terminals as m pieces: segments first, then boxes, each with its reach (the radius to keep off).

    Attributes
    ----------
    names : tuple of str
        Name of the terminal behind every piece.
    reach_m : array of shape (m,)
        [m]
    ground_m : float
        Least height of a sphere's centre. [m]
    highest_m : float
        Height of the highest part. [m]
    """

    def __init__(self, terminals: Terminals, rule: SphereRule) -> None:
        tails, tips, names, reach = [], [], [], []
        for mast in terminals.masts:
            tails.append((*mast.at_m, 0.0))
            tips.append((*mast.at_m, mast.height_m))
            names.append(mast.name)
            reach.append(rule.radius_m * rule.mast_factor)
        for wire in terminals.wires:
            points = wire_points(wire, rule.radius_m / 12.0 if wire.sag_m else math.inf)
            tails += [tuple(p) for p in points[:-1]]
            tips += [tuple(p) for p in points[1:]]
            names += [wire.name] * (len(points) - 1)
            reach += [rule.radius_m] * (len(points) - 1)
        self.tail: Floats = np.array(tails, dtype=np.float64).reshape(-1, 3)
        self.way: Floats = np.array(tips, dtype=np.float64).reshape(-1, 3) - self.tail
        self.square: Floats = np.einsum("ij,ij->i", self.way, self.way)
        self.boxes = terminals.buildings
        self.names = (*names, *(b.name for b in self.boxes))
        self.reach_m: Floats = np.array([*reach, *(rule.radius_m for _ in self.boxes)])
        self.ground_m = rule.radius_m
        tops = [*(self.tail + self.way)[:, 2], *self.tail[:, 2], *(b.height_m for b in self.boxes)]
        self.highest_m = float(max(tops, default=0.0))

    def nearest(self, points: Floats, pieces: slice | NDArray[np.int64] = slice(None)) -> Floats:
        """Nearest place of every piece to every point, shape (n, m, 3). [m]"""
        count = len(self.square)
        chosen = np.arange(len(self.names))[pieces]
        lines, boxes = chosen[chosen < count], chosen[chosen >= count] - count
        offset = points[:, None, :] - self.tail[None, lines, :]
        share = np.clip(np.einsum("nmk,mk->nm", offset, self.way[lines]) / self.square[lines], 0.0, 1.0)
        found = [self.tail[lines] + share[..., None] * self.way[lines]]
        found += [_nearest_on_box(self.boxes[b], points)[:, None, :] for b in boxes]
        return np.concatenate(found, axis=1)

    def gaps(self, points: Floats, pieces: slice | NDArray[np.int64] = slice(None)) -> Floats:
        """Distance of every point to every piece less its reach, shape (n, m). [m]"""
        away = np.linalg.norm(points[:, None, :] - self.nearest(points, pieces), axis=2)
        result: Floats = away - self.reach_m[pieces]
        return result

    def box_table(self) -> Floats:
        """Rows (x, y, cosine, sine, half length, half width, height) of the buildings."""
        rows = [
            (
                *b.centre_m,
                math.cos(math.radians(b.angle_deg)),
                math.sin(math.radians(b.angle_deg)),
                b.length_m / 2.0,
                b.width_m / 2.0,
                b.height_m,
            )
            for b in self.boxes
        ]
        return np.array(rows, dtype=np.float64).reshape(-1, 7)

    def all_bounds(self) -> Floats:
        """Bounds of every piece, shape (m, 2, 3). [m]"""
        return np.array([self.bounds(k) for k in range(len(self.names))]).reshape(-1, 2, 3)

    def bounds(self, piece: int) -> tuple[Floats, Floats]:
        """Corners of the box around one piece with its reach. [m]"""
        reach = self.reach_m[piece]
        if piece < len(self.square):
            a, b = self.tail[piece], self.tail[piece] + self.way[piece]
        else:
            box = self.boxes[piece - len(self.square)]
            plan = _corners(box)
            a = np.array([*plan.min(axis=0), 0.0])
            b = np.array([*plan.max(axis=0), box.height_m])
        return np.minimum(a, b) - reach, np.maximum(a, b) + reach


def _nearest_on_box(box: Building, points: Floats) -> Floats:
    turn = math.radians(box.angle_deg)
    x, y = points[:, 0] - box.centre_m[0], points[:, 1] - box.centre_m[1]
    u = np.clip(x * math.cos(turn) + y * math.sin(turn), -box.length_m / 2.0, box.length_m / 2.0)
    v = np.clip(-x * math.sin(turn) + y * math.cos(turn), -box.width_m / 2.0, box.width_m / 2.0)
    return np.column_stack(
        [
            box.centre_m[0] + u * math.cos(turn) - v * math.sin(turn),
            box.centre_m[1] + u * math.sin(turn) + v * math.cos(turn),
            np.clip(points[:, 2], 0.0, box.height_m),
        ]
    )
