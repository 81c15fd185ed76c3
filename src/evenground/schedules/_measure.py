"""Measuring the design: lengths, trenches, covers, leads, joints. Nothing here knows a price."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot, pi

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from evenground.model.electrode import Point3
from evenground.model.installation import EquipmentItem
from evenground.schedules._design import ConductorType, Design

__all__ = [
    "CoverQuantity",
    "FillQuantity",
    "JointCount",
    "Lead",
    "Quantities",
    "RodQuantity",
    "TrenchQuantity",
    "measure",
]


@dataclass(frozen=True, slots=True)
class TrenchQuantity:
    """Trench of one depth. ``conductor_m`` is the metal in it, ``length_m`` the trench itself, in which
    conductors that run in the same line share one; ``dug_m`` its depth and ``width_m`` its width. [m]"""

    name: str
    depth_m: float
    conductor_m: float
    length_m: float
    width_m: float
    dug_m: float

    @property
    def volume_m3(self) -> float:
        """Length times width times depth; crossings are not deducted, as is usual when measuring. [m3]"""
        return self.length_m * self.width_m * self.dug_m


@dataclass(frozen=True, slots=True)
class CoverQuantity:
    """Cover of one zone, the areas of earlier zones taken off. [m2, m, m3]"""

    zone: str
    material: str
    area_m2: float
    thickness_m: float

    @property
    def volume_m3(self) -> float:
        """Area times thickness, compacted. [m3]"""
        return self.area_m2 * self.thickness_m


@dataclass(frozen=True, slots=True)
class RodQuantity:
    """Rods of one diameter and length; ``couplings`` is the number for all of them. [m]"""

    type: ConductorType
    length_m: float
    count: int
    couplings: int


@dataclass(frozen=True, slots=True)
class FillQuantity:
    """Filling round conductors of one kind, the metal taken off. [m, m3]"""

    material: str
    outer_diameter_m: float
    upright: bool
    length_m: float
    volume_m3: float


@dataclass(frozen=True, slots=True)
class JointCount:
    """Joints of one kind between the same sizes, made in one way."""

    kind: str
    between: str
    method: str
    count: int


@dataclass(frozen=True, slots=True)
class Lead:
    """The way from a piece of equipment to the nearest conductor of the mat. [m]"""

    item: EquipmentItem
    place_m: Point3
    target: int
    plan_m: float
    length_m: float


@dataclass(frozen=True, slots=True)
class Quantities:
    """Everything measured; ``not_measured`` says in words what could not be.

    ``fills`` are what metal is embedded in.
    """

    conductor_m: tuple[tuple[ConductorType, float], ...]
    trenches: tuple[TrenchQuantity, ...]
    rods: tuple[RodQuantity, ...]
    joints: tuple[JointCount, ...]
    covers: tuple[CoverQuantity, ...]
    leads: tuple[Lead, ...]
    pits: int
    bends: int
    not_measured: tuple[str, ...]
    fills: tuple[FillQuantity, ...] = ()


def measure(design: Design) -> Quantities:
    """Measure a design.

    Parameters
    ----------
    design : Design

    Returns
    -------
    Quantities
        In SI, net of waste.
    """
    leads = _leads(design)
    covers, left_out = _covers(design)
    survey = design.joints
    words = list(left_out)
    if survey.loose:
        words.append(f"{len(survey.loose)} rods or risers meet no conductor; the links to them are not drawn")
    if survey.passes_m:
        words.append(
            f"{len(survey.passes_m)} places where conductors cross at different depths; "
            "no joint is counted there"
        )
    if not design.installation.equipment:
        words.append("no equipment list was given, so connections to equipment are not counted")
    return Quantities(
        conductor_m=_conductors(design, leads),
        trenches=_trenches(design, leads),
        rods=_rods(design),
        joints=_joints(design, leads),
        covers=covers,
        leads=leads,
        pits=len(set(design.installation.pit_rods)),
        bends=survey.bends,
        not_measured=tuple(words),
        fills=_fills(design),
    )


def _fills(design: Design) -> tuple[FillQuantity, ...]:
    """What conductors are embedded in: a cylinder less the metal."""
    found: dict[tuple[str, float, bool], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for c in design.electrode:
        around = c.embedding
        if around is None:
            continue
        key = (around.material or "compound", 2 * around.outer_radius_m, c.kind == "rod")
        found[key][0] += c.length_m
        found[key][1] += pi * (around.outer_radius_m**2 - c.radius_m**2) * c.length_m
    return tuple(FillQuantity(*key, *sums) for key, sums in sorted(found.items()))


def _conductors(design: Design, leads: Sequence[Lead]) -> tuple[tuple[ConductorType, float], ...]:
    lengths: dict[str, float] = defaultdict(float)
    for i, c in enumerate(design.electrode):
        if c.kind != "rod":
            lengths[design.keys[i]] += c.length_m
    for lead in leads:
        key = lead.item.conductor
        lengths[key if key in design.types else _other(key)] += lead.length_m * lead.item.terminals
    return tuple((_type(design, key), length) for key, length in lengths.items())


def _other(key: str) -> str:
    return f"?{key}"


def _type(design: Design, key: str) -> ConductorType:
    if key in design.types:
        return design.types[key]
    name = key.removeprefix("?")
    nothing = "not stated"
    return ConductorType(name, nothing, nothing, f"{name}, size not stated", nothing, None, 0.0, None)


def _trenches(design: Design, leads: Sequence[Lead]) -> tuple[TrenchQuantity, ...]:
    rule = design.installation
    by_depth: dict[float, list[LineString]] = defaultdict(list)
    for _, c in design.horizontal:
        line = LineString([c.start_m[:2], c.end_m[:2]])
        if line.length > 0:
            by_depth[round(max(c.start_m[2], c.end_m[2]), 3)].append(line)
    found = [
        TrenchQuantity(
            f"conductors at {depth:g} m",
            depth,
            sum(line.length for line in lines),
            float(shapely.union_all(lines).length),
            rule.trench_width_m,
            depth + rule.trench_below_m,
        )
        for depth, lines in sorted(by_depth.items())
        if depth > 0
    ]
    plan = sum(lead.plan_m for lead in leads)
    if plan > 0:
        deepest = max(lead.place_m[2] for lead in leads)
        metal = sum(lead.plan_m * lead.item.terminals for lead in leads)
        found.append(
            TrenchQuantity(
                "leads to equipment", deepest, metal, plan, rule.trench_width_m, deepest + rule.trench_below_m
            )
        )
    return tuple(found)


def couplings(length_m: float, section_m: float) -> int:
    """Couplings in one rod made of sections; a millimetre more than whole sections needs none. [m]"""
    return max(0, ceil((length_m - 0.001) / section_m) - 1)


def _rods(design: Design) -> tuple[RodQuantity, ...]:
    groups: dict[tuple[str, float], int] = defaultdict(int)
    for i, c in enumerate(design.electrode):
        if c.kind == "rod":
            groups[design.keys[i], round(c.length_m, 3)] += 1
    section = design.installation.rod_section_m
    return tuple(
        RodQuantity(design.types[key], length, count, count * couplings(length, section))
        for (key, length), count in sorted(groups.items())
    )


def _joints(design: Design, leads: Sequence[Lead]) -> tuple[JointCount, ...]:
    groups: dict[tuple[str, str, str], int] = defaultdict(int)
    for joint in design.joints.joints:
        types = [design.type_of(m) for m in joint.members]
        first = types[0]
        between = " to ".join(sorted({t.text for t in types}))
        groups[joint.kind, between, first.joint] += 1
    for lead in leads:
        key = lead.item.conductor
        wire = _type(design, key if key in design.types else _other(key))
        mat = design.type_of(lead.target)
        groups["lead to mat", f"{wire.text} to {mat.text}", mat.joint] += lead.item.terminals
        groups["equipment terminal", wire.text, wire.joint] += lead.item.terminals
    return tuple(JointCount(*key, count) for key, count in sorted(groups.items()))


def _covers(design: Design) -> tuple[tuple[CoverQuantity, ...], list[str]]:
    found: list[CoverQuantity] = []
    words: list[str] = []
    taken: BaseGeometry = Polygon()
    for zone in design.surface:
        if zone.outline_m is None:
            if zone.thickness_m > 0:
                words.append(f"cover of zone “{zone.name}”: it has no outline, so its area is not decided")
            continue
        polygon = Polygon(zone.outline_m)
        area = float(polygon.difference(taken).area)
        taken = taken.union(polygon)
        if zone.thickness_m > 0:
            found.append(CoverQuantity(zone.name, zone.material or "cover", area, zone.thickness_m))
    return tuple(found), words


def _leads(design: Design) -> tuple[Lead, ...]:
    items = design.installation.equipment
    flat = design.horizontal
    if not items or not flat:
        return ()
    lines = [LineString([c.start_m[:2], c.end_m[:2]]) for _, c in flat]
    tree = shapely.STRtree(lines)
    found = []
    for item in items:
        point = shapely.points(item.x_m, item.y_m)
        k = int(tree.nearest(point))
        position, conductor = flat[k]
        foot = lines[k].interpolate(lines[k].project(point))
        share = lines[k].project(point, normalized=True)
        depth = conductor.start_m[2] + share * (conductor.end_m[2] - conductor.start_m[2])
        plan = hypot(foot.x - item.x_m, foot.y - item.y_m)
        found.append(Lead(item, (foot.x, foot.y, depth), position, plan, plan + depth + item.height_m))
    return tuple(found)
