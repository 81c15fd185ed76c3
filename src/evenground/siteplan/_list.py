"""What a drawing holds, before anybody has said what its layers mean."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from evenground.siteplan._open import ReadLimits, open_drawing, refuse, unit_of_code

__all__ = ["LayerListing", "list_layers"]


@dataclass(frozen=True, slots=True)
class LayerListing:
    """Layers of a drawing with the entities on them.

    Attributes
    ----------
    file_name, version : str
    unit : str
        Stated by the drawing; empty when it states none.
    extents : (x0, y0, x1, y1) or None
        Of the model space in drawing units; None when the drawing holds nothing with an extent.
    layers : tuple of (name, counts)
        Counts by type of entity, blocks counted as one; layers without entities are left out.
    notes : tuple of str
    """

    file_name: str
    version: str
    unit: str
    extents: tuple[float, float, float, float] | None
    layers: tuple[tuple[str, dict[str, int]], ...]
    notes: tuple[str, ...] = ()

    def section(self) -> str:
        """A ``site_drawing`` section of a project file to start from: every layer left out until somebody
        says what it is."""
        unit = f"  unit: {self.unit}" if self.unit else "  unit: m   # the drawing states none: measure one"
        rows = [
            f"    - {{layer: {_quoted(name)}, take_as: ignore}}   # {_counts(counts)}"
            for name, counts in self.layers
        ]
        return "\n".join(["site_drawing:", f"  file: {_quoted(self.file_name)}", unit, "  layers:", *rows])

    def text(self) -> str:
        """The listing in words, then the section to start from."""
        size = "no extent"
        if self.extents is not None:
            x0, y0, x1, y1 = self.extents
            size = f"x {x0:.6g} to {x1:.6g}, y {y0:.6g} to {y1:.6g} {self.unit or 'units'}"
        lines = [
            f"{self.file_name} ({self.version})",
            f"unit: {self.unit or 'not stated in the drawing'}",
            f"model space: {size}",
            *(f"  {name} | {_counts(counts)}" for name, counts in self.layers),
            *self.notes,
            "",
            "Roles for take_as: conductor, rod, fence, gate, equipment, zone, outline, ignore.",
            "",
            self.section(),
        ]
        return "\n".join(lines)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _counts(counts: dict[str, int]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items()))


def list_layers(path: Path | str, limits: ReadLimits | None = None) -> LayerListing:
    """Layers of a DXF file with the entities of its model space, blocks not expanded.

    Raises
    ------
    InputError
        When the file can not be read, or holds more entities than ``limits`` allows.
    """
    file, bounds = Path(path), limits or ReadLimits()
    opened = open_drawing(file, bounds)
    found: dict[str, Counter[str]] = {}
    try:
        for number, entity in enumerate(opened.document.modelspace()):
            if number >= bounds.entities:
                raise refuse(file, f"holds more than {bounds.entities} entities")
            found.setdefault(str(entity.dxf.get("layer", "0")), Counter())[entity.dxftype()] += 1
        extents = _extents(opened.document)
    except (AttributeError, ValueError, TypeError, LookupError, ArithmeticError, RecursionError) as error:
        # whatever a hostile document makes the library raise while it is walked through
        raise refuse(file, f"could not be read through: {type(error).__name__}: {error}") from error
    layers = tuple((name, dict(counts)) for name, counts in sorted(found.items()))
    unit = unit_of_code(opened.unit_code)
    return LayerListing(file.name, str(opened.document.acad_release), unit, extents, layers, opened.notes)


def _extents(document: object) -> tuple[float, float, float, float] | None:
    from ezdxf import bbox

    box = bbox.extents(document.modelspace(), fast=True)  # type: ignore[attr-defined]
    if not box.has_data:
        return None
    (x0, y0, _), (x1, y1, _) = box.extmin, box.extmax
    return x0, y0, x1, y1
