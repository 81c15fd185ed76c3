"""Charts as plain mappings: profile, sounding curve, potential surface, section through the soil."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from evenground.model.soil import SoilResult
    from evenground.model.study import Profile, Study

__all__ = ["profile_chart", "sounding_chart", "surface_chart"]

INK = {False: ("#1d2a2c", "#d5dbd8", "#ffffff"), True: ("#e4e9e6", "#3b4646", "#1b2323")}
"""Dark? -> text, grid, paper."""
LINES = {
    False: ("#0b6a6a", "#a3470f", "#6a4c93", "#4d5b5c"),
    True: ("#63c7bd", "#f0a265", "#c3a6e8", "#aab6b4"),
}
DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
SYMBOLS = ("circle", "square", "diamond", "triangle-up", "x", "cross")
MOST_ROWS = 90


def _layout(dark: bool, **more: Any) -> dict[str, Any]:
    ink, grid, paper = INK[dark]
    axis = {
        "gridcolor": grid,
        "zerolinecolor": grid,
        "linecolor": ink,
        "showline": True,
        "ticks": "outside",
        "tickcolor": ink,
        "tickfont": {"size": 12},
    }
    base: dict[str, Any] = {
        "font": {"family": "inherit", "size": 13, "color": ink},
        "paper_bgcolor": paper,
        "plot_bgcolor": paper,
        "margin": {"l": 58, "r": 14, "t": 10, "b": 40},
        "xaxis": dict(axis),
        "yaxis": dict(axis),
        "hovermode": "x unified",
        "uirevision": "keep",
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0, "font": {"size": 12}},
    }
    for key, value in more.items():
        base[key] = (
            base[key] | value if isinstance(base.get(key), dict) and isinstance(value, dict) else value
        )
    return base


def _title(words: str) -> dict[str, Any]:
    return {"text": words, "font": {"size": 12.5}, "standoff": 6}


def _config() -> dict[str, Any]:
    return {"displaylogo": False, "displayModeBar": False, "responsive": True}


def _numbers(values: Any, places: int = 1) -> list[float | None]:
    return [None if not np.isfinite(v) else round(float(v), places) for v in values]


def profile_chart(profile: Profile | None, dark: bool) -> dict[str, Any]:
    """Touch and step voltage along a line with their limits. [m, V]"""
    data = []
    if profile is not None:
        x = _numbers(profile.distance_m, 2)
        colours = LINES[dark]
        for name, values, colour, dash, width in (
            ("touch voltage", profile.touch_v, colours[0], "solid", 2.4),
            ("touch limit", profile.touch_limit_v, colours[0], "dash", 1.6),
            ("step voltage", profile.step_v, colours[1], "solid", 2.4),
            ("step limit", profile.step_limit_v, colours[1], "dash", 1.6),
        ):
            line = {"color": colour, "dash": dash, "width": width}
            data.append({"x": x, "y": _numbers(values), "name": name, "mode": "lines", "line": line})
    axes = {
        "xaxis": {"title": _title("along the line, m")},
        "yaxis": {"title": _title("V"), "rangemode": "tozero"},
    }
    return {"data": data, "layout": _layout(dark, **axes), "config": _config()}


def sounding_chart(soil: SoilResult | None, dark: bool) -> dict[str, Any]:
    """Apparent resistivity against spacing with every fitted model. [m, ohm m]"""
    data: list[dict[str, Any]] = []
    if soil is not None:
        for n, name in enumerate(dict.fromkeys(r.traverse for r in soil.readings)):
            rows = [r for r in soil.readings if r.traverse == name]
            colour = LINES[dark][n % 4]
            marker = {
                "symbol": [SYMBOLS[n % 6] + ("" if r.used else "-open") for r in rows],
                "size": 9,
                "color": colour,
            }
            data.append(
                {
                    "x": [r.position_m for r in rows],
                    "y": [round(r.apparent_resistivity_ohm_m, 2) for r in rows],
                    "name": name,
                    "mode": "markers",
                    "marker": marker,
                }
            )
        ink = INK[dark][0]
        for n, (name, curve) in enumerate(soil.curves_ohm_m.items()):
            chosen = name == soil.chosen
            line = {"color": ink, "dash": DASHES[0 if chosen else 1 + n % 4], "width": 2.6 if chosen else 1.3}
            data.append(
                {
                    "x": [round(v, 3) for v in soil.curve_positions_m],
                    "y": [round(v, 2) for v in curve],
                    "name": f"{name} (chosen)" if chosen else name,
                    "mode": "lines",
                    "line": line,
                }
            )
    axes = {
        "xaxis": {"type": "log", "title": _title("spacing a, or AB/2, m")},
        "yaxis": {"type": "log", "title": _title("apparent resistivity, Ω·m")},
        "hovermode": "closest",
    }
    return {"data": data, "layout": _layout(dark, **axes), "config": _config()}


def surface_chart(study: Study, dark: bool) -> dict[str, Any]:
    """Potential of the surface of the ground for the governing fault. [m, V]"""
    surface = study.map
    every = max(1, int(np.ceil(max(surface.potential.shape) / MOST_ROWS)))
    gpr = study.gpr_v[surface.scenario]
    volts = surface.potential[::every, ::every] * gpr
    ink, grid, paper = INK[dark]
    axis = {"gridcolor": grid, "color": ink, "backgroundcolor": paper}
    data = [
        {
            "type": "surface",
            "x": _numbers(surface.x_m[::every], 2),
            "y": _numbers(surface.y_m[::every], 2),
            "z": [_numbers(row, 1) for row in volts],
            "colorscale": "Cividis",
            "colorbar": {"title": {"text": "V"}, "thickness": 14, "len": 0.8},
            "hovertemplate": "x %{x} m, y %{y} m<br>%{z} V<extra></extra>",
        }
    ]
    scene = {
        "xaxis": {**axis, "title": {"text": "x, m"}},
        "yaxis": {**axis, "title": {"text": "y, m"}},
        "zaxis": {**axis, "title": {"text": "V"}},
        "camera": {"eye": {"x": 1.5, "y": -2.1, "z": 1.4}},
        "aspectmode": "manual",
        "aspectratio": {"x": 1.4, "y": 1.4 * volts.shape[0] / volts.shape[1], "z": 0.6},
    }
    layout = _layout(dark, scene=scene, margin={"l": 0, "r": 0, "t": 0, "b": 0})
    return {"data": data, "layout": layout, "config": _config()}
