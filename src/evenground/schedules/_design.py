"""The one shape that drawings and schedules are made from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import shapely
from shapely.geometry import MultiPoint, Polygon

from evenground._version import __version__
from evenground.electrode import build_electrode
from evenground.language import Language, language, words_in
from evenground.model.conductor import ConductorRequest, ConductorResult
from evenground.model.electrode import Conductor, Electrode
from evenground.model.installation import Installation
from evenground.model.layout import ElectrodeLayout
from evenground.model.project import Identity, Project
from evenground.model.site import Point2, SurfaceZone
from evenground.model.study import Study
from evenground.schedules._joints import JointSurvey, find_joints
from evenground.standards.materials import MATERIALS

__all__ = [
    "ConductorType",
    "Design",
    "design_of_electrode",
    "design_of_layout",
    "design_of_project",
    "design_of_study",
]

_DENSITIES = {
    "copper": 8.9,
    "aluminium": 2.7,
    "steel": 7.85,
    "zinc-coated steel": 7.85,
    "stainless steel": 7.9,
    "copper-clad steel": 8.15,
    "aluminium-clad steel": 6.6,
}
"""Mass of a metal in kg/dm3. Common practice; clad metals by the usual share of the cladding (copper-clad
steel with 20 to 40 % conductivity lies between 8.0 and 8.3)."""


@dataclass(frozen=True, slots=True)
class ConductorType:
    """One size of conductor as it is bought.

    Attributes
    ----------
    key : str
        Key in the project file (``"mat"``, ``"riser"``, ``"rod"``).
    metal : str
        Metal of the material table, or ``"not stated"``.
    material : str
        Its full name.
    size : str
        In words: ``"strand 95 mm²"``.
    joint : str
        Way of joining; ``"not stated"`` when the project names none.
    area_mm2, mass_kg_per_m : float or None
        None when the section is not known. [mm2, kg/m]
    diameter_mm : float
        Twice the radius that the field solution used. [mm]
    """

    key: str
    metal: str
    material: str
    size: str
    joint: str
    area_mm2: float | None
    diameter_mm: float
    mass_kg_per_m: float | None

    @property
    def text(self) -> str:
        """Metal and size in one line."""
        return self.size if self.metal == "not stated" else f"{self.metal} {self.size}"


@dataclass(frozen=True)
class Design:
    """The electrode with everything that drawings and schedules say about it.

    ``keys`` names the conductor type of each conductor of the electrode, in its order. ``study`` is None
    when the electrode was not calculated.
    """

    identity: Identity
    electrode: Electrode
    keys: tuple[str, ...]
    types: Mapping[str, ConductorType]
    outlines_m: tuple[tuple[Point2, ...], ...]
    surface: tuple[SurfaceZone, ...] = ()
    installation: Installation = field(default_factory=Installation)
    assumptions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    input_hash: str = ""
    file_name: str = ""
    version: str = __version__
    study: Study | None = None

    def __post_init__(self) -> None:
        if len(self.keys) != len(self.electrode):
            raise ValueError("design: one conductor key is needed for each conductor")
        missing = sorted(set(self.keys) - set(self.types))
        if missing:
            raise ValueError(f"design: no conductor type for {', '.join(missing)}")
        too_high = [n for n in self.installation.pit_rods if n > len(self.rods)]
        if too_high:
            raise ValueError(f"design: a pit is asked for at rod {too_high[0]}, there are {len(self.rods)}")

    @cached_property
    def rods(self) -> tuple[tuple[int, Conductor], ...]:
        """The rods with their numbers from 1."""
        return tuple(enumerate((c for c in self.electrode if c.kind == "rod"), 1))

    @cached_property
    def horizontal(self) -> tuple[tuple[int, Conductor], ...]:
        """Position and conductor of all but rods and risers."""
        return tuple((i, c) for i, c in enumerate(self.electrode) if c.kind not in {"rod", "riser"})

    @cached_property
    def joints(self) -> JointSurvey:
        """Joints found from the geometry."""
        return find_joints(self.electrode.conductors)

    @cached_property
    def language(self) -> Language:
        """The language of the papers; it leaves the words of the designer as they are."""
        words = language(self.identity.language)
        if not words.terms:
            return words
        own = (
            self.identity,
            self.installation,
            self.surface,
            self.file_name,
            self.input_hash,
            self.assumptions,
        )
        tags = {c.tag for c in self.electrode if c.kind == "mat"} | set(self.types)
        return words.knowing(words_in(own) | tags | words_in(self.study and self.study.project))

    def type_of(self, position: int) -> ConductorType:
        """Conductor type of one conductor of the electrode."""
        return self.types[self.keys[position]]


def design_of_study(study: Study, installation: Installation | None = None) -> Design:
    """What drawings and schedules need, from a finished study.

    Parameters
    ----------
    study : Study
    installation : Installation, optional
        Equipment, fences, pits, trench. Without it those of the project.
    """
    made = design_of_project(study.project, study.conductors)
    return replace(made, installation=installation or made.installation, version=study.version, study=study)


def design_of_project(project: Project, conductors: Mapping[str, ConductorResult]) -> Design:
    """What schedules need from a project whose conductors are sized, without a study of it."""
    layout = build_electrode(
        project.mats, project.rods, project.runs, {k: c.radius_m for k, c in conductors.items()}
    )
    return design_of_layout(project, layout, conductors)


def design_of_layout(
    project: Project, layout: ElectrodeLayout, conductors: Mapping[str, ConductorResult]
) -> Design:
    """What quantities need, from a project whose electrode is drawn and sized but not yet studied."""
    metal = layout.electrode.conductors
    types = {key: type_of_result(key, result) for key, result in conductors.items()}
    keys = _keys(project, metal)
    types |= _rod_types(metal, keys, types)
    return Design(
        identity=project.identity,
        electrode=layout.electrode,
        keys=keys,
        types=types,
        outlines_m=layout.outlines_m,
        surface=project.surface,
        installation=project.installation,
        assumptions=project.assumptions,
        warnings=layout.warnings,
        input_hash=project.input_hash,
        file_name=project.file_name,
    )


def design_of_electrode(
    electrode: Electrode,
    identity: Identity,
    *,
    conductors: Mapping[str, ConductorResult] | None = None,
    keys: Sequence[str] | None = None,
    surface: Iterable[SurfaceZone] = (),
    installation: Installation | None = None,
    input_hash: str = "",
) -> Design:
    """What drawings and schedules need, from an electrode that was made by hand or read from a drawing.

    Parameters
    ----------
    electrode : Electrode
    identity : Identity
        For the title block.
    conductors : mapping of str to ConductorResult, optional
        Sizes by key; a key without one is named by its diameter only.
    keys : sequence of str, optional
        Conductor key of each conductor; by default its kind (``"mat"`` for runs).
    """
    chosen = tuple(keys) if keys is not None else tuple(_key_of_kind(c.kind) for c in electrode)
    types = {key: type_of_result(key, result) for key, result in (conductors or {}).items()}
    for key, conductor in zip(chosen, electrode, strict=True):
        types.setdefault(key, unnamed_type(key, conductor))
    return Design(
        identity=identity,
        electrode=electrode,
        keys=chosen,
        types=types,
        outlines_m=_hull(electrode),
        surface=tuple(surface),
        installation=installation or Installation(),
        input_hash=input_hash,
    )


def type_of_result(key: str, result: ConductorResult) -> ConductorType:
    """The conductor type that a sizing result describes: the section installed, else the stock size."""
    request = result.request
    material = MATERIALS.get(request.material)
    metal = material.metal if material else "not stated"
    area = result.installed_area_mm2 or result.stock_area_mm2
    density = _DENSITIES.get(metal)
    return ConductorType(
        key=key,
        metal=metal,
        material=material.name if material else request.material,
        size=_size_text(request, result),
        joint=request.joint or "not stated",
        area_mm2=area,
        diameter_mm=2000 * result.radius_m,
        mass_kg_per_m=None if area is None or density is None else area * density / 1000,
    )


def unnamed_type(key: str, conductor: Conductor) -> ConductorType:
    """A conductor of which only the diameter is known."""
    diameter = 2000 * conductor.radius_m
    return ConductorType(
        key, "not stated", "not stated", f"⌀ {diameter:g} mm", "not stated", None, diameter, None
    )


def _size_text(request: ConductorRequest, result: ConductorResult) -> str:
    if request.shape == "strip" and request.width_mm and request.thickness_mm:
        return f"strip {request.width_mm:g} × {request.thickness_mm:g} mm"
    if request.shape == "round" and request.diameter_mm:
        return f"round ⌀ {request.diameter_mm:g} mm"
    if request.shape == "strand" and request.area_mm2:
        return f"strand {request.area_mm2:g} mm²"
    if request.diameter_mm:
        return f"{request.shape} ⌀ {request.diameter_mm:g} mm"
    return result.stock_name or f"{request.shape}, size not decided"


def _key_of_kind(kind: str) -> str:
    return "mat" if kind in {"mat", "run"} else kind


def _keys(project: Project, conductors: Sequence[Conductor]) -> tuple[str, ...]:
    """Conductor key of each conductor, in the order in which the electrode stage makes them."""
    mats = {m.name: m.conductor for m in project.mats}
    runs = iter([r.conductor for r in project.runs for _ in r.points_m[1:]])
    keys = []
    for c in conductors:
        if c.kind == "mat":
            keys.append(mats.get(c.tag.rpartition(" ")[0], "mat"))
        elif c.kind == "run":
            keys.append(next(runs, "mat"))
        elif c.kind == "rod":
            keys.append(f"rod {2000 * c.radius_m:g} mm")
        else:
            keys.append(c.kind)
    return tuple(keys)


def _rod_types(
    conductors: Sequence[Conductor], keys: Sequence[str], types: Mapping[str, ConductorType]
) -> dict[str, ConductorType]:
    """One type per rod diameter, of the metal that the project gives for rods."""
    found: dict[str, ConductorType] = {}
    base = types.get("rod")
    for key, c in zip(keys, conductors, strict=True):
        if c.kind != "rod" or key in found:
            continue
        plain = unnamed_type(key, c)
        if base is None:
            found[key] = plain
            continue
        area = 3.141592653589793 * (1000 * c.radius_m) ** 2
        density = _DENSITIES.get(base.metal)
        mass = None if density is None else area * density / 1000
        found[key] = ConductorType(
            key, base.metal, base.material, plain.size, base.joint, area, plain.diameter_mm, mass
        )
    return found


def _hull(electrode: Electrode) -> tuple[tuple[Point2, ...], ...]:
    hull = MultiPoint([p[:2] for c in electrode for p in (c.start_m, c.end_m)]).convex_hull
    if not isinstance(hull, Polygon) or shapely.area(hull) == 0:
        return ()
    return (tuple((float(x), float(y)) for x, y in hull.exterior.coords[:-1]),)
