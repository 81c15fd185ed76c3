"""The error that a solution states of itself against the error it has.

Electrodes of the other tests, cut as the program would and as coarsely as can be (one segment to a mesh side,
graded free ends apart), against the same metal cut finely: wires and stars (separate solver), rods (hollow
tube), loops with rods (UNESA 1989), IEEE Std 80 Annex B, Balaidos surrogate; sources in their own tests.
"""

import numpy as np
import pytest
from layouts import corner_rods, ring, rods, square_mat, star, wires

from evenground.electrode import polygon_mat, rectangular_mat
from evenground.field import Backfill, _checks, solve, solve_groups
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

UNIFORM = LayeredSoil((100.0,))
WEAK = LayeredSoil((300.0, 60.0), (1.5,))
STRONG = LayeredSoil((60.0, 500.0), (1.5,))
STACK = LayeredSoil((200.0, 50.0, 800.0), (1.2, 1.5))
COARSE = 1e6


def loop(a, b):
    mat = rectangular_mat(length_x_m=a, length_y_m=b, meshes_x=1, meshes_y=1, depth_m=0.5, radius_m=0.00399)
    return mat + rods([(0, 0), (a, 0), (a, b), (0, b)], length=2.0, radius=0.007, top=0.5)


def balaidos():
    mat = rectangular_mat(length_x_m=80, length_y_m=60, meshes_x=8, meshes_y=6, depth_m=0.8, radius_m=0.00564)
    places = [(x, y) for x in np.linspace(0, 80, 9) for y in np.linspace(0, 60, 7)]
    return mat + rods(places, length=1.5, radius=0.007, top=0.8)


ELL = ((0, 0), (70, 0), (70, 35), (35, 35), (35, 105), (0, 105))

# name: electrode, soil, segment length of the reference [m]
ELECTRODES = {
    "rod 3 m": (rods([(0, 0)], length=3, radius=0.008), UNIFORM, 0.033),
    "rod 30 m": (rods([(0, 0)], length=30, radius=0.0125), UNIFORM, 0.06),
    "rod through an interface": (rods([(0, 0)], length=3.5, radius=0.01), WEAK, 0.041),
    "wire 10 m": (wires(((0, 0, 0.5), (10, 0, 0.5))), UNIFORM, 0.05),
    "wire 100 m": (wires(((0, 0, 0.5), (100, 0, 0.5))), UNIFORM, 0.2),
    "right angle": (wires(((0, 0, 0.5), (10, 0, 0.5)), ((0, 0, 0.5), (0, 10, 0.5))), UNIFORM, 0.05),
    "star of 4": (star(4, length=10, depth=0.5), UNIFORM, 0.06),
    "star of 8": (star(8, length=10, depth=0.5), UNIFORM, 0.1),
    "ring": (ring(5.0, 0.5, 0.005, 48), UNIFORM, 0.05),
    "loop, two layers": (loop(7, 2.5), WEAK, 0.06),
    "loop, lower layer resistive": (loop(4, 4), STRONG, 0.06),
    "8 rods": (rods([(3.0 * k, 0) for k in range(8)], length=3, radius=0.008), UNIFORM, 0.05),
    "3 x 3 meshes, three layers": (square_mat(12, 3), STACK, 0.1),
    "3 x 3 meshes and rods": (
        square_mat(30, 3) + corner_rods(30, 4, length=6, radius=0.008, top=0.5),
        STRONG,
        0.25,
    ),
    "Annex B.1": (square_mat(), LayeredSoil((400.0,)), 0.9),
    "Annex B.2 in two layers": (
        square_mat() + corner_rods(70, 20, length=7.5, radius=0.005, top=0.5),
        LayeredSoil((300.0, 100.0), (6.1,)),
        1.0,
    ),
    "Annex B.4 without rods": (
        polygon_mat(ELL, spacing_x_m=7, spacing_y_m=7, depth_m=0.5, radius_m=0.005),
        LayeredSoil((400.0,)),
        1.0,
    ),
    "Balaidos": (balaidos(), LayeredSoil((400.0, 50.0), (1.0,)), 0.8),
}


def true_and_stated(electrode, soil, fine, segment_m):
    """Relative errors of the resistance."""
    reference = solve(electrode, soil, segment_m=fine).resistance_ohm
    found = solve(electrode, soil, segment_m=segment_m)
    return reference / found.resistance_ohm - 1, found.resistance_error_ohm / found.resistance_ohm


@pytest.mark.parametrize("segment_m", [None, COARSE], ids=["default", "coarse"])
def test_the_stated_error_covers_the_true_one_on_every_electrode(segment_m):
    found = {name: true_and_stated(*case, segment_m) for name, case in ELECTRODES.items()}
    too_small = {name: v for name, v in found.items() if v[1] < abs(v[0])}
    assert too_small == {}
    assert len(found) >= 18
    # and it is of use: typically two to three times the true error
    ratios = [stated / -true for true, stated in found.values() if -true > 2e-4]
    assert len(ratios) >= 12
    assert np.median(ratios) < 4.0
    assert max(ratios) < 8.0


@pytest.mark.parametrize("seed", range(12))
def test_the_stated_error_covers_the_true_one_for_random_wires(seed):
    """Up to six wires anywhere, in up to four layers."""
    rng = np.random.default_rng(seed)
    parts = []
    for _ in range(rng.integers(1, 7)):
        start = rng.uniform([-15, -15, 0], [15, 15, 5])
        end = start + rng.uniform(-1, 1, 3) * [12, 12, 4]
        end[2] = abs(end[2])
        parts.append(Conductor(tuple(start), tuple(end), float(rng.choice([0.004, 0.008, 0.02]))))
    layers = rng.integers(1, 5)
    soil = LayeredSoil(tuple(10 ** rng.uniform(1, 3.5, layers)), tuple(rng.uniform(0.3, 5, layers - 1)))
    for segment_m in (None, COARSE):
        true, stated = true_and_stated(Electrode(parts), soil, 0.15, segment_m)
        assert abs(true) < stated


def test_a_sample_of_a_large_mat_says_what_all_its_segments_say(monkeypatch):
    electrode, soil = ELECTRODES["Annex B.2 in two layers"][:2]
    sampled = solve(electrode, soil).resistance_error_ohm
    monkeypatch.setattr(_checks, "CHECKED_SEGMENTS", 10**6)
    # 20 %: twice the scatter of the sample
    assert sampled == pytest.approx(solve(electrode, soil).resistance_error_ohm, rel=0.2)


def test_groups_state_their_errors_alike():
    mat = Electrode(Conductor(c.start_m, c.end_m, c.radius_m, c.kind, "mat") for c in square_mat(20, 2))
    rod = [Conductor((30, 10, 0.5), (30, 10, 6.5), 0.008, "rod", "rod")]
    coarse = solve_groups(mat + Electrode(rod), WEAK, segment_m=COARSE)
    fine = solve_groups(mat + Electrode(rod), WEAK, segment_m=0.2)
    true = np.diag(fine.conductance_s) / np.diag(coarse.conductance_s) - 1
    assert (true > 0).all()
    assert (true < coarse.relative_error).all()
    assert (coarse.relative_error < 6 * true).all()


def test_the_stated_error_holds_in_backfill():
    """Poorly conducting backfill evens out the leakage, so less of it is missed."""
    electrode, soil = ELECTRODES["right angle"][:2]
    filling = {"mat": Backfill(0.05, 400.0)}
    coarse = solve(electrode, soil, segment_m=COARSE, backfill=filling)
    fine = solve(electrode, soil, segment_m=0.21, backfill=filling)
    assert abs(coarse.resistance_ohm - fine.resistance_ohm) < coarse.resistance_error_ohm
