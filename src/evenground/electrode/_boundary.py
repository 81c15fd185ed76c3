"""Fences cut at their insulated sections, and the electrodes of metal that is not part of the mat."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

import numpy as np
from shapely.geometry import LineString, Point
from shapely.ops import substring

from evenground.errors import Finding, InputError
from evenground.model.electrode import Conductor, Electrode
from evenground.model.installation import Fence, Installation
from evenground.model.services import Service
from evenground.model.site import Point2
from evenground.model.surroundings import FencePiece

__all__ = ["MAT", "OwnMetal", "boundary_metal", "fence_pieces"]

MAT = "mat"
"""Name of the group of the mat."""
MOST_POSTS = 3000
SHORTEST_M = 0.01


@dataclass(frozen=True)
class OwnMetal:
    """Metal in the ground that is no part of the mat.

    ``held`` names groups joined to the mat without an impedance, ``links`` those joined through one. [ohm]
    """

    electrode: Electrode
    held: tuple[str, ...] = ()
    links: tuple[tuple[str, complex], ...] = ()


def fence_pieces(fences: Sequence[Fence]) -> tuple[FencePiece, ...]:
    """Every piece of fence between its insulated sections; insulating fences have none. [m]

    The potential of a separate piece is not known yet (nan).
    """
    found = []
    for fence in fences:
        if fence.bonding == "insulating":
            continue
        parts = _parts(fence)
        potential = 1.0 if fence.bonding == "bonded" else float("nan")
        for number, (points, closed) in enumerate(parts, 1):
            name = fence.name if len(parts) == 1 else f"{fence.name}, part {number}"
            found.append(FencePiece(name, fence.name, fence.bonding, points, closed, potential))
    return tuple(found)


def _parts(fence: Fence) -> list[tuple[tuple[Point2, ...], bool]]:
    """Corners of each piece, and whether it is a closed ring."""
    corners = [*fence.points_m, fence.points_m[0]] if fence.closed else list(fence.points_m)
    line = LineString(corners)
    half, total = fence.break_length_m / 2, float(line.length)
    middles = sorted({round(float(line.project(Point(p))), 6) for p in fence.breaks_m})
    if not middles:
        return [(fence.points_m, fence.closed)]
    if fence.closed:
        ends = [*middles[1:], middles[0] + total]
        spans = [(a + half, b - half) for a, b in zip(middles, ends, strict=True)]
    else:
        marks = [-half, *middles, total + half]
        spans = [(a + half, b - half) for a, b in pairwise(marks)]
    return [(_along(line, a, b, total), False) for a, b in spans if b - a > SHORTEST_M]


def _along(line: LineString, start: float, end: float, total: float) -> tuple[Point2, ...]:
    """Corners of the line between two distances; beyond its length it goes on from the start."""
    if end <= total:
        rows = [substring(line, start, end)]
    elif start >= total:
        rows = [substring(line, start - total, end - total)]
    else:
        rows = [substring(line, start, total), substring(line, 0.0, end - total)]
    points = [(float(x), float(y)) for row in rows for x, y in row.coords]
    kept = points[:1]
    kept += [b for a, b in pairwise(points) if abs(a[0] - b[0]) + abs(a[1] - b[1]) > 1e-9]
    return tuple(kept)


def boundary_metal(installation: Installation, pieces: Sequence[FencePiece]) -> OwnMetal:
    """Electrodes of separate fences and of services with metal in the ground, each a group of its own.

    Raises
    ------
    InputError
        When a separate fence has more posts than can be solved.
    """
    fences = {f.name: f for f in installation.fences}
    metal: list[Conductor] = []
    for piece in pieces:
        if piece.bonding == "separate":
            metal += _posts(piece, fences[piece.fence])
    for fence in installation.fences:
        own = [p for p in pieces if p.fence == fence.name]
        if fence.bonding == "separate" and own:
            metal += _fence_rods(fence, own)
    held: list[str] = []
    links: list[tuple[str, complex]] = []
    for service in installation.services:
        rows = list(_service_metal(service))
        if not rows:
            continue
        metal += rows
        if service.disposal == "bonded":
            if service.impedance_ohm == 0:
                held.append(service.name)
            else:
                links.append((service.name, service.impedance_ohm))
    return OwnMetal(Electrode(metal), tuple(held), tuple(links))


def _posts(piece: FencePiece, fence: Fence) -> list[Conductor]:
    ring = [*piece.points_m, piece.points_m[0]] if piece.closed else list(piece.points_m)
    line = LineString(ring)
    count = max(1, ceil(line.length / fence.posts.spacing_m - 1e-9))
    if count > MOST_POSTS:
        text = f"fence “{fence.name}” has {count} posts, at most {MOST_POSTS} can be solved"
        advice = "give a larger posts.spacing_m; fewer posts leave the floating potential nearly as it is"
        raise InputError([Finding("fence-posts", text, advice, path=(*fence.path, "posts"))])
    stations = np.linspace(0.0, line.length, count + 1)
    places = [line.interpolate(s) for s in (stations[:-1] if piece.closed else stations)]
    return [
        Conductor(
            (p.x, p.y, 0.0),
            (p.x, p.y, fence.posts.depth_m),
            fence.posts.diameter_m / 2,
            kind="fence",
            group=piece.name,
            tag=f"post of {fence.name}",
        )
        for p in places
    ]


def _fence_rods(fence: Fence, pieces: Sequence[FencePiece]) -> list[Conductor]:
    """Rods of a separate fence, each with the nearest piece; a post at the same place is inside the rod."""
    rods = []
    for x, y in fence.rods_m:
        lines = [LineString([*p.points_m, p.points_m[0]] if p.closed else p.points_m) for p in pieces]
        nearest = int(np.argmin([line.distance(Point(x, y)) for line in lines]))
        rods.append(
            Conductor(
                (x, y, fence.posts.depth_m),
                (x, y, fence.posts.depth_m + fence.rod_length_m),
                fence.rod_diameter_m / 2,
                kind="rod",
                group=pieces[nearest].name,
                tag=f"rod of {fence.name}",
            )
        )
    return rods


def _service_metal(service: Service) -> Iterable[Conductor]:
    radius, depth = service.route_diameter_m / 2, service.route_depth_m
    routes = [(service.route_m, service.name)]
    if service.far_end is not None:
        routes.append((service.far_end.beyond_m, service.beyond_name))
    for route, name in routes:
        for (ax, ay), (bx, by) in pairwise(route):
            yield Conductor((ax, ay, depth), (bx, by, depth), radius, kind="service", group=name, tag=name)
    for x, y in service.remote_rods_m:
        yield Conductor(
            (x, y, 0.0),
            (x, y, service.remote_rod_length_m),
            service.remote_rod_diameter_m / 2,
            kind="rod",
            group=service.name,
            tag=f"rod of {service.name}",
        )


def with_potentials(
    pieces: Sequence[FencePiece], potentials: dict[str, float], resistances_ohm: dict[str, float]
) -> tuple[FencePiece, ...]:
    """The pieces with what floating metal took up. [-, ohm]"""
    return tuple(
        replace(p, potential=potentials[p.name], resistance_ohm=resistances_ohm[p.name])
        if p.name in potentials
        else p
        for p in pieces
    )
