"""Soil: field readings to apparent resistivities to a layered earth.

``interpret_soil`` is the entry of this stage; the rest are its parts, useful by themselves.
"""

from evenground.model.soil import ArrayKind, LayeredSoil, SoilChoice, SoilReading, Traverse
from evenground.soil._advice import SpacingAdvice, recommend_spacings
from evenground.soil._arrays import (
    driven_rod_resistivity,
    four_probe_factor,
    four_probe_resistivity,
    schlumberger_resistivity,
    wenner_resistivity,
)
from evenground.soil._buried import buried_potential, probe_depth_bias
from evenground.soil._describe import with_spread
from evenground.soil._fit import Bounds, fit_layers
from evenground.soil._forward import (
    four_probe_apparent_resistivity,
    schlumberger_apparent_resistivity,
    wenner_apparent_resistivity,
)
from evenground.soil._grid import two_layer_posterior
from evenground.soil._interpret import interpret_soil
from evenground.soil._lateral import LateralChange, lateral_change
from evenground.soil._particles import layered_posterior
from evenground.soil._posterior import soil_posterior
from evenground.soil._prior import Prior
from evenground.soil._readings import apparent_resistivity, process_readings
from evenground.soil._seasons import at_temperature, seasonal_soil, seasonal_soils, with_fill
from evenground.soil._segments import SegmentFit, SegmentOffset, fit_with_segment_factors, segment_offsets
from evenground.soil._spread import curve_band, equivalence_words

__all__ = [
    "ArrayKind",
    "Bounds",
    "LateralChange",
    "LayeredSoil",
    "Prior",
    "SegmentFit",
    "SegmentOffset",
    "SoilChoice",
    "SoilReading",
    "SpacingAdvice",
    "Traverse",
    "apparent_resistivity",
    "at_temperature",
    "buried_potential",
    "curve_band",
    "driven_rod_resistivity",
    "equivalence_words",
    "fit_layers",
    "fit_with_segment_factors",
    "four_probe_apparent_resistivity",
    "four_probe_factor",
    "four_probe_resistivity",
    "interpret_soil",
    "lateral_change",
    "layered_posterior",
    "probe_depth_bias",
    "process_readings",
    "recommend_spacings",
    "schlumberger_apparent_resistivity",
    "schlumberger_resistivity",
    "seasonal_soil",
    "seasonal_soils",
    "segment_offsets",
    "soil_posterior",
    "two_layer_posterior",
    "wenner_apparent_resistivity",
    "wenner_resistivity",
    "with_fill",
    "with_spread",
]
