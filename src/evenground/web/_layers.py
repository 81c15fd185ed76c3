"""Maps of a study as outlines to draw over the plan, and as numbers to hover over."""

from __future__ import annotations

import base64
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray

if TYPE_CHECKING:
    from evenground.model.study import Study, SurfaceMap

__all__ = ["BANDS", "map_layers"]

FloatArray = NDArray[np.float64]

BANDS = ((0.0, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 1.0), (1.0, np.inf))
"""Bands of utilisation: value over limit."""
MOST_CELLS = 400
"""Largest number of raster lines each way that go to the page."""
MISSING = 65535


def map_layers(study: Study) -> dict[str, Any]:
    """Touch, step and potential of a study for the plan.

    Returns
    -------
    dict
        ``touch``, ``step``: filled bands, the limit line, and the raster for hovering;
        ``potential``: lines of equal potential and the raster.
    """
    surface = study.map
    every = max(1, int(np.ceil(max(surface.potential.shape) / MOST_CELLS)))
    x, y = surface.x_m[::every], surface.y_m[::every]
    gpr = study.gpr_v[surface.scenario]
    return {
        "scenario": surface.scenario,
        "gpr_v": gpr,
        "touch": _utilisation(x, y, surface.touch_utilisation[::every, ::every]),
        "step": _utilisation(x, y, surface.step_utilisation[::every, ::every]),
        "potential": _potential(x, y, surface, every),
    }


def _utilisation(x: FloatArray, y: FloatArray, values: FloatArray) -> dict[str, Any]:
    masked = np.ma.masked_invalid(values)
    maker: Any = contour_generator(x, y, masked, fill_type=FillType.OuterOffset, line_type=LineType.Separate)
    bands = []
    for low, high in BANDS:
        upper = high if np.isfinite(high) else float(np.nanmax(values, initial=0.0)) + 2.0
        points, offsets = maker.filled(low, upper)
        text = "".join(_rings(p, o) for p, o in zip(points, offsets, strict=True))
        bands.append({"low": low, "high": high if np.isfinite(high) else None, "path": text})
    limit = "".join(_path(line) for line in maker.lines(1.0))
    return {"bands": bands, "limit": limit, "raster": _raster(x, y, values)}


def _potential(x: FloatArray, y: FloatArray, surface: SurfaceMap, every: int) -> dict[str, Any]:
    values = surface.potential[::every, ::every]
    maker: Any = contour_generator(x, y, values, line_type=LineType.Separate)
    low, high = float(values.min()), float(values.max())
    levels = [k / 20 for k in range(1, 20) if low < k / 20 < high]
    lines = [
        {"level": level, "path": "".join(_path(line) for line in maker.lines(level))} for level in levels
    ]
    return {"lines": lines, "raster": _raster(x, y, values)}


def _rings(points: FloatArray, offsets: NDArray[np.uint32]) -> str:
    return "".join(_path(points[a:b]) + "Z" for a, b in pairwise(offsets))


def _path(points: FloatArray) -> str:
    return "M" + "L".join(f"{px:.2f} {py:.2f}" for px, py in points)


def _raster(x: FloatArray, y: FloatArray, values: FloatArray) -> dict[str, Any]:
    """Thousandths as 16-bit numbers, 65535 where there is no value."""
    scaled = np.where(np.isfinite(values), np.clip(np.round(values * 1000), 0, MISSING - 1), MISSING)
    return {
        "x0": float(x[0]),
        "y0": float(y[0]),
        "dx": float(x[1] - x[0]),
        "dy": float(y[1] - y[0]),
        "nx": len(x),
        "ny": len(y),
        "data": base64.b64encode(scaled.astype("<u2").tobytes()).decode("ascii"),
    }
