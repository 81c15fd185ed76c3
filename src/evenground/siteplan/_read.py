"""The entry function for drawings in: a DXF file and a layer table to what they hold."""

from __future__ import annotations

from math import floor, isfinite
from pathlib import Path

from evenground.errors import Finding, InputError
from evenground.model.site import Point2
from evenground.siteplan._collect import Collector
from evenground.siteplan._contents import DrawingContents
from evenground.siteplan._layers import LayerMap
from evenground.siteplan._open import ReadLimits, choose_unit, open_drawing, refuse

__all__ = ["read_dxf"]

FAR_M = 10_000.0
"""Drawings that lie further than this from their origin are shifted."""


def read_dxf(
    path: Path | str,
    layers: LayerMap,
    *,
    units: str | None = None,
    origin_m: Point2 | None = None,
    sagitta_m: float = 0.01,
    hidden_layers: bool = False,
    limits: ReadLimits | None = None,
) -> DrawingContents:
    """Read a DXF file (R12 to R2018, text or binary).

    Parameters
    ----------
    path : Path or str
    layers : LayerMap
        What each layer is taken for.
    units : str, optional
        Drawing unit (``"m"``, ``"mm"``, ``"foot"``, ...), needed when the drawing states none; otherwise it
        overrules the drawing, and the notes say so.
    origin_m : (x, y), optional
        Taken off every coordinate. By default nothing, unless the drawing lies further than 10 km from its
        origin: then its lower left corner, rounded down to 100 m. [m]
    sagitta_m : float
        Largest distance between a curve and its chords. [m]
    hidden_layers : bool
        Whether layers that are switched off or frozen are read too.
    limits : ReadLimits, optional

    Returns
    -------
    DrawingContents
        With a preview that accounts for every entity of the model space.

    Raises
    ------
    InputError
        When the file can not be read, states no unit, or holds nothing on the layers named.
    """
    file = Path(path)
    bounds = limits or ReadLimits()
    if not (isfinite(sagitta_m) and sagitta_m > 0):
        raise InputError(f"sagitta_m: {sagitta_m} must be above 0")
    opened = open_drawing(file, bounds)
    unit, unit_m, by, unit_notes = choose_unit(file, opened.unit_code, units)
    collector = Collector(opened.document, layers, unit_m, sagitta_m, bounds, hidden_layers)
    try:
        collector.run()
    except (InputError, MemoryError):
        raise
    except Exception as error:
        # whatever a hostile document makes the library raise while it is walked through
        raise refuse(file, f"could not be read through: {type(error).__name__}: {error}") from error
    if collector.too_many:
        raise refuse(
            file,
            f"holds more than {bounds.entities} entities when its blocks are expanded",
            "write out only the layers that are needed",
        )
    if not collector.found_anything:
        raise _nothing(file, collector, layers)
    x0, y0, x1, y1 = collector.extents()
    if not max(x1 - x0, y1 - y0) <= bounds.reach_m:
        span = max(x1 - x0, y1 - y0) / 1000
        raise refuse(
            file,
            f"spans {span:.4g} km in {unit}, which no site does",
            "check the unit, and look for things far away from the site",
        )
    origin, origin_notes = _origin(collector, origin_m)
    contents = DrawingContents(
        file_name=file.name,
        sha256=opened.sha256,
        version=str(opened.document.acad_release),
        unit=unit,
        unit_m=unit_m,
        unit_from=by,
        origin_m=origin,
        sagitta_m=sagitta_m,
        notes=(*opened.notes, *unit_notes, *origin_notes),
    )
    return collector.fill(contents)


def _nothing(file: Path, collector: Collector, layers: LayerMap) -> InputError:
    rows = collector.preview()
    counts: dict[str, int] = {}
    for row in rows:
        counts[row.layer] = counts.get(row.layer, 0) + row.left
    listed = sorted(counts.items(), key=lambda kv: (-kv[1], kv[0]))[:20]
    there = ", ".join(f"{name} ({count})" for name, count in listed) or "none at all"
    patterns = ", ".join(r.pattern for r in layers.rules)
    reasons = {row.reason for row in rows if row.role} - {""}
    why = f"; reasons: {'; '.join(sorted(reasons)[:5])}" if reasons else ""
    message = f"nothing was taken: the layer table names {patterns}{why}"
    advice = f"layers with entities in the drawing: {there}"
    return InputError([Finding("drawing-empty", message, advice, file=str(file))])


def _origin(collector: Collector, asked: Point2 | None) -> tuple[Point2, tuple[str, ...]]:
    if asked is not None:
        if not all(isfinite(v) for v in asked):
            raise InputError(f"origin_m: {asked} must be two finite numbers")
        return (float(asked[0]), float(asked[1])), ()
    x0, y0, x1, y1 = collector.extents()
    if max(abs(v) for v in (x0, y0, x1, y1)) <= FAR_M:
        return (0.0, 0.0), ()
    corner = (100.0 * floor(x0 / 100), 100.0 * floor(y0 / 100))
    text = f"The drawing lies far from its origin; ({corner[0]:.12g}, {corner[1]:.12g}) m was taken off."
    return corner, (text,)
