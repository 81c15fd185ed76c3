"""Laws that every solution must keep, tried on random layouts."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from layouts import corner_rods, square_mat, wires

from evenground.field import solve
from evenground.field._dense import assemble_matrix
from evenground.field._images import fit_images
from evenground.field._segments import cut_conductors
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

COORDINATE = st.floats(-20.0, 20.0)
DEPTH = st.floats(0.0, 6.0)
POINT = st.tuples(COORDINATE, COORDINATE, DEPTH)


@st.composite
def electrodes(draw, most=4):
    parts = []
    for _ in range(draw(st.integers(1, most))):
        a, b = draw(POINT), draw(POINT)
        assume(np.linalg.norm(np.subtract(a, b)) > 1.0)
        parts.append(Conductor(a, b, draw(st.sampled_from([0.004, 0.008, 0.02]))))
    return Electrode(parts)


@st.composite
def soils(draw, most=4):
    n = draw(st.integers(1, most))
    rho = tuple(10.0 ** draw(st.floats(1.0, 3.5)) for _ in range(n))
    return LayeredSoil(rho, tuple(draw(st.floats(0.3, 5.0)) for _ in range(n - 1)))


def moved(electrode, function):
    return Electrode(Conductor(function(c.start_m), function(c.end_m), c.radius_m) for c in electrode)


FEW = settings(max_examples=12, deadline=None)


@FEW
@given(electrodes(), soils())
def test_the_matrix_is_symmetric_and_the_solution_consistent(electrode, soil):
    segments = cut_conductors(electrode.conductors, soil)
    matrix = assemble_matrix(segments, fit_images(soil))
    # outer and inner integration swap roles across the diagonal, so this is by construction
    assert np.array_equal(matrix, matrix.T)
    found = solve(electrode, soil)
    assert found.report.residual < 1e-9
    # power fed in = power leaked, by the evaluation used for maps; 3e-3: for wires that come within a
    # radius of their own mirror image, the two evaluations treat the thickness differently
    assert found.report.energy_balance < 3e-3
    total = np.sum(found.leakage_a_per_m(gpr_v=10.0) * found.segments.length_m)
    assert total == pytest.approx(10.0 / found.resistance_ohm, rel=1e-12)


@FEW
@given(electrodes(), soils(), st.floats(0.0, 6.28), COORDINATE, COORDINATE)
def test_turning_and_moving_changes_nothing(electrode, soil, angle, dx, dy):
    c, s = np.cos(angle), np.sin(angle)

    def turn(p):
        return (c * p[0] - s * p[1] + dx, s * p[0] + c * p[1] + dy, p[2])

    here, there = solve(electrode, soil), solve(moved(electrode, turn), soil)
    # a pair at the edge between two integration rules may change sides
    assert there.resistance_ohm == pytest.approx(here.resistance_ohm, rel=1e-4)
    points = np.array([[1.0, 2.0, 0.0], [-7.0, 3.0, 0.5], [30.0, 0.0, 0.0]])
    turned = np.array([turn(p) for p in points])
    assert there.potential_v(turned) == pytest.approx(here.potential_v(points), rel=1e-3)


@FEW
@given(electrodes(), soils(), st.floats(0.1, 50.0), st.floats(0.2, 5.0))
def test_scaling(electrode, soil, rho_factor, size):
    """R is proportional to resistivity and inversely to size."""
    here = solve(electrode, soil).resistance_ohm
    rho = tuple(rho_factor * r for r in soil.resistivities_ohm_m)
    assert solve(electrode, LayeredSoil(rho, soil.thicknesses_m)).resistance_ohm == pytest.approx(
        rho_factor * here, rel=1e-6
    )
    grown = Electrode(
        Conductor(tuple(size * v for v in c.start_m), tuple(size * v for v in c.end_m), size * c.radius_m)
        for c in electrode
    )
    bigger = LayeredSoil(soil.resistivities_ohm_m, tuple(size * t for t in soil.thicknesses_m))
    # 1e-3: metal counts as touching within a fixed millimetre
    assert solve(grown, bigger).resistance_ohm == pytest.approx(here / size, rel=1e-3)


@FEW
@given(electrodes(most=3), electrodes(most=1), soils())
def test_more_metal_never_raises_the_resistance(electrode, more, soil):
    before, after = solve(electrode, soil, segment_m=2.0), solve(electrode + more, soil, segment_m=2.0)
    assert after.resistance_ohm <= before.resistance_ohm * (1 + 1e-3)


@FEW
@given(electrodes(), soils())
def test_resistance_lies_between_those_of_the_uniform_extremes(electrode, soil):
    low = solve(electrode, LayeredSoil((min(soil.resistivities_ohm_m),))).resistance_ohm
    high = solve(electrode, LayeredSoil((max(soil.resistivities_ohm_m),))).resistance_ohm
    assert low * (1 - 2e-3) <= solve(electrode, soil).resistance_ohm <= high * (1 + 2e-3)


@FEW
@given(electrodes(), soils(), st.data())
def test_equal_layers_collapse(electrode, soil, data):
    """A layer split in two of the same resistivity is the same soil; only the cuts differ."""
    index = data.draw(st.integers(0, soil.layers - 1))
    rho = list(soil.resistivities_ohm_m)
    thick = [*soil.thicknesses_m, 4.0]
    rho.insert(index, rho[index])
    thick[index : index + 1] = [0.5 * thick[index], 0.5 * thick[index]]
    split = LayeredSoil(tuple(rho), tuple(thick[: len(rho) - 1]))
    one, two = solve(electrode, soil, segment_m=0.5), solve(electrode, split, segment_m=0.5)
    assert two.resistance_ohm == pytest.approx(one.resistance_ohm, rel=5e-3)


def test_very_thick_and_very_thin_top_layers():
    mat = square_mat(20, 4)
    alone = solve(mat, LayeredSoil((100,))).resistance_ohm
    assert solve(mat, LayeredSoil((100, 1000), (1e5,))).resistance_ohm == pytest.approx(alone, rel=2e-4)
    lower = solve(mat, LayeredSoil((1000,))).resistance_ohm
    for thin in (0.02, 0.002):
        # a film of a hundred times less resistance than the mat's own scale bears no current
        found = solve(mat, LayeredSoil((3000, 1000), (thin,))).resistance_ohm
        assert found == pytest.approx(lower, rel=0.002)


def test_potential_is_that_of_the_metal_on_the_metal_and_falls_to_nothing():
    soil = LayeredSoil((300, 100), (3.0,))
    found = solve(
        square_mat(30, 3) + corner_rods(30, 4, length=6, radius=0.008, top=0.5), soil, segment_m=1.0
    )
    middle = found.segments.middle.T.copy()
    middle[:, 2] += found.segments.radius_m
    on_metal = found.potential_v(middle)
    assert np.median(on_metal) == pytest.approx(1.0, abs=0.01)
    assert on_metal == pytest.approx(np.ones(len(middle)), abs=0.06)
    away = found.potential_v(np.array([[1e4, 0, 0.0]]), gpr_v=found.resistance_ohm)
    assert away[0] == pytest.approx(100 / (2 * np.pi * 1e4), rel=0.01)


def test_potential_is_continuous_across_an_interface_and_its_slope_jumps_as_the_conductivity():
    soil = LayeredSoil((400, 50), (2.0,))
    found = solve(wires(((0, 0, 0.7), (12, 0, 0.7)), ((3, 0, 0.7), (3, 0, 5.0))), soil)
    x, y, e = np.array([8.0, 1.0, 15.0]), np.array([1.5, 0.5, 3.0]), 0.02

    def at(z):
        return found.potential_v(np.column_stack([x, y, np.full(3, z)]))

    above, on, below = at(2.0 - e), at(2.0), at(2.0 + e)
    assert at(2.0 + 1e-9) == pytest.approx(on, rel=1e-4)
    ratio = (on - above) / (below - on)
    # flux continuity; 5 %: one-sided differences over 2 cm
    assert ratio == pytest.approx(np.full(3, 400 / 50), rel=0.05)


@pytest.mark.parametrize(
    "soil", [LayeredSoil((100,)), LayeredSoil((300, 60), (1.2,)), LayeredSoil((300, 60, 900), (1.2, 3.0))]
)
def test_tables_and_direct_sums_agree(soil):
    """One point goes image by image, a raster goes through tables: same potential."""
    found = solve(square_mat(30, 5) + corner_rods(30, 4, length=4, radius=0.008, top=0.5), soil)
    g = np.linspace(-5, 35, 41)
    x, y = np.meshgrid(g, g)
    raster = np.column_stack([x.ravel(), y.ravel(), 0 * x.ravel()])
    values = found.potential_v(raster)
    some = np.linspace(0, len(raster) - 1, 60).astype(int)
    single = np.concatenate([found.potential_v(raster[k : k + 1]) for k in some])
    assert values[some] == pytest.approx(single, rel=2e-5)


def test_refinement_converges_and_the_error_estimate_holds():
    soil = LayeredSoil((300, 100), (2.0,))
    electrode = square_mat(30, 3) + corner_rods(30, 4, length=6, radius=0.008, top=0.5)
    fine = solve(electrode, soil, segment_m=0.25)
    values = [solve(electrode, soil, segment_m=s) for s in (5.0, 2.5, 1.2, 0.8)]
    r = [v.resistance_ohm for v in values]
    assert r == sorted(r, reverse=True)
    assert r[-1] > fine.resistance_ohm * (1 - 1e-3)
    for found in values:
        assert abs(found.resistance_ohm - fine.resistance_ohm) < found.resistance_error_ohm + 1e-3 * r[-1]
