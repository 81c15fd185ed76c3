"""Whatever the readings, the stage answers with a finite soil or with findings."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.errors import InputError
from evenground.model.soil import ArrayKind
from evenground.soil import SoilChoice, SoilReading, Traverse, interpret_soil

wenner_readings = st.builds(
    SoilReading,
    spacing_m=st.sampled_from([0.5, 1, 2, 3, 4.5, 6, 10, 20, 50]),
    apparent_resistivity_ohm_m=st.floats(40.0, 190.0) | st.floats(40.0, 190.0) | st.floats(0.05, 2e5),
    probe_depth_m=st.none() | st.floats(0.0, 0.6),
    use=st.sampled_from([True, True, True, False]),
)
schlumberger_readings = st.builds(
    SoilReading,
    half_current_m=st.floats(2.0, 200.0),
    half_potential_m=st.sampled_from([0.5, 1.0, 1.9]),
    apparent_resistivity_ohm_m=st.floats(40.0, 190.0),
)


def traverse(name, array, readings):
    return st.builds(
        Traverse, st.just(name), st.just(array), st.lists(readings, min_size=1, max_size=9).map(tuple)
    )


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        traverse("A", ArrayKind.WENNER, wenner_readings)
        | traverse("B", ArrayKind.WENNER, wenner_readings)
        | traverse("C", ArrayKind.SCHLUMBERGER, schlumberger_readings),
        min_size=1,
        max_size=3,
    ),
    st.sampled_from(["auto", "uniform", "two_layer", "three_layer"]),
    st.sampled_from(["log", "relative"]),
    st.sampled_from([None, 0.02, 0.3]),
)
def test_finite_soil_or_findings(traverses, select, norm, noise):
    try:
        result = interpret_soil(traverses, SoilChoice(select, norm=norm, noise=noise), mat_extent_m=40.0)
    except InputError as error:
        findings = error.findings
        result = None
    if result is None:
        assert findings
        assert all(f.message and f.advice for f in findings)
        return
    assert all(math.isfinite(v) and v > 0 for v in result.soil.resistivities_ohm_m)
    assert all(math.isfinite(r.residual) for r in result.readings)
    assert all(np.all(np.isfinite(c)) for c in result.curves_ohm_m.values())
    assert result.reason


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_readings(count):
    rows = tuple(SoilReading(spacing_m=2.0, apparent_resistivity_ohm_m=100.0) for _ in range(count))
    result = interpret_soil([Traverse("T", ArrayKind.WENNER, rows)], SoilChoice())
    assert result.soil.resistivities_ohm_m == pytest.approx((100.0,))
    assert "readings at 1 spacing are too few" in result.reason
