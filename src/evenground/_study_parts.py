"""Small pieces that :mod:`evenground.study` joins the stages with; no rule of the trade lives here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground._study_coverage import CONNECTIONS_OPEN, FENCES_OPEN, TRANSFER_OPEN, settled_subjects
from evenground._study_field import shortest_segment_m
from evenground._study_lightning import lightning_open
from evenground._study_metal import solve_metal
from evenground._study_split_findings import split_open
from evenground.errors import Finding, Severity
from evenground.model.study import Check, ClosedFormResult, Verdict
from evenground.provenance import recording
from evenground.standards import circuit, ieee80_limits, ieee80_mat

if TYPE_CHECKING:
    from evenground._study_field import SolvedMetal
    from evenground.model.conductor import ConductorResult
    from evenground.model.fault import FaultResult, FaultScenario
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.project import Project
    from evenground.model.soil import LayeredSoil, SoilResult
    from evenground.model.study import FieldSummary, ShockResult

THIN_TOP_M = 0.5
"""A top layer thinner than this does not fill the ground that a foot presses on (a foot of 0.08 m radius
reaches a few times its size; common practice)."""

WORST_SOIL_MISFIT = 0.25
"""Largest rms misfit of the soil model that can carry a pass (common practice: scatter of readings taken
with care is below 10 %)."""

MOST_REFINED = 6000
"""Largest number of segments of the refined solution."""

UNIFORM_ENOUGH = 0.30
"""Largest rms residual of the uniform model for which hand formulas for uniform soil are shown.
IEEE Std 80-2013, 13.4.1, allows the uniform model for moderate variation; the figure is common
practice."""

SEASON_OPEN = "Seasonal change of the soil (dry, frozen, wet top layer) and later earthworks"
METAL_OPEN = "Voltage drop along the metal: all metal is taken at one potential"
METAL_STATED = "Metal that carries the potential of one part of the site to another (cable screens, rails)"
SEASON_STATED = "Seasons of the soil other than those stated"

NOT_CHECKED = (
    (
        "current-split",
        "Current split between mat, earth wires, cable sheaths and neutrals: the split factor is an input",
    ),
    ("fence", FENCES_OPEN),
    ("transferred", TRANSFER_OPEN),
    ("equipotential", METAL_OPEN),
    ("season", SEASON_OPEN),
    ("cover", "Condition of the surface cover over the years (fouled, thinned, wet beyond the stated value)"),
    ("lightning", "Lightning shielding, surge arrester leads and impulse behaviour"),
    ("connections", CONNECTIONS_OPEN),
    ("buildings", "Buildings, gas-insulated switchgear, reactors and other metal not in the model"),
    ("uncertainty", "Spread of the inputs: results hold for the values stated"),
    ("backup", "Shock during back-up clearing and reclosing, unless entered as a scenario"),
)


def extent_m(project: Project) -> float | None:
    """Largest plan dimension of the drawn metal. [m]"""
    points = [p for m in project.mats for p in m.outline_m]
    points += [p for r in project.runs for p in r.points_m] + [p for r in project.rods for p in r.at_m]
    if len(points) < 2:
        return None
    xs, ys = zip(*points, strict=True)
    return hypot(max(xs) - min(xs), max(ys) - min(ys)) or None


def potential_rise(faults: Sequence[FaultResult], resistance_ohm: float) -> dict[str, float]:
    """Earth potential rise of each scenario. [V]"""
    rise = {}
    for fault in faults:
        with recording(fault.scenario.name):
            current = fault.grid_current_a  # zero when every source of the fault is local
            alone = circuit.ground_potential_rise(current, resistance_ohm) if current > 0.0 else 0.0
            lifted = alone and fault.soil_rise != 1.0
            rise[fault.scenario.name] = (
                circuit.lifted_potential_rise(alone, fault.soil_rise) if lifted else alone
            )
    return rise


def native_resistivity(project: Project, case: str, layers: LayeredSoil) -> float:
    """Resistivity under the feet where no cover lies. [ohm m]

    A stated value changes with the season like the soil itself. A top layer thinner than
    ``THIN_TOP_M`` that is more resistive than what lies below counts like a cover, by the layer factor
    of IEEE Std 80.
    """
    stated = project.assessment.native_resistivity_ohm_m
    if stated is not None:
        return stated * next((s.factor for s in project.seasons if s.name == case), 1.0)
    top = layers.resistivities_ohm_m[0]
    if layers.layers > 1 and layers.thicknesses_m[0] < THIN_TOP_M and top > layers.resistivities_ohm_m[1]:
        with recording("thin top layer"):
            below = layers.resistivities_ohm_m[1]
            return top * ieee80_limits.surface_factor(below, top, layers.thicknesses_m[0])
    return top


def soil_doubt(soil: SoilResult) -> str:
    """Why the soil model can not carry a pass; empty when it can."""
    used = [r.residual for r in soil.readings if r.used and np.isfinite(r.residual)]
    if not used:
        return ""
    rms = float(np.sqrt(np.mean(np.square(used))))
    if rms <= WORST_SOIL_MISFIT:
        return ""
    return (
        f"the soil model misses the readings by {rms:.0%} rms (at most {WORST_SOIL_MISFIT:.0%}); "
        "take more layers or more readings"
    )


def refinement_errors(
    project: Project,
    layout: ElectrodeLayout,
    layers: LayeredSoil,
    conductors: Mapping[str, ConductorResult],
    solved: SolvedMetal,
    shocks: Sequence[ShockResult],
) -> dict[str, float]:
    """Relative error of touch, step and resistance from halved segments, at the worst places found.

    Halving moves the answer by more than what is left of the error, so the change itself is a cautious
    estimate; it counts when it makes a voltage larger, and as well when it makes it smaller. Sites too
    large to be solved twice, and metal too thick to be cut more finely, take the error of the resistance,
    tenfold.
    """
    field = solved.summary
    finer_m = max(field.longest_segment_m / 2, shortest_segment_m(layout))
    if 2 * field.segments > MOST_REFINED or finer_m > 0.8 * field.longest_segment_m:
        return rough_errors(field)
    fine = solve_metal(project, layout, layers, conductors, segment_m=finer_m)
    finer = fine.resistance_ohm / solved.resistance_ohm
    errors = {"resistance": abs(finer - 1)}
    for quantity in ("touch", "step"):
        change = 0.0
        for shock in (s for s in shocks if s.quantity == quantity):
            coarse, refined = unit_shock(solved, shock), unit_shock(fine, shock)
            change = max(change, abs(finer * refined / coarse - 1))
        errors[quantity] = change
    return errors


def rough_errors(field: FieldSummary) -> dict[str, float]:
    """Relative errors of touch, step and resistance without a second solution: a cautious estimate."""
    relative = field.resistance_error_ohm / field.resistance_ohm
    return dict.fromkeys(("touch", "step"), 10 * relative) | {"resistance": relative}


def unit_shock(solved: SolvedMetal, shock: ShockResult) -> float:
    """Touch or step voltage at one place for one volt of potential rise."""
    surface = solved.surface
    x, y = shock.place.x_m, shock.place.y_m
    if shock.metal:
        touch = solved.separate_touch.get(shock.metal)
        if touch is not None:
            return float(touch(np.array([x]), np.array([y]))[0])
        return float(abs(solved.shares[shock.metal] - surface(np.array([x]), np.array([y]))[0]))
    if shock.direction_deg is None:
        return float(surface.touch_at(np.array([x]), np.array([y]))[0])
    hx, hy = 0.5 * np.cos(np.radians(shock.direction_deg)), 0.5 * np.sin(np.radians(shock.direction_deg))
    return float(surface.between(*(np.array([v]) for v in (x - hx, y - hy, x + hx, y + hy)))[0])


def closed_form(
    layout: ElectrodeLayout, soil: SoilResult, layers: LayeredSoil, faults: Sequence[FaultResult]
) -> ClosedFormResult:
    """Hand formulas for the mat in uniform soil, each None with a reason outside its range."""
    resistivity, doubt = _uniform_resistivity(soil, layers)
    names = [f.scenario.name for f in faults]
    measures = layout.measures
    if measures is None:
        why = "there is no mat; the formulas describe a meshed mat"
        nothing = dict.fromkeys(names)
        return ClosedFormResult(
            resistivity, {}, {}, nothing, dict(nothing), {"mesh": why, "step": why, "resistance": why}
        )
    geometry = ieee80_mat.MatGeometry(
        area_m2=measures.area_m2,
        perimeter_m=measures.perimeter_m,
        max_x_m=measures.extent_x_m,
        max_y_m=measures.extent_y_m,
        max_distance_m=measures.diagonal_m,
        conductor_length_m=measures.conductor_length_m,
        rod_count=measures.rod_count,
        rod_length_m=measures.rod_length_m,
        total_rod_length_m=measures.rod_count * measures.rod_length_m,
        rod_diameter_m=measures.rod_diameter_m,
        rods_on_perimeter=measures.rods_on_edge,
        spacing_m=measures.spacing_m,
        depth_m=measures.depth_m,
        diameter_m=measures.diameter_m,
    )
    with recording("hand formulas"):
        return _evaluate(geometry, resistivity, doubt or "; ".join(measures.limits), faults)


def _evaluate(
    geometry: ieee80_mat.MatGeometry, resistivity: float, doubt: str, faults: Sequence[FaultResult]
) -> ClosedFormResult:
    resistances = ieee80_mat.mat_resistances(geometry, resistivity)
    reasons = dict(resistances.reasons)
    mesh: dict[str, float | None] = {}
    step: dict[str, float | None] = {}
    factors: dict[str, float] = {}
    for fault in faults:
        row = ieee80_mat.mesh_and_step_voltage(geometry, resistivity, fault.grid_current_a)
        factors = dict(row.factors)
        mesh[fault.scenario.name] = None if doubt else row.mesh_v
        step[fault.scenario.name] = None if doubt else row.step_v
        reasons |= {k: v for k, v in row.reasons.items() if v}
    if doubt:
        reasons |= {"mesh": doubt, "step": doubt}
    return ClosedFormResult(resistivity, dict(resistances.values_ohm), factors, mesh, step, reasons)


def _uniform_resistivity(soil: SoilResult, layers: LayeredSoil) -> tuple[float, str]:
    """Resistivity for hand formulas, and why they should not be relied on (empty: they may)."""
    if layers.layers == 1:
        return layers.resistivities_ohm_m[0], ""
    if layers != soil.soil:
        return layers.resistivities_ohm_m[
            0
        ], "the soil of this case is layered; the formulas are for uniform soil"
    for candidate in soil.candidates:
        if candidate.soil.layers == 1:
            doubt = (
                ""
                if candidate.rms <= UNIFORM_ENOUGH
                else f"the soil is layered (a uniform model misses the readings by {candidate.rms:.0%} rms); "
                "the formulas are for uniform soil"
            )
            return candidate.soil.resistivities_ohm_m[0], doubt
    return soil.soil.resistivities_ohm_m[0], "the soil is layered and no uniform model was fitted"


def findings(
    project: Project,
    soil: SoilResult,
    faults: Sequence[FaultResult],
    conductors: Mapping[str, ConductorResult],
    layout: ElectrodeLayout,
    checks: Sequence[Check],
) -> tuple[Finding, ...]:
    """Every warning of every stage, as findings with the place in the project file."""
    rows = list(project.warnings)
    rows += [_warning("soil", text, ("soil",)) for text in soil.warnings]
    rows += [Finding("soil-advice", t, severity=Severity.NOTE, path=("soil",)) for t in soil.advice]
    for fault in faults:
        rows += [
            _warning("fault", f"{fault.scenario.name}: {text}", fault.scenario.path)
            for text in fault.warnings
        ]
    for key, row in conductors.items():
        rows += [_warning("conductor", f"{key}: {text}", row.request.path) for text in row.warnings]
    rows += [_warning("layout", text, ("mats",)) for text in layout.warnings]
    rows += [Finding("layout", text, severity=Severity.NOTE, path=("mats",)) for text in layout.notes]
    return (*rows, *_disagreement(checks))


def _warning(code: str, text: str, path: tuple[str | int, ...]) -> Finding:
    return Finding(code=code, message=text, severity=Severity.WARNING, path=path)


def _disagreement(checks: Sequence[Check]) -> list[Finding]:
    """A finding when hand formula and field solution come to different answers."""
    decided = {Verdict.PASS, Verdict.FAIL}
    field_fails = any(c.verdict is Verdict.FAIL for c in checks if c.identity.startswith("touch-"))
    rows = []
    for check in checks:
        if check.identity == "closed-form-mesh" and check.verdict in decided:
            hand_fails = check.verdict is Verdict.FAIL
            if hand_fails != field_fails:
                text = (
                    "hand formula and field solution disagree about touch voltage; the field solution "
                    "decides, since it takes the real layout and soil"
                )
                rows.append(Finding("methods-disagree", text, severity=Severity.NOTE))
    return rows


def share_later(project: Project, fault: FaultScenario) -> bool:
    """Whether the network decides which share of this fault's current the mat takes."""
    network = project.network
    if network is None:
        return False
    return not fault.split_stated or any(network.contributions(fault.fault_name))


def not_checked(project: Project, *, computed_split: bool = False) -> tuple[str, ...]:
    """What this study does not cover, with what the engineer declared about it."""
    declared = {d.subject.lower(): d for d in project.declarations}
    settled = settled_subjects(project)
    texts = dict(NOT_CHECKED)
    if project.seasons:
        texts["season"] = SEASON_STATED
    if project.assessment.entry_points:
        texts["equipotential"] = METAL_STATED
    if project.lightning is not None:
        texts["lightning"] = lightning_open(project.lightning)
    if computed_split:
        texts["current-split"] = split_open(project.network)
    rows = [settled.get(text, text) for text in texts.values()]
    rows = [text for text in rows if text]
    for declaration in declared.values():
        by = f" by {declaration.by}" if declaration.by else ""
        why = f": {declaration.reason}" if declaration.reason else ""
        rows.append(f"{declaration.subject} — declared {declaration.status}{by}{why}")
    return tuple(rows)


def quantities(layout: ElectrodeLayout) -> dict[str, Any]:
    """Lengths and counts of what is drawn. [m, -]"""
    electrode = layout.electrode
    rods = electrode.of_kind("rod")
    return {
        "mat_conductor_m": electrode.of_kind("mat").total_length_m,
        "run_conductor_m": electrode.of_kind("run").total_length_m,
        "rods": len(rods),
        "rod_length_m": rods.total_length_m,
        "joints_horizontal": layout.joints,
        "area_m2": layout.measures.area_m2 if layout.measures else 0.0,
    }
