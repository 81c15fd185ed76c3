"""Where people stand and what they reach: touch and step voltages, limits, verdicts.

Entry functions: :func:`assess_shocks` finds the worst places, :func:`judge` turns results into
checks with three-valued verdicts.
"""

from __future__ import annotations

from evenground.safety._assess import SafetyResult, assess_shocks
from evenground.safety._boundary import BoundaryCase, assess_boundary
from evenground.safety._drying import judge_drying
from evenground.safety._judge import field_doubt, judge, margin_doubt, without_offset
from evenground.safety._limits import compare_standards, zone_limits
from evenground.safety._risk import assess_risks, with_risks
from evenground.safety._separate import SeparateMetal, assess_separate
from evenground.safety._surface import Potential, Surface
from evenground.safety._zones import ZoneIndex, areas_of

__all__ = [
    "BoundaryCase",
    "Potential",
    "SafetyResult",
    "SeparateMetal",
    "Surface",
    "ZoneIndex",
    "areas_of",
    "assess_boundary",
    "assess_risks",
    "assess_separate",
    "assess_shocks",
    "compare_standards",
    "field_doubt",
    "judge",
    "judge_drying",
    "margin_doubt",
    "with_risks",
    "without_offset",
    "zone_limits",
]
