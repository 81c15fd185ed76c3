"""A site's tests over the years, one strip for each quantity."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground.deliver._figure import INK, legend_below, stacked_axes, styled
from evenground.deliver.format import unit_text

if TYPE_CHECKING:
    from evenground.model.site_test import TestSeries
    from evenground.model.study import Study

__all__ = ["series_figure", "test_figures"]

LINE = "#2f6690"
LIMIT = "#8c3b00"


def test_figures(study: Study) -> dict[str, Callable[[], Any]]:
    """File stem -> function that draws the figure; empty with fewer than two values of anything."""
    result = study.tests
    if result is None or not any(len(s.trend.points) > 1 for s in result.series):
        return {}
    return {"site-tests": lambda: series_figure(study)}


@styled
def series_figure(study: Study) -> Any:
    """Measured quantities over the years with their limits and, from three values on, a line."""
    result = study.tests
    assert result is not None
    rows = [s for s in result.series if len(s.trend.points) > 1]
    title = f"Site tests over the years, {study.project.identity.site or study.project.identity.title}"
    figure, *strips = stacked_axes((1.25,) * len(rows), title, 1)
    years = [p.year for s in rows for p in s.trend.points]
    pad = max(0.5, 0.08 * (max(years) - min(years)))
    for axis, row in zip(strips, rows, strict=True):
        _strip(axis, row, min(years) - pad, max(years) + 2 * pad)
    strips[-1].set_xlabel("Year")
    legend_below(figure, strips[0].get_legend_handles_labels()[0], 3)
    return figure


def _strip(axis: Any, row: TestSeries, start: float, end: float) -> None:
    t = row.trend
    x, y = np.array([p.year for p in t.points]), np.array([p.value for p in t.points])
    axis.plot(x, y, color=LINE, marker="o", ms=4, lw=1.0, label="measured")
    axis.axhline(t.limit, color=LIMIT, lw=1.0, ls="--", label="limit or value to be kept")
    if t.slope_per_year is not None:
        ends = np.array([x[0], end])
        middle, level = float(x.mean()), float(y.mean())
        line = level + t.slope_per_year * (ends - middle)
        axis.plot(ends, line, color=INK, lw=0.8, ls=":", label="straight line through them")
    axis.set_xlim(start, end)
    top = 1.15 * max(float(y.max()), t.limit)
    axis.set_ylim(0.0, top)
    axis.xaxis.get_major_locator().set_params(integer=True)
    unit = unit_text(row.unit)
    axis.text(
        0.012,
        0.3,
        f"{row.name}{f', {unit}' if unit else ''}",
        transform=axis.transAxes,
        fontsize=7.5,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.5},
    )
    axis.grid(color="#dddddd", lw=0.6)
