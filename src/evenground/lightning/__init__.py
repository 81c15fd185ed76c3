"""Lightning: what shields the station, how arresters and masts are earthed, how the electrode answers.

Entry function: :func:`assess_lightning`. Its parts can be called alone: :func:`assess_shielding`,
:func:`exposure`, :func:`check_arresters`, :func:`check_masts`, :func:`impulse_response`.
"""

from __future__ import annotations

from evenground.lightning._arresters import MAST_TO_TRANSFORMER_M, check_arresters, check_masts
from evenground.lightning._assess import assess_lightning
from evenground.lightning._cone import equivalent_angle_deg, inside_cones
from evenground.lightning._duty import check_duty
from evenground.lightning._exposure import exposure
from evenground.lightning._heights import required_heights
from evenground.lightning._impulse import impulse_response, segment_length_m
from evenground.lightning._ionise import ionised_resistance
from evenground.lightning._published import effective_size, published_sizes
from evenground.lightning._shielding import (
    assess_shielding,
    insulation_rule,
    level_rule,
    required_mast_height,
)
from evenground.lightning._waves import FIRST_STROKE, SUBSEQUENT_STROKE, current_at, iec_first_stroke

__all__ = [
    "FIRST_STROKE",
    "MAST_TO_TRANSFORMER_M",
    "SUBSEQUENT_STROKE",
    "assess_lightning",
    "assess_shielding",
    "check_arresters",
    "check_duty",
    "check_masts",
    "current_at",
    "effective_size",
    "equivalent_angle_deg",
    "exposure",
    "iec_first_stroke",
    "impulse_response",
    "inside_cones",
    "insulation_rule",
    "ionised_resistance",
    "level_rule",
    "published_sizes",
    "required_heights",
    "required_mast_height",
    "segment_length_m",
]
