"""An equipment list against the rules for its connections."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot
from types import MappingProxyType

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from evenground.bonding._rules import ConnectionRule, connection_rules
from evenground.model.electrode import Electrode
from evenground.model.installation import EquipmentItem, Fence
from evenground.model.metalwork import Metalwork
from evenground.model.site import Assessment, Point2
from evenground.model.surroundings import Connection

__all__ = ["LOOP_FREE_DIAMETERS", "check_connections"]

LOOP_FREE_DIAMETERS = 1.1
"""No closed loop within this many diameters of the centre of an air-core reactor (common practice)."""
ON_EDGE_M = 0.05
_REACH_RULE = ("equipment stands where touch voltage is assessed", "common practice", "from memory")


def check_connections(
    items: Sequence[EquipmentItem],
    practice: str,
    electrode: Electrode,
    outlines_m: Sequence[Sequence[Point2]],
    assessment: Assessment,
    *,
    fences: Sequence[Fence] = (),
    sections_mm2: Mapping[str, float] = MappingProxyType({}),
) -> tuple[Connection, ...]:
    """Hold each piece of equipment against every rule for its kind.

    Parameters
    ----------
    items : sequence of EquipmentItem
    practice : str
        National practice; its rules count besides those for all.
    electrode : Electrode
        The mat, for distances along it and loops in it.
    outlines_m : sequence of rings
        [m]
    assessment : Assessment
        Says where touch voltage is looked for.
    fences : sequence of Fence
        For closed rings near an air-core reactor.
    sections_mm2 : mapping
        Section of each kind of conductor that is known, by its key. [mm2]

    Returns
    -------
    tuple of Connection
        One for each item and rule, in the order of the list.
    """
    if not items:
        return ()
    rules = [r for r in connection_rules() if r.practice in ("", practice)]
    net = _Net(electrode, items, fences, sections_mm2)
    area = _touched_area(outlines_m, assessment)
    rows = []
    for item in items:
        rows += [_row(item, rule, net) for rule in rules if item.kind in rule.kinds]
        rows.append(_assessed(item, area))
    return tuple(rows)


def _row(item: EquipmentItem, rule: ConnectionRule, net: _Net) -> Connection:
    """One item against one rule."""
    if rule.sense == "has":
        kept, drawn = rule.aspect in item.measures, "drawn" if rule.aspect in item.measures else "not drawn"
        return _connection(item, rule, rule.aspect, drawn, "kept" if kept else "broken")
    value = net.value(item, rule.aspect)
    unit = f" {rule.unit.replace('mm2', 'mm²')}" if rule.unit in ("m", "mm2") else ""
    wanted = "stated"
    if rule.value is not None:
        wanted = f"{'at least' if rule.sense == 'min' else 'at most'} {rule.value:g}{unit}"
    if value is None:
        return _connection(item, rule, wanted, "not stated", "not stated")
    kept = rule.sense == "stated" or (
        value >= (rule.value or 0.0) if rule.sense == "min" else value <= (rule.value or 0.0)
    )
    return _connection(item, rule, wanted, f"{value:.4g}{unit}", "kept" if kept else "broken")


def _connection(
    item: EquipmentItem, rule: ConnectionRule, wanted: str, drawn: str, outcome: str
) -> Connection:
    if outcome != "kept" and rule.weight == "advised":
        outcome = "advice"
    field = {"connections": "connections", "has": "measures"}.get(
        "has" if rule.sense == "has" else rule.aspect, rule.aspect
    )
    field = "conductor" if field == "section_mm2" else field
    known = field in EquipmentItem.__slots__ or field in ("connections", "measures")
    return Connection(
        tag=item.tag or item.kind,
        kind=item.kind,
        rule=rule.text,
        wanted=wanted,
        drawn=drawn,
        outcome=outcome,
        source=rule.source,
        evidence=rule.evidence,
        path=(*item.path, field) if item.path and known else item.path,
    )


def _touched_area(
    outlines_m: Sequence[Sequence[Point2]], assessment: Assessment
) -> shapely.geometry.base.BaseGeometry:
    """Where equipment may stand so that people who touch it are inside the area assessed."""
    if assessment.touch_area_m:
        return Polygon(assessment.touch_area_m).buffer(-assessment.reach_m)
    base = shapely.union_all([Polygon(o) for o in outlines_m])
    return base.buffer(assessment.touch_reach_m - assessment.reach_m)


def _assessed(item: EquipmentItem, area: shapely.geometry.base.BaseGeometry) -> Connection:
    text, source, evidence = _REACH_RULE
    gap = float(area.distance(Point(item.x_m, item.y_m))) if not area.is_empty else float("inf")
    kept = gap <= ON_EDGE_M
    drawn = "inside" if kept else "no mat" if gap == float("inf") else f"{gap:.2f} m outside"
    path = (*item.path, "at_m") if item.path else ()
    return Connection(
        item.tag or item.kind,
        item.kind,
        text,
        "inside the mat or its touch area",
        drawn,
        "kept" if kept else "broken",
        source,
        evidence,
        path,
    )


class _Net:
    """The mat as a net, made only when a rule asks for it."""

    def __init__(
        self,
        electrode: Electrode,
        items: Sequence[EquipmentItem],
        fences: Sequence[Fence],
        sections_mm2: Mapping[str, float],
    ) -> None:
        self.electrode = electrode
        self.items = items
        self.fences = fences
        self.sections_mm2 = sections_mm2
        self._metal: Metalwork | None = None

    @property
    def metal(self) -> Metalwork:
        if self._metal is None:
            feet = [self._foot(i) for i in self.items if i.kind in ("lightning mast", "transformer")]
            self._metal = Metalwork.from_conductors(self.electrode.conductors, cut_at_m=feet)
        return self._metal

    def value(self, item: EquipmentItem, aspect: str) -> float | None:
        """The number that a rule looks at; None when the file does not say. [unit of the rule]"""
        if aspect == "mast_distance_m":
            return self._to_transformer_m(item)
        if aspect == "loops":
            return None if item.diameter_m is None else float(self._loops(item))
        if aspect == "fence_loops":
            return None if item.diameter_m is None else float(self._fence_loops(item))
        if aspect == "section_mm2":
            return self.sections_mm2.get(item.conductor)
        name = "terminals" if aspect == "connections" else aspect
        found = getattr(item, name)
        return None if found is None else float(found)

    def _foot(self, item: EquipmentItem) -> tuple[float, float, float]:
        """Nearest place on the mat. [m]"""
        place = np.array([item.x_m, item.y_m])
        best: tuple[float, tuple[float, float, float]] = (float("inf"), (item.x_m, item.y_m, 0.0))
        for c in self.electrode:
            a, b = np.array(c.start_m), np.array(c.end_m)
            way = b[:2] - a[:2]
            square = float(way @ way)
            if square == 0.0:
                continue
            share = min(max(float((place - a[:2]) @ way) / square, 0.0), 1.0)
            foot = a + share * (b - a)
            gap = float(hypot(foot[0] - place[0], foot[1] - place[1]))
            if gap < best[0]:
                best = (gap, (float(foot[0]), float(foot[1]), float(foot[2])))
        return best[1]

    def _to_transformer_m(self, item: EquipmentItem) -> float | None:
        """Shortest way along the metal to the foot of a transformer, both leads left out. [m]"""
        others = [i for i in self.items if i.kind == "transformer"]
        if not others:
            return float("inf")
        node, _ = self.metal.nearest_node(self._foot(item))
        ways = self.metal.distances_along_m(node)
        return min(float(ways[self.metal.nearest_node(self._foot(o))[0]]) for o in others)

    def _fence_loops(self, item: EquipmentItem) -> int:
        """Closed rings of metal fence, without an insulated section, that come into the zone of a reactor."""
        radius = LOOP_FREE_DIAMETERS * (item.diameter_m or 0.0)
        rings = [
            LineString([*f.points_m, f.points_m[0]])
            for f in self.fences
            if f.bonding != "insulating" and not f.breaks_m and (f.closed or f.points_m[0] == f.points_m[-1])
        ]
        return sum(ring.distance(Point(item.x_m, item.y_m)) <= radius for ring in rings)

    def _loops(self, item: EquipmentItem) -> int:
        """Closed loops of the net whose metal lies wholly in the zone of a reactor."""
        radius = LOOP_FREE_DIAMETERS * (item.diameter_m or 0.0)
        inside = np.hypot(*(self.metal.nodes_m[:, :2] - (item.x_m, item.y_m)).T) <= radius
        kept = inside[self.metal.start] & inside[self.metal.end]
        start, end = self.metal.start[kept], self.metal.end[kept]
        if not len(start):
            return 0
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import connected_components

        nodes, index = np.unique(np.concatenate([start, end]), return_inverse=True)
        half = len(start)
        graph = csr_array((np.ones(half), (index[:half], index[half:])), shape=(len(nodes), len(nodes)))
        parts = connected_components(graph, directed=False)[0]
        return int(half - len(nodes) + parts)
