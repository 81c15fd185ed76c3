"""What the electrode stage hands on: the metal and the measures that hand formulas need."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as with_default

from evenground.model.electrode import Electrode
from evenground.model.site import Point2

__all__ = ["ElectrodeLayout", "MatMeasures"]


@dataclass(frozen=True, slots=True)
class MatMeasures:
    """Plan measures of one mat (or of adjoining mats taken together).

    Attributes
    ----------
    area_m2, perimeter_m : float
        Of the outline. [m2, m]
    extent_x_m, extent_y_m : float
        Largest extents along x and y. [m]
    diagonal_m : float
        Largest distance between two points of the mat. [m]
    conductor_length_m : float
        Horizontal conductors, extra runs at the depth of the mat included. [m]
    rod_count : int
    rod_length_m : float
        Mean length of one rod; 0 without rods. [m]
    rod_diameter_m : float
        Mean diameter of the rods; 0 without rods. [m]
    rods_on_edge : bool
        True when rods stand on the perimeter or in the corners (elsewhere as well or not).
    spacing_m : float
        Distance between parallel conductors; the larger when x and y differ. [m]
    spacing_ratio : float
        Larger over smaller mesh side.
    depth_m, diameter_m : float
        Of the mat's conductors. [m]
    limits : tuple of str
        Reasons why hand formulas for a single equally meshed mat do not describe this electrode;
        empty when they do.
    """

    area_m2: float
    perimeter_m: float
    extent_x_m: float
    extent_y_m: float
    diagonal_m: float
    conductor_length_m: float
    rod_count: int
    rod_length_m: float
    rod_diameter_m: float
    rods_on_edge: bool
    spacing_m: float
    spacing_ratio: float
    depth_m: float
    diameter_m: float
    limits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ElectrodeLayout:
    """The electrode with its outline and measures.

    ``outlines_m`` are the outer rings of the area taken by the mats (none without a mat; then the
    convex hull of the metal in plan, when it has an area). ``measures`` is None without a mat.
    ``joints`` counts crossings and tees of mat conductors, ``warnings`` are words for the report.
    ``separate`` is metal not bonded to the electrode; its groups are the names of the separate electrodes.
    """

    electrode: Electrode
    outlines_m: tuple[tuple[Point2, ...], ...]
    measures: MatMeasures | None
    joints: int = 0
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    separate: Electrode = with_default(default_factory=Electrode)
