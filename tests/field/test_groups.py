"""Groups that are not bonded: earth resistance matrix, floating metal, links."""

import numpy as np
import pytest
from layouts import rods, square_mat

from evenground.errors import InputError
from evenground.field import Link, solve, solve_groups
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

SOIL = LayeredSoil((100.0,))


def grouped(electrode, name):
    return Electrode(Conductor(c.start_m, c.end_m, c.radius_m, c.kind, name) for c in electrode)


def two_rods(distance, length=3.0, soil=SOIL):
    a = grouped(rods([(0, 0)], length=length, radius=0.008), "a")
    b = grouped(rods([(distance, 0)], length=length, radius=0.008), "b")
    return solve_groups(a + b, soil, segment_m=0.2)


@pytest.mark.parametrize("distance", [5.0, 10.0, 40.0])
def test_mutual_resistance_of_two_rods(distance):
    """Even leakage on two flush rods, mean potential of one in the other's field, with mirror images:
    rho/(2 pi L) [asinh(2L/D) + D/(2L) - sqrt(1 + (D/(2L))^2)] (E. D. Sunde, Earth Conduction Effects in
    Transmission Systems, 1949, mutual resistance of parallel wires)."""
    found = two_rods(distance)
    u = distance / 6.0
    mutual = 100 / (2 * np.pi * 3.0) * (np.arcsinh(1 / u) - np.sqrt(1 + u * u) + u)
    # 1 %: real leakage is denser at the lower end
    assert found.resistance_ohm[0, 1] == pytest.approx(mutual, rel=0.01)


def test_own_resistance_is_that_of_the_piece_alone_and_the_matrix_is_symmetric():
    found = two_rods(12.0)
    alone = solve(rods([(0, 0)], length=3, radius=0.008), SOIL, segment_m=0.2)
    # the other rod lies there without net current, which lowers the value by 0.1 %
    assert found.resistance_ohm[0, 0] == pytest.approx(alone.resistance_ohm, rel=2e-3)
    assert found.report.energy_balance < 1e-9  # asymmetry before it is taken out
    assert np.array_equal(found.resistance_ohm, found.resistance_ohm.T)


def test_bonding_both_groups_gives_the_bonded_solution():
    mat = grouped(square_mat(20, 4), "mat")
    ring = grouped(rods([(30, 0), (30, 20)], length=5, radius=0.008, top=0.5), "outer")
    soil = LayeredSoil((200, 80), (2.0,))
    found, bonded = solve_groups(mat + ring, soil), solve(mat + ring, soil)
    state = found.energise(potential_v={"mat": 1.0, "outer": 1.0})
    total = sum(state.current_a.values()).real
    assert 1 / total == pytest.approx(bonded.resistance_ohm, rel=1e-9)
    p = np.array([[5.0, 5.0, 0.0], [28.0, 3.0, 0.0]])
    assert state.field_v(p).real == pytest.approx(bonded.potential_v(p), rel=1e-6)
    # a link of next to no impedance does the same, now fed with a current
    linked = found.energise(current_a={"mat": 10.0}, links=[Link("mat", "outer", 1e-9)])
    assert linked.potential_v["outer"].real == pytest.approx(10 * bonded.resistance_ohm, rel=1e-6)


def test_floating_metal_takes_the_potential_of_its_place():
    mat = grouped(square_mat(20, 4), "mat")
    far = grouped(rods([(60, 10)], length=1.0, radius=0.008), "peg")
    state = solve_groups(mat + far, SOIL).energise(current_a={"mat": 100.0})
    assert abs(state.current_a["peg"]) < 1e-9
    place = solve(square_mat(20, 4), SOIL)
    there = place.potential_v(np.array([[60, 10, 0.0], [60, 10, 1.0]]), gpr_v=100 * place.resistance_ohm)
    assert state.potential_v["peg"].real == pytest.approx(there.mean(), rel=0.01)


def test_a_long_floating_wire_carries_potential_along():
    """A floating wire from beside the mat outwards: nearly one potential, no net current, and the soil's
    potential at its far end rises."""
    mat = grouped(square_mat(20, 4), "mat")
    pipe = grouped(Electrode([Conductor((21, 10, 0.8), (80, 10, 0.8), 0.05)]), "pipe")
    state = solve_groups(mat + pipe, SOIL).energise(current_a={"mat": 100.0})
    alone = solve(square_mat(20, 4), SOIL)
    end = np.array([[80.0, 10.0, 0.0]])
    rise = alone.resistance_ohm * 100
    assert abs(state.current_a["pipe"]) < 1e-8
    assert abs(state.field_v(end)[0]) > 1.2 * alone.potential_v(end, gpr_v=rise)[0]
    assert state.current_a["mat"].real == pytest.approx(100.0)


def test_link_to_far_earth_divides_the_current():
    found = solve_groups(grouped(square_mat(20, 4), "mat"), SOIL)
    r = found.resistance_ohm[0, 0]
    state = found.energise(current_a={"mat": 10.0}, links=[Link("mat", "", complex(r, r))])
    expected = 10 * complex(r, r) / (r + complex(r, r))
    assert state.current_a["mat"] == pytest.approx(expected, rel=1e-9)
    assert np.iscomplexobj(state.field_v(np.array([[0.0, 0.0, 0.0]])))


def test_refusals():
    found = two_rods(5.0)
    with pytest.raises(InputError, match="unknown groups fence"):
        found.energise(potential_v={"fence": 1.0})
    with pytest.raises(InputError, match="not both"):
        found.energise(potential_v={"a": 1.0}, current_a={"a": 1.0})
    with pytest.raises(InputError, match="bond the metal"):
        Link("a", "b", 0.0)
    with pytest.raises(InputError, match="to itself"):
        Link("a", "a", 1.0)
    with pytest.raises(InputError, match="touch near"):
        solve_groups(grouped(square_mat(20, 4), "mat") + grouped(square_mat(10, 2), "other"), SOIL)
