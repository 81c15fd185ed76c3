"""The site as drawn: mats, rods, surface cover, where people can be, and how shocks are judged."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.person import Exposure, Person

__all__ = [
    "Assessment",
    "BackfillLayout",
    "DepthLine",
    "EntryPoint",
    "ExtraRun",
    "MatLayout",
    "MetalLink",
    "Point2",
    "ProfileLine",
    "RodList",
    "RodRule",
    "SeparateElectrode",
    "SurfaceZone",
]

Point2 = tuple[float, float]


@dataclass(frozen=True, slots=True)
class BackfillLayout:
    """A cylinder around conductors: concrete, bentonite, earthing compound. [mm, ohm m]"""

    outer_diameter_mm: float
    resistivity_ohm_m: float
    material: str = ""


@dataclass(frozen=True, slots=True)
class RodRule:
    """Rods placed by rule on one mat.

    ``where`` is ``"corners"`` or ``"perimeter"``. On the perimeter give ``spacing_m`` or ``count``;
    rods stand on the outline, starting at its first corner, at equal distances. [m]
    """

    where: str
    length_m: float
    diameter_mm: float
    spacing_m: float | None = None
    count: int | None = None
    backfill: BackfillLayout | None = None


@dataclass(frozen=True, slots=True)
class RodList:
    """Rods at stated places; ``top_depth_m`` None: at the depth of the mat (or 0 without a mat). [m]"""

    at_m: tuple[Point2, ...]
    length_m: float
    diameter_mm: float
    top_depth_m: float | None = None
    path: tuple[str | int, ...] = ()
    backfill: BackfillLayout | None = None


@dataclass(frozen=True, slots=True)
class ExtraRun:
    """A conductor along a polyline at constant depth. [m]"""

    points_m: tuple[Point2, ...]
    depth_m: float
    conductor: str = "mat"
    path: tuple[str | int, ...] = ()
    backfill: BackfillLayout | None = None


@dataclass(frozen=True, slots=True)
class MetalLink:
    """A connection above ground from a separate electrode to other metal. [ohm]

    ``to`` is the name of another separate electrode, or ``"mat"`` for the main electrode.
    """

    to: str
    resistance_ohm: float


@dataclass(frozen=True, slots=True)
class SeparateElectrode:
    """Metal in the ground that is not bonded to the main electrode: a fence, a pipe, a neutral's electrode.

    Without links it floats: it takes no current in sum and stands at the potential the ground gives it.
    ``touchable`` says whether people can touch what is connected to it.
    """

    name: str
    rods: tuple[RodList, ...] = ()
    runs: tuple[ExtraRun, ...] = ()
    links: tuple[MetalLink, ...] = ()
    touchable: bool = True
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class MatLayout:
    """A horizontal mesh inside an outline.

    Attributes
    ----------
    name : str
    outline_m : tuple of (x, y)
        Corners in order, not closed, no crossing. [m]
    spacing_x_m, spacing_y_m : float
        Distance between the conductors that run along y and along x. The program divides each
        straight extent into equal meshes not wider than this. [m]
    lines_x_m, lines_y_m : tuple of float or None
        Stated positions of the lines x = const and y = const instead of a spacing. [m]
    depth_m : float
        Burial depth of the axis. [m]
    conductor : str
        Key of the conductor used (``"mat"``).
    rods : tuple of RodRule
    not_laid_m : tuple of (start, end)
        Stretches of its conductors that were not laid. [m]
    no_rods_m : tuple of (x, y)
        Places at which a rod of a rule was not driven. [m]
    """

    name: str
    outline_m: tuple[Point2, ...]
    spacing_x_m: float
    spacing_y_m: float
    depth_m: float
    conductor: str = "mat"
    lines_x_m: tuple[float, ...] | None = None
    lines_y_m: tuple[float, ...] | None = None
    rods: tuple[RodRule, ...] = ()
    path: tuple[str | int, ...] = ()
    backfill: BackfillLayout | None = None
    not_laid_m: tuple[tuple[Point2, Point2], ...] = ()
    no_rods_m: tuple[Point2, ...] = ()


@dataclass(frozen=True, slots=True)
class SurfaceZone:
    """An area with one kind of cover; the first zone in the list that holds a point counts.

    ``outline_m`` None: everywhere else. ``resistivity_ohm_m`` None: bare native soil. [m, ohm m]
    ``standard``, ``footwear_ohm`` (of one shoe) and ``footing``, when given, replace those of the
    assessment in this zone: a public path, a place of an operator; so do ``person`` (free case) and
    ``exposure`` (risk). [ohm]
    """

    name: str
    outline_m: tuple[Point2, ...] | None = None
    resistivity_ohm_m: float | None = None
    thickness_m: float = 0.0
    material: str = ""
    state: str = ""
    path: tuple[str | int, ...] = ()
    standard: str | None = None
    footwear_ohm: float | None = None
    footing: str | None = None
    person: Person | None = None
    exposure: Exposure | None = None


@dataclass(frozen=True, slots=True)
class ProfileLine:
    """A line along which voltages are shown: a fence, a gate swing, a path; corners in order. [m]"""

    name: str
    points_m: tuple[Point2, ...]


@dataclass(frozen=True, slots=True)
class DepthLine:
    """A straight line in plan below which the potential in depth is shown. [m]"""

    name: str
    start_m: Point2
    end_m: Point2
    depth_m: float


@dataclass(frozen=True, slots=True)
class EntryPoint:
    """A place in plan where fault current enters the metal, and its share of that current. [m, -]"""

    at_m: Point2
    share: float
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class Assessment:
    """How shocks are judged.

    Attributes
    ----------
    standard : str
        Key of the limits that govern, e.g. ``"ieee80"`` (then ``body_mass_kg`` counts) or
        ``"en50522_2022"``.
    footwear_ohm : float or None
        Resistance of one shoe; None: what the standard takes. [ohm]
    footing : str or None
        What people stand on, for standards that tabulate limits by footing.
    person : Person or None
        Of the free case.
    exposure : Exposure or None
        How often people are there; None: no risk is worked out.
    compare_standards : bool
        Set the worst voltages against every other standard as well.
    body_mass_kg : int
        50 or 70. [kg]
    surface_factor : str
        ``"empirical"`` or ``"exact"`` form of the surface-layer factor.
    reach_m : float
        How far a person reaches. [m]
    touch_outside_m : float or None
        Touch is assessed inside the outline of the mats and this far beyond it; None: ``reach_m``. [m]
    touch_area_m : tuple of (x, y) or None
        Stated area for touch instead. [m]
    step_outside_m : float
        Step is assessed inside the outline and this far beyond it. [m]
    raster_m : float
        First raster of the search; refined around the worst places. [m]
    segment_m : float or None
        Longest segment of the field solution; None: chosen by the program. [m]
    resistance_target_ohm : float or None
        Owner's target, reported and checked when given. [ohm]
    gpr_limit_v : float or None
        Owner's limit of the earth potential rise. [V]
    native_resistivity_ohm_m : float or None
        Of the soil right under the feet; None: top layer of the model. [ohm m]
    profiles : tuple of ProfileLine
        Lines to show besides those through the worst places.
    sections : tuple of DepthLine
        Lines below which the potential in depth is shown.
    entry_points : tuple of EntryPoint
        Where the fault current enters; given, the voltage along the metal is computed.
    """

    standard: str = "ieee80"
    body_mass_kg: int = 50
    surface_factor: str = "empirical"
    reach_m: float = 1.0
    touch_outside_m: float | None = None
    touch_area_m: tuple[Point2, ...] | None = None
    step_outside_m: float = 3.0
    raster_m: float = 0.5
    segment_m: float | None = None
    resistance_target_ohm: float | None = None
    gpr_limit_v: float | None = None
    native_resistivity_ohm_m: float | None = None
    profiles: tuple[ProfileLine, ...] = ()
    footwear_ohm: float | None = None
    footing: str | None = None
    compare_standards: bool = False
    sections: tuple[DepthLine, ...] = ()
    person: Person | None = None
    exposure: Exposure | None = None
    entry_points: tuple[EntryPoint, ...] = ()

    @property
    def touch_reach_m(self) -> float:
        """How far beyond the mats touch is assessed. [m]"""
        return self.reach_m if self.touch_outside_m is None else self.touch_outside_m
