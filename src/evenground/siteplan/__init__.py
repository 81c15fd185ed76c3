"""Site drawings of others, read with a table that says what each layer is taken for.

Entry function: :func:`read_dxf`; :func:`list_layers` shows what a drawing holds before there is a table.
The drawing library is loaded only when one of them is called.
"""

from __future__ import annotations

from evenground.model.site_drawing import PreviewRow, SiteDrawing
from evenground.siteplan._contents import DrawingContents, DrawnLine, DrawnOutline, DrawnRod
from evenground.siteplan._layers import LayerMap, LayerRule, Role, layer_map
from evenground.siteplan._list import LayerListing, list_layers
from evenground.siteplan._open import UNITS_M, ReadLimits
from evenground.siteplan._own import APPLICATION, mark_tags
from evenground.siteplan._read import read_dxf

__all__ = [
    "APPLICATION",
    "UNITS_M",
    "DrawingContents",
    "DrawnLine",
    "DrawnOutline",
    "DrawnRod",
    "LayerListing",
    "LayerMap",
    "LayerRule",
    "PreviewRow",
    "ReadLimits",
    "Role",
    "SiteDrawing",
    "layer_map",
    "list_layers",
    "mark_tags",
    "read_dxf",
]
