"""Section in depth: lines of equal potential below a line in plan."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground.deliver._figure import INK, legend_below, plan_axes, styled, wrapped
from evenground.deliver.format import format_quantity

if TYPE_CHECKING:
    from evenground.model.study import DepthSection, Study

__all__ = ["section_figure"]

NEAR_M = 0.3
"""Metal this near to the section is drawn in it. [m]"""
DEEPEST_RATIO = 0.7
"""Sections deeper than this share of their length are drawn less high than to scale."""


@styled
def section_figure(study: Study, section: DepthSection) -> Any:
    """Potential in depth in per cent of the potential rise, with layers and metal near the section."""
    from matplotlib.lines import Line2D

    rise = study.gpr_v.get(study.map.scenario)
    along, depth = section.along_m, section.depth_m
    title = wrapped(
        f"Potential in depth below “{section.name}”, per cent of the potential rise",
        f"100 % is {format_quantity(rise, 'V')} for fault “{study.map.scenario}”; from "
        f"{_point(section.start_m)} to {_point(section.end_m)} m",
    )
    length, down = float(along[-1]), float(depth[-1])
    height = min(max(down, 0.2 * length), DEEPEST_RATIO * length)
    figure, axes, bar = plan_axes(length, height, title, 1, bar=True)
    axes.set_aspect("auto")
    axes.set_xlabel("distance along the section, m")
    axes.set_ylabel("depth, m")
    axes.set_xlim(0.0, length)
    axes.set_ylim(down, 0.0)
    values = np.minimum(100 * section.potential, 100.0)
    low = 5 * int(np.nanmin(values) // 5)
    levels = list(range(low, 101, 5))
    filled = axes.contourf(along, depth, values, levels=levels, cmap="Blues", vmin=-5, vmax=140)
    lines = axes.contour(along, depth, values, levels=levels, colors=INK, linewidths=0.5)
    tens = [level for level in lines.levels if level % 10 == 0]
    axes.clabel(lines, levels=tens, fontsize=6, fmt=lambda v: f"{v:.0f} %", inline_spacing=2)
    handles = [Line2D([], [], color=INK, lw=0.5, label="equal potential, every 5 %")]
    handles += _layers(axes, study, down)
    handles += _metal(axes, study, section)
    figure.colorbar(filled, cax=bar)
    bar.set_yticks([level for level in levels if level % 10 == 0])
    bar.set_ylabel("per cent of potential rise")
    legend_below(figure, handles, 3)
    return figure


def _point(place: tuple[float, float]) -> str:
    return f"({place[0]:g}, {place[1]:g})".replace("-", "−")


def _layers(axes: Any, study: Study, down: float) -> list[Any]:
    soil = study.soil_used or study.soil.soil
    shown = [d for d in soil.interface_depths_m if d < down]
    handles = [axes.axhline(d, color="#7a4a1e", lw=1.1, ls=(0, (6, 2))) for d in shown]
    if handles:
        handles[0].set_label("boundary of soil layers")
    return handles[:1]


def _metal(axes: Any, study: Study, section: DepthSection) -> list[Any]:
    """Conductors near the section, projected on it."""
    (x0, y0), (x1, y1) = section.start_m, section.end_m
    length = hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    handles: list[Any] = []
    for c in (*study.electrode, *study.separate_metal):
        ends = []
        for x, y, z in (c.start_m, c.end_m):
            ends.append(((x - x0) * ux + (y - y0) * uy, (y - y0) * ux - (x - x0) * uy, z))
        cut = _within(ends[0], ends[1])
        if cut is None:
            continue
        (s0, z0), (s1, z1) = cut
        point = hypot(s1 - s0, z1 - z0) < 0.01 * length
        style: dict[str, Any] = {"marker": "o", "markersize": 2.5} if point else {}
        handles += axes.plot([s0, s1], [z0, z1], color="black", lw=1.6, solid_capstyle="butt", **style)
    if handles:
        handles[0].set_label(f"metal within {NEAR_M:g} m")
    return handles[:1]


def _within(
    a: tuple[float, float, float], b: tuple[float, float, float]
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The part of a conductor within ``NEAR_M`` of the section: (along, depth) of its ends."""
    low, high = 0.0, 1.0
    slope = b[1] - a[1]
    for sign in (1.0, -1.0):  # sign * across <= NEAR_M
        here, there = sign * a[1] - NEAR_M, sign * slope
        if abs(there) < 1e-12:
            if here > 0:
                return None
            continue
        t = -here / there
        if there > 0:
            high = min(high, t)
        else:
            low = max(low, t)
    if low > high:
        return None
    ends = [(a[0] + t * (b[0] - a[0]), a[2] + t * (b[2] - a[2])) for t in (low, high)]
    return ends[0], ends[1]
