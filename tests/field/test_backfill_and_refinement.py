"""Conductors in backfill or concrete, and the refinement study."""

import numpy as np
import pytest
from layouts import rods, square_mat

from evenground.errors import InputError
from evenground.field import Backfill, refinement_study, solve
from evenground.model.soil import LayeredSoil

ROD = rods([(0, 0)], length=3.0, radius=0.008)


@pytest.mark.parametrize(("rho", "filling"), [(500.0, 50.0), (100.0, 30.0), (50.0, 120.0)])
def test_rod_in_concrete(rho, filling):
    """Fagan and Lee 1970, IEEE Std 80 (from memory, cross-checked):
    R = [rho_c ln(D_c/d) + rho (ln(8 L/D_c) - 1)]/(2 pi L)."""
    outer = 0.10
    found = solve(ROD, LayeredSoil((rho,)), backfill={"rod": Backfill(outer, filling)}).resistance_ohm
    length = 3.0
    formula = (filling * np.log(outer / 0.008) + rho * (np.log(4 * length / outer) - 1)) / (
        2 * np.pi * length
    )
    # 4 %: the handbook's rod formula lies 1 to 2 % above an equipotential rod, more for a thick one
    assert found == pytest.approx(formula, rel=0.04)


def test_backfill_of_the_soils_own_resistivity_changes_little():
    soil = LayeredSoil((100.0,))
    plain = solve(ROD, soil, segment_m=0.3).resistance_ohm
    filled = solve(ROD, soil, segment_m=0.3, backfill={"rod": Backfill(0.03, 100.0)}).resistance_ohm
    # 0.5 %: the cylinder has no end face, and current crosses it radially only
    assert filled == pytest.approx(plain, rel=0.005)


def test_better_backfill_helps_and_perfect_backfill_is_a_thick_rod():
    soil = LayeredSoil((300.0, 100.0), (1.5,))
    values = [
        solve(ROD, soil, backfill={"rod": Backfill(0.1, rho)}).resistance_ohm
        for rho in (1e-6, 1.0, 20.0, 200.0)
    ]
    assert values == sorted(values)
    thick = solve(rods([(0, 0)], length=3.0, radius=0.1), soil).resistance_ohm
    assert values[0] == pytest.approx(thick, rel=1e-6)
    found = solve(ROD, soil, backfill={"rod": Backfill(0.1, 20.0)})
    assert found.report.energy_balance < 2e-3


def test_dense_and_compressed_agree_with_backfill():
    mat, soil = square_mat(100, 12), LayeredSoil((100.0,))
    filling = {"mat": Backfill(0.05, 20.0)}
    dense = solve(mat, soil, backfill=filling, method="dense").resistance_ohm
    packed = solve(mat, soil, backfill=filling, method="compressed").resistance_ohm
    assert packed == pytest.approx(dense, rel=1e-5)


def test_refusals():
    soil = LayeredSoil((100.0,))
    with pytest.raises(InputError, match="kinds that do not occur: pile"):
        solve(ROD, soil, backfill={"pile": Backfill(0.1, 10.0)})
    with pytest.raises(InputError, match="must exceed"):
        solve(ROD, soil, backfill={"rod": Backfill(0.005, 10.0)})
    with pytest.raises(InputError, match="finite number above 0"):
        Backfill(0.1, 0.0)
    with pytest.raises(InputError, match="at least 2"):
        refinement_study(ROD, soil, levels=1)


def test_refinement_study_shows_convergence():
    soil = LayeredSoil((300.0, 100.0), (2.0,))
    steps = refinement_study(square_mat(30, 3), soil, levels=4, points_m=[[5.0, 5.0, 0.0]])
    changes = [s.change for s in steps]
    assert np.isnan(changes[0])
    assert all(-0.01 < c < 0 for c in changes[1:])
    assert abs(changes[3]) < abs(changes[1])
    assert steps[1].segment_m == pytest.approx(steps[0].segment_m / 2)
    assert steps[-1].segments > steps[0].segments
    assert steps[-1].potential_v[0] == pytest.approx(steps[-2].potential_v[0], abs=0.003)
    # what the first level says of its own error covers what the last one finds
    assert steps[0].resistance_ohm - steps[-1].resistance_ohm < steps[0].resistance_error_ohm
