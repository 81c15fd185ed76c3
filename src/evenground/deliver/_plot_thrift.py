"""Plots of a search for the cheapest design: its front, and both layouts side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._figure import INK, PAGE_WIDTH_IN, new_figure, styled

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.search import Thrift

__all__ = ["front_figure", "layouts_figure"]


@styled
def front_figure(found: Thrift) -> Any:
    """Cost against the smallest margin of touch and step."""
    figure = new_figure(3.3)
    axes = figure.add_axes((0.11, 0.16, 0.86, 0.73))
    rows = found.front
    axes.step([r.cost for r in rows], [100 * r.margin for r in rows], where="post", color="#8a8a8a", lw=0.8)
    for studied, mark, words in ((False, "o", "estimated"), (True, "s", "studied in full")):
        own = [r for r in rows if r.studied is studied]
        face = INK if studied else "white"
        places = [r.cost for r in own], [100 * r.margin for r in own]
        axes.plot(*places, mark, color=INK, mfc=face, ms=5, ls="", label=words)
    drawn = 1 - max(v for k, v in found.start.ratios.items() if k.startswith(("touch-", "step-")))
    axes.plot([found.start_cost], [100 * drawn], "X", color="#b03a2e", ms=8, ls="", label="as drawn")
    axes.set_xlabel(f"cost, {found.currency}, by the price list given")
    axes.set_ylabel("smallest margin of touch and step, %")
    axes.set_title("What margin costs")
    axes.grid(lw=0.4, color="#d0d0d0")
    axes.legend(loc="lower right")
    return figure


@styled
def layouts_figure(drawn: Project, made: Project) -> Any:
    """The metal as drawn and as found, in plan."""
    figure = new_figure(3.2)
    for k, (project, title) in enumerate(((drawn, "as drawn"), (made, "cheapest found"))):
        axes = figure.add_axes((0.08 + 0.49 * k, 0.13, 0.41, 0.76))
        _plan(axes, project)
        axes.set_title(title)
        axes.set_xlabel("x, m")
        if k == 0:
            axes.set_ylabel("y, m")
    figure.set_size_inches(PAGE_WIDTH_IN, 3.2)
    return figure


def _plan(axes: Any, project: Project) -> None:
    from evenground.electrode import build_electrode

    layout = build_electrode(
        project.mats, project.rods, project.runs, dict.fromkeys(project.conductors, 0.005)
    )
    for c in layout.electrode:
        (x0, y0, _), (x1, y1, _) = c.start_m, c.end_m
        if c.kind == "rod":
            axes.plot([x0], [y0], "o", color="#b03a2e", ms=1.5 + 0.4 * c.length_m)
        else:
            axes.plot([x0, x1], [y0, y1], color=INK, lw=0.8)
    for area in project.construction.forbidden if project.construction else ():
        axes.fill(*zip(*area.outline_m, strict=True), color="#d9d9d9", hatch="///", ec="#8a8a8a", lw=0.4)
    axes.set_aspect("equal")
