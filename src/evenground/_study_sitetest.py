"""Site tests from a study: the mat as the tests will meet it, where to read, and what to expect."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, dist, hypot, inf, pi, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground._study_cases import soil_cases
from evenground._study_metal import solve_metal
from evenground.conductor import electrical_metal
from evenground.electrode import build_electrode
from evenground.errors import EvengroundError
from evenground.model.electrode import Electrode
from evenground.model.sitetest import (
    ContinuityItem,
    ExpectedPlace,
    FieldTestPlan,
    MatUnderTest,
    PlanRequest,
    Riser,
)
from evenground.safety import ZoneIndex
from evenground.sitetest import expected_continuity, plan_test

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from evenground._study_field import SolvedMetal
    from evenground.model.electrode import Conductor, Point3
    from evenground.model.site_test import TestPlace
    from evenground.model.soil import LayeredSoil
    from evenground.model.study import Study

__all__ = ["SiteTests", "prepare_site_tests"]

ABOVE_GROUND_M = 1.0
"""Length of a riser from the ground to the clamp, on top of the way to the metal. [m]"""


SAME_PLACE_M = 0.05
"""A place read this near to a planned one of its name is that place. [m]"""


@dataclass(frozen=True, eq=False)
class SiteTests:
    """Everything that planning and reading share.

    ``season_factor`` is the design resistance over that in the soil as surveyed; ``paths`` names the metal
    that takes a share of the test current and must be read.
    """

    mat: MatUnderTest
    scenario: str
    fault_current_a: float
    design_resistance_ohm: float
    season_factor: float
    season_source: str
    places: tuple[ExpectedPlace, ...]
    continuity: tuple[ContinuityItem, ...]
    paths: tuple[str, ...]
    plan: FieldTestPlan
    solved: SolvedMetal
    designed: SolvedMetal
    limits_v: Mapping[tuple[str, str], float]
    zones: ZoneIndex
    soil_name: str
    notes: tuple[str, ...] = ()

    def expected(self, row: TestPlace) -> ExpectedPlace | None:
        """What a place that was read should have shown; None when nobody says where it is."""
        planned = next((p for p in self.places if (p.name, p.quantity) == (row.name, row.quantity)), None)
        if row.at_m is None:
            return planned
        where = (row.quantity, *row.at_m, row.direction_deg)
        volts, factor = _with_season(self.solved, self.designed, *where)
        if planned is not None and dist(planned.at_m, row.at_m) < SAME_PLACE_M:
            return replace(planned, at_m=row.at_m, volts_per_ampere=volts, season_factor=factor)
        return ExpectedPlace(row.name, row.quantity, row.at_m, volts, self._limit(row, *row.at_m), factor)

    def _limit(self, row: TestPlace, x: float, y: float) -> float | None:
        """Tolerable voltage under both feet, the lower one; None when any is not known. [V]"""
        spots = [(x, y)]
        if row.quantity == "step":
            turns = (
                range(0, 360, 15)
                if row.direction_deg is None
                else (row.direction_deg, row.direction_deg + 180)
            )
            spots = [(x + 0.5 * cos(radians(t)), y + 0.5 * sin(radians(t))) for t in turns]
        index = self.zones.at(np.array([p[0] for p in spots]), np.array([p[1] for p in spots]))
        found = [
            self.limits_v.get((self.zones.zones[int(k)].name, row.quantity)) for k in set(index.tolist())
        ]
        known = [v for v in found if v is not None]
        return min(known) if len(known) == len(found) else None


def prepare_site_tests(
    study: Study,
    *,
    soil_of_the_day: LayeredSoil | None = None,
    riser_reference: str = "",
    current_bearing_deg: float = 0.0,
    potential_bearing_deg: float | None = None,
    longest_lead_m: float | None = None,
    test_current_a: float = 10.0,
) -> SiteTests:
    """Plan of the tests for the design of a study, in the soil as surveyed or of a stated day.

    ``riser_reference`` is the tag that continuity is read against; left out: a transformer, else the first.

    Raises
    ------
    InputError
        When the leads are too short to leave the mat.
    """
    project = study.project
    radii = {k: c.radius_m for k, c in study.conductors.items()}
    layout = build_electrode(project.mats, project.rods, project.runs, radii, project.separate)
    if soil_of_the_day is None:
        name, soil = next(iter(soil_cases(study.soil.soil, project).items()))
    else:
        name, soil = "as read on the day", soil_of_the_day
    length = project.assessment.segment_m
    solved = solve_metal(project, layout, soil, study.conductors, segment_m=length)
    designed = solved
    if study.soil_used is not None and study.soil_used != soil:
        designed = solve_metal(project, layout, study.soil_used, study.conductors, segment_m=length)
    mat = _mat(layout.electrode, solved, soil)
    scenario = study.worst_touch.scenario
    fault = next(f for f in study.faults if f.scenario.name == scenario)
    notes: list[str] = []
    continuity = _continuity(study, layout.electrode, notes, riser_reference)
    places = _places(study, scenario, solved, designed)
    paths = _paths(study, scenario)
    if paths:
        notes.append(
            "Expected volts take all of the test current through the mat; "
            f"{', '.join(paths)} take a share of it, which is read with its phase."
        )
    plan = plan_test(
        PlanRequest(
            mat=mat,
            current_bearing_deg=current_bearing_deg,
            potential_bearing_deg=potential_bearing_deg,
            longest_lead_m=longest_lead_m,
            test_current_a=test_current_a,
            fault_current_a=fault.grid_current_a * fault.soil_rise,
            places=places,
            continuity=continuity,
            **_gravel(study),
        )
    )
    factor = study.field.resistance_ohm / mat.resistance_ohm
    source = f"soil of the governing case over soil {name}, both of this study"
    return SiteTests(
        mat=mat,
        scenario=scenario,
        fault_current_a=fault.grid_current_a * fault.soil_rise,
        design_resistance_ohm=study.field.resistance_ohm,
        season_factor=factor,
        season_source=source,
        places=places,
        continuity=continuity,
        paths=paths,
        plan=plan,
        solved=solved,
        designed=designed,
        limits_v=_limits(study, scenario),
        zones=ZoneIndex(project.surface),
        soil_name=f"{name}: {soil.describe()}",
        notes=tuple(notes),
    )


def _limits(study: Study, scenario: str) -> dict[tuple[str, str], float]:
    """Tolerable voltage by zone and quantity; limits outside their range of validity are left out. [V]"""
    rows = {}
    for limit in study.limits:
        if limit.scenario == scenario:
            if not limit.outside:
                rows[limit.zone, "touch"] = limit.touch_v
            if not limit.step_outside:
                rows[limit.zone, "step"] = limit.step_v
    return rows


def _mat(electrode: Electrode, solved: SolvedMetal, soil: LayeredSoil) -> MatUnderTest:
    ends = np.array([p for c in electrode for p in (c.start_m, c.end_m)])
    low, high = ends[:, :2].min(axis=0), ends[:, :2].max(axis=0)
    resistance = solved.resistance_ohm

    def potential(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(resistance * solved.unit_v(points), dtype=np.float64)

    middle = 0.5 * (low + high)
    return MatUnderTest(
        resistance_ohm=resistance,
        potential_v_per_a=potential,
        soil=soil,
        origin_m=(float(middle[0]), float(middle[1])),
        diagonal_m=float(hypot(*(high - low))),
    )


def _places(
    study: Study, scenario: str, solved: SolvedMetal, designed: SolvedMetal
) -> tuple[ExpectedPlace, ...]:
    """The worst touch and step of each surface, with the voltage for one ampere in the soil of the test."""
    rows = []
    for shock in study.shocks:
        if shock.scenario != scenario or shock.metal:
            continue
        x, y = shock.place.x_m, shock.place.y_m
        name = f"{shock.quantity} {shock.zone or 'bare soil'}"
        volts, factor = _with_season(solved, designed, shock.quantity, x, y, shock.direction_deg)
        rows.append(ExpectedPlace(name, shock.quantity, (x, y), volts, shock.limit_v, factor))
    return tuple(rows)


def _with_season(
    solved: SolvedMetal, designed: SolvedMetal, quantity: str, x: float, y: float, direction_deg: float | None
) -> tuple[float, float | None]:
    """Voltage per ampere on the day, and the same in the soil of the design over it.

    Touch and step follow the upper soil, the resistance the deep one, so each place has its own factor.
    """
    day = _worst_per_ampere(solved, quantity, x, y, direction_deg)
    if designed is solved:
        return day, 1.0
    design = _worst_per_ampere(designed, quantity, x, y, direction_deg)
    return day, design / day if day > 0 else None


def _worst_per_ampere(
    solved: SolvedMetal, quantity: str, x: float, y: float, direction_deg: float | None
) -> float:
    """Touch voltage at a place, or a step of 1 m about it in a direction, else in the worst one. [V/A]"""
    if quantity == "touch":
        share = solved.surface.touch_at(np.array([x]), np.array([y]))
    else:
        turns = np.arange(0.0, 180.0, 7.5) if direction_deg is None else np.array([direction_deg])
        hx, hy = 0.5 * np.cos(np.radians(turns)), 0.5 * np.sin(np.radians(turns))
        share = solved.surface.between(x - hx, y - hy, x + hx, y + hy)
    return float(np.max(np.abs(share)) * solved.resistance_ohm)


def _paths(study: Study, scenario: str) -> tuple[str, ...]:
    """Names of the metal that leaves the station."""
    split = next((s for s in study.split if s.scenario == scenario), None)
    if split is None:
        return ()
    local = ("fault", "mat", "source neutral")
    return tuple(dict.fromkeys(p.name for p in split.result.paths if p.kind not in local))


def _gravel(study: Study) -> dict[str, Any]:
    """The largest covered zone, for the sheet of samples."""
    from shapely import Polygon

    zones = [z for z in study.project.surface if z.resistivity_ohm_m is not None and z.outline_m]
    if not zones:
        return {}
    zone = max(zones, key=lambda z: Polygon(z.outline_m or ()).area)
    assert zone.resistivity_ohm_m is not None
    return {
        "gravel_area_m2": float(Polygon(zone.outline_m or ()).area),
        "gravel_thickness_m": zone.thickness_m,
        "gravel_resistivity_ohm_m": zone.resistivity_ohm_m,
    }


def _continuity(
    study: Study, electrode: Electrode, notes: list[str], wanted: str
) -> tuple[ContinuityItem, ...]:
    """Expected resistance from a transformer's riser, or the first one, to every other."""
    items = study.project.installation.equipment or ()
    if len(items) < 2:
        notes.append("No equipment is stated: list the risers on site and read each against one of them.")
        return ()
    reference = next((e for e in items if e.kind == "transformer"), items[0])
    if wanted:
        found = next((e for e in items if e.tag == wanted), None)
        if found is None:
            notes.append(
                f"The reference riser {wanted} is no tag under equipment; expected from {reference.tag}."
            )
        reference = found or reference
    metals = {k: electrical_metal(c) for k, c in study.conductors.items()}
    keys = [c.key if c.key in metals else "mat" for c in electrode]
    if not set(keys) <= set(metals):
        notes.append("The metal of the mat is not stated: no expected values for continuity.")
        return ()
    rho = metals[keys[0]].resistivity_ohm_m
    metal = Electrode(replace(c, kind=key) for c, key in zip(electrode, keys, strict=True))
    area = {
        key: 1e6 * pi * study.conductors[key].radius_m ** 2 * rho / metals[key].resistivity_ohm_m
        for key in set(keys)
    }
    tail = "riser" if "riser" in metals else keys[0]
    tail_area = 1e6 * pi * study.conductors[tail].radius_m ** 2 * rho / metals[tail].resistivity_ohm_m
    risers = []
    for item in items:
        place, gap = _nearest((item.x_m, item.y_m), electrode)
        risers.append(Riser(item.tag, place, gap + place[2] + ABOVE_GROUND_M))
    try:
        return expected_continuity(
            metal,
            risers,
            reference.tag,
            metal_resistivity_ohm_m=rho,
            area_mm2=area,
            tail_area_mm2=tail_area,
        )
    except EvengroundError as error:
        notes.append(f"No expected values for continuity: {error}")
        return ()


def _nearest(at: tuple[float, float], electrode: Electrode) -> tuple[Point3, float]:
    """Place on the metal nearest in plan, and how far it is. [m]"""
    best, least = (at[0], at[1], 0.0), inf
    for c in electrode:
        place = _foot(at, c)
        gap = dist(at, place[:2])
        if gap < least - 1e-9:
            best, least = place, gap
    return best, least


def _foot(at: tuple[float, float], c: Conductor) -> Point3:
    (x0, y0, z0), (x1, y1, z1) = c.start_m, c.end_m
    length = (x1 - x0) ** 2 + (y1 - y0) ** 2
    part = 0.0 if length == 0 else ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / length
    part = min(max(part, 0.0), 1.0)
    return (x0 + part * (x1 - x0), y0 + part * (y1 - y0), z0 + part * (z1 - z0))
