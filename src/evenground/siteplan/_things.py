"""Rods and equipment, which drawings show as blocks with attributes."""

from __future__ import annotations

from math import hypot, isfinite
from typing import Any

from evenground.model.installation import EquipmentItem
from evenground.siteplan._chords import NotTakenError
from evenground.siteplan._contents import DrawnRod
from evenground.siteplan._layers import LayerRule
from evenground.siteplan._own import own_mark

__all__ = ["equipment_of", "rod_of"]

TAG_NAMES = ("TAG", "TAGNO", "TAG_NO", "NAME", "NUMBER", "NO", "ID", "DESIGNATION")
KIND_NAMES = ("KIND", "TYPE", "DESCRIPTION", "DESC", "EQUIPMENT")
"""Attribute names in the order in which they are looked for."""


def _attributes(insert: Any) -> dict[str, str]:
    return {str(a.dxf.tag).upper(): str(a.dxf.text).strip() for a in insert.attribs}


def _place(entity: Any, unit_m: float) -> tuple[float, float, float]:
    """Place of a block, point or circle in metres, z as drawn."""
    kind = entity.dxftype()
    if kind == "INSERT":
        point = entity.ocs().to_wcs(entity.dxf.insert)
    elif kind == "POINT":
        point = entity.dxf.location
    elif kind == "CIRCLE":
        point = entity.ocs().to_wcs(entity.dxf.center)
    else:
        raise NotTakenError("only blocks, points, circles and vertical lines are taken as rods")
    place = (point.x * unit_m, point.y * unit_m, point.z * unit_m)
    if not all(isfinite(v) for v in place):
        raise NotTakenError("a coordinate that is not a finite number")
    return place


def equipment_of(entity: Any, layer: str, rule: LayerRule, unit_m: float) -> EquipmentItem:
    """A block reference as a piece of equipment; tag and kind from its attributes, the kind else from the
    name of the block."""
    if entity.dxftype() != "INSERT":
        raise NotTakenError("only blocks are taken as equipment")
    found = _attributes(entity)
    x, y, _ = _place(entity, unit_m)
    tag = next((found[n] for n in TAG_NAMES if found.get(n)), "")
    name = str(entity.dxf.get("name", ""))
    kind = next((found[n] for n in KIND_NAMES if found.get(n)), layer if name.startswith("*") else name)
    terminals = _number(found.get("TERMINALS", ""))
    count = rule.connections if terminals is None or not 1 <= terminals <= 100 else int(terminals)
    return EquipmentItem(tag, kind, x, y, terminals=count, path=("layer", layer))


def rod_of(entity: Any, layer: str, rule: LayerRule, unit_m: float) -> DrawnRod:
    """A rod from a block, a point, a circle or a vertical line; attributes LENGTH, DIAMETER, TOP (m, mm, m)
    come before the layer's rule."""
    if entity.dxftype() == "LINE":
        return _upright(entity, layer, rule, unit_m)
    x, y, z = _place(entity, unit_m)
    found = _attributes(entity) if entity.dxftype() == "INSERT" else {}
    length = _number(found.get("LENGTH", "")) or rule.rod_length_m
    diameter = _number(found.get("DIAMETER", "")) or rule.rod_diameter_mm
    top = _number(found.get("TOP", ""))
    top = rule.depth_m if top is None else top
    if top is None:
        top = -z if z < 0 else None
    if length is None or diameter is None or top is None:
        what = [name for name, v in (("length", length), ("diameter", diameter), ("depth", top)) if v is None]
        raise NotTakenError(f"a rod without {' and '.join(what)}: no attribute and no rule states it")
    if length <= 0 or diameter <= 0 or top < 0:
        raise NotTakenError("a rod whose length, diameter or depth is not above 0")
    mark = own_mark(entity)
    number = next((found[n] for n in ("NUMBER", *TAG_NAMES) if found.get(n)), "")
    if mark is None or mark.end_depth_m <= -z:
        return DrawnRod((x, y), top, length, diameter, layer, number, "mat", number)
    exact = (mark.group, mark.tag, mark.radius_m, mark.end_depth_m)
    return DrawnRod((x, y), 0.0 - z, length, diameter, layer, number, *exact)


def _upright(entity: Any, layer: str, rule: LayerRule, unit_m: float) -> DrawnRod:
    a, b = entity.dxf.start, entity.dxf.end
    if not all(isfinite(v) for v in (*a, *b)):
        raise NotTakenError("a coordinate that is not a finite number")
    if hypot(a.x - b.x, a.y - b.y) * unit_m > 0.02:
        raise NotTakenError("a line in plan is no rod; draw a block or a vertical line")
    top, bottom = -max(a.z, b.z) * unit_m, -min(a.z, b.z) * unit_m
    if rule.rod_diameter_mm is None:
        raise NotTakenError("a rod without diameter: no rule states it")
    if top < 0 or bottom - top <= rule.rod_diameter_mm / 1000:
        raise NotTakenError("a vertical line above z = 0 or without length")
    return DrawnRod((a.x * unit_m, a.y * unit_m), top, bottom - top, rule.rod_diameter_mm, layer)


def _number(text: str) -> float | None:
    """A number from an attribute, ``"6"``, ``"6,0"`` or ``"6.0 m"``; None when it holds none."""
    words = text.replace(",", ".").split()
    try:
        value = float(words[0]) if words else None
    except ValueError:
        return None
    return value if value is None or isfinite(value) else None
