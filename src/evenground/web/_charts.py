"""Charts as plain mappings: profile, sounding curve, potential surface, section through the soil."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from evenground.model.network import ScenarioSplit
    from evenground.model.soil import SoilResult
    from evenground.model.study import DepthSection, Profile, Study

__all__ = ["depth_chart", "profile_chart", "rise_chart", "sounding_chart", "surface_chart"]

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


def _log_ticks(values: list[float]) -> dict[str, Any]:
    """Ticks of a logarithmic axis written out in full: 1, 2, 5 a decade, closer where the range is short."""
    low, high = min(values, default=1.0), max(values, default=10.0)
    decades = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    digits = (1, 2, 5) if high > 8 * low else (1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3, 4, 5, 6, 7, 8, 9)
    ticks = [d * 10.0**k for k in decades for d in digits]
    return {"tickvals": ticks, "ticktext": [f"{t:.10g}" for t in ticks]}


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
    across = [v for r in data for v in r["x"]]
    up = [v for r in data for v in r["y"]]
    axes = {
        "xaxis": {"type": "log", "title": _title("spacing a, or AB/2, m"), **_log_ticks(across)},
        "yaxis": {"type": "log", "title": _title("apparent resistivity, Ω·m"), **_log_ticks(up)},
        "hovermode": "closest",
    }
    return {"data": data, "layout": _layout(dark, **axes), "config": _config()}


def _proportions(x_m: Any, y_m: Any) -> dict[str, float]:
    """Sides of the 3-D box: the plan to scale, its longer side 1.5."""
    wide, deep = float(x_m[-1] - x_m[0]), float(y_m[-1] - y_m[0])
    longer = max(wide, deep)
    return {"x": max(1.5 * wide / longer, 0.4), "y": max(1.5 * deep / longer, 0.4), "z": 0.55}


def surface_chart(study: Study, dark: bool) -> dict[str, Any]:
    """Potential of the surface of the ground for the governing fault. [m, V]"""
    surface = study.map
    every = max(1, int(np.ceil(max(surface.potential.shape) / MOST_ROWS)))
    gpr = study.gpr_v[surface.scenario]
    volts = surface.potential[::every, ::every] * gpr
    ink, grid, paper = INK[dark]
    # the letters of a 3-D scene are drawn as shapes, from a family by its name
    font = {"family": "DejaVu Sans, Noto Sans, Arial, sans-serif", "size": 12, "color": ink}
    axis = {"gridcolor": grid, "color": ink, "backgroundcolor": paper, "tickfont": font}
    data = [
        {
            "type": "surface",
            "x": _numbers(surface.x_m[::every], 2),
            "y": _numbers(surface.y_m[::every], 2),
            "z": [_numbers(row, 1) for row in volts],
            "colorscale": "Cividis",
            "colorbar": {
                "title": {"text": "V", "side": "right"},
                "orientation": "h",
                "thickness": 12,
                "len": 0.9,
                "y": -0.02,
                "yanchor": "bottom",
                "tickfont": {"color": ink},
            },
            "hovertemplate": "x %{x} m, y %{y} m<br>%{z} V<extra></extra>",
        }
    ]
    scene = {
        "xaxis": {**axis, "title": {"text": "x, m", "font": font}},
        "yaxis": {**axis, "title": {"text": "y, m", "font": font}},
        "zaxis": {**axis, "title": {"text": "V", "font": font}},
        "camera": {"eye": {"x": 1.5, "y": -2.3, "z": 1.5}, "center": {"x": 0, "y": 0, "z": -0.15}},
        "aspectmode": "manual",
        "aspectratio": _proportions(surface.x_m, surface.y_m),
    }
    layout = _layout(dark, scene=scene, margin={"l": 0, "r": 0, "t": 0, "b": 0})
    return {"data": data, "layout": layout, "config": _config()}


def depth_chart(study: Study, section: DepthSection, dark: bool) -> dict[str, Any]:
    """Potential in depth below a line, with the boundaries of the soil layers. [m, V]"""
    every = max(1, int(np.ceil(max(section.potential.shape) / 160)))
    rise = study.gpr_v[study.map.scenario]
    ink, _, _ = INK[dark]
    along, depth = section.along_m[::every], section.depth_m[::every]
    data = [
        {
            "type": "contour",
            "x": _numbers(along, 2),
            "y": _numbers(depth, 3),
            "z": [_numbers(row * rise, 1) for row in section.potential[::every, ::every]],
            "colorscale": "Cividis",
            "ncontours": 16,
            "contours": {"showlabels": True, "labelfont": {"size": 11, "color": "#ffffff"}},
            "line": {"width": 0.7, "color": "#ffffff"},
            "colorbar": {"title": {"text": "V"}, "thickness": 12, "tickfont": {"color": ink}},
            "hovertemplate": "%{x} m along, %{y} m deep<br>%{z} V<extra></extra>",
        }
    ]
    soil = study.soil_used or study.soil.soil
    line = {"color": LINES[dark][1], "dash": "dash", "width": 2}
    shapes = [
        {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": d, "y1": d, "line": line}
        for d in soil.interface_depths_m
        if d < float(depth[-1])
    ]
    axes = {
        "xaxis": {"title": _title("along the section, m")},
        "yaxis": {"title": _title("depth, m"), "autorange": "reversed"},
        "hovermode": "closest",
        "shapes": shapes,
    }
    return {"data": data, "layout": _layout(dark, **axes), "config": _config()}


def rise_chart(split: ScenarioSplit, dark: bool) -> dict[str, Any]:
    """Potential rise of the station against the distance of the fault, route by route. [km, V]"""
    home, data = split.places[0], []
    for n, route in enumerate(dict.fromkeys(p.route for p in split.places if p.route)):
        rows = [p for p in split.places if p.route == route]
        line = {"color": LINES[dark][n % 4], "dash": DASHES[n % 5], "width": 2}
        data.append(
            {
                "x": [0.0, *(round(p.distance_m / 1000, 4) for p in rows)],
                "y": _numbers([home.gpr_v, *(p.gpr_v for p in rows)]),
                "name": route,
                "mode": "lines",
                "line": line,
            }
        )
    axes = {
        "xaxis": {"title": _title("distance of the fault, km"), "rangemode": "tozero"},
        "yaxis": {"title": _title("potential rise of the station, V"), "rangemode": "tozero"},
    }
    return {"data": data, "layout": _layout(dark, **axes), "config": _config()}
