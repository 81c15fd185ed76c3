"""Walking through the model space: blocks expanded, every entity either taken or left with a reason."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING, Any

from evenground.model.electrode import Point3
from evenground.model.installation import EquipmentItem, Fence, Gate
from evenground.model.site import Point2
from evenground.siteplan._chords import NotTakenError, Vertex, chords, polyline
from evenground.siteplan._contents import DrawingContents, DrawnLine, DrawnOutline, DrawnRod, PreviewRow
from evenground.siteplan._layers import LayerMap, LayerRule, Role
from evenground.siteplan._open import ReadLimits
from evenground.siteplan._own import own_mark
from evenground.siteplan._things import equipment_of, rod_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing

__all__ = ["Collector"]

SHORTEST_M = 0.02
"""Pieces shorter than this are no conductors of their own."""
_CURVES = {"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"}
_POLYLINES = {"LWPOLYLINE", "POLYLINE"}


class Collector:
    """Goes through one document and keeps what the layer table asks for.

    Lengths are metres before the shift of the origin; z is depth.
    """

    def __init__(
        self,
        document: Drawing,
        layers: LayerMap,
        unit_m: float,
        sagitta_m: float,
        limits: ReadLimits,
        hidden_layers: bool,
    ) -> None:
        self.document = document
        self.layers = layers
        self.unit_m = unit_m
        self.sagitta = sagitta_m / unit_m
        self.limits = limits
        self.hidden = set() if hidden_layers else _hidden(document)
        self.rules: dict[str, LayerRule | None] = {}
        self.seen = 0
        self.too_many = False
        self.lines: dict[tuple[Any, ...], DrawnLine] = {}
        self.rods: dict[tuple[Any, ...], DrawnRod] = {}
        self.equipment: list[EquipmentItem] = []
        self.fences: list[Fence] = []
        self.gates: list[Gate] = []
        self.outlines: list[DrawnOutline] = []
        self.counts: Counter[tuple[str, str, str, bool, str]] = Counter()

    @property
    def found_anything(self) -> bool:
        """Whether anything at all was taken."""
        return any((self.lines, self.rods, self.equipment, self.fences, self.gates, self.outlines))

    def run(self) -> None:
        """Go through the model space."""
        for entity, layer in self._walk(self.document.modelspace(), "", 0):
            kind = entity.dxftype()
            rule = self._rule(layer)
            role = rule.role.value if rule else ""
            reason = self._take(entity, layer, rule)
            self.counts[layer, kind, role, not reason, reason] += 1
            if self.too_many:
                return

    def _walk(self, source: Any, parent_layer: str, level: int) -> Iterator[tuple[Any, str]]:
        """Entities with the layer that counts; blocks are expanded unless their layer takes them whole."""
        for entity in source:
            self.seen += 1
            if self.seen > self.limits.entities:
                self.too_many = True
                return
            layer = _layer_of(entity, parent_layer)
            if entity.dxftype() != "INSERT" or self._whole(layer):
                yield entity, layer
                continue
            reason = self._why_not_expanded(entity, level)
            if reason:
                self.counts[layer, "INSERT", "", False, reason] += 1
                continue
            for single in entity.multi_insert() if entity.mcount > 1 else (entity,):
                inner = single.virtual_entities(skipped_entity_callback=self._skipped(layer))
                yield from self._walk(inner, layer, level + 1)
                if self.too_many:
                    return

    def _rule(self, layer: str) -> LayerRule | None:
        if layer not in self.rules:
            self.rules[layer] = self.layers.rule_for(layer)
        return self.rules[layer]

    def _whole(self, layer: str) -> bool:
        rule = self._rule(layer)
        return rule is not None and rule.role in {Role.EQUIPMENT, Role.ROD}

    def _why_not_expanded(self, insert: Any, level: int) -> str:
        if level >= self.limits.nesting:
            return f"blocks nested deeper than {self.limits.nesting}"
        if _count_of(insert) > self.limits.entities:
            self.too_many = True
            return "a block repeated too often"
        block = insert.block()
        if block is None:
            return "its block is missing"
        if block.block.is_xref or block.block.is_xref_overlay:
            return "an external reference; bind it in the drawing first"
        return ""

    def _skipped(self, layer: str) -> Callable[[Any, str], None]:
        def note(entity: Any, reason: str) -> None:
            self.counts[layer, entity.dxftype(), "", False, f"inside a block: {reason}"] += 1

        return note

    def _take(self, entity: Any, layer: str, rule: LayerRule | None) -> str:
        """Take one entity; an empty text when taken, else the reason why it is left."""
        if rule is None:
            return "no rule for this layer"
        if rule.role is Role.IGNORE:
            return "ignored by the layer table"
        if layer.casefold() in self.hidden:
            return "its layer is switched off or frozen"
        if entity.dxf.get("invisible", 0):
            return "it is invisible"
        try:
            _TAKERS[rule.role](self, entity, layer, rule)
        except NotTakenError as why:
            return str(why)
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
            return f"could not be read ({type(error).__name__})"
        return ""

    # -- one method for each role -------------------------------------------------------------------

    def take_conductor(self, entity: Any, layer: str, rule: LayerRule) -> None:
        """Every straight piece of a line or curve."""
        mark = own_mark(entity)
        vertices = self._depths(self._path(entity), rule)
        about: tuple[Any, ...] = (rule.conductor, layer)
        if mark is not None:
            about = (mark.key, layer, mark.radius_m, mark.kind, mark.group, mark.tag)
        shortest = 0.0 if mark else SHORTEST_M
        pieces = [
            DrawnLine(a, b, *about) for a, b in itertools.pairwise(vertices) if _distance(a, b) > shortest
        ]
        if not pieces:
            raise NotTakenError(f"shorter than {1000 * SHORTEST_M:g} mm")
        fresh = 0
        for piece in pieces:
            key = _line_key(piece)
            fresh += key not in self.lines
            self.lines.setdefault(key, piece)
        if not fresh:
            raise NotTakenError("drawn twice")

    def take_rod(self, entity: Any, layer: str, rule: LayerRule) -> None:
        """A block, point, circle or vertical line."""
        if entity.dxftype() == "LINE" and own_mark(entity) is not None:
            self.take_conductor(entity, layer, rule)
            return
        rod = rod_of(entity, layer, rule, self.unit_m)
        key: tuple[Any, ...] = (round(rod.place_m[0], 3), round(rod.place_m[1], 3))
        if rod.radius_m is not None:
            key = (*rod.place_m, rod.top_depth_m, rod.bottom_depth_m, rod.radius_m, rod.tag)
        if key in self.rods:
            raise NotTakenError("drawn twice")
        self.rods[key] = rod

    def take_equipment(self, entity: Any, layer: str, rule: LayerRule) -> None:
        """A block with attributes."""
        self.equipment.append(equipment_of(entity, layer, rule, self.unit_m))

    def take_fence(self, entity: Any, layer: str, rule: LayerRule) -> None:
        """A line or polyline."""
        points = self._plan(self._path(entity))
        closed = len(points) > 3 and _distance(points[0], points[-1]) < 1e-6
        if len(points) < 2:
            raise NotTakenError("a line without length")
        self.fences.append(
            Fence(tuple(points[:-1] if closed else points), layer, closed, path=("layer", layer))
        )

    def take_gate(self, entity: Any, layer: str, rule: LayerRule) -> None:
        """A straight line from post to post; leaves and swings are left."""
        if entity.dxftype() not in {"LINE", *_POLYLINES}:
            raise NotTakenError("only lines from post to post are taken as gates")
        points = self._plan(self._path(entity))
        if len(points) < 2 or _distance(points[0], points[-1]) < SHORTEST_M:
            raise NotTakenError("a line without length")
        self.gates.append(Gate(points[0], points[-1], f"gate {len(self.gates) + 1}", path=("layer", layer)))

    def take_outline(self, entity: Any, layer: str, rule: LayerRule) -> None:
        """A closed line."""
        points = self._plan(self._path(entity))
        if len(points) < 4 or _distance(points[0], points[-1]) > 1e-3:
            raise NotTakenError("a line that is not closed")
        self.outlines.append(DrawnOutline(tuple(points[:-1]), rule.role, layer))

    # -- geometry -----------------------------------------------------------------------------------

    def _path(self, entity: Any) -> list[Vertex]:
        """Vertices of anything line-like, in drawing units and world coordinates."""
        kind = entity.dxftype()
        if kind in _CURVES:
            return chords(entity, self.sagitta, self.limits.chords_per_curve)
        return polyline(entity, self.sagitta, self.limits.chords_per_curve)

    def _depths(self, path: list[Vertex], rule: LayerRule) -> list[Point3]:
        u = self.unit_m
        if rule.depth_m is not None:
            return [(x * u, y * u, rule.depth_m) for x, y, _ in path]
        if any(z > 1e-9 / u for *_, z in path):
            raise NotTakenError("it lies above z = 0 and the rule states no depth")
        if all(abs(z) < 1e-9 / u for *_, z in path):
            raise NotTakenError("it lies at z = 0 and the rule states no depth")
        return [(x * u, y * u, 0.0 - z * u) for x, y, z in path]

    def _plan(self, path: list[Vertex]) -> list[Point2]:
        points: list[Point2] = []
        for x, y, _ in path:
            point = (x * self.unit_m, y * self.unit_m)
            if not points or _distance(points[-1], point) > 1e-6:
                points.append(point)
        return points

    # -- results ------------------------------------------------------------------------------------

    def _all_points(self) -> Iterator[Point2]:
        for d in self.lines.values():
            yield d.start_m[:2]
            yield d.end_m[:2]
        yield from (rod.place_m for rod in self.rods.values())
        yield from ((item.x_m, item.y_m) for item in self.equipment)
        for points in (*(f.points_m for f in self.fences), *(o.points_m for o in self.outlines)):
            yield from points
        for gate in self.gates:
            yield gate.start_m
            yield gate.end_m

    def extents(self) -> tuple[float, float, float, float]:
        """Smallest and largest coordinates of everything taken. [m]"""
        xs, ys = zip(*self._all_points(), strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def preview(self) -> tuple[PreviewRow, ...]:
        """Counts per layer, type and outcome, in order of name."""
        return tuple(
            PreviewRow(layer, kind, role, n if taken else 0, 0 if taken else n, reason)
            for (layer, kind, role, taken, reason), n in sorted(self.counts.items())
        )

    def fill(self, contents: DrawingContents) -> DrawingContents:
        """Put everything taken into the result, the origin taken off."""
        dx, dy = contents.origin_m

        def flat(p: Point2) -> Point2:
            return (p[0] - dx, p[1] - dy)

        def deep(p: Point3) -> Point3:
            return (p[0] - dx, p[1] - dy, p[2])

        outlines = [replace(o, points_m=tuple(flat(p) for p in o.points_m)) for o in self.outlines]
        return replace(
            contents,
            lines=tuple(
                replace(d, start_m=deep(d.start_m), end_m=deep(d.end_m)) if dx or dy else d
                for d in self.lines.values()
            ),
            rods=tuple(replace(r, place_m=flat(r.place_m)) for r in self.rods.values()),
            equipment=tuple(replace(e, x_m=e.x_m - dx, y_m=e.y_m - dy) for e in self.equipment),
            fences=tuple(replace(f, points_m=tuple(flat(p) for p in f.points_m)) for f in self.fences),
            gates=tuple(replace(g, start_m=flat(g.start_m), end_m=flat(g.end_m)) for g in self.gates),
            zones=tuple(o for o in outlines if o.role is Role.ZONE),
            outlines=tuple(o for o in outlines if o.role is Role.OUTLINE),
            preview=self.preview(),
        )


_TAKERS: dict[Role, Callable[[Collector, Any, str, LayerRule], None]] = {
    Role.CONDUCTOR: Collector.take_conductor,
    Role.ROD: Collector.take_rod,
    Role.EQUIPMENT: Collector.take_equipment,
    Role.FENCE: Collector.take_fence,
    Role.GATE: Collector.take_gate,
    Role.ZONE: Collector.take_outline,
    Role.OUTLINE: Collector.take_outline,
}


def _layer_of(entity: Any, parent_layer: str) -> str:
    """Layer "0" inside a block means the layer of the block reference."""
    layer = str(entity.dxf.get("layer", "0"))
    return parent_layer if parent_layer and layer == "0" else layer


def _hidden(document: Drawing) -> set[str]:
    return {x.dxf.name.casefold() for x in document.layers if x.is_off() or x.is_frozen()}


def _count_of(insert: Any) -> int:
    rows, columns = insert.dxf.get("row_count", 1), insert.dxf.get("column_count", 1)
    return int(max(1, rows) * max(1, columns))


def _distance(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return hypot(*(p - q for p, q in zip(a, b, strict=True)))


def _line_key(line: DrawnLine) -> tuple[Any, ...]:
    """Equal for lines drawn twice, in either direction."""
    ends = sorted(tuple(int(1e6 * v) for v in p) for p in (line.start_m, line.end_m))
    return (*ends, line.conductor, line.kind, line.group, line.tag, line.radius_m)
