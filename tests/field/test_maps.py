"""Potential maps by boxes against plain sums."""

import numpy as np
import pytest
from layouts import corner_rods, square_mat

from evenground.field import _solution, solve
from evenground.model.soil import LayeredSoil


@pytest.mark.parametrize(
    ("soil", "depth"),
    [
        (LayeredSoil((100.0,)), 0.0),
        (LayeredSoil((300.0, 60.0), (1.2,)), 0.0),
        (LayeredSoil((300.0, 60.0, 900.0), (1.2, 3.0)), 2.5),
    ],
)
def test_boxes_and_plain_sums_agree(monkeypatch, soil, depth):
    found = solve(square_mat(40, 6) + corner_rods(40, 8, length=4, radius=0.008, top=0.5), soil)
    rng = np.random.default_rng(3)
    scattered = np.column_stack([rng.uniform(-30, 70, (5000, 2)), np.full(5000, depth)])
    by_boxes = found.potential_v(scattered)
    monkeypatch.setattr(_solution, "pays", lambda *_: False)
    plain = found.potential_v(scattered)
    # 2e-5: interpolation on 8 x 8 Chebyshev nodes; measured 2e-6
    assert by_boxes == pytest.approx(plain, abs=2e-5)


def test_points_on_one_line_or_one_spot():
    found = solve(square_mat(40, 12), LayeredSoil((100.0,)))
    line = np.column_stack([np.linspace(-20, 60, 3000), np.full((3000, 2), [20.0, 0.0])])
    values = found.potential_v(line)
    assert values[::300] == pytest.approx(found.potential_v(line[::300]), abs=2e-5)
    spot = found.potential_v(np.tile([[3.0, 4.0, 0.0]], (3000, 1)))
    assert spot == pytest.approx(np.full(3000, spot[0]), rel=1e-9)


@pytest.mark.slow
def test_a_million_points():
    found = solve(square_mat(500, 50, depth=0.8), LayeredSoil((300.0, 60.0), (1.2,)), segment_m=17.0)
    g = np.linspace(-20, 520, 1000)
    x, y = np.meshgrid(g, g)
    points = np.column_stack([x.ravel(), y.ravel(), 0 * x.ravel()])
    values = found.potential_v(points)
    some = np.linspace(0, len(points) - 1, 200).astype(int)
    assert values[some] == pytest.approx(found.potential_v(points[some]), abs=2e-5)
