"""The field solver against finite elements: small mats, with and without rods, in two and three layers.

Method and bounds are described in ``tensor_elements.py``. The error of the oracle itself is taken as the
change from elements twice as large at the bars and growing faster away from them.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

from evenground.field import solve

sys.path.insert(0, str(Path(__file__).parents[2] / "docs"))
sys.path.insert(0, str(Path(__file__).parent))
from tensor_elements import Bar, Block
from validation_field import CASES, DEPTH_M, SIDE_M

pytestmark = pytest.mark.slow

HALF = SIDE_M / 2


def bars(case):
    """The quarter x > 0, y > 0 of the mat: bars along x and y through it, half ones on the planes."""
    top, under = DEPTH_M - HALF, DEPTH_M + HALF
    end = case.half_m + HALF
    places = np.linspace(-case.half_m, case.half_m, case.meshes + 1)
    found = []
    for c in places[places > -1e-9]:
        low, high = max(c - HALF, 0.0), c + HALF
        found += [Bar((0, low, top), (end, high, under)), Bar((low, 0, top), (high, end, under))]
    if case.rod_end_m:
        low = case.half_m - HALF
        found.append(Bar((low, low, top), (end, end, case.rod_end_m)))
    return found


def by_finite_elements(case, smallest, growth):
    block = Block(case.soil, bars(case), smallest=smallest, growth=growth)
    return block.solve(), block.surface(case.places_m)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_mat_in_layers(case):
    resistance, surface = by_finite_elements(case, HALF, 2.0)
    coarse_resistance, coarse_surface = by_finite_elements(case, SIDE_M, 2.8)
    # Dirichlet's principle: finer elements raise the resistance. 0.25 %, and 0.1 % of the potential rise, are
    # what the oracle states as its own error; halving the elements once more changes less
    assert 0.0 < resistance / coarse_resistance - 1 < 0.0025
    assert surface == pytest.approx(coarse_surface, abs=0.001)
    # the figures on the validation page are these
    assert case.resistance_ohm == pytest.approx(resistance, rel=1e-4)
    assert case.surface == pytest.approx(surface, abs=1e-4)
    found = solve(case.electrode(), case.soil, segment_m=0.2)
    # 0.35 %: the oracle's error, and square bars against round wires at ends and crossings
    assert -0.0005 < found.resistance_ohm / resistance - 1 < 0.0035
    # 0.15 % of the potential rise, the same
    assert found.potential_v(case.points()) == pytest.approx(surface, abs=0.0015)
