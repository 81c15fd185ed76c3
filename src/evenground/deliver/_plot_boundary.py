"""Pictures of the boundary: fences, gates, equipment in plan; touch along a fence; contours outside."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import ceil
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground.deliver._figure import (
    INK,
    draw_conductors,
    legend_below,
    plan_axes,
    stacked_axes,
    styled,
    wrapped,
)
from evenground.deliver._plot_plan import against_limit
from evenground.deliver.format import format_number, format_quantity

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.model.surroundings import Contour, FenceProfile

__all__ = ["boundary_figure", "boundary_figures", "contour_figure", "fence_figure"]

FENCES = {
    "bonded": ("#8c3b00", "solid", 1.8),
    "separate": ("#1f4e79", (0, (5, 2)), 1.8),
    "insulating": ("#707070", (0, (1, 2)), 1.8),
}
LINES = ("solid", (0, (6, 2)), (0, (3, 1.5)), (0, (6, 1.5, 1, 1.5)), (0, (1, 1)))
PLAN_M = 60.0
"""How far round the mat the plan of the boundary reaches at most. [m]"""


@styled
def fence_figure(profile: FenceProfile) -> Any:
    """Touch voltage on both sides of a piece of fence, at the reach, against the limits there."""
    title = wrapped(f"Touch voltage along {profile.name}", f"fault “{profile.scenario}”")
    figure, axes = stacked_axes((2.2,), title, 2)
    s = profile.distance_m
    values = [profile.inside_v, profile.outside_v]
    limits = [profile.inside_limit_v, profile.outside_limit_v]
    top = max(float(np.max(v)) for v in values)
    lowest = min(float(np.min(v)) for v in limits)
    top = max(top, lowest)
    near = [float(np.max(v)) for v in limits if float(np.max(v)) <= 1.8 * top]
    axes.set_ylim(0, 1.15 * max([top, *near]))
    axes.set_xlim(float(s[0]), float(s[-1]))
    against_limit(axes, s, profile.inside_v, profile.inside_limit_v, profile.sides[0], "#8c3b00", "solid")
    against_limit(
        axes, s, profile.outside_v, profile.outside_limit_v, profile.sides[1], "#1f4e79", (0, (5, 1.5))
    )
    axes.set_ylabel("Voltage, V")
    start = f"x = {profile.x_m[0]:.1f}, y = {profile.y_m[0]:.1f} m".replace("-", "−")
    axes.set_xlabel(f"Distance along the fence, m (from {start})")
    axes.grid(color="#dddddd", lw=0.6)
    legend_below(figure, axes.get_legend_handles_labels()[0], 3)
    return figure


def _window(study: Study) -> tuple[float, float, float, float]:
    """Plan that shows the mat and what is near it. [m]"""
    built = study.project.installation
    metal = np.array([p[:2] for c in study.electrode for p in (c.start_m, c.end_m)])
    (x0, y0), (x1, y1) = metal.min(axis=0), metal.max(axis=0)
    points = [p for f in built.fences for p in f.points_m] + [(e.x_m, e.y_m) for e in built.equipment]
    points += [s.crosses_m for s in built.services if s.crosses_m is not None]
    reach = min(PLAN_M, 0.22 * max(x1 - x0, y1 - y0))
    near = np.array(points or [(x0, y0)])
    low = np.minimum((x0, y0), np.maximum(near.min(axis=0), (x0 - reach, y0 - reach)))
    high = np.maximum((x1, y1), np.minimum(near.max(axis=0), (x1 + reach, y1 + reach)))
    pad = 0.06 * max(high - low)
    return low[0] - pad, high[0] + pad, low[1] - pad, high[1] + pad


@styled
def boundary_figure(study: Study) -> Any:
    """Equipment, fences with their way of earthing, gates with their swing, and services, in plan."""
    from matplotlib.lines import Line2D

    built = study.project.installation
    x0, x1, y0, y1 = _window(study)
    kinds = list(dict.fromkeys(f.bonding for f in built.fences))
    title = wrapped("Equipment, fences, gates and what crosses the boundary")
    entries = len({c.kind for c in study.electrode}) + len(kinds) + 3 + len(built.services)
    figure, axes, _ = plan_axes(x1 - x0, y1 - y0, title, ceil(entries / 3), bar=False)
    axes.set_xlim(x0, x1)
    axes.set_ylim(y0, y1)
    handles = draw_conductors(axes, study.electrode, thin=True)
    for fence in built.fences:
        colour, dashes, width = FENCES[fence.bonding]
        ring = [*fence.points_m, fence.points_m[0]] if fence.closed else list(fence.points_m)
        axes.plot(*zip(*ring, strict=True), color=colour, ls=dashes, lw=width, zorder=6)
    for kind in kinds:
        colour, dashes, width = FENCES[kind]
        handles.append(Line2D([], [], color=colour, ls=dashes, lw=width, label=f"fence, {kind}"))
    handles += _gates(axes, study) + _equipment(axes, study) + _services(axes, study)
    axes.tick_params(direction="in")
    legend_below(figure, handles, 3)
    return figure


def _gates(axes: Any, study: Study) -> list[Any]:
    from matplotlib.patches import Polygon

    found = study.surroundings.boundary if study.surroundings else None
    if found is None or not found.swings:
        return []
    patch = None
    for name, ring in found.swings:
        patch = Polygon(
            ring,
            closed=True,
            facecolor="#ffffff",
            edgecolor=INK,
            hatch="xxx",
            lw=0.9,
            zorder=7,
            label="gate with its swing",
        )
        axes.add_patch(patch)
        xs, ys = np.array(ring).T
        x, y = float(xs.mean()), float(ys.mean())
        away = np.array([x - axes_middle(axes)[0], y - axes_middle(axes)[1]])
        dx, dy = 12 * away / max(float(np.hypot(*away)), 1e-9)
        look = {"ha": "left" if dx > 4 else "right" if dx < -4 else "center"}
        look["va"] = "bottom" if dy > 4 else "top" if dy < -4 else "center"
        offset = {"xytext": (dx, dy), "textcoords": "offset points"}
        axes.annotate(name, (x, y), fontsize=6, zorder=9, bbox=LABEL, **offset, **look)
    return [patch]


LABEL = {"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85}


def _equipment(axes: Any, study: Study) -> list[Any]:
    """Items as squares; filled when a rule is not kept."""
    items = study.project.installation.equipment
    rows = study.surroundings.connections if study.surroundings else ()
    wrong = {r.path[:2] for r in rows if r.outcome in ("broken", "not stated")}
    handles = []
    for label, chosen, face in (
        ("equipment, rules kept", [e for e in items if e.path not in wrong], "white"),
        ("equipment, a rule not kept", [e for e in items if e.path in wrong], "black"),
    ):
        if chosen:
            handles += axes.plot(
                [e.x_m for e in chosen],
                [e.y_m for e in chosen],
                ls="none",
                marker="s",
                ms=4,
                mfc=face,
                mec=INK,
                mew=0.9,
                zorder=8,
                label=label,
            )
    for item in items:
        beside = [
            e for e in items if e is not item and abs(e.y_m - item.y_m) < 1.5 and 0 < item.x_m - e.x_m < 7
        ]
        up = -1 if len(beside) % 2 else 1
        axes.annotate(
            item.tag,
            (item.x_m, item.y_m),
            xytext=(0, 3.5 * up),
            textcoords="offset points",
            fontsize=5.2,
            ha="center",
            va="bottom" if up > 0 else "top",
            zorder=9,
            bbox=LABEL,
        )
    return handles


def axes_middle(axes: Any) -> tuple[float, float]:
    """Middle of the window. [m]"""
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    return (x0 + x1) / 2, (y0 + y1) / 2


def _services(axes: Any, study: Study) -> list[Any]:
    rows = [s for s in study.project.installation.services if s.crosses_m is not None]
    if not rows:
        return []
    handles: list[Any] = []
    for letter, service in zip(ascii_lowercase, rows, strict=False):
        for a, b in pairwise(service.route_m):
            axes.plot([a[0], b[0]], [a[1], b[1]], color=INK, ls=(0, (1, 1)), lw=1.2, zorder=6)
        place = service.crosses_m or (0.0, 0.0)
        handles += axes.plot(
            *place,
            ls="none",
            marker="o",
            ms=10,
            mfc="white",
            mec=INK,
            zorder=10,
            label=f"{letter}  {service.name} ({service.disposal})",
        )
        axes.annotate(letter, place, ha="center", va="center", fontsize=6.5, zorder=11)
    return handles


@styled
def contour_figure(study: Study) -> Any:
    """Contours of surface potential round the site, with the largest distance from the mat."""
    from matplotlib.lines import Line2D

    assert study.surroundings is not None
    assert study.surroundings.boundary is not None
    rows = [c for c in study.surroundings.boundary.contours if np.isfinite(c.points_m).any()]
    points = np.vstack([c.points_m[np.isfinite(c.points_m[:, 0])] for c in rows])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    pad = 0.08 * max(x1 - x0, y1 - y0)
    rise = format_quantity(study.gpr_v.get(rows[0].scenario), "V")
    title = wrapped(
        "Contours of surface potential outside the site", f"fault “{rows[0].scenario}”, rise {rise}"
    )
    figure, axes, _ = plan_axes(x1 - x0 + 2 * pad, y1 - y0 + 2 * pad, title, 3, bar=False)
    axes.set_xlim(x0 - pad, x1 + pad)
    axes.set_ylim(y0 - pad, y1 + pad)
    handles = [_contour(axes, c, LINES[k % len(LINES)]) for k, c in enumerate(rows)]
    axes.grid(color="#e4e4e4", lw=0.5)
    metal = [(c.start_m[:2], c.end_m[:2]) for c in study.electrode if c.start_m[:2] != c.end_m[:2]]
    for a, b in metal:
        axes.plot([a[0], b[0]], [a[1], b[1]], color=INK, lw=0.4, zorder=3)
    handles.append(Line2D([], [], color=INK, lw=0.4, label="conductors of the mat"))
    legend_below(figure, handles, 2)
    return figure


def _contour(axes: Any, row: Contour, dashes: Any) -> Any:
    from matplotlib.lines import Line2D

    ring = np.vstack([row.points_m, row.points_m[:1]])
    axes.plot(ring[:, 0], ring[:, 1], color="#1f4e79", ls=dashes, lw=1.4, zorder=5)
    finite = row.points_m[np.isfinite(row.points_m[:, 0])]
    spot = finite[int(np.argmax(finite @ (0.6, 0.8)))]
    axes.annotate(
        f"{row.voltage_v:.0f} V", spot, fontsize=6.5, ha="center", va="center", bbox=LABEL, zorder=6
    )
    if row.furthest_m is not None and row.around:
        far = f"up to {format_number(row.furthest_m, 3)} m from {row.around}"
    elif row.furthest_m is not None:
        far = f"up to {format_number(row.furthest_m, 3)} m from the mat"
    else:
        far = f"in part further than {format_number(row.beyond_m, 3)} m"
    label = f"{row.voltage_v:.0f} V, {far}"
    return Line2D([], [], color="#1f4e79", ls=dashes, lw=1.4, label=label)


def boundary_figures(study: Study) -> dict[str, Callable[[], Any]]:
    """File stem -> function that draws it; only what the study has."""
    found = study.surroundings.boundary if study.surroundings else None
    if found is None:
        return {}
    built = study.project.installation
    figures: dict[str, Callable[[], Any]] = {}
    if built.fences or built.equipment or built.services:
        figures["boundary-plan"] = lambda: boundary_figure(study)
    for number, profile in enumerate(found.profiles, 1):
        figures[f"fence-{number}"] = lambda p=profile: fence_figure(p)  # type: ignore[misc]
    if any(np.isfinite(c.points_m).any() for c in found.contours):
        figures["contours"] = lambda: contour_figure(study)
    return figures
