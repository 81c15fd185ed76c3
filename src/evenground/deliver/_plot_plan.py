"""Plan of the mat and profiles along lines."""

from __future__ import annotations

import textwrap
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
from evenground.deliver.format import format_number

if TYPE_CHECKING:
    from evenground.model.study import Profile, Study

__all__ = ["against_limit", "plan_figure", "profile_figure"]

HATCHES = ("....", "\\\\\\", "xx", "--", "++", "oo")


@styled
def plan_figure(study: Study) -> Any:
    """Layout of the electrode in plan: conductors, rods, surface zones, main dimensions."""
    points = [p for c in study.electrode + study.separate_metal for p in (c.start_m, c.end_m)]
    points += [(*p, 0.0) for z in study.project.surface for p in z.outline_m or ()]
    xs, ys = np.array([p[0] for p in points]), np.array([p[1] for p in points])
    span = max(float(np.ptp(xs)), float(np.ptp(ys)), 1.0)
    pad = 0.14 * span
    edge = 0.04 * span
    kinds = len({c.kind for c in study.electrode})
    rows = max(kinds, sum(z.outline_m is not None for z in study.project.surface))
    figure, axes, _ = plan_axes(
        float(np.ptp(xs)) + edge + pad,
        float(np.ptp(ys)) + edge + pad,
        wrapped("Layout of the electrode in plan", _metal(study)),
        rows,
        bar=False,
    )
    axes.set_xlim(float(xs.min()) - edge, float(xs.max()) + pad)
    axes.set_ylim(float(ys.min()) - edge, float(ys.max()) + pad)
    zones = _zones(axes, study)
    metal = draw_conductors(axes, study.electrode, separate=study.separate_metal)
    metal += [_nothing() for _ in range(len(zones) - len(metal))]  # zones fill the second column
    _dimensions(axes, study, pad)
    axes.tick_params(direction="in")
    legend_below(figure, metal + zones, 2 if zones else 1)
    return figure


def _nothing() -> Any:
    from matplotlib.lines import Line2D

    return Line2D([], [], color="none", label=" ")


def _metal(study: Study) -> str:
    rods = study.electrode.of_kind("rod")
    flat = sum(c.length_m for c in study.electrode if c.kind != "rod")
    text = f"{flat:.0f} m of buried conductor"
    depths = sorted({m.depth_m for m in study.project.mats})
    if depths:
        text += " at depth " + ", ".join(f"{d:g}" for d in depths) + " m"
    return text + (f", {len(rods)} rods of {rods.total_length_m:.0f} m in all" if len(rods) else ", no rods")


def _zones(axes: Any, study: Study) -> list[Any]:
    from matplotlib.patches import Polygon

    handles = []
    for number, zone in enumerate(study.project.surface):
        if zone.outline_m is None:
            continue
        cover = "bare soil"
        if zone.resistivity_ohm_m is not None:
            cover = (
                f"{zone.material or 'cover'} {zone.state}".strip()
                + f", {1000 * zone.thickness_m:.0f} mm, {format_number(zone.resistivity_ohm_m)} Ω·m"
            )
        patch = Polygon(
            zone.outline_m,
            closed=True,
            facecolor="#f4f1ea",
            edgecolor="#9a9484",
            hatch=HATCHES[number % len(HATCHES)],
            linewidth=0.9,
            zorder=0.5,
            label=textwrap.shorten(f"zone “{zone.name}”: {cover}", 72, placeholder=" …"),
        )
        axes.add_patch(patch)
        handles.append(patch)
    return handles


def _dimensions(axes: Any, study: Study, pad: float) -> None:
    """Overall dimensions of the metal, outside of it."""
    flat = [c for c in study.electrode if c.kind != "rod"] or list(study.electrode)
    xs = [p[0] for c in flat for p in (c.start_m, c.end_m)]
    ys = [p[1] for c in flat for p in (c.start_m, c.end_m)]
    x0, x1, y0, y1 = min(xs), max(xs), min(ys), max(ys)
    off = 0.55 * pad
    if x1 > x0:
        _dimension(axes, (x0, y1 + off), (x1, y1 + off), f"{x1 - x0:.2f} m", 0)
        _witness(axes, [((x, y1 + 0.15 * pad), (x, y1 + off + 0.15 * pad)) for x in (x0, x1)])
    if y1 > y0:
        _dimension(axes, (x1 + off, y0), (x1 + off, y1), f"{y1 - y0:.2f} m", 90)
        _witness(axes, [((x1 + 0.15 * pad, y), (x1 + off + 0.15 * pad, y)) for y in (y0, y1)])


def _dimension(axes: Any, a: tuple[float, float], b: tuple[float, float], text: str, turn: int) -> None:
    axes.annotate("", a, b, arrowprops={"arrowstyle": "<|-|>", "lw": 0.7, "color": INK}, zorder=7)
    axes.annotate(
        text,
        ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2),
        ha="center",
        va="center",
        rotation=turn,
        fontsize=7.5,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        zorder=8,
    )


def _witness(axes: Any, lines: list[Any]) -> None:
    for a, b in lines:
        axes.plot([a[0], b[0]], [a[1], b[1]], color=INK, lw=0.5, zorder=7)


@styled
def profile_figure(profile: Profile, scenario: str) -> Any:
    """Surface potential above; touch and step voltage against their limits below, along one line."""
    title = wrapped(f"Profile {profile.name}", f"fault “{scenario}”")
    figure, upper, lower = stacked_axes((1.0, 1.95), title, 2)
    s = profile.distance_m
    upper.plot(s, profile.potential_v, color=INK, lw=1.3)
    upper.set_ylabel("Surface\npotential, V")
    upper.set_ylim(bottom=0)
    lower.set_ylim(0, 1.18 * _top(profile))
    against_limit(lower, s, profile.touch_v, profile.touch_limit_v, "touch", "#8c3b00", "solid")
    against_limit(lower, s, profile.step_v, profile.step_limit_v, "step", "#1f4e79", (0, (5, 1.5)))
    lower.set_ylabel("Voltage, V")
    lower.set_xlabel(f"Distance along the line, m ({_ends(profile)})")
    for axes in (upper, lower):
        axes.grid(color="#dddddd", lw=0.6)
        axes.set_xlim(float(s[0]), float(s[-1]))
    legend_below(figure, lower.get_legend_handles_labels()[0], 3)
    return figure


def _ends(profile: Profile) -> str:
    start, end = (
        f"x = {x:.1f}, y = {y:.1f} m".replace("-", "−") for x, y in (profile.start_m, profile.end_m)
    )
    return f"closed line from {start}" if start == end else f"from {start} to {end}"


def _top(profile: Profile) -> float:
    """Upper end of the voltage axis: highest voltage, or the lowest limit when that is higher."""
    voltages = [float(np.nanmax(v)) for v in (profile.touch_v, profile.step_v) if np.isfinite(v).any()]
    limits = [
        float(np.nanmin(v)) for v in (profile.touch_limit_v, profile.step_limit_v) if np.isfinite(v).any()
    ]
    top = max([*voltages, min(limits, default=0.0), 1.0])
    return max([top, *(limit for limit in limits if limit <= 1.6 * top)])


def against_limit(axes: Any, s: Any, value: Any, limit: Any, name: str, colour: str, dashes: Any) -> None:
    """A voltage and its limit along a line; where it is above, the area between is hatched."""
    note = ""
    if np.isfinite(limit).any() and float(np.nanmin(limit)) > axes.get_ylim()[1]:
        note = f" (from {float(np.nanmin(limit)):.0f} V, above the axis)"
    axes.plot(s, value, color=colour, lw=1.4, ls=dashes, label=name, zorder=4)
    axes.plot(
        s, limit, color=colour, lw=2.2, ls=(0, (1, 1)), alpha=0.85, label=f"limit of {name}{note}", zorder=3
    )
    over = np.where(np.isfinite(value) & np.isfinite(limit), value > limit, False)
    if over.any():
        axes.fill_between(
            s,
            limit,
            value,
            where=over,
            facecolor="none",
            edgecolor=colour,
            hatch="////",
            linewidth=0,
            label=f"{name} above its limit",
        )
