"""Check of touch voltages with what earths near the mat may add at single places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from evenground.model.study import Check, Verdict
from evenground.safety import margin_doubt, without_offset

if TYPE_CHECKING:
    from evenground.model.fault import FaultResult
    from evenground.model.network import ScenarioSplit
    from evenground.model.study import ShockResult

__all__ = ["neighbour_checks"]


def neighbour_checks(
    at_mat: Sequence[ShockResult],
    at_boundary: Sequence[ShockResult],
    splits: Sequence[ScenarioSplit],
    faults: Sequence[FaultResult],
    error: float,
    doubt: str,
) -> tuple[Check, ...]:
    """Whether every touch voltage passes with the bound of what neighbours add; none without placed earths.

    By superposition a touch voltage is that of the mat's own current plus what every neighbour's current
    gives between the metal and the ground there. The first is in proportion to the mat's own rise; the
    second is at most how unevenly the neighbours lift the ground. The fault place of the largest rise and
    those at placed towers are looked at.

    Parameters
    ----------
    at_mat, at_boundary : sequence of ShockResult
        At bonded metal and separate electrodes, and at fences, gates and services.
    error : float
        Relative discretisation error of the touch voltage.
    doubt : str
        Why nothing can be decided; empty when it can.
    """
    rows = list(_with_neighbours(at_mat, at_boundary, splits, faults))
    if not rows:
        return ()
    shock, value = max(rows, key=lambda row: row[1] / row[0].limit_v)
    reason = doubt
    if not reason and value > shock.limit_v:
        reason = (
            f"{shock.value_v:.0f} V as found; with the bound of what neighbouring earths add it is above its "
            "limit, and whether they add so much is not computed"
        )
    if not reason:
        values = ((s.scenario, v, s.limit_v) for s, v in rows)
        reason = margin_doubt(values, error, without_offset(faults))
    return (
        Check(
            identity="touch-beside-neighbours",
            title="Touch voltages with the bound of what neighbouring earths add",
            verdict=Verdict.NOT_DECIDED if reason else Verdict.PASS,
            value=value,
            limit=shock.limit_v,
            unit="V",
            place=shock.place,
            scenario=shock.scenario,
            clause="Superposition in a linear earth",
            method="field solution",
            reason=reason or "what is above its limit without it is not in here",
        ),
    )


def _with_neighbours(
    at_mat: Sequence[ShockResult],
    at_boundary: Sequence[ShockResult],
    splits: Sequence[ScenarioSplit],
    faults: Sequence[FaultResult],
) -> Iterator[tuple[ShockResult, float]]:
    by_name = {f.scenario.name: f for f in faults}
    for split in splits:
        effect, fault = split.coupling, by_name[split.scenario]
        if effect is None:
            continue
        times, used = fault.decrement_shock, max(effect.gpr_v, effect.mat_alone_v)
        governing = (effect.mat_alone_v, effect.uneven * effect.gpr_v, effect.uneven_fences * effect.gpr_v)
        rows = [governing, *((n.mat_alone_v, n.uneven_v, n.uneven_fences_v) for n in effect.nearby)]
        at_mats = [(own, lift) for own, lift, _ in rows]
        at_fences = [(own, max(lift, other)) for own, lift, other in rows]
        for shock, faults_v in (*((s, at_mats) for s in at_mat), *((s, at_fences) for s in at_boundary)):
            held = shock.value_v <= shock.limit_v  # what is above its limit fails by itself
            if held and used and shock.scenario == split.scenario and shock.quantity == "touch":
                unit = shock.value_v / (times * used)
                worst = max(times * (unit * own + lift) for own, lift in faults_v)
                yield shock, max(worst, shock.value_v)
