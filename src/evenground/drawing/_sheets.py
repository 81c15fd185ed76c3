"""The paper layouts as SVG and PDF, drawn from the same document as the DXF file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenground.drawing._style import PAPERS
from evenground.drawing._write import DrawingOptions, build_drawing
from evenground.schedules import Design

if TYPE_CHECKING:
    from ezdxf.document import Drawing

__all__ = ["sheets_pdf", "sheets_png", "sheets_svg", "write_pdf", "write_svg"]

FONT = "DejaVuSans.ttf"
"""Comes with the plotting library, so that sheets look alike on every machine."""


def sheets_svg(design: Design, options: DrawingOptions | None = None) -> dict[str, str]:
    """Every sheet as SVG text by its name, at its true size on paper.

    Text becomes outlines, so the sheets need no font where they are shown.
    """
    asked = replace(options or DrawingOptions(), font=FONT)
    _know_the_font()
    document = build_drawing(design, asked, for_rendering=True)
    return {name: _svg(document, name, asked.paper) for name in document.layout_names() if name != "Model"}


def _know_the_font() -> None:
    """Make the font known to the drawing library, which looks only where the system keeps fonts."""
    from ezdxf.fonts import fonts

    if not fonts.font_manager.has_font(FONT):
        import matplotlib

        fonts.font_manager.scan_folder(Path(matplotlib.get_data_path()) / "fonts" / "ttf")


def _svg(document: Drawing, name: str, paper: str) -> str:
    from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration, LineweightPolicy
    from ezdxf.addons.drawing.frontend import Frontend
    from ezdxf.addons.drawing.layout import Page, Settings, Units
    from ezdxf.addons.drawing.properties import RenderContext
    from ezdxf.addons.drawing.svg import SVGBackend
    from ezdxf.math import BoundingBox2d

    size = PAPERS[paper]
    backend = SVGBackend()
    config = Configuration(
        background_policy=BackgroundPolicy.WHITE,
        color_policy=ColorPolicy.COLOR,
        lineweight_policy=LineweightPolicy.ABSOLUTE,
    )
    Frontend(RenderContext(document), backend, config=config).draw_layout(document.layout(name))
    page = Page(size.width_mm, size.height_mm, Units.mm)
    box = BoundingBox2d([(0, 0), (size.width_mm, size.height_mm)])
    return backend.get_string(page, settings=Settings(fit_page=False, scale=1), render_box=box)


def _typeset(svgs: dict[str, str], paper: str, title: str, **how: Any) -> Any:
    import json

    import typst

    size = PAPERS[paper]
    pages = "\n#pagebreak()\n".join(
        f'#image("sheet{n}.svg", width: {size.width_mm}mm, height: {size.height_mm}mm)'
        for n in range(len(svgs))
    )
    main = (
        '#let data = json("data.json")\n#set document(title: data.title, author: "Evenground", date: none)\n'
        f"#set page(width: {size.width_mm}mm, height: {size.height_mm}mm, margin: 0mm)\n{pages}\n"
    )
    sources: Any = {"main": main.encode(), "data.json": json.dumps({"title": title}).encode()}
    sources |= {f"sheet{n}.svg": svg.encode() for n, svg in enumerate(svgs.values())}
    return typst.compile(sources, ignore_system_fonts=True, **how)


def sheets_pdf(design: Design, options: DrawingOptions | None = None) -> bytes:
    """All sheets in one PDF, one page each, at their true size."""
    paper = (options or DrawingOptions()).paper
    made: bytes = _typeset(sheets_svg(design, options), paper, design.identity.title, format="pdf")
    return made


def sheets_png(design: Design, options: DrawingOptions | None = None, *, dpi: int = 100) -> list[bytes]:
    """Every sheet as a picture, for previews."""
    paper = (options or DrawingOptions()).paper
    made: Any = _typeset(sheets_svg(design, options), paper, design.identity.title, format="png", ppi=dpi)
    return made if isinstance(made, list) else [made]


def write_svg(design: Design, folder: Path | str, options: DrawingOptions | None = None) -> list[Path]:
    """Write every sheet as SVG into an existing folder; returns the files."""
    from evenground.schedules._files import write_bytes

    files = []
    for name, svg in sheets_svg(design, options).items():
        file = Path(folder) / f"{name.lower()}.svg"
        write_bytes(file, svg.encode("utf-8"))
        files.append(file)
    return files


def write_pdf(design: Design, path: Path | str, options: DrawingOptions | None = None) -> None:
    """Write all sheets as one PDF, in one stroke."""
    from evenground.schedules._files import write_bytes

    write_bytes(Path(path), sheets_pdf(design, options))
