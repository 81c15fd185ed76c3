"""The most that metal and cover can do inside a plot: an early answer to whether a site can ever pass."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, pi, sqrt
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import nearest_points

from evenground.model.site import MatLayout, RodList, RodRule, SurfaceZone

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from evenground.model.project import Project
    from evenground.model.site import ExtraRun, Point2
    from evenground.model.soil import LayeredSoil

__all__ = ["COVERS", "Plot", "filled", "least_resistance", "plot_of"]

MESHES = 400
"""Meshes over the plot; smaller ones change touch voltage inside little, and each costs time."""
FINEST_M = 2.0
ROD_M, ROD_EVERY_M, ROD_MM = 20.0, 20.0, 16.0
BEYOND_M = 3.0
OUTSIDE_M = 0.05
LEAST_PIECE_M = 0.5
CUT_M = 1e-5

COVERS = {"gravel": (3000.0, 0.15), "asphalt": (10_000.0, 0.10)}
"""Resistivity when wet and thickness. IEEE Std 80-2013, Table 7: asphalt from 10 000 ohm m when wet, crushed
rock from 1 300 to 10 000; 3 000 is the usual design value. [ohm m, m]"""


@dataclass(frozen=True)
class Plot:
    """The ground that mats may cover: the mats and the ground inside own closed fences. [m2]"""

    parts: tuple[Polygon, ...]

    @property
    def area_m2(self) -> float:
        """Area. [m2]"""
        return sum(float(p.area) for p in self.parts)

    @property
    def mesh_m(self) -> float:
        """Width of the meshes that fill it. [m]"""
        return max(FINEST_M, sqrt(self.area_m2 / MESHES))


def plot_of(project: Project) -> Plot | None:
    """The plot of a project; None without a mat."""
    if not project.mats:
        return None
    rings: list[tuple[Point2, ...]] = [m.outline_m for m in project.mats]
    rings += [
        f.points_m
        for f in project.installation.fences
        if f.owner == "own" and len(f.points_m) > 2 and (f.closed or f.points_m[0] == f.points_m[-1])
    ]
    whole = shapely.union_all([Polygon(r) for r in rings if Polygon(r).is_valid])
    shapes = [p for p in shapely.get_parts(whole).tolist() if isinstance(p, Polygon)]
    straight = [Polygon(p.exterior.simplify(0.0).coords) for p in shapes]
    return Plot(tuple(straight)) if straight else None


def filled(project: Project, cover: str) -> tuple[Project, str] | None:
    """The project with its plot full of mesh, deep rods at the edge and one cover; words for it.

    Runs and single rods inside the plot give way to the mesh; those outside stay.
    """
    plot = plot_of(project)
    if plot is None:
        return None
    resistivity, thickness = COVERS[cover]
    zones = _covered(project, plot, cover, resistivity, thickness)
    made = replace(project, mats=_mats(project, plot), surface=zones)
    made = replace(made, runs=_runs_outside(project, plot), rods=_rods_outside(project, plot))
    words = (
        f"the whole plot of {plot.area_m2:.0f} m² meshed {plot.mesh_m:.2g} m by {plot.mesh_m:.2g} m, rods of "
        f"{ROD_M:g} m at its corners and every {ROD_EVERY_M:g} m, {thickness:g} m of {cover} at "
        f"{resistivity:.0f} Ω·m to {BEYOND_M:g} m beyond it"
    )
    return made, words


def _mats(project: Project, plot: Plot) -> tuple[MatLayout, ...]:
    first = project.mats[0]
    width = max([ROD_MM, *(r.diameter_mm for m in project.mats for r in m.rods)])
    rods = (RodRule("perimeter", ROD_M, width, spacing_m=ROD_EVERY_M),)
    return tuple(
        MatLayout(
            name=f"plot {n}" if len(plot.parts) > 1 else "plot",
            outline_m=_ring(part),
            spacing_x_m=plot.mesh_m,
            spacing_y_m=plot.mesh_m,
            depth_m=first.depth_m,
            conductor=first.conductor,
            rods=rods,
            path=first.path,
        )
        for n, part in enumerate(plot.parts, 1)
    )


def _ring(polygon: Polygon) -> tuple[Point2, ...]:
    return tuple((float(x), float(y)) for x, y in polygon.exterior.coords[:-1])


def _runs_outside(project: Project, plot: Plot) -> tuple[ExtraRun, ...]:
    """Runs less what lies in the plot; a cut end lies on the outer conductor of the new mat."""
    base = shapely.union_all(list(plot.parts))
    rows: list[ExtraRun] = []
    for run in project.runs:
        left = LineString(run.points_m).difference(base.buffer(CUT_M))
        rows += [
            replace(run, points_m=_drawn_on(part, base))
            for part in shapely.get_parts(left).tolist()
            if part.length > LEAST_PIECE_M
        ]
    return tuple(rows)


def _drawn_on(part: LineString, base: BaseGeometry) -> tuple[Point2, ...]:
    """Corners of a piece, its cut ends put back on the outline."""
    points = []
    for x, y in part.coords:
        spot = Point(x, y)
        if 0.0 < spot.distance(base) < 10 * CUT_M:
            spot = nearest_points(base, spot)[0]
        points.append((float(spot.x), float(spot.y)))
    return tuple(points)


def _rods_outside(project: Project, plot: Plot) -> tuple[RodList, ...]:
    base = shapely.union_all(list(plot.parts)).buffer(OUTSIDE_M)
    kept = [replace(r, at_m=tuple(p for p in r.at_m if not base.contains(Point(p)))) for r in project.rods]
    return tuple(r for r in kept if r.at_m)


def _covered(
    project: Project, plot: Plot, cover: str, resistivity: float, thickness: float
) -> tuple[SurfaceZone, ...]:
    """Present covers at least as good as the new one; the new one round the plot, before the rest."""
    rows = []
    for zone in project.surface:
        if zone.outline_m is not None and zone.resistivity_ohm_m is not None:
            better = max(zone.resistivity_ohm_m, resistivity)
            zone = replace(
                zone, resistivity_ohm_m=better, thickness_m=max(zone.thickness_m, thickness), material=cover
            )
        rows.append(zone)
    new = []
    for number, part in enumerate(plot.parts, 1):
        wide = part.buffer(BEYOND_M, join_style="mitre")
        new.append(SurfaceZone(f"cover of plot {number}", _ring(wide), resistivity, thickness, cover))
    split = next((k for k, z in enumerate(rows) if z.outline_m is None), len(rows))
    return (*rows[:split], *new, *rows[split:])


def least_resistance(plot: Plot, layers: LayeredSoil) -> float:
    """No metal within the plot, down to the depth of the deep rods, has less resistance than this. [ohm]

    The half sphere round all of it, as metal: more metal never raises the resistance (Dirichlet's principle),
    and soil of the least resistivity everywhere outside neither; rho / (2 pi a) is then exact.
    """
    whole = shapely.union_all(list(plot.parts))
    low_x, low_y, high_x, high_y = whole.bounds
    radius = hypot(0.5 * hypot(high_x - low_x, high_y - low_y), ROD_M + 1.0)
    return min(layers.resistivities_ohm_m) / (2.0 * pi * radius)
