"""What would help when touch, step or a fence fails: each change computed on the real model, ranked.

Sits above :mod:`evenground.study`: it changes a project, computes the governing soil case again and
compares. Nothing here is a rule of thumb; a change that can not be computed is left out with its reason.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING

from evenground import _study_parts as parts
from evenground import _study_surroundings as around
from evenground._mitigation_changes import CHANGES, Change, Made
from evenground._mitigation_prospect import prospect
from evenground._study_cases import shocks_everywhere
from evenground._study_coupling import soil_coupling
from evenground._study_metal import solve_metal
from evenground._study_neighbours import neighbour_checks
from evenground._study_split import share_currents
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.errors import EvengroundError
from evenground.fault import fault_currents
from evenground.model.study import Verdict
from evenground.model.surroundings import CostBasis, Suggestion, Surroundings
from evenground.safety import field_doubt, judge
from evenground.schedules import design_of_project, extra_cost, placeholder_prices

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.model.study import Check, Study
    from evenground.model.surroundings import Boundary
    from evenground.schedules import Design, PriceList

__all__ = ["LARGEST", "needs_help", "with_suggestions"]

LARGEST = 3000
"""Sites with more segments than this are not computed again for suggestions."""
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class _Outcome:
    """Largest value over limit after a change, and whether every check of people passes."""

    touch: float
    step: float
    fence: float | None
    resistance_ohm: float
    passes: bool
    design: Design
    fence_name: str = ""

    @property
    def worst(self) -> float:
        return max(self.touch, self.step, self.fence or 0.0)

    @property
    def governs(self) -> str:
        """What is worst, in words."""
        parts = {"touch voltage": self.touch, "step voltage": self.step, self.fence_name: self.fence or 0.0}
        return max(parts, key=lambda name: parts[name])


def needs_help(study: Study) -> bool:
    """Whether touch, step or a fence fails."""
    return any(c.governing and c.verdict is Verdict.FAIL and _of_people(c) for c in study.checks)


def _of_people(check: Check) -> bool:
    own = check.identity.startswith(("touch-", "step-"))
    return own and not check.identity.endswith("-along")


def with_suggestions(
    study: Study, progress: Progress | None = None, *, prices: PriceList | None = None
) -> Study:
    """The study with what would help, best first; unchanged when nothing fails or the site is too large.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        As for the study; may raise CancelledError.
    prices : PriceList, optional
        For the cost of each change; left out: the placeholder prices of the program, named as such.
    """
    if not needs_help(study) or study.field.segments > LARGEST:
        return study
    tell = progress or (lambda text, done: None)
    prices = prices or placeholder_prices()
    before = _compute(study, study.project, 1.0, 1.0)
    rows = []
    for number, change in enumerate(CHANGES):
        tell(f"what would help: {change.name}", number / len(CHANGES))
        row = _try(study, change, before, prices)
        if row is not None:
            rows.append(row)
    tell("what would help", 1.0)
    rows = _ranked_per_cost(sorted(rows, key=lambda r: -r.helps))
    found = study.surroundings or Surroundings()
    found = replace(
        found,
        suggestions=tuple(rows),
        cost_basis=CostBasis(prices.currency, prices.date, prices.status, prices.source),
        prospect=prospect(study, rows, before.worst),
    )
    return replace(study, surroundings=found)


def _ranked_per_cost(rows: Sequence[Suggestion]) -> list[Suggestion]:
    """The rows with their rank by what each helps for its cost; what helps and costs nothing comes first."""

    def worth(row: Suggestion) -> float:
        cost = row.cost or 0.0
        return row.helps / cost if cost > 0.0 else inf

    known = sorted((r for r in rows if r.cost is not None and r.helps > 0.0), key=worth, reverse=True)
    rank = {r.name: n for n, r in enumerate(known, 1)}
    return [replace(r, rank_per_cost=rank.get(r.name)) for r in rows]


def _cost(made: Made, before: _Outcome, after: _Outcome, prices: PriceList) -> tuple[float | None, str]:
    """Difference of the bills, or why there is none."""
    if made.time != 1.0 or made.current != 1.0:
        return None, "protection, earth wires and sheaths are not in the bill"
    found = extra_cost(before.design, after.design, prices)
    return found.cost, "; ".join(found.missing)


def _try(study: Study, change: Change, before: _Outcome, prices: PriceList) -> Suggestion | None:
    """One change; None when it has no meaning for this project, or can not be computed."""
    made = change.apply(study)
    if made is None:
        return None
    try:
        after = _compute(study, made.project, made.current, made.time)
    except EvengroundError:
        return None
    cost, cost_remark = _cost(made, before, after, prices)
    return Suggestion(
        name=change.name,
        change=made.words,
        touch=after.touch,
        step=after.step,
        fence=after.fence,
        resistance_ohm=after.resistance_ohm,
        helps=1.0 - after.worst / before.worst,
        passes=after.passes,
        remark=change.remark,
        cost=cost,
        cost_remark=cost_remark,
        governs=after.governs,
    )


def _compute(study: Study, project: Project, current: float, time: float) -> _Outcome:
    """Touch, step and fences of one project in the governing soil.

    ``current`` scales the current through the mat, ``time`` the duration of the shock. Segments are
    refined only where every voltage is below its limit: elsewhere nothing can pass.
    """
    if time != 1.0:
        shorter = tuple(replace(f, shock_time_s=time * f.shock_time_s) for f in project.faults)
        project = replace(project, faults=shorter)
    faults = tuple(
        fault_currents(f, frequency_hz=project.frequency_hz, share_later=parts.share_later(project, f))
        for f in project.faults
    )
    conductors = {k: size_conductor(r, faults) for k, r in project.conductors.items()}
    radii_m = {k: c.radius_m for k, c in conductors.items()}
    layout = build_electrode(project.mats, project.rods, project.runs, radii_m, project.separate)
    layers = study.soil_used or study.soil.soil
    case = next((c.name for c in study.soil_cases if c.governs), "as surveyed")
    solved = solve_metal(project, layout, layers, conductors, segment_m=project.assessment.segment_m)
    near = soil_coupling(project.network, layout, layers, solved)
    faults, split = share_currents(project, faults, study.soil.soil, solved.resistance_ohm, near)
    gpr_v = {k: current * v for k, v in parts.potential_rise(faults, solved.resistance_ohm).items()}
    native = parts.native_resistivity(project, case, layers)
    safety = shocks_everywhere(project, layout, solved, faults, gpr_v, native)
    shocks = safety.shocks
    doubt = field_doubt(solved.summary) or parts.soil_doubt(study.soil)

    def boundary_with(error: float) -> Boundary:
        return around.boundary(
            project, layout, layers, solved, safety.limits, faults, gpr_v, error, doubt, split
        )

    def people_pass() -> bool:
        errors = parts.refinement_errors(project, layout, layers, conductors, solved, shocks)
        hand = parts.closed_form(layout, study.soil, layers, faults)
        settings = project.assessment
        checks = judge(
            shocks,
            safety.limits,
            solved.summary,
            conductors,
            faults,
            gpr_v,
            hand,
            settings,
            errors,
            doubt,
        )
        around_it = boundary_with(errors["touch"])
        near_by = neighbour_checks(shocks, around_it.shocks, split, faults, errors["touch"], doubt)
        return _all_pass((*checks, *around_it.checks, *near_by))

    worst = {
        quantity: max(s.value_v / s.limit_v for s in shocks if s.quantity == quantity)
        for quantity in ("touch", "step")
    }
    fence, name = _fences(boundary_with(0.0))
    outcome = _Outcome(
        worst["touch"],
        worst["step"],
        fence,
        solved.resistance_ohm,
        passes=False,
        design=design_of_project(project, conductors),
        fence_name=name,
    )
    return outcome if outcome.worst > 1.0 else replace(outcome, passes=people_pass())


def _all_pass(checks: Sequence[Check]) -> bool:
    """Whether touch, step and fences all pass; one that is not decided does not."""
    return all(c.verdict is Verdict.PASS for c in checks if c.governing and _of_people(c))


def _fences(found: Boundary) -> tuple[float | None, str]:
    """Largest touch voltage at fences and gates over its limit, and at which; None without any."""
    worst = max(found.touched, key=lambda t: t.value_v / t.limit_v, default=None)
    return (None, "") if worst is None else (worst.value_v / worst.limit_v, f"{worst.name}, {worst.side}")
