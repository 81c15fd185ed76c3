"""Running the typesetter: templates and data in, PDF or pictures out; no network, no system fonts."""

from __future__ import annotations

import datetime
import json
import tempfile
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

__all__ = ["compile_pdf", "pictures_from_svg"]

TEMPLATES = ("report.typ", "base.typ")
PIXELS_PER_INCH = 160


def compile_pdf(data: Mapping[str, Any], plots: Mapping[str, bytes]) -> tuple[bytes, list[str]]:
    """Typeset report data as PDF/A-2b; returns the PDF and the typesetter's warnings.

    Raises
    ------
    RuntimeError
        When the typesetter fails; its message is included.
    """
    year, month, day = data["date"]
    files: dict[str, bytes] = {
        name: resources.files("evenground.deliver").joinpath("templates", name).read_bytes()
        for name in TEMPLATES
    }
    files["data.json"] = json.dumps(data, ensure_ascii=False).encode()
    files |= {f"plots/{stem}.svg": svg for stem, svg in plots.items()}
    noon = datetime.datetime(year, month, day, tzinfo=datetime.UTC)
    pages, warnings = _run(
        files, "report.typ", format="pdf", pdf_standards=["a-2b"], timestamp=int(noon.timestamp())
    )
    return pages[0], warnings


def pictures_from_svg(plots: Mapping[str, bytes]) -> dict[str, bytes]:
    """PNG pictures of SVG plots, all at once; several times quicker than drawing each again."""
    if not plots:
        return {}
    files = {f"{number}.svg": svg for number, svg in enumerate(plots.values())}
    pages = "\n#pagebreak()\n".join(f'#image("{name}")' for name in files)
    source = f"#set page(width: auto, height: auto, margin: 0pt, fill: white)\n{pages}\n"
    made, _ = _run(files | {"all.typ": source.encode()}, "all.typ", format="png", ppi=PIXELS_PER_INCH)
    return dict(zip(plots, made, strict=True))


def _run(files: Mapping[str, bytes], main: str, **options: Any) -> tuple[list[bytes], list[str]]:
    """Compile in a folder of its own."""
    import typst

    with tempfile.TemporaryDirectory(prefix="evenground-") as name:
        folder = Path(name)
        for path, data in files.items():
            (folder / path).parent.mkdir(exist_ok=True)
            (folder / path).write_bytes(data)
        try:
            made, warnings = typst.compile_with_warnings(
                str(folder / main), root=name, ignore_system_fonts=True, **options
            )
        except typst.TypstError as error:
            raise RuntimeError(f"typesetting failed: {error.message}") from error
    pages = [bytes(p) for p in made] if isinstance(made, list) else [bytes(made)]
    return pages, [str(w.message) for w in warnings]
