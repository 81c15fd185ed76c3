"""Metal with impedance: compressed against dense, limits, circuits of separate mats, refusals."""

import numpy as np
import pytest
from layouts import corner_rods, square_mat, wires

from evenground.errors import CancelledError, InputError, TooLargeError
from evenground.field import (
    Backfill,
    Injection,
    Link,
    Metal,
    internal_impedance,
    solve,
    solve_groups,
    solve_network,
)
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

COPPER, STEEL = Metal(1.78e-8), Metal(1.4e-7, 200.0)
METALS = {"mat": COPPER, "rod": STEEL}
SOIL = LayeredSoil((300.0, 60.0, 900.0), (1.2, 3.0))


def large_mat():
    return square_mat(700, 14, depth=0.8) + corner_rods(700, 56, length=5, radius=0.008, top=0.8)


def both_ways(electrode, soil, metals, feeds, **how):
    return [solve_network(electrode, soil, metals, feeds, method=m, **how) for m in ("dense", "compressed")]


def assert_same(dense, packed):
    """1e-5 of the largest value: tolerance of the compression; single leaked currents as in `solve`."""
    v = np.abs(dense.node_potential_v).max()
    assert packed.node_potential_v == pytest.approx(dense.node_potential_v, abs=1e-5 * v)
    assert packed.axial_a == pytest.approx(dense.axial_a, abs=1e-5 * np.abs(dense.axial_a).max())
    assert packed.leaked_a == pytest.approx(dense.leaked_a, abs=2e-4 * np.abs(dense.leaked_a).max())
    assert packed.report.residual < 1e-6
    assert packed.report.energy_balance < 1e-3
    assert packed.report.node_balance < 1e-9
    assert packed.report.iterations > 3


def test_a_mat_of_half_a_square_kilometre_with_rods():
    """700 m: the earth's return matters, and its raster stands against pairs summed one by one."""
    dense, packed = both_ways(
        large_mat(), SOIL, METALS, [Injection((0, 0, 0.8), 100.0)], segment_m=100.0, frequency_hz=50.0
    )
    assert_same(dense, packed)
    free = solve_network(
        large_mat(),
        SOIL,
        METALS,
        [Injection((0, 0, 0.8), 100.0)],
        segment_m=100.0,
        earth_return=False,
    )
    assert abs(free.impedance_ohm - dense.impedance_ohm) > 0.005 * abs(dense.impedance_ohm)


def test_inclined_wires_backfill_insulation_and_several_feeds():
    slanted = wires(((0, 0, 0.8), (60, 35, 4.0)), ((100, 100, 0.8), (140, 150, 3.0)))
    cable = Electrode(
        [
            Conductor((100, 0, 0.8), (100, 0, 1.1), 0.005, kind="wire"),
            Conductor((100, 0, 1.1), (100, 97, 1.1), 0.005, kind="wire"),
            Conductor((100, 97, 1.1), (100, 97, 0.8), 0.005, kind="wire"),
        ]
    )
    stub = wires(((100, 97, 0.8), (103, 97, 0.8)))
    electrode = square_mat(100, 12, depth=0.8) + slanted + cable + stub
    metals = {"mat": COPPER, "wire": Metal(1.78e-8, insulated=True)}
    feeds = [Injection((0, 0, 0.8), 100.0), Injection((100, 100, 0.8), -40.0 + 5.0j)]
    dense, packed = both_ways(
        electrode, SOIL, metals, feeds, segment_m=6.0, backfill={"mat": Backfill(0.05, 30.0)}
    )
    assert_same(dense, packed)
    for found in (dense, packed):
        assert found.leaked_a.sum() == pytest.approx(60.0 + 5.0j, rel=1e-6)
        assert "are insulated and leak nothing" in " ".join(found.notes)


def test_published_drop_with_the_compressed_solution():
    """300 m mat of steel in 100 ohm m, separate solver of the same nodal form without earth return:
    0.2089 + j0.0733 at the corner, far/near 0.661; 3 % for the joints of segments."""
    mat, soil = square_mat(300, 15, depth=0.8, radius=0.008), LayeredSoil((100.0,))
    found = solve_network(
        mat,
        soil,
        {"mat": STEEL},
        [Injection((0, 0, 0.8), 1.0)],
        segment_m=40.0,
        method="compressed",
        earth_return=False,
    )
    assert found.impedance_ohm == pytest.approx(0.2089 + 0.0733j, rel=0.005)
    far = np.argmin(np.linalg.norm(found.nodes_m - [300, 300, 0.8], axis=1))
    assert abs(found.node_potential_v[far] / found.impedance_ohm) == pytest.approx(0.661, abs=0.005)


@pytest.mark.parametrize("method", ["dense", "compressed"])
def test_perfect_metal_is_equipotential(method):
    mat, filling = square_mat(60, 6), {"mat": Backfill(0.05, 30.0)}
    feed = [Injection((0, 0, 0.5), 5.0)]
    found = solve_network(
        mat, SOIL, {"mat": Metal(1e-12)}, feed, frequency_hz=1e-6, method=method, backfill=filling
    )
    bonded = solve(mat, SOIL, backfill=filling)
    # 1e-5: the ratio of admittances, or the compression, costs digits
    assert found.impedance_ohm == pytest.approx(bonded.resistance_ohm, rel=1e-5)
    assert found.greatest_difference_v < 1e-4


def test_two_injection_points_are_reciprocal():
    """The potential at B for a current at A is that at A for the same current at B."""
    a, b = (0, 0, 0.8), (700, 450, 0.8)
    for method in ("dense", "compressed"):
        here = solve_network(
            large_mat(), SOIL, METALS, [Injection(a, 1.0), Injection(b, 0.0)], segment_m=100, method=method
        )
        there = solve_network(
            large_mat(), SOIL, METALS, [Injection(a, 0.0), Injection(b, 1.0)], segment_m=100, method=method
        )
        at_b = here.node_potential_v[here.injected_at[1]]
        at_a = there.node_potential_v[there.injected_at[0]]
        # the residual of 1e-6 of the largest potential
        assert at_b == pytest.approx(at_a, rel=1e-5)


@pytest.mark.parametrize("method", ["dense", "compressed"])
def test_power_fed_in_is_lost_in_soil_and_metal(method):
    found = solve_network(
        large_mat(), SOIL, METALS, [Injection((0, 0, 0.8), 100.0)], segment_m=100, method=method
    )
    fed = (found.impedance_ohm * 100.0**2).real
    assert found.earth_power_w + found.metal_power_w == pytest.approx(fed, rel=1e-6)
    assert found.earth_power_w > 0.0
    assert found.metal_power_w > 0.0


def test_a_current_loop_through_the_metal_leaves_little_in_the_soil():
    """Fed at one corner and taken out at the next one: superposition of both, nothing leaks in sum."""
    mat, soil = square_mat(60, 6), LayeredSoil((100.0,))
    a, b = (0, 0, 0.5), (60, 0, 0.5)
    loop = solve_network(mat, soil, METALS, [Injection(a, 100.0), Injection(b, -100.0)])
    one = solve_network(mat, soil, METALS, [Injection(a, 100.0)])
    two = solve_network(mat, soil, METALS, [Injection(b, -100.0)])
    assert loop.leaked_a.sum() == pytest.approx(0.0, abs=1e-9)
    assert np.abs(loop.leaked_a).sum() < 2.0
    assert loop.node_potential_v == pytest.approx(one.node_potential_v + two.node_potential_v, abs=1e-9)


@pytest.mark.parametrize("method", ["dense", "compressed"])
def test_insulated_wire_between_two_mats_is_a_link_of_its_resistance(method):
    """At a tenth of a hertz induction is nothing and the mats are equipotential; the circuit of the earth's
    conductance matrix with a link of rho l/(pi a^2) gives the same (`solve_groups`)."""
    soil = LayeredSoil((100.0, 30.0), (3.0,))
    one = square_mat(30, 3)
    two = square_mat(30, 3).translated(200.0, 0.0)
    rho, a = 1e-6, 0.004
    wire = Electrode(
        [
            Conductor((30, 0, 0.5), (30, 0, 0.9), a, kind="wire"),
            Conductor((30, 0, 0.9), (200, 0, 0.9), a, kind="wire"),
            Conductor((200, 0, 0.9), (200, 0, 0.5), a, kind="wire"),
        ]
    )
    found = solve_network(
        one + two + wire,
        soil,
        {"mat": Metal(1e-12), "wire": Metal(rho, insulated=True)},
        [Injection((0, 0, 0.5), 10.0)],
        frequency_hz=0.1,
        method=method,
    )
    named = [
        Electrode(Conductor(c.start_m, c.end_m, c.radius_m, group=g) for c in e)
        for e, g in ((one, "one"), (two, "two"))
    ]
    longest = found.report.longest_segment_m
    earth = solve_groups(named[0] + named[1], soil, segment_m=longest)
    link = Link("one", "two", rho * wire.total_length_m / (np.pi * a * a))
    state = earth.energise(current_a={"one": 10.0}, links=[link])
    at = [np.argmin(np.linalg.norm(found.nodes_m - p, axis=1)) for p in ((0, 0, 0.5), (230, 30, 0.5))]
    v = found.node_potential_v[at]
    # 2e-4: what is left of the induction
    assert v[0] == pytest.approx(state.potential_v["one"], rel=2e-4)
    assert v[1] == pytest.approx(state.potential_v["two"], rel=2e-4)
    assert internal_impedance(Metal(rho), a, 0.1).real == pytest.approx(rho / (np.pi * a * a), rel=1e-6)


def test_bare_metal_apart_is_coupled_through_the_soil_only():
    """A second mat that touches nothing floats: it leaks nothing in sum, at the potential of the soil."""
    soil = LayeredSoil((100.0,))
    one, two = square_mat(30, 3), square_mat(30, 3).translated(60.0, 0.0)
    ideal = {"mat": Metal(1e-12)}
    found = solve_network(one + two, soil, ideal, [Injection((0, 0, 0.5), 10.0)], frequency_hz=1e-6)
    named = [
        Electrode(Conductor(c.start_m, c.end_m, c.radius_m, group=g) for c in e)
        for e, g in ((one, "one"), (two, "two"))
    ]
    longest = found.report.longest_segment_m
    state = solve_groups(named[0] + named[1], soil, segment_m=longest).energise(current_a={"one": 10.0})
    far = np.argmin(np.linalg.norm(found.nodes_m - [90, 30, 0.5], axis=1))
    assert found.node_potential_v[far] == pytest.approx(state.potential_v["two"], rel=1e-5)


def test_refusals():
    mat, soil, feed = square_mat(60, 6), LayeredSoil((100.0,)), [Injection((0, 0, 0.5), 1.0)]
    with pytest.raises(InputError, match="not 'auto', 'dense' or 'compressed'"):
        solve_network(mat, soil, METALS, feed, method="fast")
    with pytest.raises(TooLargeError, match=r"axial currents need .* GB are allowed"):
        solve_network(mat, SOIL, METALS, feed, method="compressed", memory_limit_bytes=20_000_000)
    with pytest.raises(CancelledError, match="stopped at: iteration"):
        solve_network(
            mat, soil, METALS, feed, method="compressed", progress=lambda text, _: "iteration" not in text
        )
    alone = Electrode([Conductor((100, 0, 0.5), (120, 0, 0.5), 0.005, kind="wire")])
    metals = {"mat": COPPER, "wire": Metal(1.78e-8, insulated=True)}
    with pytest.raises(InputError, match="1 pieces of insulated metal touch no bare metal"):
        solve_network(mat + alone, soil, metals, feed)
    with pytest.raises(InputError, match="backfill around insulated conductors: wire"):
        solve_network(mat + alone, soil, metals, feed, backfill={"wire": Backfill(0.1, 10.0)})


def test_progress_goes_up():
    seen = []
    solve_network(
        square_mat(60, 6),
        SOIL,
        METALS,
        [Injection((0, 0, 0.5), 1.0)],
        method="compressed",
        progress=lambda text, fraction: seen.append(fraction),
    )
    assert seen == sorted(seen)
    assert seen[0] == 0.0
    assert seen[-1] == 1.0
