"""From the validated file to the frozen shapes: SI units, defaults filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from evenground.errors import Finding
from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario, SequenceImpedances, fault_cases
from evenground.model.network import Network
from evenground.model.project import Declaration, Identity, Origin, Project, RegisteredInput, Revision
from evenground.model.site import (
    Assessment,
    BackfillLayout,
    DepthLine,
    EntryPoint,
    ExtraRun,
    MatLayout,
    MetalLink,
    Point2,
    ProfileLine,
    RodList,
    RodRule,
    SeparateElectrode,
    SurfaceZone,
)
from evenground.model.soil import (
    ArrayKind,
    Earthworks,
    LayeredSoil,
    SeasonalState,
    SoilChoice,
    SoilReading,
    Traverse,
)
from evenground.project._convert_construction import construction_of
from evenground.project._convert_installation import installation_of
from evenground.project._convert_lightning import to_lightning
from evenground.project._convert_person import to_exposure, to_person
from evenground.project._explain import Path
from evenground.project._polygons import opened
from evenground.project._schema import (
    ConductorFile,
    FaultFile,
    ProjectFile,
    SequenceFile,
    SoilFile,
    SoilModelFile,
    TraverseFile,
)
from evenground.project._schema_identity import IdentityFile
from evenground.project._schema_site import (
    AssessmentFile,
    BackfillFile,
    MatFile,
    RodListFile,
    RunFile,
    SectionFile,
    SeparateElectrodeFile,
    ZoneFile,
)

__all__ = ["to_project"]

KILO = 1000.0


def to_project(
    file: ProjectFile,
    *,
    origins: dict[Path, Origin],
    register: tuple[RegisteredInput, ...],
    warnings: tuple[Finding, ...],
    file_name: str,
    input_hash: str,
    tables: Mapping[int, tuple[SoilReading, ...]],
    network: Network | None = None,
) -> Project:
    """Make the frozen project; every cross-field check has passed before.

    ``tables`` holds the readings of the traverses that keep them in another file, by their index.
    """
    return Project(
        identity=_identity(file.project),
        frequency_hz=file.frequency_hz,
        traverses=tuple(_traverse(i, t, tables) for i, t in enumerate(file.soil.traverses)),
        soil_choice=_soil_choice(file.soil.model),
        seasons=_seasons(file.soil),
        earthworks=_fill(file.soil),
        faults=tuple(
            case
            for i, f in enumerate(file.faults)
            for case in fault_cases(_fault(i, f, origins.get(("faults", i, "split_factor"))), f.backup_time_s)
        ),
        network=network,
        conductors={key: _conductor(key, c) for key, c in file.conductors.items()},
        mats=tuple(_mat(i, m) for i, m in enumerate(file.mats)),
        assessment=_assessment(file.assessment),
        surface=tuple(_zone(i, z) for i, z in enumerate(file.surface)),
        rods=tuple(_rods(r, ("rods", i)) for i, r in enumerate(file.rods)),
        runs=tuple(_run(r, ("runs", i)) for i, r in enumerate(file.runs)),
        separate=tuple(_separate(i, e) for i, e in enumerate(file.separate_electrodes)),
        declarations=tuple(Declaration(d.subject, d.status, d.by, d.reason) for d in file.declarations),
        assumptions=tuple(file.assumptions),
        register=register,
        file_name=file_name,
        input_hash=input_hash,
        warnings=warnings,
        installation=installation_of(file),
        lightning=to_lightning(file.lightning),
        construction=construction_of(file.construction, _conductor),
    )


def _points(rows: list[list[float]]) -> tuple[Point2, ...]:
    return tuple((row[0], row[1]) for row in rows)


def _outline(rows: list[list[float]] | None) -> tuple[Point2, ...] | None:
    return None if rows is None else tuple(opened(_points(rows)))


def _identity(file: IdentityFile) -> Identity:
    return Identity(
        title=file.title,
        site=file.site,
        client=file.client,
        document_number=file.document_number,
        revisions=tuple(Revision(**r.model_dump()) for r in file.revisions),
        note=file.note,
        language=file.language,
        north_deg=file.north_deg,
        latitude_deg=file.latitude_deg,
        longitude_deg=file.longitude_deg,
        compared_with=file.compared_with,
        sensitivity=file.sensitivity,
    )


def _four(places: list[float] | None) -> tuple[float, float, float, float] | None:
    if places is None:
        return None
    a, m, n, b = places
    return (a, m, n, b)


def _traverse(index: int, file: TraverseFile, tables: Mapping[int, tuple[SoilReading, ...]]) -> Traverse:
    path: Path = ("soil", "traverses", index)
    readings = tables.get(index) or tuple(
        SoilReading(
            spacing_m=r.spacing_m,
            half_current_m=r.half_current_spacing_m,
            half_potential_m=r.half_potential_spacing_m,
            positions_m=_four(r.positions_m),
            resistance_ohm=r.resistance_ohm,
            voltage_v=r.voltage_v,
            current_a=r.current_a,
            apparent_resistivity_ohm_m=r.apparent_resistivity_ohm_m,
            probe_depth_m=r.probe_depth_m,
            rod_length_m=r.rod_length_m,
            use=r.use,
            note=r.note,
            path=(*path, "readings", k),
        )
        for k, r in enumerate(file.readings)
    )
    if file.rod_diameter_mm is not None:
        readings = tuple(replace(r, rod_diameter_m=file.rod_diameter_mm / KILO) for r in readings)
    return Traverse(
        name=file.name,
        array=ArrayKind(file.array),
        readings=readings,
        date=file.date,
        weather=file.weather,
        instrument=file.instrument,
        instrument_resolution_ohm=file.instrument_resolution_ohm,
        note=file.note,
        path=path,
    )


def _soil_choice(file: SoilModelFile) -> SoilChoice:
    given = file.given
    return SoilChoice(
        select=file.select,
        given=LayeredSoil(tuple(given.resistivities_ohm_m), tuple(given.thicknesses_m)) if given else None,
        reason=file.reason,
        norm=file.norm,
        noise=file.noise,
        most_layers=file.most_layers,
        segments=file.segments,
    )


def _seasons(file: SoilFile) -> tuple[SeasonalState, ...]:
    return tuple(SeasonalState(s.name, s.depth_m, s.factor, s.reason) for s in file.seasons)


def _fill(file: SoilFile) -> Earthworks | None:
    fill = file.fill
    if fill is None:
        return None
    return Earthworks(fill.removed_m, fill.thickness_m, fill.resistivity_ohm_m)


def _sequence(file: SequenceFile) -> SequenceImpedances:
    z2_ohm = file.z1_ohm if file.z2_ohm is None else file.z2_ohm
    return SequenceImpedances(
        z1_ohm=complex(*file.z1_ohm),
        z2_ohm=complex(*z2_ohm),
        z0_ohm=complex(*file.z0_ohm),
        fault_resistance_ohm=file.fault_resistance_ohm,
    )


def _fault(index: int, file: FaultFile, split_origin: Origin | None) -> FaultScenario:
    current_a = file.current_ka * KILO if file.current_ka is not None else file.current_a
    return FaultScenario(
        name=file.name,
        voltage_v=file.voltage_kv * KILO,
        kind=file.kind,
        current_a=current_a,
        sequence=_sequence(file.sequence) if file.sequence else None,
        x_over_r=file.x_over_r,
        shock_time_s=file.shock_time_s,
        thermal_time_s=file.thermal_time_s,
        growth_factor=file.growth_factor,
        split_factor=file.split_factor,
        split_source=_split_source(file.split_factor, split_origin),
        decrement=file.decrement,
        decrement_thermal=file.decrement_thermal,
        voltage_factor=file.voltage_factor,
        faults_per_year=file.faults_per_year,
        note=file.note,
        path=("faults", index),
        reclosings=file.reclosings,
        split_stated="split_factor" in file.model_fields_set,
    )


def _split_source(factor: float, origin: Origin | None) -> str:
    """Where a split factor comes from, in words; empty when the file does not say."""
    if origin is not None:
        document = " rev. ".join(p for p in (origin.document, origin.revision) if p)
        return ", ".join(p for p in (document, origin.date, origin.note) if p)
    return "all current is taken through the mat" if factor == 1.0 else ""


def _conductor(key: str, file: ConductorFile) -> ConductorRequest:
    return ConductorRequest(
        role=key,
        material=file.material,
        method=file.method,
        joint=file.joint,
        initial_temperature_c=file.initial_temperature_c,
        max_temperature_c=file.max_temperature_c,
        current_share=file.current_share,
        shape=file.shape,
        diameter_mm=file.diameter_mm,
        width_mm=file.width_mm,
        thickness_mm=file.thickness_mm,
        area_mm2=file.area_mm2,
        corrosion_rate_mm_per_year=file.corrosion.rate_mm_per_year,
        life_years=file.corrosion.life_years,
        corrosion_area_fraction=file.corrosion.area_percent / 100,
        min_area_mm2=file.min_area_mm2,
        relative_permeability=file.relative_permeability,
        path=("conductors", key),
    )


def _mat(index: int, file: MatFile) -> MatLayout:
    outline = _outline(file.outline_m)
    if outline is None:
        assert file.rectangle is not None
        (x, y), dx, dy = file.rectangle.corner_m, file.rectangle.length_x_m, file.rectangle.length_y_m
        outline = ((x, y), (x + dx, y), (x + dx, y + dy), (x, y + dy))
    return MatLayout(
        name=file.name,
        outline_m=outline,
        spacing_x_m=_spacing(file.spacing_m, file.spacing_x_m, file.lines_x_m, [p[0] for p in outline]),
        spacing_y_m=_spacing(file.spacing_m, file.spacing_y_m, file.lines_y_m, [p[1] for p in outline]),
        depth_m=file.depth_m,
        conductor=file.conductor,
        lines_x_m=tuple(file.lines_x_m) if file.lines_x_m else None,
        lines_y_m=tuple(file.lines_y_m) if file.lines_y_m else None,
        rods=tuple(
            RodRule(
                r.where,
                r.length_m,
                r.diameter_mm,
                spacing_m=r.spacing_m,
                count=r.count,
                backfill=_backfill(r.backfill),
            )
            for r in file.rods
        ),
        path=("mats", index),
        backfill=_backfill(file.backfill),
    )


def _backfill(file: BackfillFile | None) -> BackfillLayout | None:
    if file is None:
        return None
    return BackfillLayout(file.outer_diameter_mm, file.resistivity_ohm_m, file.material)


def _rods(file: RodListFile, path: Path, top_depth_m: float | None = None) -> RodList:
    top = top_depth_m if file.top_depth_m is None else file.top_depth_m
    places, backfill = _points(file.at_m), _backfill(file.backfill)
    return RodList(places, file.length_m, file.diameter_mm, top, path=path, backfill=backfill)


def _run(file: RunFile, path: Path) -> ExtraRun:
    backfill = _backfill(file.backfill)
    return ExtraRun(_points(file.points_m), file.depth_m, file.conductor, path=path, backfill=backfill)


def _separate(index: int, file: SeparateElectrodeFile) -> SeparateElectrode:
    path: Path = ("separate_electrodes", index)
    return SeparateElectrode(
        name=file.name,
        rods=tuple(_rods(r, (*path, "rods", k), top_depth_m=0.0) for k, r in enumerate(file.rods)),
        runs=tuple(_run(r, (*path, "runs", k)) for k, r in enumerate(file.runs)),
        links=tuple(MetalLink(x.to, x.resistance_ohm) for x in file.links),
        touchable=file.touchable,
        path=path,
    )


def _section(file: SectionFile) -> DepthLine:
    (x0, y0), (x1, y1) = file.from_m, file.to_m
    return DepthLine(file.name, (x0, y0), (x1, y1), file.depth_m)


def _spacing(both: float | None, one: float | None, lines: list[float] | None, extent: list[float]) -> float:
    """The spacing stated, or with stated lines the largest gap between them and the outline."""
    if lines is None:
        stated = one if one is not None else both
        assert stated is not None
        return stated
    return max(b - a for a, b in pairwise(sorted([*lines, min(extent), max(extent)])))


def _zone(index: int, file: ZoneFile) -> SurfaceZone:
    covered = file.resistivity_ohm_m is not None
    return SurfaceZone(
        name=file.name,
        outline_m=_outline(file.outline_m),
        resistivity_ohm_m=file.resistivity_ohm_m,
        thickness_m=file.thickness_m if covered else 0.0,
        material=file.material,
        state=file.state,
        path=("surface", index),
        standard=file.standard,
        footwear_ohm=file.footwear_ohm,
        footing=file.footing,
        person=to_person(file.person),
        exposure=to_exposure(file.exposure),
    )


def _assessment(file: AssessmentFile) -> Assessment:
    values = file.model_dump()
    lines = tuple(ProfileLine(p.name, tuple((x, y) for x, y in p.points_m)) for p in file.profiles)
    sections = tuple(_section(s) for s in file.sections)
    entries = tuple(
        EntryPoint((e.at_m[0], e.at_m[1]), e.share, ("assessment", "entry_points", i))
        for i, e in enumerate(file.entry_points)
    )
    shaped = {
        "touch_area_m": _outline(file.touch_area_m),
        "profiles": lines,
        "sections": sections,
        "entry_points": entries,
    }
    values |= {"person": to_person(file.person), "exposure": to_exposure(file.exposure)}
    return Assessment(**(values | shaped))
