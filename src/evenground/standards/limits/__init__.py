"""Tolerable touch and step voltages of many standards in one shape.

``tolerable(LimitCase(...))`` gives the limits of one standard, ``compare_limits`` those of all on the
same ground, ``shock_risk`` the yearly risk instead of a limit. Nothing is extrapolated: outside its range a
standard has no value, and says so.
"""

from __future__ import annotations

from evenground.standards.limits._register import STANDARDS, tolerable
from evenground.standards.limits.body import (
    BODIES,
    EN_PATHS,
    FIBRILLATION,
    PATHS,
    BodyModel,
    BodyPath,
    constant_body,
    dalziel_curve,
)
from evenground.standards.limits.compare import ComparisonRow, case_for_zone, compare_limits
from evenground.standards.limits.curves import CURVES, TimeCurve
from evenground.standards.limits.en_flow import DesignFlow, design_flow, step_threshold
from evenground.standards.limits.risk import Exposure, ShockRisk, risk_band, risk_based_limits, shock_risk
from evenground.standards.limits.rules import CountryRule, VoltageLimit, country_rules, voltage_limits
from evenground.standards.limits.shapes import LimitCase, Limits, StandardLimits
from evenground.standards.limits.transferred import equipment_stress_voltage, tn_rise_limit, tt_rise_limit

__all__ = [
    "BODIES",
    "CURVES",
    "EN_PATHS",
    "FIBRILLATION",
    "PATHS",
    "STANDARDS",
    "BodyModel",
    "BodyPath",
    "ComparisonRow",
    "CountryRule",
    "DesignFlow",
    "Exposure",
    "LimitCase",
    "Limits",
    "ShockRisk",
    "StandardLimits",
    "TimeCurve",
    "VoltageLimit",
    "case_for_zone",
    "compare_limits",
    "constant_body",
    "country_rules",
    "dalziel_curve",
    "design_flow",
    "equipment_stress_voltage",
    "risk_band",
    "risk_based_limits",
    "shock_risk",
    "step_threshold",
    "tn_rise_limit",
    "tolerable",
    "tt_rise_limit",
    "voltage_limits",
]
