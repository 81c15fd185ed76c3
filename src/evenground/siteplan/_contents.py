"""What was taken out of a drawing, and what was left and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenground.errors import InputError
from evenground.model.electrode import Conductor, Electrode, Point3
from evenground.model.installation import EquipmentItem, Fence, Gate, Installation
from evenground.model.site import ExtraRun, Point2, RodList
from evenground.model.site_drawing import PreviewRow, SiteDrawing
from evenground.siteplan._layers import Role

__all__ = ["DrawingContents", "DrawnLine", "DrawnOutline", "DrawnRod", "PreviewRow"]


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A straight piece of conductor, z positive down. ``radius_m`` is None unless the drawing states it
    (only our own drawings do). [m]"""

    start_m: Point3
    end_m: Point3
    conductor: str
    layer: str
    radius_m: float | None = None
    kind: str = "mat"
    group: str = "mat"
    tag: str = ""


@dataclass(frozen=True, slots=True)
class DrawnRod:
    """A vertical rod; ``length_m`` and ``diameter_mm`` from attributes or from the layer's rule.
    ``radius_m`` and ``bottom_depth_m`` are the exact values that our own drawings carry. [m]"""

    place_m: Point2
    top_depth_m: float
    length_m: float
    diameter_mm: float
    layer: str
    number: str = ""
    group: str = "mat"
    tag: str = ""
    radius_m: float | None = None
    bottom_depth_m: float | None = None


@dataclass(frozen=True, slots=True)
class DrawnOutline:
    """A closed line: a zone or the outline of a mat. [m]"""

    points_m: tuple[Point2, ...]
    role: Role
    layer: str


@dataclass(frozen=True, slots=True)
class DrawingContents:
    """Everything taken from one drawing, in metres, with the story of how.

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
    lines, rods, equipment, fences, gates, zones, outlines : tuples
    preview : tuple of PreviewRow
    notes : tuple of str
    """

    file_name: str
    sha256: str
    version: str
    unit: str
    unit_m: float
    unit_from: str
    origin_m: Point2
    sagitta_m: float
    lines: tuple[DrawnLine, ...] = ()
    rods: tuple[DrawnRod, ...] = ()
    equipment: tuple[EquipmentItem, ...] = ()
    fences: tuple[Fence, ...] = ()
    gates: tuple[Gate, ...] = ()
    zones: tuple[DrawnOutline, ...] = ()
    outlines: tuple[DrawnOutline, ...] = ()
    preview: tuple[PreviewRow, ...] = ()
    notes: tuple[str, ...] = ()

    def electrode(self, radius_m: Mapping[str, float] | None = None) -> Electrode:
        """Lines and rods as an electrode.

        Parameters
        ----------
        radius_m : mapping of str to float, optional
            Radius of each conductor key; not needed for drawings that state it. [m]

        Raises
        ------
        InputError
            When the radius of a conductor key is not known.
        """
        sizes = radius_m or {}
        missing = sorted({d.conductor for d in self.lines if d.radius_m is None} - set(sizes))
        if missing:
            raise InputError(f"{self.file_name}: no radius is given for conductor {', '.join(missing)}")
        conductors = [
            Conductor(
                d.start_m,
                d.end_m,
                d.radius_m if d.radius_m is not None else sizes[d.conductor],
                d.kind,
                d.group,
                d.tag,
            )
            for d in self.lines
        ]
        for rod in self.rods:
            x, y = rod.place_m
            top = (x, y, rod.top_depth_m)
            deep = rod.bottom_depth_m
            bottom = (x, y, rod.top_depth_m + rod.length_m if deep is None else deep)
            radius = rod.diameter_mm / 2000 if rod.radius_m is None else rod.radius_m
            conductors.append(Conductor(top, bottom, radius, "rod", rod.group, rod.tag))
        return Electrode(conductors)

    def runs(self) -> tuple[ExtraRun, ...]:
        """Horizontal lines as runs of a project; sloping lines have no place there.

        Raises
        ------
        InputError
            When a line slopes.
        """
        for d in self.lines:
            if abs(d.start_m[2] - d.end_m[2]) > 1e-6:
                raise InputError(f"{self.file_name}: the line from {d.start_m} to {d.end_m} slopes")
        return tuple(ExtraRun((d.start_m[:2], d.end_m[:2]), d.start_m[2], d.conductor) for d in self.lines)

    def rod_lists(self) -> tuple[RodList, ...]:
        """Rods as lists of a project, one list for each length, diameter and depth."""
        groups: dict[tuple[float, float, float], list[Point2]] = {}
        for rod in self.rods:
            groups.setdefault((rod.length_m, rod.diameter_mm, rod.top_depth_m), []).append(rod.place_m)
        return tuple(RodList(tuple(at), length, d, top) for (length, d, top), at in groups.items())

    def installation(self) -> Installation:
        """Equipment, fences and gates; trench, pits and rod sections stay at their defaults."""
        return Installation(equipment=self.equipment, fences=self.fences, gates=self.gates)

    @property
    def source(self) -> SiteDrawing:
        """Where it all came from, and what became of every entity."""
        return SiteDrawing(
            file_name=self.file_name,
            sha256=self.sha256,
            version=self.version,
            unit=self.unit,
            unit_m=self.unit_m,
            unit_from=self.unit_from,
            origin_m=self.origin_m,
            sagitta_m=self.sagitta_m,
            preview=self.preview,
            notes=self.notes,
            taken={
                "pieces of conductor": len(self.lines),
                "rods": len(self.rods),
                "pieces of equipment": len(self.equipment),
                "fences": len(self.fences),
                "gates": len(self.gates),
                "zones": len(self.zones),
                "outlines": len(self.outlines),
            },
        )

    def summary(self) -> str:
        """The preview as text: units, origin, what was taken, what was left and why."""
        return self.source.summary()
