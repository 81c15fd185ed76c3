"""Checks of fences and gates: touch voltage, and how they are arranged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from evenground.errors import Finding, Severity
from evenground.model.installation import Fence, Gate
from evenground.model.study import Check, Place, ShockResult, Verdict
from evenground.model.surroundings import FencePiece
from evenground.safety._fence_rules import fence_rule, rule_number
from evenground.safety._fences import gate_piece, ring_of
from evenground.safety._judge import compared, too_near, without_offset

if TYPE_CHECKING:
    from evenground.safety._boundary import BoundaryCase
    from evenground.standards.limits import CountryRule

__all__ = ["FLOATING_ERROR", "arrangement_checks", "slug", "touch_check", "unjudged_gates"]

FLOATING_ERROR = 0.02
"""Relative error of the potential of floating posts, by halving their segments (see the tests)."""
_STEP_M = 0.5
"""Distance between the places looked at along a fence outside the rim. [m]"""
_SIDES = {
    "inside": "from inside",
    "outside": "from outside",
    "near": "from the side of the mat",
    "far": "from the far side",
    "swing": "over its swing",
    "along": "along its way",
    "beyond": "beyond its insulating joint",
}


def slug(name: str) -> str:
    """A name as part of an identity."""
    return "-".join("".join(c if c.isalnum() else " " for c in name.lower()).split())


def touch_check(name: str, side: str, shocks: Sequence[ShockResult], case: BoundaryCase) -> Check:
    """One side of one piece of metal against the limits of the zones there."""
    worst = max(shocks, key=lambda s: s.value_v / s.limit_v)
    rows = {(r.zone, r.scenario): r for r in case.limits}
    outside = {rows[s.zone, s.scenario].outside for s in shocks}
    reasons = [r for r in (case.doubt, *sorted(outside)) if r]
    verdict, reason = compared(worst.value_v, worst.limit_v), "; ".join(reasons)
    if reasons:
        verdict = Verdict.NOT_DECIDED
    elif verdict is Verdict.PASS:
        floating = name in case.potentials
        own = max(FLOATING_ERROR, case.own_error.get(name, 0.0)) if floating else 0.0
        error = max(case.error, own)
        reason = too_near(shocks, error, without_offset(case.faults))
        verdict = Verdict.NOT_DECIDED if reason else verdict
    return Check(
        identity=f"touch-{slug(name)}-{side}",
        title=f"Touch voltage, {name}, {_SIDES[side]} ({worst.zone})",
        verdict=verdict,
        value=worst.value_v,
        limit=worst.limit_v,
        unit="V",
        place=worst.place,
        scenario=worst.scenario,
        clause=rows[worst.zone, worst.scenario].clause,
        method="field solution",
        reason=reason,
    )


def arrangement_checks(case: BoundaryCase, swings: Mapping[str, Polygon]) -> list[Check]:
    """Distances, bonds, rods, insulated sections and gates against the rules of the practice."""
    checks: list[Check | None] = []
    for fence in case.installation.fences:
        own = [p for p in case.pieces if p.fence == fence.name]
        if fence.bonding == "separate":
            checks += [_distance(case, fence, own, swings), _live_parts(case, fence)]
            checks.append(_rods(case, fence))
        if fence.bonding == "bonded":
            checks += [_bonds(case, fence), _inside_electrode(case, fence)]
        checks += [_sections(case, fence, own)] if fence.breaks_m else []
    checks += [_gate(case, gate) for gate in case.installation.gates]
    return [c for c in checks if c is not None]


def _cited(rule: CountryRule) -> str:
    memory = ", from memory" if rule.evidence == "from memory" else ""
    return f"{rule.text} ({rule.source}{memory})"


def _number(case: BoundaryCase, what: str) -> tuple[CountryRule, float] | None:
    rule = fence_rule(case.installation.practice, what)
    return None if rule is None else (rule, rule_number(rule))


def _distance(
    case: BoundaryCase, fence: Fence, own: Sequence[FencePiece], swings: Mapping[str, Polygon]
) -> Check | None:
    """A separate fence and the mat may not be within reach of one person."""
    found = _number(case, "separate_distance")
    if found is None or not own:
        return None
    rule, least = found
    gates = [swings[g.name] for g in case.installation.gates if g.name in swings and _in(g, own, case)]
    lines: list[BaseGeometry] = [*(ring_of(p) for p in own), *gates]
    shape = shapely.union_all(lines)
    others: list[BaseGeometry] = [Point(e.x_m, e.y_m) for e in case.installation.equipment]
    others += [ring_of(p) for p in case.pieces if p.bonding == "bonded"]
    if fence.owner == "own":
        others += [LineString(m) if m[0] != m[1] else Point(m[0]) for m in case.metal_m]
    if not others:
        return None
    joined = shapely.union_all(others)
    line = shapely.shortest_line(shape, joined)
    gap, (x, y) = float(line.length), line.coords[0]
    apart = max((abs(1 - case.of(p)) for p in own), default=0.0) * max(case.gpr_v.values())
    return Check(
        identity=f"distance-{slug(fence.name)}",
        title=f"Fence “{fence.name}”, distance from metal of the mat",
        verdict=compared(gap + 1e-6, least, "min"),
        value=gap,
        limit=least,
        unit="m",
        sense="min",
        place=Place(x, y, fence.name),
        clause=_cited(rule),
        method="plan geometry",
        reason=f"up to {apart:.0f} V stand between this fence and the mat",
    )


def _live_parts(case: BoundaryCase, fence: Fence) -> Check | None:
    """A separate fence near exposed live parts, where a practice wants it bonded; no file states them."""
    found = _number(case, "live_parts_distance")
    if found is None:
        return None
    rule, least = found
    return Check(
        identity=f"live-parts-{slug(fence.name)}",
        title=f"Fence “{fence.name}”, distance from exposed live parts",
        verdict=Verdict.NOT_DECIDED,
        value=None,
        limit=least,
        unit="m",
        sense="min",
        clause=_cited(rule),
        method="not computed",
        governing=False,
        reason=(
            "exposed live parts, overhead conductors included, are not in the project file; measure from "
            f"them to the fence, and bond it where one is within {least:g} m"
        ),
    )


def _in(gate: Gate, own: Sequence[FencePiece], case: BoundaryCase) -> bool:
    piece = _metal_of(gate, case)
    return piece is not None and any(p.name == piece.name for p in own)


def _rods(case: BoundaryCase, fence: Fence) -> Check | None:
    """Rods of a separate fence: distance along the line between neighbours."""
    found = _number(case, "rod_spacing")
    if found is None or fence.owner == "neighbour":
        return None
    rule, most = found
    corners = [*fence.points_m, fence.points_m[0]] if fence.closed else list(fence.points_m)
    line = LineString(corners)
    marks = sorted(float(line.project(Point(p))) for p in fence.rods_m)
    if not marks:
        gaps = [float(line.length)]
    elif fence.closed:
        gaps = [b - a for a, b in zip(marks, [*marks[1:], marks[0] + line.length], strict=True)]
    else:
        gaps = [b - a for a, b in zip([0.0, *marks], [*marks, float(line.length)], strict=True)]
    bare = [
        p
        for p in fence.points_m
        if min((Point(p).distance(Point(r)) for r in fence.rods_m), default=99.0) > 3
    ]
    return Check(
        identity=f"rods-{slug(fence.name)}",
        title=f"Fence “{fence.name}”, way between its own rods",
        verdict=Verdict.FAIL if bare else compared(max(gaps) - 1e-6, most),
        value=max(gaps),
        limit=most,
        unit="m",
        clause=_cited(rule),
        method="plan geometry",
        reason=f"{len(bare)} corners or ends without a rod within 3 m" if bare else "",
    )


def _bonds(case: BoundaryCase, fence: Fence) -> Check | None:
    """Distance between the bonds of a bonded fence."""
    found = _number(case, "bond_spacing")
    if found is None:
        return None
    rule, most = found
    stated = fence.bond_spacing_m
    return Check(
        identity=f"bonds-{slug(fence.name)}",
        title=f"Fence “{fence.name}”, distance between its bonds",
        verdict=Verdict.NOT_DECIDED if stated is None else compared(stated, most),
        value=stated,
        limit=most,
        unit="m",
        clause=_cited(rule),
        method="project file against rule",
        reason="bond_spacing_m is not stated" if stated is None else "",
    )


def _inside_electrode(case: BoundaryCase, fence: Fence) -> Check | None:
    """How far the fence stands inside the rim of the electrode, where a practice asks for it."""
    found = _number(case, "inside_electrode")
    if found is None:
        return None
    rule, least = found
    value, place = _depth_inside(fence, _enclosed(case))
    return Check(
        identity=f"inside-{slug(fence.name)}",
        title=f"Fence “{fence.name}”, how far inside the rim of the electrode",
        verdict=Verdict.NOT_DECIDED if value is None else compared(value + 1e-6, least, "min"),
        value=value,
        limit=least,
        unit="m",
        sense="min",
        place=place,
        clause=_cited(rule),
        method="plan geometry",
        reason="the electrode encloses no ground" if value is None else "",
    )


def _enclosed(case: BoundaryCase) -> BaseGeometry:
    """The ground that the electrode encloses: the mats, and what rings of drawn conductors go round."""
    lines = [LineString(m) for m in case.metal_m if m[0] != m[1]]
    rings = shapely.polygonize([shapely.node(shapely.MultiLineString(lines))]) if lines else None
    mats = [Polygon(o) for o in case.outlines_m]
    return shapely.union_all([*mats, *(rings.geoms if rings is not None else ())])


def _depth_inside(fence: Fence, ground: BaseGeometry) -> tuple[float | None, Place | None]:
    """Least distance of a fence line from the rim, negative outside it, and where."""
    if ground.is_empty:
        return None, None
    line = LineString([*fence.points_m, fence.points_m[0]] if fence.closed else fence.points_m)
    beyond = line.difference(ground)
    spots = [Point(xy) for xy in shapely.get_coordinates(beyond.segmentize(_STEP_M))]
    off = [float(ground.distance(spot)) for spot in spots]
    if max(off, default=0.0) > 0.0:
        far = max(range(len(off)), key=lambda k: off[k])
        return -off[far], Place(spots[far].x, spots[far].y, fence.name)
    near = shapely.shortest_line(line, ground.boundary)
    x, y = near.coords[0]
    return float(near.length), Place(x, y, fence.name)


def _sections(case: BoundaryCase, fence: Fence, own: Sequence[FencePiece]) -> Check | None:
    """An insulated section is longer than a person's reach, unless both sides are at one potential."""
    found = _number(case, "section_length")
    if found is None:
        return None
    rule, least = found
    values = [case.of(p) for p in own]
    apart = max((abs(a - b) for a in values for b in values), default=0.0) * max(case.gpr_v.values())
    return Check(
        identity=f"section-{slug(fence.name)}",
        title=f"Fence “{fence.name}”, length of insulated sections",
        verdict=compared(fence.break_length_m, least, "min"),
        value=fence.break_length_m,
        limit=least,
        unit="m",
        sense="min",
        clause=_cited(rule),
        method="project file against rule",
        reason=f"up to {apart:.0f} V stand between its parts",
    )


def _metal_of(gate: Gate, case: BoundaryCase) -> FencePiece | None:
    return gate_piece(gate, case.pieces, case.installation.fences)


_NO_METAL = (
    "it stands in no fence of metal that is stated, so the potential of its leaf and posts is not known"
)


def _unjudged(gate: Gate) -> Check:
    """A gate between posts that are part of no piece of metal: its leaf may conduct all the same."""
    return Check(
        identity=f"touch-{slug(gate.name)}-swing",
        title=f"Touch voltage, {gate.name}, {_SIDES['swing']}",
        verdict=Verdict.NOT_DECIDED,
        value=None,
        limit=None,
        unit="V",
        clause="common practice",
        method="field solution",
        reason=_NO_METAL,
    )


def unjudged_gates(case: BoundaryCase) -> tuple[Finding, ...]:
    """A warning for every gate whose touch voltage could not be judged."""
    return tuple(
        Finding(
            "gate-unjudged",
            f"gate “{gate.name}”: {_NO_METAL}",
            "state the leaf and its posts as a short fence of their own, bonded or separate, and name it",
            Severity.WARNING,
            gate.path,
        )
        for gate in case.installation.gates
        if _metal_of(gate, case) is None
    )


def _gate(case: BoundaryCase, gate: Gate) -> Check:
    """Leaf to post, and post to post below the opening."""
    if _metal_of(gate, case) is None:
        return _unjudged(gate)
    rule = fence_rule(case.installation.practice, "gate_bond")
    verdict = {True: Verdict.PASS, False: Verdict.FAIL, None: Verdict.NOT_DECIDED}[gate.bonded]
    return Check(
        identity=f"gate-bond-{slug(gate.name)}",
        title=f"Gate “{gate.name}”, bonds missing",
        verdict=verdict,
        value=None if gate.bonded is None else int(not gate.bonded),
        limit=0,
        unit="",
        clause=_cited(rule) if rule is not None else "common practice",
        method="project file against rule",
        reason="bonded is not stated" if gate.bonded is None else "",
    )
