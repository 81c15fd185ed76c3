"""Inequalities that follow from the extremal principles of steady currents, tried on random layouts."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from test_solution_properties import electrodes, moved, soils

from evenground.field import solve
from evenground.model.soil import LayeredSoil

FEW = settings(max_examples=12, deadline=None)


@FEW
@given(electrodes(), soils(), st.data())
def test_a_more_resistive_layer_never_lowers_the_resistance(electrode, soil, data):
    """Rayleigh's law of monotonicity (Maxwell, Treatise, 1873, art. 102a and 306): raising the resistivity
    anywhere raises the resistance, by no more than the same factor."""
    layer = data.draw(st.integers(0, soil.layers - 1))
    factor = data.draw(st.floats(1.2, 8.0))
    rho = list(soil.resistivities_ohm_m)
    rho[layer] *= factor
    before = solve(electrode, soil, segment_m=1.0).resistance_ohm
    after = solve(electrode, LayeredSoil(tuple(rho), soil.thicknesses_m), segment_m=1.0).resistance_ohm
    # 2e-3: integration rules; both are cut at the same places
    assert before * (1 - 2e-3) <= after <= before * factor * (1 + 2e-3)


@FEW
@given(electrodes(), soils())
def test_the_potential_lies_between_far_earth_and_the_metal(electrode, soil):
    """Maximum principle: no place in the soil is above the metal or below far earth."""
    found = solve(electrode, soil, segment_m=0.5)
    g = np.linspace(-30.0, 30.0, 13)
    x, y, z = np.meshgrid(g, g, [0.0, 0.7, 3.1, 9.0])
    v = found.potential_v(np.column_stack([x.ravel(), y.ravel(), z.ravel()]))
    assert v.min() > 0.0
    # 5 %: points may fall onto metal, where evenly leaking segments peak at free ends
    assert v.max() < 1.05


@FEW
@given(electrodes(), soils())
def test_a_mirror_image_has_the_same_resistance(electrode, soil):
    there = solve(moved(electrode, lambda p: (-p[0], p[1], p[2])), soil).resistance_ohm
    here = solve(electrode, soil).resistance_ohm
    assert abs(there / here - 1) < 1e-4  # a pair at the edge between two rules may change sides


@FEW
@given(electrodes(most=2), st.floats(10.0, 3000.0), st.floats(2.0, 200.0))
def test_deeper_interfaces_lead_steadily_to_the_upper_layer_alone(electrode, rho, contrast):
    """The resistance moves toward that of the upper layer as the lower one sinks away."""
    for lower in (rho * contrast, rho / contrast):
        alone = solve(electrode, LayeredSoil((rho,)), segment_m=1.0).resistance_ohm
        gaps = [
            abs(solve(electrode, LayeredSoil((rho, lower), (h,)), segment_m=1.0).resistance_ohm - alone)
            for h in (10.0, 40.0, 160.0, 1e5)
        ]
        assert gaps[0] > gaps[1] > gaps[2] > gaps[3]
        assert gaps[3] < 2e-3 * alone * max(1.0, np.log(contrast))
