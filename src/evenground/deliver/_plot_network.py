"""Sketch of the station's metal with its currents; potential rise against the place of the fault."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._figure import INK, PAGE_WIDTH_IN, new_figure, styled, title_height, wrapped
from evenground.deliver._flows import Flow, split_flows
from evenground.deliver.format import format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.network import Network, ScenarioSplit
    from evenground.model.split_routes import Cable, OverheadLine

__all__ = ["SWEPT", "current_figure", "rise_figure"]

SWEPT = 8
"""Fault places above which a curve shows more than a table."""

ARRIVES, LEAVES, SOIL = "#b35900", "#1f4e79", "#6b4a1f"
ROW_IN = 0.36
WIDEST_IN = 0.24
"""Width of the arrow of the whole fault current. [inch]"""
NARROWEST_IN = 0.012


def _ends(network: Network | None) -> dict[str, str]:
    """Where each route leads, in words."""
    routes: list[OverheadLine | Cable] = []
    if network is not None:
        routes += [*network.lines, *network.cables]
    reduced = network.reduced if network is not None else {}
    return {
        r.name: f"{r.length_m / 1000:.3g} km to {r.far_station or 'an open end'}"
        for r in routes
        if r.name not in reduced
    }


def _words(flow: Flow, ends: dict[str, str]) -> str:
    kinds = {
        "wire": ends.get(flow.name, "earth wire"),
        "fault": "fault current",
        "source neutral": "through its neutral",
        "mat": "mat and soil",
        "bond": "bond",
    }
    name = "" if flow.kind == "mat" else f"{flow.name}, "
    return f"{name}{kinds[flow.kind]}"


@styled
def current_figure(split: ScenarioSplit, network: Network | None = None) -> Any:
    """The station's metal as a bar; arrows arrive from the left and leave to the right, the mat below."""
    flows, ends = split_flows(split), _ends(network)
    mat = next(flow for flow in flows if flow.kind == "mat")
    arriving = [flow for flow in flows if flow is not mat and not flow.leaves]
    leaving = [flow for flow in flows if flow is not mat and flow.leaves]
    place = split.result.place
    title = wrapped(
        f"Where the current goes: {split.scenario}",
        f"fault {place.name}, 3I0 {format_quantity(abs(split.result.fault_current_a), 'A')}, "
        f"station at {format_quantity(abs(split.result.gpr_v), 'V')}",
    )
    rows = max(len(arriving), len(leaving), 1)
    top = title_height(title)
    body = ROW_IN * rows + 0.75
    figure = new_figure(top + body + 0.05)
    axes = figure.add_axes((0.0, 0.0, 1.0, (body + 0.05) / (top + body + 0.05)))
    axes.set_xlim(0.0, PAGE_WIDTH_IN)
    axes.set_ylim(-0.75, ROW_IN * rows)
    axes.set_axis_off()
    figure.text(0.02, 1.0 - 0.08 / (top + body), title, va="top", fontsize=9.0, fontweight="bold")
    middle = PAGE_WIDTH_IN / 2
    axes.plot([middle, middle], [0.0, ROW_IN * rows - 0.08], color=INK, lw=4.0, solid_capstyle="butt")
    for k, flow in enumerate(arriving):
        y = ROW_IN * (rows - k - 0.62)
        _arrow(axes, (middle - 0.75, y), (middle - 0.06, y), flow.share, ARRIVES)
        _label(axes, middle - 0.85, y, flow, "right", ends)
    for k, flow in enumerate(leaving):
        y = ROW_IN * (rows - k - 0.62)
        _arrow(axes, (middle + 0.06, y), (middle + 0.75, y), flow.share, LEAVES)
        _label(axes, middle + 0.85, y, flow, "left", ends)
    down, up = (middle, -0.42), (middle, 0.0)
    _arrow(axes, *((up, down) if mat.leaves else (down, up)), mat.share, SOIL)
    _label(axes, middle + 0.45, -0.22, mat, "left", ends)
    _ground(axes, middle, -0.46)
    axes.text(
        middle - 0.45, -0.22, "metal of the station", ha="right", va="center", fontsize=7.5, color="#555555"
    )
    return figure


def _arrow(
    axes: Any, start: tuple[float, float], end: tuple[float, float], share: float, colour: str
) -> None:
    from matplotlib.patches import FancyArrow

    width = max(min(share, 1.2) * WIDEST_IN, NARROWEST_IN)
    head = max(1.7 * width, 0.09)
    axes.add_patch(
        FancyArrow(
            *start,
            end[0] - start[0],
            end[1] - start[1],
            width=width,
            head_width=head,
            head_length=0.14,
            length_includes_head=True,
            color=colour,
            lw=0,
        )
    )


def _label(axes: Any, x: float, y: float, flow: Flow, side: str, ends: dict[str, str]) -> None:
    figure = f"{format_quantity(abs(flow.current), 'A')}  {format_percent(flow.share)}"
    axes.text(x, y + 0.015, _words(flow, ends), ha=side, va="bottom", fontsize=7.5, color=INK)
    axes.text(x, y - 0.015, figure, ha=side, va="top", fontsize=7.5, color="#333333")


def _ground(axes: Any, x: float, y: float) -> None:
    for k, half in enumerate((0.30, 0.2, 0.1)):
        axes.plot([x - half, x + half], [y - 0.07 * k] * 2, color=INK, lw=1.4, solid_capstyle="butt")


@styled
def rise_figure(split: ScenarioSplit) -> Any:
    """Potential rise of the station and of the faulted tower against the distance of the fault."""
    from evenground.deliver._figure import stacked_axes

    routes = list(dict.fromkeys(p.route for p in split.places if p.route))
    title = wrapped("Potential rise against the place of the fault", split.scenario)
    figure, axes = stacked_axes((2.3,), title, 0)
    home = split.places[0]
    dashes = ("solid", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)))
    for k, route in enumerate(routes):
        rows = [p for p in split.places if p.route == route]
        x = [0.0, *(p.distance_m / 1000 for p in rows)]
        dash = dashes[k % len(dashes)]
        axes.plot(
            x,
            [home.gpr_v, *(p.gpr_v for p in rows)],
            color=LEAVES,
            lw=1.6,
            ls=dash,
            label=f"station: {route}",
        )
        axes.plot(
            x[1:],
            [p.tower_rise_v for p in rows],
            color=ARRIVES,
            lw=1.1,
            ls=dash,
            label=f"at the fault: {route}",
        )
    axes.set_xlabel("distance of the fault, km")
    axes.set_ylabel("potential rise, V")
    axes.set_xlim(left=0.0)
    axes.set_ylim(bottom=0.0)
    axes.grid(color="#dddddd", lw=0.5)
    axes.legend(loc="best")
    return figure
