"""Drawings in and out: DXF read with a layer table; plan and details written as DXF, SVG and PDF.

Entry functions: :func:`read_dxf` for drawings of others, :func:`write_dxf`, :func:`write_svg` and
:func:`write_pdf` for our own. The drawing library is loaded only when one of them is called.
"""

from __future__ import annotations

from evenground.drawing._details import DetailSizes
from evenground.drawing._sheets import sheets_pdf, sheets_png, sheets_svg, write_pdf, write_svg
from evenground.drawing._write import DrawingOptions, build_drawing, dxf_bytes, own_layers, write_dxf
from evenground.siteplan import (
    UNITS_M,
    DrawingContents,
    DrawnLine,
    DrawnOutline,
    DrawnRod,
    LayerMap,
    LayerRule,
    PreviewRow,
    ReadLimits,
    Role,
    layer_map,
    read_dxf,
)

__all__ = [
    "UNITS_M",
    "DetailSizes",
    "DrawingContents",
    "DrawingOptions",
    "DrawnLine",
    "DrawnOutline",
    "DrawnRod",
    "LayerMap",
    "LayerRule",
    "PreviewRow",
    "ReadLimits",
    "Role",
    "build_drawing",
    "dxf_bytes",
    "layer_map",
    "own_layers",
    "read_dxf",
    "sheets_pdf",
    "sheets_png",
    "sheets_svg",
    "write_dxf",
    "write_pdf",
    "write_svg",
]
