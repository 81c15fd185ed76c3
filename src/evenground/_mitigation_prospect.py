"""Whether a site can ever pass, in words: what the fullest plot gives, and what is left when that fails."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evenground._mitigation_changes import FULL
from evenground._mitigation_plot import least_resistance, plot_of

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.model.surroundings import Suggestion

__all__ = ["prospect"]

PLOT = "The plot is taken as the mats and the ground inside own closed fences; more land is another answer."


def prospect(study: Study, rows: Sequence[Suggestion], before: float) -> tuple[str, ...]:
    """Sentences on whether metal and cover inside the plot can bring touch, step and fences below limits.

    Parameters
    ----------
    study : Study
    rows : sequence of Suggestion
        Every change computed.
    before : float
        Largest value over limit of the present design.

    Returns
    -------
    tuple of str
        Empty without a mat, or when no full plot could be computed.
    """
    full = [r for r in rows if r.name.startswith(FULL)]
    metal = [r for r in full if "," not in r.name]
    plot = plot_of(study.project)
    if not metal or plot is None:
        return ()
    best = min(metal, key=_worst)
    lines = [_answer(best, before), PLOT]
    if not best.passes:
        rest = next((r for r in full if r not in metal), None)
        lines.append(_what_is_left(best, rest))
    lines.append(_bound(study, least_resistance(plot, study.soil_used or study.soil.soil)))
    return tuple(lines)


def _worst(row: Suggestion) -> float:
    return max(row.touch, row.step, row.fence or 0.0)


def _answer(best: Suggestion, before: float) -> str:
    reached = f"{100 * _worst(best):.0f} % of the limit ({best.governs}; now {100 * before:.0f} %)"
    if best.passes:
        return f"Metal and cover in the plot can be enough: {best.change}: {reached}."
    if _worst(best) <= 1.0:
        return (
            f"Whether metal and cover inside the plot can be enough is not decided: {best.change}: {reached}."
        )
    return f"Metal and cover in the plot are not enough: even {best.change}: {reached}."


def _what_is_left(best: Suggestion, rest: Suggestion | None) -> str:
    left = 100 / max(_worst(best), 1.0)
    text = (
        f"With all of that, the current through the mat would have to fall to {left:.0f} % of the present "
        "one (voltages go with the current), or the fault be cleared faster, or the plot grow."
    )
    if rest is not None:
        held = "below every limit" if rest.passes else f"{100 * _worst(rest):.0f} % of the limit"
        text += f" With half the time and a quarter less current besides: {held}."
    return text


def _bound(study: Study, least_ohm: float) -> str:
    """What no arrangement of metal can undercut, from the half sphere round the plot."""
    currents = {f.scenario.name: f.grid_current_a for f in study.faults}
    most = max(currents.values(), default=0.0)
    return (
        f"A bound: no metal in this plot, down to the depth of these rods, has less than {least_ohm:.2g} Ω "
        "(the half sphere round all of it, of metal, in soil of the least resistivity of the model). At the "
        f"present current the potential rise therefore stays above {most * least_ohm:.0f} V."
    )
