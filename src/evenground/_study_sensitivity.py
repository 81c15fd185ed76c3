"""Other soil, current, time, cover and depth: what they would do to the margins of a finished study.

Voltages are proportional to the current, and in soil whose layers all change by one factor the pattern of
potentials stays as it is; there the answer follows without a new solution. Where the pattern changes the
field is solved again, and the voltages are taken at the worst places of the study.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from evenground import _study_parts as parts
from evenground._study_coupling import at_resistance, soil_coupling
from evenground._study_metal import solve_metal
from evenground._study_split import share_currents
from evenground.electrode import build_electrode
from evenground.errors import EvengroundError, InputError
from evenground.fault import fault_currents
from evenground.model.sensitivity import SensitivityRow
from evenground.safety import ZoneIndex, zone_limits

if TYPE_CHECKING:
    from evenground._study_field import SolvedMetal
    from evenground.model.coupling import SoilCoupling
    from evenground.model.fault import FaultResult
    from evenground.model.project import Project
    from evenground.model.soil import LayeredSoil
    from evenground.model.study import Study

__all__ = ["with_sensitivity"]

MOST_SEGMENTS = 3000
"""Larger sites are not solved again for this chapter."""
SOIL_FACTOR = 1.5
CURRENT_FACTORS = (0.8, 1.2)
TIME_FACTORS = (0.5, 2.0)
COVER_FACTORS = (0.3, 0.5, 2.0)
THICKNESS_FACTORS = (0.5,)
DEPTH_FACTORS = (0.75, 1.25)
EXACT, LIMITS, SOLVED = "exact", "limits", "solved again"

Solved = tuple["SolvedMetal", "SoilCoupling | None"]
"""The field of a changed site, and its coupling with placed earths."""
Unit = Mapping[tuple[str, str, str, str], float]
"""Voltage for one volt of potential rise by quantity, zone, scenario and metal."""


@dataclass(frozen=True)
class _Base:
    """The study as it stands, in the terms of this chapter."""

    study: Study
    project: Project
    soil: LayeredSoil
    case: str
    faults: tuple[FaultResult, ...]
    unit: Unit
    coupling: SoilCoupling | None = None

    @property
    def resistance_ohm(self) -> float:
        return self.study.field.resistance_ohm


def with_sensitivity(study: Study) -> Study:
    """The study with its field ``sensitivity``: one row as designed, then one for each change.

    Raises
    ------
    CancelledError
        When stopped. A change whose outcome can not be computed is a row without numbers and with the
        reason.
    """
    base = _base(study)
    if base is None:
        return study
    rows = [_row(base, "as designed", "", EXACT, base.project, base.soil, base.faults)]
    rows += _currents(base)
    rows += _times(base)
    rows += _covers(base)
    rows += _soils(base)
    rows += _depths(base)
    return replace(study, sensitivity=tuple(rows))


def _base(study: Study) -> _Base | None:
    unit = {
        (s.quantity, s.zone, s.scenario, s.metal): s.value_v / study.gpr_v[s.scenario]
        for s in study.shocks
        if study.gpr_v.get(s.scenario, 0.0) > 0
    }
    if not unit:
        return None
    case = next((c.name for c in study.soil_cases if c.governs), "as surveyed")
    soil = study.soil_used or study.soil.soil
    near = next((row.coupling.coupling for row in study.split if row.coupling), None)
    return _Base(study, study.project, soil, case, _faults(study.project), unit, near)


def _faults(project: Project) -> tuple[FaultResult, ...]:
    """Fault currents before the network has shared them out."""
    return tuple(
        fault_currents(f, frequency_hz=project.frequency_hz, share_later=parts.share_later(project, f))
        for f in project.faults
    )


def _row(
    base: _Base,
    subject: str,
    change: str,
    method: str,
    project: Project,
    soil: LayeredSoil,
    faults: Sequence[FaultResult],
    *,
    resistance_ohm: float | None = None,
    unit: Unit | None = None,
    current: float = 1.0,
    coupling: SoilCoupling | None = None,
) -> SensitivityRow:
    """Evaluate one change; what can not be computed is stated with its reason."""
    resistance = base.resistance_ohm if resistance_ohm is None else resistance_ohm
    try:
        shared = base.study.faults
        if faults is not base.faults or resistance != base.resistance_ohm:
            near = coupling or _scaled_coupling(base, resistance)
            shared, _ = share_currents(project, faults, base.study.soil.soil, resistance, near)
        rise = {k: current * v for k, v in parts.potential_rise(shared, resistance).items()}
        native = parts.native_resistivity(project, base.case, soil)
        limits = zone_limits(ZoneIndex(project.surface).zones, shared, project.assessment, native)
    except (EvengroundError, ValueError) as error:
        if isinstance(error, InputError):
            error = ValueError(error.findings[0].message)
        return SensitivityRow(subject, change, resistance, None, None, None, method, str(error))
    by_key = {(x.zone, x.scenario): x for x in limits}
    worst: dict[str, float] = {}
    doubts: set[str] = set()
    for (quantity, zone, scenario, _metal), volts in (unit or base.unit).items():
        limit = by_key[zone, scenario]
        bound = limit.touch_v if quantity == "touch" else limit.step_v
        doubts |= {limit.outside if quantity == "touch" else limit.step_outside} - {""}
        worst[quantity] = max(worst.get(quantity, 0.0), volts * rise[scenario] / bound)
    return SensitivityRow(
        subject,
        change,
        resistance,
        max(rise.values()),
        worst.get("touch"),
        worst.get("step"),
        method,
        "; ".join(sorted(doubts)),
    )


def _scaled_coupling(base: _Base, resistance_ohm: float) -> SoilCoupling | None:
    """Coupling of the study with the mat's resistance changed with all soil. [ohm]"""
    factor = resistance_ohm / base.resistance_ohm
    return at_resistance(base.coupling, resistance_ohm, mutual_factor=factor)


def _times_text(factor: float) -> str:
    return f"× {factor:g}" if factor != 1 / SOIL_FACTOR else f"÷ {SOIL_FACTOR:g}"


def _currents(base: _Base) -> list[SensitivityRow]:
    return [
        _row(base, "fault currents", _times_text(f), EXACT, base.project, base.soil, base.faults, current=f)
        for f in CURRENT_FACTORS
    ]


def _times(base: _Base) -> list[SensitivityRow]:
    rows = []
    for factor in TIME_FACTORS:
        faults = []
        for f in base.project.faults:
            time_s = factor * f.shock_time_s
            faults.append(replace(f, shock_time_s=time_s, thermal_time_s=max(f.thermal_time_s, time_s)))
        project = replace(base.project, faults=tuple(faults))
        rows.append(
            _row(
                base,
                "clearing times",
                _times_text(factor),
                LIMITS,
                project,
                base.soil,
                _faults(project),
            )
        )
    return rows


def _covers(base: _Base) -> list[SensitivityRow]:
    if all(z.resistivity_ohm_m is None for z in base.project.surface):
        return []

    def with_cover(resistivity: float, thickness: float) -> Project:
        zones = tuple(
            z
            if z.resistivity_ohm_m is None
            else replace(
                z, resistivity_ohm_m=resistivity * z.resistivity_ohm_m, thickness_m=thickness * z.thickness_m
            )
            for z in base.project.surface
        )
        return replace(base.project, surface=zones)

    bare = replace(
        base.project,
        surface=tuple(replace(z, resistivity_ohm_m=None, thickness_m=0.0) for z in base.project.surface),
    )
    cases = [("resistivity of the cover", _times_text(f), with_cover(f, 1.0)) for f in COVER_FACTORS]
    cases += [("thickness of the cover", _times_text(f), with_cover(1.0, f)) for f in THICKNESS_FACTORS]
    cases.append(("the cover", "none", bare))
    return [_row(base, s, c, LIMITS, project, base.soil, base.faults) for s, c, project in cases]


def _scaled(soil: LayeredSoil, factor: float, layers: int | None = None) -> LayeredSoil:
    """The soil with its first layers (all: None) changed by a factor."""
    count = soil.layers if layers is None else layers
    values = tuple(r * factor if i < count else r for i, r in enumerate(soil.resistivities_ohm_m))
    return replace(soil, resistivities_ohm_m=values)


def _pattern_stays(study: Study) -> bool:
    """Whether scaling all soil leaves the pattern of potentials as it is: nothing but soil resists."""
    return (
        study.metal_drop is None
        and not any(item.links for item in study.project.separate)
        and not any(c.embedding for c in (*study.electrode, *study.separate_metal))
    )


def _soils(base: _Base) -> list[SensitivityRow]:
    factors = (1 / SOIL_FACTOR, SOIL_FACTOR)
    rows = [_whole_soil(base, "soil, all layers", f, base.soil, None) for f in factors]
    if base.soil.layers == 1:
        return rows
    top, below = [], []
    for factor in factors:
        soil = _scaled(base.soil, factor, 1)
        solved = _solve(base, base.project, soil)
        top.append(_solved_row(base, "soil, top layer", _times_text(factor), base.project, soil, solved))
        # the soil below changed by 1/f is this soil changed as a whole by 1/f
        below.append(_whole_soil(base, "soil, below the top layer", 1 / factor, soil, solved))
    return [*rows, *top, *reversed(below)]


def _whole_soil(
    base: _Base, subject: str, factor: float, soil: LayeredSoil, solved: Solved | str | None
) -> SensitivityRow:
    """One soil changed as a whole; ``solved`` is its own solution, None: the study."""
    changed, change = _scaled(soil, factor), _times_text(factor)
    if not _pattern_stays(base.study):
        again = _solve(base, base.project, changed)
        return _solved_row(base, subject, change, base.project, changed, again)
    if solved is None:
        resistance = factor * base.resistance_ohm
        row = (base, subject, change, EXACT, base.project, changed, base.faults)
        return _row(*row, resistance_ohm=resistance)
    return _solved_row(base, subject, change, base.project, changed, solved, factor)


def _depths(base: _Base) -> list[SensitivityRow]:
    rows = []
    for factor in DEPTH_FACTORS:
        project = replace(
            base.project,
            mats=tuple(replace(m, depth_m=factor * m.depth_m) for m in base.project.mats),
            runs=tuple(replace(r, depth_m=factor * r.depth_m) for r in base.project.runs),
        )
        if project.mats or project.runs:
            solved = _solve(base, project, base.soil)
            change = _times_text(factor)
            rows.append(_solved_row(base, "depth of the conductors", change, project, base.soil, solved))
    return rows


def _solve(base: _Base, project: Project, soil: LayeredSoil) -> Solved | str:
    """The field of a changed site, or in words why there is none."""
    study = base.study
    if study.field.segments > MOST_SEGMENTS:
        return f"the site has {study.field.segments} segments; up to {MOST_SEGMENTS} are solved again"
    radii_m = {k: c.radius_m for k, c in study.conductors.items()}
    try:
        layout = build_electrode(project.mats, project.rods, project.runs, radii_m, project.separate)
        metal = solve_metal(project, layout, soil, study.conductors, segment_m=study.field.longest_segment_m)
        return metal, soil_coupling(project.network, layout, soil, metal)
    except (EvengroundError, ValueError) as error:
        return str(error).split("\n")[0]


def _solved_row(
    base: _Base,
    subject: str,
    change: str,
    project: Project,
    soil: LayeredSoil,
    solved: Solved | str,
    factor: float = 1.0,
) -> SensitivityRow:
    """A new solution looked at in the worst places of the study; its soil changed as a whole by a factor."""
    if isinstance(solved, str):
        return SensitivityRow(subject, change, None, None, None, None, SOLVED, solved)
    metal, near = solved
    unit = {
        (s.quantity, s.zone, s.scenario, s.metal): parts.unit_shock(metal, s)
        for s in base.study.shocks
        if (s.quantity, s.zone, s.scenario, s.metal) in base.unit
    }
    resistance = factor * metal.resistance_ohm
    near = at_resistance(near, resistance, mutual_factor=factor)
    row = (base, subject, change, SOLVED, project, soil, base.faults)
    return _row(*row, resistance_ohm=resistance, unit=unit, coupling=near)
