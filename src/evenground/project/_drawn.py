"""The site drawing of a project: read, and joined to what the file itself states."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, get_args

from shapely.geometry import Polygon

from evenground.errors import Finding, InputError, Severity
from evenground.model.installation import EquipmentItem, Fence, Gate
from evenground.model.project import Project, RegisteredInput
from evenground.model.site import ExtraRun, MatLayout, Point2, RodList, SurfaceZone
from evenground.project._schema_drawing import LayerFile, SiteDrawingFile
from evenground.project._schema_installation import EquipmentKind
from evenground.siteplan import DrawingContents, LayerMap, LayerRule, Role, read_dxf

if TYPE_CHECKING:
    from evenground.project._schema import ProjectFile

__all__ = ["Drawn", "read_site_drawing", "with_drawing"]

Path = tuple[str | int, ...]
SECTION = "site_drawing"
MOST_ROWS = 20
KINDS = tuple(kind.replace("_", " ") for kind in get_args(EquipmentKind))


@dataclass(frozen=True, slots=True)
class Drawn:
    """Contents of the drawing with the rows that they were taken by."""

    contents: DrawingContents
    rules: LayerMap
    file: SiteDrawingFile

    def row(self, layer: str) -> tuple[Path, LayerFile]:
        """Place in the project file, and row, of a layer of the drawing."""
        rule = self.rules.rule_for(layer)
        assert rule is not None
        index = self.rules.rules.index(rule)
        return (SECTION, "layers", index), self.file.layers[index]


def read_site_drawing(file: ProjectFile, folder: FilePath | None) -> Drawn | None:
    """Read the drawing that a project names; None when it names none.

    Raises
    ------
    InputError
        With the place in the project file: rows that lack something, or a drawing that can not be read.
    """
    section = file.site_drawing
    if section is None or all(row.take_as == "ignore" for row in section.layers):
        return None  # a drawing that nothing is taken from is a background to look at
    place: Path = (SECTION, "file")
    slips = [*_slips(section, set(file.conductors))]
    if folder is None:
        slips.append(
            Finding(
                "drawing-folder", "file needs the folder of the project file", "save it first", path=place
            )
        )
    if slips:
        raise InputError(slips)
    assert folder is not None
    rules = LayerMap(tuple(_rule(row) for row in section.layers))
    origin = section.origin_m
    try:
        contents = read_dxf(
            folder / section.file,
            rules,
            units=section.unit,
            origin_m=None if origin is None else (origin[0], origin[1]),
            sagitta_m=section.chord_deviation_mm / 1000,
            hidden_layers=section.hidden_layers,
        )
    except InputError as error:
        rows = [
            replace(f, message=f"{section.file} {f.message}", file="", path=place) for f in error.findings
        ]
        raise InputError(rows) from error
    return Drawn(contents, rules, section)


def _rule(row: LayerFile) -> LayerRule:
    return LayerRule(
        pattern=row.layer,
        role=Role(row.take_as),
        conductor=row.conductor or "mat",
        depth_m=row.depth_m,
        rod_length_m=row.rod_length_m,
        rod_diameter_mm=row.rod_diameter_mm,
        connections=row.connections or 2,
    )


_NEEDED = {
    "outline": ("spacing_m", "depth_m"),
    "fence": ("bonding",),
    "gate": ("opens",),
    "equipment": ("connections",),
}
_MEANT_FOR = {
    "spacing_m": ("outline",),
    "bonding": ("fence",),
    "opens": ("gate",),
    "kind": ("equipment",),
    "connections": ("equipment",),
    "resistivity_ohm_m": ("zone",),
    "thickness_m": ("zone",),
    "rod_length_m": ("rod",),
    "rod_diameter_mm": ("rod",),
    "conductor": ("conductor", "outline", "equipment"),
    "depth_m": ("conductor", "rod", "outline"),
}


def _slips(section: SiteDrawingFile, conductors: set[str]) -> Iterable[Finding]:
    """What a row lacks, or has for nothing."""
    for index, row in enumerate(section.layers):
        path: Path = (SECTION, "layers", index)
        for key in _NEEDED.get(row.take_as, ()):
            if getattr(row, key) is None:
                text = f"a layer taken as {row.take_as} needs {key}"
                yield Finding("layer-incomplete", text, "nothing is presumed", path=path)
        for key, roles in _MEANT_FOR.items():
            if getattr(row, key) is not None and row.take_as not in roles:
                text = f"{key} has no meaning for a layer taken as {row.take_as}"
                yield Finding("layer-field", text, f"it belongs to {', '.join(roles)}", path=(*path, key))
        if (row.resistivity_ohm_m is None) != (row.thickness_m is None):
            text = "a cover needs resistivity_ohm_m and thickness_m"
            yield Finding("layer-incomplete", text, "give both, or neither for bare soil", path=path)
        if row.depth_m == 0 and row.take_as in ("conductor", "outline"):
            yield Finding("layer-depth", "a conductor at the surface", "above 0", path=(*path, "depth_m"))
        default = {"conductor": "mat", "outline": "mat", "equipment": "riser"}.get(row.take_as)
        used = row.conductor or default
        if used is not None and used not in conductors:
            known = ", ".join(sorted(conductors))
            text = f"conductor '{used}' is not defined"
            yield Finding("conductor-unknown", text, f"defined under conductors: {known}", path=path)


def with_drawing(project: Project, drawn: Drawn) -> Project:
    """The project with everything that was taken from its drawing.

    Raises
    ------
    InputError
        When something taken has no place in a project: a sloping line, an outline that crosses itself,
        equipment of an unknown kind.
    """
    contents, slips = drawn.contents, list[Finding]()
    runs, rods = _runs(drawn, project.conductors, slips), _rods(drawn)
    zones, mats = _zones(drawn, slips), _mats(drawn, slips)
    equipment, warnings = _equipment(drawn, project, slips)
    if slips:
        raise InputError(slips[:MOST_ROWS])
    taken = contents.installation()
    own = project.installation
    stated = {"equipment": taken.equipment, "fences": taken.fences, "gates": taken.gates}
    everywhere = tuple(z for z in project.surface if z.outline_m is None)
    return replace(
        project,
        runs=(*project.runs, *runs),
        rods=(*project.rods, *rods),
        mats=(*project.mats, *mats),
        surface=(*(z for z in project.surface if z.outline_m is not None), *zones, *everywhere),
        installation=replace(
            own,
            equipment=(*own.equipment, *equipment),
            fences=(*own.fences, *_fences(drawn)),
            gates=(*own.gates, *_gates(drawn)),
            stated=tuple(dict.fromkeys((*own.stated, *(k for k, v in stated.items() if v)))),
        ),
        register=(*project.register, _registered(drawn)),
        warnings=(*project.warnings, *warnings, *_left(drawn)),
        site_drawing=contents.source,
    )


def _registered(drawn: Drawn) -> RegisteredInput:
    c = drawn.contents
    counts = ", ".join(f"{n} {name}" for name, n in c.source.taken.items() if n)
    x, y = c.origin_m
    text = (
        f"{c.version}, unit {c.unit} (stated by the {c.unit_from}), origin ({x:.12g}, {y:.12g}) m; "
        f"taken: {counts}; SHA-256 {c.sha256[:12]}"
    )
    return RegisteredInput((SECTION, c.file_name), text, None)


def _left(drawn: Drawn) -> list[Finding]:
    """A warning for what a mapped layer holds and was not taken, and what the reading noted."""
    path: Path = (SECTION,)
    rows = [Finding("drawing-note", text, "", Severity.NOTE, path) for text in drawn.contents.notes]
    for row in drawn.contents.preview:
        if row.left and row.role not in ("", Role.IGNORE.value) and row.reason != "drawn twice":
            text = f"layer {row.layer}: {row.left} {row.type} left out of the {row.role}s: {row.reason}"
            rows.append(Finding("drawing-left", text, "look at the drawing", Severity.WARNING, path))
    return rows


def _runs(drawn: Drawn, known: Container[str], slips: list[Finding]) -> list[ExtraRun]:
    runs = []
    for d in drawn.contents.lines:
        path, _ = drawn.row(d.layer)
        (ax, ay, az), (bx, by, bz) = d.start_m, d.end_m
        if abs(az - bz) > 1e-6 or min(az, bz) <= 0:
            what = "slopes" if abs(az - bz) > 1e-6 else "lies at the surface"
            text = f"layer {d.layer}: the line from ({ax:g}, {ay:g}) to ({bx:g}, {by:g}) m {what}"
            slips.append(Finding("drawing-slope", text, "give depth_m for the layer", path=path))
            continue
        if d.conductor not in known:
            text = f"layer {d.layer}: conductor '{d.conductor}' of the drawing is not defined"
            slips.append(Finding("conductor-unknown", text, "define it under conductors", path=path))
            continue
        runs.append(ExtraRun(((ax, ay), (bx, by)), az, d.conductor, path=path))
    return runs


def _rods(drawn: Drawn) -> list[RodList]:
    groups: dict[tuple[Path, float, float, float], list[Point2]] = {}
    for rod in drawn.contents.rods:
        path, _ = drawn.row(rod.layer)
        groups.setdefault((path, rod.length_m, rod.diameter_mm, rod.top_depth_m), []).append(rod.place_m)
    return [RodList(tuple(at), length, d, top, path=p) for (p, length, d, top), at in groups.items()]


def _numbered(name: str, used: dict[str, int]) -> str:
    used[name] = used.get(name, 0) + 1
    return name if used[name] == 1 else f"{name} {used[name]}"


def _simple(points: tuple[Point2, ...], layer: str, path: Path, slips: list[Finding]) -> bool:
    if len(points) >= 3 and Polygon(points).is_valid and Polygon(points).area > 1e-3:
        return True
    x, y = points[0]
    text = f"layer {layer}: the closed line from ({x:g}, {y:g}) m crosses itself or encloses no area"
    slips.append(Finding("drawing-outline", text, "mend it in the drawing", path=path))
    return False


def _zones(drawn: Drawn, slips: list[Finding]) -> list[SurfaceZone]:
    used: dict[str, int] = {}
    zones = []
    for outline in drawn.contents.zones:
        path, row = drawn.row(outline.layer)
        if _simple(outline.points_m, outline.layer, path, slips):
            zones.append(
                SurfaceZone(
                    _numbered(row.name or outline.layer, used),
                    outline.points_m,
                    row.resistivity_ohm_m,
                    row.thickness_m or 0.0,
                    row.material,
                    row.state,
                    path=path,
                )
            )
    return zones


def _mats(drawn: Drawn, slips: list[Finding]) -> list[MatLayout]:
    used: dict[str, int] = {}
    mats = []
    for outline in drawn.contents.outlines:
        path, row = drawn.row(outline.layer)
        assert row.spacing_m is not None
        assert row.depth_m is not None
        if _simple(outline.points_m, outline.layer, path, slips):
            name = _numbered(row.name or outline.layer, used)
            mats.append(
                MatLayout(
                    name,
                    outline.points_m,
                    row.spacing_m,
                    row.spacing_m,
                    row.depth_m,
                    row.conductor or "mat",
                    path=path,
                )
            )
    return mats


def _fences(drawn: Drawn) -> list[Fence]:
    used: dict[str, int] = {}
    rows = []
    for fence in drawn.contents.fences:
        path, row = drawn.row(fence.name)
        name = _numbered(row.name or fence.name, used)
        rows.append(replace(fence, name=name, bonding=row.bonding or "bonded", path=path))
    return rows


def _gates(drawn: Drawn) -> list[Gate]:
    used: dict[str, int] = {}
    rows = []
    for gate in drawn.contents.gates:
        path, row = drawn.row(str(gate.path[1]))
        name = _numbered(row.name or gate.name, used)
        rows.append(replace(gate, name=name, opens=row.opens or "inward", leaves=row.leaves, path=path))
    return rows


def _equipment(
    drawn: Drawn, project: Project, slips: list[Finding]
) -> tuple[list[EquipmentItem], list[Finding]]:
    used = {e.tag: 1 for e in project.installation.equipment}
    kinds = {name.casefold(): kind.replace("_", " ") for name, kind in drawn.file.kinds.items()}
    items, warnings = [], []
    for item in drawn.contents.equipment:
        path, row = drawn.row(str(item.path[1]))
        word = item.kind.casefold()
        plain = word.replace("_", " ")
        kind = kinds.get(word) or (plain if plain in KINDS else (row.kind or "").replace("_", " "))
        if not kind:
            text = f"'{item.kind[:40]}' at ({item.x_m:g}, {item.y_m:g}) m is no kind of equipment known here"
            slips.append(Finding("drawing-kind", text, "say under kinds what it is", path=path))
            continue
        tag = item.tag or kind
        name = _numbered(tag, used)
        if name != tag and item.tag:
            text = f"two pieces of equipment are tagged {tag}; the second is listed as {name}"
            warnings.append(Finding("drawing-tag", text, "check the drawing", Severity.WARNING, path))
        items.append(replace(item, tag=name, kind=kind, conductor=row.conductor or "riser", path=path))
    return items, warnings
