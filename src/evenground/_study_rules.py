"""The rules of practice of the chosen country against the design: which were looked at, and which not."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from evenground.errors import OutOfRangeError
from evenground.model.practice import RuleOutcome
from evenground.standards.limits import CURVES, STANDARDS, CountryRule, country_rules
from evenground.standards.limits.curves import lookup
from evenground.standards.materials import MATERIALS

if TYPE_CHECKING:
    from evenground.model.conductor import ConductorResult
    from evenground.model.project import Project
    from evenground.model.soil import LayeredSoil
    from evenground.model.study import ZoneLimit

__all__ = ["countries_of", "rule_outcomes"]

BY_PRACTICE = {
    "uk": "United Kingdom",
    "usa": "USA",
    "canada": "Canada",
    "india": "India",
    "gulf": "Gulf",
    "europe": "Europe",
    "china": "China",
}
BY_REGION = {"USA": "USA", "Europe": "Europe", "India": "India", "United Kingdom": "United Kingdom"} | {
    "China": "China"
}
ABOUT = 0.1
"""A single number that is said to be about right or usual may differ this much."""

UNITS = {"depth": "m", "spacing": "m", "thermal time": "s", "conductor": "mm2"}
"""What the design is held against in a topic; a rule in another unit speaks of something else."""

Values = Sequence[float]


def countries_of(project: Project, limits: Sequence[ZoneLimit]) -> tuple[str, ...]:
    """Countries whose rules are shown: that of the stated practice, else those of the standards used."""
    stated = BY_PRACTICE.get(project.installation.practice)
    if stated is not None:
        return (stated,)
    regions = (STANDARDS[row.standard].region for row in limits if row.standard in STANDARDS)
    return tuple(dict.fromkeys(BY_REGION[r] for r in regions if r in BY_REGION))


def rule_outcomes(
    project: Project,
    limits: Sequence[ZoneLimit],
    conductors: Mapping[str, ConductorResult],
    resistance_ohm: float,
    gpr_v: Mapping[str, float],
    soil: LayeredSoil,
    exposure_s: Mapping[str, float],
) -> tuple[RuleOutcome, ...]:
    """Every rule of these countries, with what the design does where the study knows it.

    ``gpr_v`` and ``exposure_s`` map the scenario. [V, s]
    """
    known = _known(project, limits, conductors, resistance_ohm, gpr_v, exposure_s)
    rows = []
    for country in countries_of(project, limits):
        for rule in country_rules(country):
            values = _values(rule, known, project, soil)
            rows.append(_outcome(rule, values))
    return tuple(rows)


def _known(
    project: Project,
    limits: Sequence[ZoneLimit],
    conductors: Mapping[str, ConductorResult],
    resistance_ohm: float,
    gpr_v: Mapping[str, float],
    exposure_s: Mapping[str, float],
) -> dict[str, Values]:
    """What the design has, by the topic or key of a rule. [m, ohm, V, mm2, s]"""
    rise = max(gpr_v.values())
    used = {m.conductor for m in project.mats}
    copper = [
        r.installed_area_mm2 or r.stock_area_mm2 or 0.0
        for key, r in conductors.items()
        if key in used and MATERIALS[r.request.material].metal == "copper"
    ]
    shares = [
        gpr_v[row.scenario] / permissible
        for row in limits
        if row.standard.startswith("en50522")
        and (permissible := _permissible_touch(row.standard, exposure_s[row.scenario]))
    ]
    stone = [z for z in project.surface if z.resistivity_ohm_m is not None and z.thickness_m > 0.0]
    return {
        "depth": [m.depth_m for m in project.mats],
        "spacing": [max(m.spacing_x_m, m.spacing_y_m) for m in project.mats],
        "thermal time": [f.thermal_time_s for f in project.faults],
        "uk_thermal_time": [f.thermal_time_s for f in project.faults if round(f.voltage_v) == 132_000],
        "conductor": copper,
        "india_resistance_substation": [resistance_ohm],
        "china_rise": [rise],
        "china_rise_with_measures": [rise],
        "uk_cold_site": [rise],
        "uk_cold_site_reliable": [rise],
        "us_surface_thickness": [z.thickness_m for z in stone],
        "uk_chippings": [1000.0 * z.thickness_m for z in stone],
        "india_surface_resistivity": [z.resistivity_ohm_m or 0.0 for z in stone],
        "europe_flow_simple": [max(shares)] if shares else [],
        "europe_flow_measures": [max(shares)] if shares else [],
        "us_rod_spacing": [r.spacing_m for m in project.mats for r in m.rods if r.spacing_m is not None],
    }


def _permissible_touch(standard: str, time_s: float) -> float | None:
    """U_Tp without shoes and cover, as the flow of 2 and 4 U_Tp has it; None outside its times. [V]"""
    try:
        return lookup(CURVES[standard], time_s)
    except OutOfRangeError:
        return None


def _values(rule: CountryRule, known: Mapping[str, Values], project: Project, soil: LayeredSoil) -> Values:
    """Numbers of the design that a rule speaks of; empty when the study does not look at it."""
    if rule.topic == "corrosion" and rule.unit == "%":
        return _allowances(rule, project, soil)
    if rule.value is None or rule.topic in ("fence", "connections", "rails"):
        return []
    if rule.key in known:
        return known[rule.key]
    return known.get(rule.topic, []) if UNITS.get(rule.topic, rule.unit) == rule.unit else []


def _allowances(rule: CountryRule, project: Project, soil: LayeredSoil) -> Values:
    """Allowance on the area of steel, where the soil at the depth of the mat is of the rule's class. [%]"""
    if not project.mats:
        return []
    rho = soil.resistivities_ohm_m[soil.layer_at(max(m.depth_m for m in project.mats))]
    name = "severe" if rho <= 25.0 else "moderate" if rho <= 100.0 else "mild"
    if not rule.key.endswith(name):
        return []
    steel = [c for c in project.conductors.values() if MATERIALS[c.material].metal == "steel"]
    return [100.0 * c.corrosion_area_fraction for c in steel]


def _outcome(rule: CountryRule, values: Values) -> RuleOutcome:
    test = _test(rule)
    outcome = "not looked at"
    if values and test is not None:
        other = "not kept" if rule.sense in ("min", "max") else "differs"
        outcome = "kept" if all(test(v) for v in values) else other
    return RuleOutcome(
        country=rule.country,
        topic=rule.topic,
        key=rule.key,
        rule=rule.text,
        wanted=_wanted(rule),
        found=", ".join(f"{v:.4g}" for v in dict.fromkeys(values)) + f" {rule.unit}" if values else "",
        outcome=outcome,
        source=rule.source,
        evidence=rule.evidence,
    )


def _test(rule: CountryRule) -> Callable[[float], bool] | None:
    """Whether one number keeps the rule; None for a rule without a number."""
    value = rule.value
    if value is None:
        return None
    if rule.sense == "min" or rule.topic == "corrosion":
        return lambda v: v >= value * (1 - 1e-9)
    if rule.sense == "max":
        return lambda v: v <= (rule.upper or value) * (1 + 1e-9)
    if rule.upper is not None:  # a range says itself what it allows
        upper = rule.upper
        return lambda v: value * (1 - 1e-9) <= v <= upper * (1 + 1e-9)
    return lambda v: value * (1 - ABOUT) <= v <= value * (1 + ABOUT)


def _wanted(rule: CountryRule) -> str:
    if rule.value is None:
        return ""
    sign = {"min": "at least ", "max": "at most ", "about": "about "}.get(rule.sense, "")
    upper = "" if rule.upper is None else f" to {rule.upper:g}"
    return f"{sign}{rule.value:g}{upper} {rule.unit}"
