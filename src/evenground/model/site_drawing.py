"""A site drawing that a project was read from: units, origin, and what became of every entity."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as with_default

from evenground.model.site import Point2

__all__ = ["PreviewRow", "SiteDrawing"]


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """How many things of one type on one layer were taken as what, or left and why."""

    layer: str
    type: str
    role: str
    taken: int
    left: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SiteDrawing:
    """The story of one drawing that was read.

    Attributes
    ----------
    file_name, sha256, version : str
        Of the drawing; version as ``"R2018"``.
    unit, unit_m : str, float
        Drawing unit and its length. [m]
    unit_from : str
        ``"drawing"`` or ``"user"``.
    origin_m : (x, y)
        What was taken off every coordinate, in metres of the drawing. [m]
    sagitta_m : float
        Largest distance between a curve and the chords that replace it. [m]
    preview : tuple of PreviewRow
    notes : tuple of str
    taken : mapping of str to int
        What was taken, and how many.
    """

    file_name: str
    sha256: str
    version: str
    unit: str
    unit_m: float
    unit_from: str
    origin_m: Point2
    sagitta_m: float
    preview: tuple[PreviewRow, ...] = ()
    notes: tuple[str, ...] = ()
    taken: dict[str, int] = with_default(default_factory=dict)

    def summary(self) -> str:
        """The preview as text: units, origin, what was taken, what was left and why."""
        shift = f"({self.origin_m[0]:.12g}, {self.origin_m[1]:.12g}) m"
        lines = [
            f"{self.file_name} ({self.version})",
            f"unit: {self.unit}, 1 unit = {self.unit_m:g} m (stated by the {self.unit_from})",
            f"origin: {shift} taken off every coordinate",
            f"curves: chords within {1000 * self.sagitta_m:g} mm of the curve",
            "taken: " + ", ".join(f"{count} {name}" for name, count in self.taken.items()),
        ]
        for row in self.preview:
            outcome = f"{row.taken} taken as {row.role}" if row.taken else f"{row.left} left: {row.reason}"
            lines.append(f"  {row.layer} | {row.type} | {outcome}")
        return "\n".join([*lines, *self.notes])
