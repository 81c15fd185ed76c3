"""Schlumberger segments that do not join, with the factors taken out on request."""

import numpy as np
import pytest

from evenground.model.soil import ArrayKind, LayeredSoil, SoilChoice, SoilReading, Traverse
from evenground.soil import interpret_soil, schlumberger_apparent_resistivity

SOIL = LayeredSoil((100.0, 400.0), (3.0,))
HALVES = {0.3: (1.0, 1.5, 2.5, 4.0, 6.0), 1.5: (4.0, 6.0, 10.0, 15.0, 25.0), 6.0: (15.0, 25.0, 40.0, 60.0)}
FACTORS = {0.3: 1.0, 1.5: 1.15, 6.0: 1.3}


def sounding():
    readings = [
        SoilReading(
            half_current_m=outer,
            half_potential_m=inner,
            apparent_resistivity_ohm_m=FACTORS[inner]
            * float(schlumberger_apparent_resistivity(outer, inner, SOIL)),
        )
        for inner, row in HALVES.items()
        for outer in row
    ]
    return Traverse("S1", ArrayKind.SCHLUMBERGER, tuple(readings))


def result(segments):
    return interpret_soil([sounding()], SoilChoice("two_layer", noise=0.02, segments=segments))


def test_segments_as_read_are_warned_about_and_name_the_way_out():
    found = result("joined")
    assert found.segment_factors == {}
    assert any("segments: shifted" in w for w in found.warnings)


def test_shifted_segments_join_and_the_ratios_of_their_factors_are_found():
    """Truth: the factors put into the synthetic readings. Their common level is left to the prior."""
    found = result("shifted")
    factors = [found.segment_factors[f"S1, MN/2 = {b:g} m"] for b in HALVES]
    assert np.divide(factors, factors[0]) == pytest.approx([1.0, 1.15, 1.3], rel=0.02)
    two = next(c for c in found.candidates if c.name == "two layers")
    assert two.rms < 0.01 < next(c for c in result("joined").candidates if c.name == "two layers").rms
    assert any("shifted to join" in w for w in found.warnings)
    assert any("shifted by" in flag for r in found.readings for flag in r.flags)


def test_a_survey_without_segments_stays_as_it_is():
    wenner = Traverse(
        "W", ArrayKind.WENNER, tuple(SoilReading(spacing_m=a, resistance_ohm=10 / a) for a in (1, 2, 4, 8))
    )
    found = interpret_soil([wenner], SoilChoice(segments="shifted"))
    assert found.segment_factors == {}
