"""Maps of the surface: touch and step voltage against their limits, and the potential."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from evenground.deliver._figure import (
    INK,
    draw_conductors,
    draw_outline,
    legend_below,
    plan_axes,
    styled,
    wrapped,
)
from evenground.deliver.format import format_quantity
from evenground.deliver.words import standards_text

if TYPE_CHECKING:
    from evenground.model.study import ShockResult, Study

__all__ = ["potential_figure", "utilisation_figure"]

FloatArray = NDArray[np.float64]

COARSE = (0.1, 0.2, 0.4, 0.6, 0.8, 1.5, 2.0, 3.0, 5.0)
FINE = (0.1, 0.2, 0.3, 0.4, 0.5)
"""Contour lines drawn, as fractions of the limit, when the map comes near the limit and when not."""
MOST_LABELS = 8
"""Closed curves of the limit line that are still labelled one by one."""
MOST_POINTS = 320
"""Raster points along one side of a drawn map; a finer raster is thinned, keeping the largest value."""


@styled
def utilisation_figure(study: Study, quantity: str) -> Any:
    """Map of touch or step voltage in per cent of the limit at each place.

    Parameters
    ----------
    study : Study
    quantity : str
        ``"touch"`` or ``"step"``.

    Notes
    -----
    Light is low and dark is high. The line where the limit is reached is bold, and the area beyond it
    is hatched, so that the map reads without colour.
    """
    surface = study.map
    values = surface.touch_utilisation if quantity == "touch" else surface.step_utilisation
    x, y, used = thinned(surface.x_m, surface.y_m, values)
    title = wrapped(
        f"{quantity.capitalize()} voltage in per cent of the limit at each place",
        f"fault “{surface.scenario}”, limits of {standards_text(study)}",
    )
    worst = _worst_here(study, quantity)
    over = worst is not None and worst.value_v > worst.limit_v
    figure, axes, bar = plan_axes(
        float(np.ptp(x)), float(np.ptp(y)), title, _legend_rows(study, used, 4), bar=True
    )
    axes.set_xlim(float(x[0]), float(x[-1]))
    axes.set_ylim(float(y[0]), float(y[-1]))
    filled = _fill(axes, x, y, used)
    handles = _lines(axes, x, y, used, over)
    handles += _zone_edges(axes, study) + draw_conductors(
        axes, study.electrode, thin=True, separate=study.separate_metal
    )
    if worst is not None:
        handles.append(_callout(axes, worst, x, y))
    figure.colorbar(filled, cax=bar)
    bar.set_yticks(list(filled.levels), [f"{100 * v:.0f}" for v in filled.levels])
    bar.set_ylabel("per cent of limit")
    legend_below(figure, handles, 3)
    return figure


def thinned(x: FloatArray, y: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A raster of at most MOST_POINTS a side; each block keeps its largest value."""
    step = max(1, ceil(len(x) / MOST_POINTS), ceil(len(y) / MOST_POINTS))
    if step == 1:
        return x, y, values
    rows, columns = ceil(len(y) / step), ceil(len(x) / step)
    padded = np.full((rows * step, columns * step), -np.inf)
    padded[: len(y), : len(x)] = np.where(np.isnan(values), -np.inf, values)
    block = padded.reshape(rows, step, columns, step).max(axis=(1, 3))
    centres_x = np.array([x[i * step : (i + 1) * step].mean() for i in range(columns)])
    centres_y = np.array([y[i * step : (i + 1) * step].mean() for i in range(rows)])
    return centres_x, centres_y, np.where(np.isinf(block), np.nan, block)


def _levels(largest: float) -> list[float]:
    """Steps of 10 % up to the limit, then wider ones."""
    levels = [0.1 * i for i in range(11)]
    for top in (1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0):
        if levels[-1] >= largest:
            break
        levels.append(top)
    if levels[-1] < largest:
        levels.append(largest)
    return levels


def _fill(axes: Any, x: FloatArray, y: FloatArray, values: FloatArray) -> Any:
    from matplotlib import colormaps
    from matplotlib.colors import BoundaryNorm, ListedColormap

    largest = float(np.nanmax(values)) if np.isfinite(values).any() else 1.0
    levels = _levels(largest)
    ramp = colormaps["YlOrBr"]
    below = [ramp(0.02 + 0.045 * i) for i in range(10)]
    count = len(levels) - 11
    above = [ramp(0.60 + 0.40 * (i + 0.5) / max(count, 1)) for i in range(count)]
    colours = ListedColormap(below + above)
    norm = BoundaryNorm(levels, colours.N)
    masked = np.ma.masked_invalid(values)
    filled = axes.contourf(x, y, masked, levels=levels, cmap=colours, norm=norm, zorder=1)
    if largest > 1.0:
        axes.contourf(x, y, masked, levels=[1.0, largest * 1.001], colors="none", hatches=["////"], zorder=2)
    return filled


def _legend_rows(study: Study, used: FloatArray | None, others: int) -> int:
    """Rows of a legend of three columns."""
    entries = others + len({c.kind for c in study.electrode})
    entries += int(used is not None and float(np.nanmax(used)) > 1.0)
    return ceil(entries / 3)


def _lines(axes: Any, x: FloatArray, y: FloatArray, values: FloatArray, over: bool) -> list[Any]:
    """Contour lines, limit line and edge of the area; ``over``: the refined search found a place above
    the limit."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch
    from matplotlib.patheffects import Normal, Stroke

    masked = np.ma.masked_invalid(values)
    finite = np.isfinite(values)
    lowest, largest = float(np.nanmin(values)), float(np.nanmax(values))
    marks = [v for v in (COARSE if largest > 0.6 else FINE) if lowest < v < largest]
    if marks:
        thin = axes.contour(x, y, masked, levels=marks, colors=INK, linewidths=0.5, zorder=3)
        texts = axes.clabel(thin, fontsize=6, fmt=lambda v: f"{100 * v:.0f} %", inline_spacing=2)
        _on_white(texts)
    handles: list[Any] = []
    if lowest < 1.0 < largest:
        bold = axes.contour(x, y, masked, levels=[1.0], colors="black", linewidths=2.4, zorder=5)
        bold.set_path_effects([Stroke(linewidth=4.2, foreground="white"), Normal()])
        if len(bold.get_paths()[0].to_polygons(closed_only=False)) <= MOST_LABELS:
            _on_white(axes.clabel(bold, fontsize=6.5, fmt=lambda _: "limit", inline_spacing=2))
    if largest > 1.0:
        handles.append(Line2D([], [], color="black", lw=2.4, label="limit reached (100 %)"))
        handles.append(Patch(facecolor="#c8681f", edgecolor="black", hatch="////", label="above the limit"))
    else:
        words = (
            "worst place exceeds the limit, raster misses it" if over else "limit is not reached in the area"
        )
        handles.append(Line2D([], [], color="none", label=words))
    edge = np.pad(finite.astype(float), 1)
    wide_x = np.concatenate([[2 * x[0] - x[1]], x, [2 * x[-1] - x[-2]]])
    wide_y = np.concatenate([[2 * y[0] - y[1]], y, [2 * y[-1] - y[-2]]])
    axes.contour(wide_x, wide_y, edge, levels=[0.5], colors="#707070", linewidths=0.8, zorder=3)
    handles.append(Line2D([], [], color="#707070", lw=0.8, label="edge of the area assessed"))
    return handles


def _on_white(texts: Any) -> None:
    """Give contour labels a white halo, so that they read on dark ground."""
    from matplotlib.patheffects import Normal, Stroke

    for text in texts or []:
        text.set_path_effects([Stroke(linewidth=1.8, foreground="white"), Normal()])
        text.set_zorder(7)


def _zone_edges(axes: Any, study: Study) -> list[Any]:
    from matplotlib.lines import Line2D

    shaped = [zone for zone in study.project.surface if zone.outline_m is not None]
    style: dict[str, Any] = {"color": "#404040", "lw": 0.8, "ls": (0, (4, 2))}
    for zone in shaped:
        draw_outline(axes, zone.outline_m or (), zorder=3, **style)
    return [Line2D([], [], label="edge of a surface zone", **style)] if shaped else []


def _worst_here(study: Study, quantity: str) -> ShockResult | None:
    rows = [
        s for s in study.shocks if (s.quantity, s.scenario, s.metal) == (quantity, study.map.scenario, "")
    ]
    return max(rows, key=lambda s: s.value_v / s.limit_v) if rows else None


def _callout(axes: Any, worst: ShockResult, x: FloatArray, y: FloatArray) -> Any:
    """Mark the worst place with value, limit and zone; the box stands towards the middle."""
    from matplotlib.patheffects import Normal, Stroke

    px, py = worst.place.x_m, worst.place.y_m
    across, up = float(np.ptp(x)), float(np.ptp(y))
    side_x = 1 if px < float(x.mean()) else -1
    side_y = 1 if py < float(y.mean()) else -1
    axes.annotate(
        f"worst {worst.quantity}, {worst.zone}\n{format_quantity(worst.value_v, 'V')}, limit "
        f"{format_quantity(worst.limit_v, 'V')}\n{100 * worst.value_v / worst.limit_v:.0f} % of the limit",
        xy=(px, py),
        xytext=(px + side_x * 0.12 * across, py + side_y * 0.16 * up),
        ha="left" if side_x > 0 else "right",
        va="bottom" if side_y > 0 else "top",
        fontsize=7,
        bbox={"boxstyle": "square,pad=0.35", "facecolor": "white", "edgecolor": INK, "linewidth": 0.9},
        arrowprops={
            "arrowstyle": "-|>",
            "color": INK,
            "lw": 1.1,
            "shrinkB": 4,
            "path_effects": [Stroke(linewidth=3.2, foreground="white"), Normal()],
        },
        zorder=9,
    )
    handles = axes.plot(
        [px],
        [py],
        linestyle="none",
        marker="X",
        markersize=8,
        markerfacecolor="white",
        markeredgecolor="black",
        markeredgewidth=1.2,
        zorder=8,
        clip_on=False,
        label="worst place",
    )
    return handles[0]


@styled
def potential_figure(study: Study) -> Any:
    """Map of the surface potential in per cent of the earth potential rise."""
    surface = study.map
    x, y, values = thinned(surface.x_m, surface.y_m, 100 * surface.potential)
    rise = study.gpr_v.get(surface.scenario)
    title = wrapped(
        "Surface potential in per cent of the earth potential rise",
        f"100 % is {format_quantity(rise, 'V')} for fault “{surface.scenario}”",
    )
    figure, axes, bar = plan_axes(
        float(np.ptp(x)), float(np.ptp(y)), title, _legend_rows(study, None, 1), bar=True
    )
    axes.set_xlim(float(x[0]), float(x[-1]))
    axes.set_ylim(float(y[0]), float(y[-1]))
    low = 5 * int(np.nanmin(values) // 5)
    levels = list(range(max(low, 0), 101, 5))
    filled = axes.contourf(x, y, values, levels=levels, cmap="Blues", vmin=-5, vmax=140, zorder=1)
    lines = axes.contour(x, y, values, levels=levels, colors=INK, linewidths=0.5, zorder=2)
    tens = [level for level in lines.levels if level % 10 == 0]
    _on_white(axes.clabel(lines, levels=tens, fontsize=6, fmt=lambda v: f"{v:.0f} %", inline_spacing=2))
    handles = _zone_edges(axes, study) + draw_conductors(
        axes, study.electrode, thin=True, separate=study.separate_metal
    )
    figure.colorbar(filled, cax=bar)
    bar.set_yticks([level for level in levels if level % 10 == 0])
    bar.set_ylabel("per cent of potential rise")
    legend_below(figure, handles, 3)
    return figure
