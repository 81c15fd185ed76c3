"""Conductors: thermal size, joint limits, corrosion, mechanical minimum, stock size.

The entry is :func:`size_conductor`.
"""

from __future__ import annotations

from evenground.conductor.electrical import electrical_metal
from evenground.conductor.sections import Section, equivalent_radius_mm
from evenground.conductor.sizing import size_conductor

__all__ = ["Section", "electrical_metal", "equivalent_radius_mm", "size_conductor"]
