"""The entry functions for drawings out: a design to DXF, SVG and PDF."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenground.drawing._details import DetailSizes, draw_details
from evenground.drawing._frame import (
    BINDING_MM,
    MARGIN_MM,
    Sheet,
    SheetText,
    draw_frame,
    draw_legend_and_notes,
)
from evenground.drawing._plan import Extent, draw_plan, plan_extent
from evenground.drawing._style import LAYERS, PAPERS, Paper, clean, new_document, no_clock
from evenground.schedules import Design
from evenground.siteplan import LayerMap, LayerRule, Role

if TYPE_CHECKING:
    from ezdxf.document import Drawing

__all__ = ["DrawingOptions", "build_drawing", "dxf_bytes", "own_layers", "write_dxf"]

SCALES = (
    20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 600, 750, 1000, 1250, 1500, 2000, 2500, 3000,
    4000, 5000, 10_000, 20_000, 50_000, 100_000,
)  # fmt: skip
"""Scales tried, the first that fits is taken; ISO 5455 recommends the steps of 1, 2 and 5 among them."""
ROOM_MM = (44.0, 38.0)
"""Paper kept free round the plan for dimensions and axes, for text of 2 mm. [mm]"""
PLAN, DETAILS = "Plan", "Details"
CAD_FONT = "arial.ttf"


@dataclass(frozen=True, slots=True)
class DrawingOptions:
    """How a drawing is set out.

    Attributes
    ----------
    paper : str
        ``"A1"`` or ``"A3"``; text and symbols are sized for it.
    scale : float or None
        200 for 1:200; None: the largest usual scale that fits the paper.
    details : bool
        Whether the sheet of sections and details is drawn.
    sizes : DetailSizes
        Sizes on the detail sheet that the design does not hold.
    font : str
        Font file named in the drawing.
    """

    paper: str = "A3"
    scale: float | None = None
    details: bool = True
    sizes: DetailSizes = field(default_factory=DetailSizes)
    font: str = CAD_FONT

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise ValueError(f"paper: {self.paper} is not one of {', '.join(PAPERS)}")
        if self.scale is not None and not self.scale > 0:
            raise ValueError(f"scale: {self.scale} must be above 0")


def own_layers() -> LayerMap:
    """The layer table that reads our own drawings back."""
    return LayerMap(
        (
            LayerRule("EG-MAT*", Role.CONDUCTOR),
            LayerRule("EG-RUN*", Role.CONDUCTOR),
            LayerRule("EG-RISER-*", Role.CONDUCTOR, conductor="riser"),
            LayerRule("EG-ROD", Role.ROD),
            LayerRule("EG-EQUIPMENT", Role.EQUIPMENT),
            LayerRule("EG-FENCE", Role.FENCE),
            LayerRule("EG-GATE", Role.GATE),
            LayerRule("EG-ZONE", Role.ZONE),
            LayerRule("EG-OUTLINE", Role.OUTLINE),
            LayerRule("EG-*", Role.IGNORE),
        )
    )


def build_drawing(
    design: Design, options: DrawingOptions | None = None, *, for_rendering: bool = False
) -> Drawing:
    """The drawing as a document: model space in metres, one paper layout for each sheet.

    Parameters
    ----------
    design : Design
    options : DrawingOptions, optional
    for_rendering : bool
        Set the line patterns for the drawing library's own renderer, which scales patterns in a viewport by
        the inverse of what CAD programs do.
    """
    asked = options or DrawingOptions()
    paper = PAPERS[asked.paper]
    extent = plan_extent(design)
    scale = asked.scale or fitting_scale(extent, paper)
    pattern = 1000 / scale if for_rendering else scale / 1000
    document = new_document(asked.font, pattern)
    draw_plan(document, design, extent, scale, paper.text_mm)
    count = 2 if asked.details else 1
    sheet = Sheet(_new_layout(document, PLAN, paper), paper, 1 / pattern, design.language.term)
    _plan_sheet(document, design, sheet, extent, scale, count)
    if asked.details:
        sheet = Sheet(_new_layout(document, DETAILS, paper), paper, 1 / pattern, design.language.term)
        floor = draw_frame(sheet, design, SheetText("Sections and details", "", 2, count))
        draw_details(sheet, design, asked.sizes, floor)
    for name in list(document.layout_names()):
        if name not in {"Model", PLAN, DETAILS}:
            document.layouts.delete(name)
    document.set_modelspace_vport(height=1.6 * max(*extent.size, 1.0), center=extent.centre)
    return document


def fitting_scale(extent: Extent, paper: Paper) -> float:
    """The largest usual scale at which the plan fits the paper."""
    width, height = extent.size
    grow = paper.text_mm / 2
    room_x = paper.width_mm - BINDING_MM - MARGIN_MM - paper.column_mm - grow * ROOM_MM[0]
    room_y = paper.height_mm - 2 * MARGIN_MM - grow * ROOM_MM[1]
    needed = 1000 * max(width / room_x, height / room_y)
    return next((float(s) for s in SCALES if s >= needed), needed)


def _new_layout(document: Drawing, name: str, paper: Paper) -> Any:
    layout: Any = document.layouts.new(name)
    layout.page_setup(
        size=(paper.width_mm, paper.height_mm), margins=(0, 0, 0, 0), units="mm", name=f"ISO_{paper.name}"
    )
    return layout


def _plan_sheet(
    document: Drawing, design: Design, sheet: Sheet, extent: Extent, scale: float, count: int
) -> None:
    paper = sheet.paper
    width = sheet.column_x - BINDING_MM - 2
    height = paper.height_mm - 2 * MARGIN_MM - 2
    centre = (BINDING_MM + 1 + width / 2, MARGIN_MM + 1 + height / 2)
    # dimensions and axes stand to the left and below, so the plan sits a little to the upper right
    x, y = extent.centre
    shift = scale / 1000 * 5 * paper.text_mm
    view = sheet.space.add_viewport(
        center=centre,
        size=(width, height),
        view_center_point=(x - shift, y - shift),
        view_height=height * scale / 1000,
        status=2,
    )
    view.dxf.layer = "EG-VIEW"
    floor = draw_frame(sheet, design, SheetText("Layout of the earthing system", f"1:{scale:g}", 1, count))
    draw_legend_and_notes(sheet, design, _used(document), floor)


def _used(document: Drawing) -> list[str]:
    found = {e.dxf.layer for e in document.modelspace()}
    return [
        name
        for name, style in LAYERS.items()
        if style.meaning and any(n == name or n.startswith(f"{name}-") for n in found)
    ]


def dxf_bytes(document: Drawing, design: Design) -> bytes:
    """The document as the bytes of a DXF file, the same for the same design."""
    document.header["$PROJECTNAME"] = clean(design.identity.document_number)
    classes: Any = document.classes
    classes.add_required_classes(document.dxfversion)  # from a set, whose order changes from run to run
    classes.classes = dict(sorted(classes.classes.items()))
    out = io.StringIO()
    with no_clock():
        document.write(out)
    return out.getvalue().encode(document.output_encoding, errors="dxfreplace")


def write_dxf(design: Design, path: Path | str, options: DrawingOptions | None = None) -> None:
    """Write the drawing of a design as DXF R2018, in one stroke.

    Parameters
    ----------
    design : Design
        From :func:`evenground.schedules.design_of_study` or ``design_of_electrode``.
    path : Path or str
    options : DrawingOptions, optional
    """
    from evenground.schedules._files import write_bytes

    write_bytes(Path(path), dxf_bytes(build_drawing(design, options), design))
