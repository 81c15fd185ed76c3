"""Probes below the surface of a layered soil."""

import math

import numpy as np
import pytest

from evenground.model.soil import ApparentReading, ArrayKind
from evenground.soil import LayeredSoil, SoilChoice, SoilReading, Traverse, interpret_soil
from evenground.soil._arrays import POINT_DEPTH_PER_LENGTH, wenner_factor
from evenground.soil._buried import buried_potential, probe_depth_bias

# Wenner with point probes at depth b, image series of the two layers: true resistance, and the apparent
# resistivity at the surface.
ROWS = [
    ((100, 500), 3, 1, 0.1, 15.94432828, 101.90727, 101.87000),
    ((100, 500), 3, 1, 0.3, 14.28788456, 102.18016, 101.87000),
    ((100, 500), 3, 2, 0.3, 8.62256406, 112.47566, 111.82359),
    ((100, 500), 3, 4, 0.6, 5.89488540, 153.78978, 150.60396),
    ((500, 100), 1, 1, 0.1, 60.36299273, 385.80663, 389.03820),
    ((500, 100), 1, 1, 0.3, 50.33979528, 360.00631, 389.03820),
    ((500, 100), 1, 2, 0.3, 15.64630562, 204.09573, 219.19941),
    ((500, 100), 1, 4, 0.3, 4.65357388, 118.09829, 119.68721),
    ((500, 100), 1, 8, 0.3, 2.04256098, 102.92242, 102.96776),
]


@pytest.mark.parametrize(("rho", "h", "a", "b", "resistance", "corrected", "surface"), ROWS)
def test_wenner_with_buried_points(rho, h, a, b, resistance, corrected, surface):
    """Nine to ten digits printed; eight for the quotient."""
    soil = LayeredSoil(rho, (h,))
    near, far = buried_potential(np.array([a, 2.0 * a]), b, soil)
    found = 2 * (near - far) / (2 * math.pi)
    assert found == pytest.approx(resistance, rel=2e-9)
    assert wenner_factor(a, b) * found == pytest.approx(corrected, rel=1e-7)
    reading = ApparentReading(
        "T", ArrayKind.WENNER, a, None, found, corrected, b / POINT_DEPTH_PER_LENGTH, True
    )
    assert probe_depth_bias([reading], soil)[0] == pytest.approx(corrected / surface - 1, abs=1e-7)


@pytest.mark.parametrize(
    ("depth", "r", "expected"),
    [(0.5, 1, 19.41124666661), (0.5, 20, 3.2547257212832)],
)
def test_point_source_in_the_top_layer(depth, r, expected):
    """100 over 500 ohm m, 3 m: V per ampere by mpmath quadrature and by images, 13 digits."""
    value = buried_potential(np.array([float(r)]), depth, LayeredSoil((100, 500), (3,)))[0]
    assert value / (2 * math.pi) == pytest.approx(expected, rel=1e-11)


def test_point_source_in_three_layers():
    """200/50/1000 ohm m, 2 and 5 m, both points 0.8 m deep, 5 m apart: mpmath quadrature."""
    value = buried_potential(np.array([5.0]), 0.8, LayeredSoil((200, 50, 1000), (2, 5)))[0]
    assert value / (2 * math.pi) == pytest.approx(5.1784210867899, rel=1e-11)


def test_uniform_soil():
    """100 ohm m, both points 0.5 m deep, 5 m apart: 100/(4 pi) (1/5 + 1/sqrt(26)), method of images."""
    value = buried_potential(np.array([5.0]), 0.5, LayeredSoil((100,)))[0] / (2 * math.pi)
    assert value == pytest.approx(100 / (4 * math.pi) * (1 / 5 + 1 / math.sqrt(26)), rel=1e-14)


def test_probes_that_reach_the_second_layer():
    soil = LayeredSoil((500, 100), (0.2,))
    with pytest.raises(ValueError, match="not above the first interface"):
        buried_potential(np.array([1.0]), 0.3, soil)
    reading = ApparentReading("T", ArrayKind.WENNER, 1.0, None, 1.0, 100.0, 0.6, True)
    assert np.isnan(probe_depth_bias([reading], soil)[0])


def test_a_bias_that_matters_is_reported():
    """Half a metre of driven probe at a = 1 m over 500/100 ohm m, 1 m."""
    soil, rows = LayeredSoil((500, 100), (1,)), []
    for a in (1, 1.5, 2, 3, 4, 6, 8, 12):
        near, far = buried_potential(np.array([a, 2.0 * a]), POINT_DEPTH_PER_LENGTH * 0.5, soil)
        rows.append(SoilReading(spacing_m=a, resistance_ohm=(near - far) / math.pi, probe_depth_m=0.5))
    result = interpret_soil([Traverse("deep", ArrayKind.WENNER, tuple(rows))], SoilChoice(noise=0.03))
    text = next(w for w in result.warnings if "driven so deep" in w)
    assert "deep, a = 1 m (-" in text
    assert "a = 12 m" not in text
