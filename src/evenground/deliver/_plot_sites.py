"""Map of many sites, coloured by their smallest margin."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians
from typing import TYPE_CHECKING, Any

from evenground.deliver._figure import INK, PAGE_WIDTH_IN, new_figure, styled, wrapped

if TYPE_CHECKING:
    from evenground.search import SiteRow

__all__ = ["map_figure"]

MARKS = {"pass": "o", "fail": "X", "not decided": "^", "wrong input": "s"}
FURTHEST = 0.5
"""Margin at which the colour does not change any more."""


@styled
def map_figure(rows: Sequence[SiteRow], change: str) -> Any:
    """Sites by longitude and latitude; numbers are ranks, the worst is 1."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    placed = [(k, r, r.at_deg) for k, r in enumerate(rows, 1) if r.at_deg is not None]
    figure = new_figure(4.6)
    axes = figure.add_axes((0.1, 0.12, 0.72, 0.76))
    colours: Any = ScalarMappable(Normalize(-FURTHEST, FURTHEST), "RdBu")
    for verdict, mark in MARKS.items():
        own = [(at, r.after.margin) for _, r, at in placed if r.after.verdict == verdict]
        if not own:
            continue
        face = ["#c9c9c9" if m is None else colours.to_rgba(m) for _, m in own]
        x, y = [at[1] for at, _ in own], [at[0] for at, _ in own]
        axes.scatter(x, y, c=face, marker=mark, s=75, edgecolors=INK, linewidths=0.7, label=verdict, zorder=3)
    for k, _, at in placed:
        axes.annotate(str(k), (at[1], at[0]), (6, 5), textcoords="offset points", fontsize=7.5)
    _limits(axes, [at for _, _, at in placed])
    axes.set_xlabel("longitude, degrees east")
    axes.set_ylabel("latitude, degrees north")
    axes.set_title(wrapped(f"Smallest margin of each site, {change}"))
    axes.grid(lw=0.4, color="#d0d0d0")
    axes.ticklabel_format(useOffset=False)
    axes.legend(loc="best")
    bar = figure.colorbar(colours, cax=figure.add_axes((0.86, 0.12, 0.022, 0.76)), extend="both")
    bar.set_label("margin, share of the limit (grey: none)")
    figure.set_size_inches(PAGE_WIDTH_IN, 4.6)
    return figure


def _limits(axes: Any, places: Sequence[tuple[float, float]]) -> None:
    """Equal distances north and east at the middle latitude, and room around the sites."""
    latitudes, longitudes = zip(*places, strict=True)
    middle = 0.5 * (min(latitudes) + max(latitudes))
    shrink = max(cos(radians(middle)), 0.05)
    tall = max(max(latitudes) - min(latitudes), 0.02)
    wide = max((max(longitudes) - min(longitudes)) * shrink, 0.02)
    half = 0.6 * max(tall, wide / 1.37)  # axes are 1.37 times as wide as they are tall
    east = 0.5 * (min(longitudes) + max(longitudes))
    axes.set_xlim(east - 1.37 * half / shrink, east + 1.37 * half / shrink)
    axes.set_ylim(middle - half, middle + half)
    axes.set_aspect(1.0 / shrink)
