"""Connections as checks and findings."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from evenground.errors import Finding, Severity
from evenground.model.electrode import Electrode
from evenground.model.installation import EquipmentItem
from evenground.model.study import Check, Verdict
from evenground.model.surroundings import Connection, RiserDuty

__all__ = ["judge_connections", "undrawn_rods"]

NEAR_M = 3.0
"""A rod this near to a piece of equipment counts as its own. [m]"""


def judge_connections(
    rows: Sequence[Connection], duties: Sequence[RiserDuty]
) -> tuple[tuple[Check, ...], tuple[Finding, ...]]:
    """One check over all rules, one for each kind of lead, and a finding for each shortcoming."""
    if not rows:
        return (), ()
    checks = [_rules(rows), *(_lead(d) for d in duties)]
    return tuple(checks), tuple(_finding(r) for r in rows if r.outcome != "kept")


def _rules(rows: Sequence[Connection]) -> Check:
    broken = [r for r in rows if r.outcome == "broken"]
    unstated = [r for r in rows if r.outcome == "not stated"]
    items = len({r.path[:2] or (r.tag,) for r in rows})
    verdict = Verdict.FAIL if broken else Verdict.NOT_DECIDED if unstated else Verdict.PASS
    reason = f"{items} items, {len(rows)} rules"
    if broken:
        tags = list(dict.fromkeys(r.tag for r in broken))
        reason += f"; not kept at {', '.join(tags[:6])}{' and others' if len(tags) > 6 else ''}"
    if unstated:
        tags = list(dict.fromkeys(r.tag for r in unstated))
        reason += f"; not stated for {', '.join(tags[:6])}{' and others' if len(tags) > 6 else ''}"
    return Check(
        identity="connections",
        title="Connections of equipment, rules not kept",
        verdict=verdict,
        value=len(broken) + len(unstated),
        limit=0,
        unit="",
        clause="Rules with their sources in the table of connections",
        method="equipment list against rules",
        reason=reason,
    )


def _lead(duty: RiserDuty) -> Check:
    decided = duty.area_mm2 is not None
    held = duty.area_mm2 is not None and duty.area_mm2 >= duty.needed_mm2
    return Check(
        identity=f"lead-{duty.conductor}-{duty.joint}".replace(" ", "-"),
        title=f"Lead “{duty.conductor}”, {duty.joint} joint, full current",
        verdict=(Verdict.PASS if held else Verdict.FAIL) if decided else Verdict.NOT_DECIDED,
        value=duty.area_mm2,
        limit=duty.needed_mm2,
        unit="mm2",
        sense="min",
        scenario=duty.scenario,
        clause="Thermal equation at the full current; either of two connections may be the one that is left",
        method="thermal equation and corrosion",
        reason=(
            f"{len(duty.items)} items; final temperature {duty.final_temperature_c:.0f} °C, limited by "
            f"{duty.limited_by}"
            if decided
            else "no section stated and no stock size is large enough"
        ),
    )


def undrawn_rods(items: Sequence[EquipmentItem], electrode: Electrode) -> tuple[Finding, ...]:
    """One note when own rods of the equipment list are not part of the electrode that was computed."""
    rods = [c.start_m for c in electrode if c.kind == "rod"]
    bare = [
        i
        for i in items
        if i.electrodes and not any(hypot(x - i.x_m, y - i.y_m) <= NEAR_M for x, y, _ in rods)
    ]
    if not bare:
        return ()
    tags = [i.tag or i.kind for i in bare]
    shown = ", ".join(tags[:8]) + (f" and {len(tags) - 8} others" if len(tags) > 8 else "")
    text = (
        f"own rods by the equipment list that are not drawn within {NEAR_M:g} m: {shown}; "
        "results leave them out"
    )
    return (
        Finding(
            "rods-not-drawn",
            text,
            "draw them under rods when they are to count; more metal never raises the resistance",
            Severity.NOTE,
            bare[0].path,
        ),
    )


def _finding(row: Connection) -> Finding:
    """A shortcoming in words, with what would be right."""
    word = {
        "broken": "rule not kept",
        "not stated": "rule that can not be judged",
        "advice": "advice not followed",
    }
    drawn = f"{row.drawn} drawn" if row.drawn.isdigit() else row.drawn
    return Finding(
        code=f"connection-{row.outcome.replace(' ', '-')}",
        message=f"{row.tag} ({row.kind}): {word[row.outcome]}: {row.rule}; {drawn}",
        advice=f"{row.wanted}; {row.source}" + (", from memory" if row.evidence == "from memory" else ""),
        severity=Severity.NOTE if row.outcome == "advice" else Severity.WARNING,
        path=row.path,
    )
