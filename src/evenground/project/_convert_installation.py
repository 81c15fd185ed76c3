"""From the validated file to the shapes of equipment, fences, gates and services."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground.model.installation import EquipmentItem, Fence, Gate, Installation, Posts
from evenground.model.services import FarEnd, Service
from evenground.model.site import Point2
from evenground.project._schema_installation import (
    EquipmentFile,
    FarEndFile,
    FenceFile,
    GateFile,
    ServiceFile,
)

if TYPE_CHECKING:
    from evenground.project._schema import ProjectFile
from evenground.project._schema_construction import ConstructionFile

__all__ = ["installation_of"]

MILLI = 1e-3
LISTS = ("equipment", "fences", "gates", "services")


def installation_of(file: ProjectFile) -> Installation:
    """Everything round the electrode that the file states."""
    work = file.construction or ConstructionFile()
    return Installation(
        equipment=tuple(_equipment(i, e) for i, e in enumerate(file.equipment or ())),
        fences=tuple(_fence(i, f) for i, f in enumerate(file.fences or ())),
        gates=tuple(_gate(i, g) for i, g in enumerate(file.gates or ())),
        services=tuple(_service(i, s) for i, s in enumerate(file.services or ())),
        practice=file.practice,
        stated=tuple(name for name in LISTS if getattr(file, name) is not None),
        trench_width_m=work.trench.width_m,
        trench_below_m=work.trench.below_m,
        rod_section_m=work.rod_section_m,
    )


def _point(row: list[float]) -> Point2:
    return (row[0], row[1])


def _points(rows: list[list[float]] | None) -> tuple[Point2, ...]:
    return tuple(_point(row) for row in rows or ())


def _equipment(index: int, file: EquipmentFile) -> EquipmentItem:
    return EquipmentItem(
        tag=file.tag,
        kind=file.kind.replace("_", " "),
        x_m=file.at_m[0],
        y_m=file.at_m[1],
        terminals=file.connections,
        conductor=file.conductor,
        height_m=file.height_m,
        note=file.note,
        voltage_kv=file.voltage_kv,
        joint=file.joint,
        electrodes=file.electrodes,
        neutral_connections=file.neutral_connections,
        neutral_electrodes=file.neutral_electrodes,
        lead_m=file.lead_m,
        bond_spacing_m=file.bond_spacing_m,
        diameter_m=file.diameter_m,
        measures=tuple(m.replace("_", " ") for m in file.measures),
        path=("equipment", index),
    )


def _fence(index: int, file: FenceFile) -> Fence:
    corners = _points(file.points_m)
    closed = len(corners) > 3 and corners[0] == corners[-1]
    return Fence(
        points_m=corners[:-1] if closed else corners,
        name=file.name,
        closed=closed,
        bonding=file.bonding,
        owner=file.owner,
        bond_spacing_m=file.bond_spacing_m,
        rods_m=_points(file.rods_m),
        rod_length_m=file.rod_length_m,
        rod_diameter_m=file.rod_diameter_mm * MILLI,
        posts=Posts(file.posts.spacing_m, file.posts.depth_m, file.posts.diameter_mm * MILLI),
        breaks_m=_points(file.insulated_sections_m),
        break_length_m=file.insulated_length_m,
        path=("fences", index),
    )


def _gate(index: int, file: GateFile) -> Gate:
    return Gate(
        start_m=_point(file.start_m),
        end_m=_point(file.end_m),
        name=file.name,
        opens=file.opens,
        leaves=file.leaves,
        fence=file.fence,
        bonded=file.bonded,
        path=("gates", index),
    )


def _service(index: int, file: ServiceFile) -> Service:
    return Service(
        name=file.name,
        kind=file.kind.replace("_", " "),
        disposal=file.disposal.replace("_", " "),
        crosses_m=None if file.crosses_m is None else _point(file.crosses_m),
        withstand_v=file.withstand_v,
        route_m=_points(file.route_m),
        route_depth_m=file.route_depth_m,
        route_diameter_m=file.route_diameter_mm * MILLI,
        remote_rods_m=_points(file.remote_rods_m),
        remote_rod_length_m=file.remote_rod_length_m,
        remote_rod_diameter_m=file.remote_rod_diameter_mm * MILLI,
        impedance_ohm=complex(*file.impedance_ohm) if file.impedance_ohm else 0j,
        system=file.system,
        tn_factor=file.tn_factor,
        line_to_neutral_v=file.line_to_neutral_v,
        reliable=file.reliable,
        reason=file.reason,
        by=file.by,
        path=("services", index),
        network_earth=file.network_earth,
        far_end=None if file.far_end is None else _far_end(file.far_end),
    )


def _far_end(file: FarEndFile) -> FarEnd:
    return FarEnd(file.section_m, file.withstand_v, _points(file.beyond_m))
