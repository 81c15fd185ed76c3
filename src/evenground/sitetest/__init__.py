"""Field tests: planned by simulation, read with corrections, judged with three values, kept over the years.

Entry functions: :func:`plan_test` before the test, :func:`read_fall`, :func:`read_injection` and
:func:`read_continuity` after it. Beside them: :func:`compare_as_built`, :func:`existing_site_envelope`
and the upkeep functions.
"""

from __future__ import annotations

from evenground.sitetest._as_built import compare_as_built
from evenground.sitetest._continuity import expected_continuity, judge_joint, read_continuity
from evenground.sitetest._envelope import exceeding_share, existing_site_envelope
from evenground.sitetest._fall import far_reference_ratio, reading_at, simulate_fall
from evenground.sitetest._kernel import surface_kernel
from evenground.sitetest._library import INSTRUMENTS, PASS_VALUES, SAFETY, TASKS, WEATHER, pass_value
from evenground.sitetest._plan import plan_test
from evenground.sitetest._read_fall import coupled_impedance, read_fall
from evenground.sitetest._read_injection import read_injection
from evenground.sitetest._upkeep import (
    corrosion_state,
    due_tasks,
    gravel_state,
    reassessment_triggers,
    trend,
)

__all__ = [
    "INSTRUMENTS",
    "PASS_VALUES",
    "SAFETY",
    "TASKS",
    "WEATHER",
    "compare_as_built",
    "corrosion_state",
    "coupled_impedance",
    "due_tasks",
    "exceeding_share",
    "existing_site_envelope",
    "expected_continuity",
    "far_reference_ratio",
    "gravel_state",
    "judge_joint",
    "pass_value",
    "plan_test",
    "read_continuity",
    "read_fall",
    "read_injection",
    "reading_at",
    "reassessment_triggers",
    "simulate_fall",
    "surface_kernel",
    "trend",
]
