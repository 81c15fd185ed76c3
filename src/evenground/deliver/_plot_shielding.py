"""Plan and elevation of the zone that the rolling sphere leaves protected."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground.deliver._figure import INK, legend_below, plan_axes, stacked_axes, styled, wrapped

if TYPE_CHECKING:
    from evenground.model.lightning import ElevationEnvelope, ProtectedObject, ShieldingResult
    from evenground.model.lightning_site import LightningSite
    from evenground.model.study import Study

__all__ = ["elevation_figure", "shielding_figure", "shielding_figures"]

FILLS = ("#dbe7f2", "#b4cde2", "#86aed0", "#5d8fbd")
BAD = "#8c3b00"


def shielding_figures(study: Study) -> dict[str, Callable[[], Any]]:
    """File stem -> function that draws the figure; empty without shielding."""
    found = None if study.lightning is None else study.lightning.shielding
    if found is None:
        return {}
    figures: dict[str, Callable[[], Any]] = {}
    if found.contours:
        figures["shielding"] = lambda: shielding_figure(study)
    for number in range(len(found.elevations)):
        figures[f"shielding-section-{number + 1}"] = lambda n=number: elevation_figure(study, n)  # type: ignore[misc]
    return figures


@styled
def shielding_figure(study: Study) -> Any:
    """Protected zones at stated heights in plan, with masts, wires and objects."""
    site, found = _parts(study)
    rings = [ring for zone in found.contours for polygon in zone.polygons_m for ring in polygon]
    spots = [p for ring in rings for p in ring] + [m.at_m for m in site.terminals.masts]
    spots += [p[:2] for thing in site.objects for p in _outline(thing)]
    xs, ys = np.array([p[0] for p in spots]), np.array([p[1] for p in spots])
    edge = 0.04 * max(float(np.ptp(xs)), float(np.ptp(ys)), 1.0)
    rule = found.rule
    title = wrapped("Protected zone in plan", f"rolling sphere of {rule.radius_m:.3g} m, {rule.source}")
    rows = (len(found.contours) + 5) // 2
    figure, axes, _ = plan_axes(
        float(np.ptp(xs)) + 2 * edge, float(np.ptp(ys)) + 2 * edge, title, rows, bar=False
    )
    axes.set_xlim(float(xs.min()) - edge, float(xs.max()) + edge)
    axes.set_ylim(float(ys.min()) - edge, float(ys.max()) + edge)
    handles = _zones(axes, found)
    handles += _objects(axes, site, found)
    handles += _terminals(axes, site)
    _section_lines(axes, found)
    legend_below(figure, handles, 2)
    return figure


def _parts(study: Study) -> tuple[LightningSite, ShieldingResult]:
    site, result = study.project.lightning, study.lightning
    assert site is not None
    assert result is not None
    assert result.shielding is not None
    return site, result.shielding


def _outline(thing: ProtectedObject) -> list[tuple[float, float, float]]:
    """Points of an object; the top corners of a box, closed."""
    if thing.box is None:
        return list(thing.points_m)
    box = thing.box
    turn = np.radians(box.angle_deg)
    corners = []
    for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)):
        u, v = 0.5 * a * box.length_m, 0.5 * b * box.width_m
        x = box.centre_m[0] + u * np.cos(turn) - v * np.sin(turn)
        y = box.centre_m[1] + u * np.sin(turn) + v * np.cos(turn)
        corners.append((float(x), float(y), box.height_m))
    return corners


def _zones(axes: Any, found: ShieldingResult) -> list[Any]:
    from matplotlib.patches import Patch, PathPatch
    from matplotlib.path import Path

    handles = []
    for zone, fill in zip(sorted(found.contours, key=lambda z: z.height_m), FILLS, strict=False):
        for polygon in zone.polygons_m:
            path = Path.make_compound_path(*(Path(np.array(ring), closed=True) for ring in polygon))
            axes.add_patch(PathPatch(path, facecolor=fill, edgecolor=INK, lw=0.8, zorder=1))
        label = f"protected up to {zone.height_m:.3g} m ({zone.area_m2:.0f} m² shown)"
        handles.append(Patch(facecolor=fill, edgecolor=INK, label=label))
    return handles


def _objects(axes: Any, site: LightningSite, found: ShieldingResult) -> list[Any]:
    from matplotlib.lines import Line2D

    good = {o.name: o.protected for o in found.objects}
    for thing in site.objects:
        points = _outline(thing)
        kept = good.get(thing.name, True)
        style: dict[str, Any] = {"color": INK if kept else BAD, "lw": 1.2 if kept else 2.2, "zorder": 4}
        if thing.joined or thing.box is not None:
            axes.plot([p[0] for p in points], [p[1] for p in points], **style)
        else:
            axes.plot([p[0] for p in points], [p[1] for p in points], ls="none", marker="x", **style)
        middle = np.mean([p[:2] for p in points[:4]], axis=0)
        axes.annotate(
            thing.name, middle, fontsize=6.5, color=style["color"], ha="center", va="bottom", zorder=8
        )
    worst = [o for o in found.objects if not o.protected]
    handles: list[Any] = [Line2D([], [], color=INK, lw=1.2, label="object, sphere stays off it")]
    if worst:
        axes.plot(
            [o.worst_point_m[0] for o in worst],
            [o.worst_point_m[1] for o in worst],
            ls="none",
            marker="v",
            color=BAD,
            zorder=9,
        )
        handles.append(
            Line2D([], [], color=BAD, lw=2.2, marker="v", label="object reached by the sphere, worst place")
        )
    return handles


def _terminals(axes: Any, site: LightningSite) -> list[Any]:
    from matplotlib.lines import Line2D

    terminals, handles = site.terminals, []
    for box in terminals.buildings:
        from evenground.model.lightning import ProtectedObject

        points = _outline(ProtectedObject(box.name, box=box))
        axes.fill(
            [p[0] for p in points], [p[1] for p in points], facecolor="#cccccc", edgecolor=INK, zorder=3
        )
    for wire in terminals.wires:
        axes.plot(
            [wire.start_m[0], wire.end_m[0]],
            [wire.start_m[1], wire.end_m[1]],
            color=INK,
            lw=1.0,
            ls="--",
            zorder=5,
        )
    if terminals.wires:
        handles.append(Line2D([], [], color=INK, lw=1.0, ls="--", label="overhead earth wire or beam"))
    for mast in terminals.masts:
        axes.plot(*mast.at_m, marker="^", color="white", markeredgecolor=INK, markersize=7, zorder=7)
        axes.annotate(
            f"{mast.name}, {mast.height_m:.3g} m",
            mast.at_m,
            xytext=(0, 6),
            textcoords="offset points",
            fontsize=7,
            ha="center",
            zorder=8,
        )
    if terminals.masts:
        handles.append(
            Line2D(
                [], [], ls="none", marker="^", color="white", markeredgecolor=INK, label="mast and its height"
            )
        )
    return handles


def _section_lines(axes: Any, found: ShieldingResult) -> None:
    for row in found.elevations:
        (x0, y0), (x1, y1) = row.start_m, row.end_m
        axes.plot([x0, x1], [y0, y1], color=INK, lw=0.6, ls=(0, (8, 2, 1, 2)), zorder=2)


@styled
def elevation_figure(study: Study, number: int) -> Any:
    """Greatest protected height along one section, with what stands near it."""
    site, found = _parts(study)
    row = found.elevations[number]
    (x0, y0), (x1, y1) = row.start_m, row.end_m
    names = [name for name, *_ in site.elevations]
    name = names[number] if number < len(names) else "through the worst object"
    ends = f"from x = {x0:.1f}, y = {y0:.1f} m to x = {x1:.1f}, y = {y1:.1f} m".replace("-", "−")
    figure, axes = stacked_axes((2.3,), wrapped(f"Protected height, section {name}", ends), 2)
    s, heights = np.array(row.distances_m), np.array(row.heights_m)
    axes.fill_between(s, 0.0, heights, facecolor=FILLS[1], edgecolor="none", zorder=1)
    axes.plot(s, heights, color=INK, lw=1.2, zorder=3, label="greatest protected height")
    axes.set_xlim(0.0, float(s[-1]))
    near = _beside(axes, site, found, row)
    tops = [m.height_m for m in site.terminals.masts] + [float(heights.max(initial=1.0)), *near]
    axes.set_ylim(0.0, 1.15 * max(tops))
    axes.set_aspect("auto")
    axes.set_xlabel("Distance along the section, m")
    axes.set_ylabel("Height, m")
    axes.grid(color="#dddddd", lw=0.6)
    legend_below(figure, axes.get_legend_handles_labels()[0], 2)
    return figure


def _beside(axes: Any, site: LightningSite, found: ShieldingResult, row: ElevationEnvelope) -> list[float]:
    """Objects and masts within two metres of the section, as they stand in it; returns their heights."""
    a, b = np.array(row.start_m), np.array(row.end_m)
    along = (b - a) / np.hypot(*(b - a))
    good = {o.name: o.protected for o in found.objects}
    heights, labels = [], set()

    def place(x: float, y: float) -> tuple[float, float]:
        d = np.array([x, y]) - a
        return float(d @ along), float(abs(d[0] * along[1] - d[1] * along[0]))

    for mast in site.terminals.masts:
        s, off = place(*mast.at_m)
        if off <= 2.0:
            axes.plot([s, s], [0, mast.height_m], color=INK, lw=2.0, zorder=4)
            axes.annotate(mast.name, (s, mast.height_m), fontsize=7, ha="center", va="bottom")
            heights.append(mast.height_m)
    for thing in site.objects:
        points = _fine(_outline(thing))
        spots = [(place(p[0], p[1]), p[2]) for p in points]
        inside = [(s, h) for (s, off), h in spots if off <= 2.0]
        if not inside:
            continue
        kept = good.get(thing.name, True)
        label = "object, sphere stays off it" if kept else "object reached by the sphere"
        axes.plot(
            [s for s, _ in inside],
            [h for _, h in inside],
            ls="none",
            marker="s" if kept else "v",
            markersize=2.5 if kept else 4,
            color=INK if kept else BAD,
            zorder=5,
            label=None if label in labels else label,
        )
        labels.add(label)
        top = (float(np.mean([s for s, _ in inside])), max(h for _, h in inside))
        axes.annotate(thing.name, top, xytext=(0, 4), textcoords="offset points", fontsize=6.5, ha="center")
        heights += [h for _, h in inside]
    return heights


def _fine(points: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Points along a line, not more than a metre apart."""
    rows = []
    for p, q in pairwise(points):
        count = max(1, int(np.ceil(np.hypot(q[0] - p[0], q[1] - p[1]))))
        for k in range(count):
            t = k / count
            rows.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1]), p[2] + t * (q[2] - p[2])))
    return [*rows, points[-1]]
