"""Mats and rods: lengths and counts against published layouts and geometry."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenground.electrode import build_electrode, mesh_lines, perimeter_points, polygon_mat, rectangular_mat
from evenground.model.site import ExtraRun, MatLayout, RodList, RodRule

ROUNDING = 1e-9


def layout(outline, spacing=7.0, rods=(), listed=(), runs=(), **more):
    mat = MatLayout("m", tuple(outline), spacing, spacing, 0.5, rods=tuple(rods), **more)
    return build_electrode([mat], listed, runs, {"mat": 0.005})


SQUARE = ((0, 0), (70, 0), (70, 70), (0, 70))
ELL = ((0, 0), (70, 0), (70, 35), (35, 35), (35, 105), (0, 105))


@pytest.mark.parametrize(
    ("outline", "area", "perimeter", "length"),
    [
        pytest.param(SQUARE, 4900, 280, 1540, id="B.1 square"),
        pytest.param(((0, 0), (63, 0), (63, 84), (0, 84)), 5292, 294, 1659, id="B.3 rectangle"),
        pytest.param(ELL, 4900, 350, 1575, id="B.4 L-shape"),
    ],
)
def test_annex_b_mats_have_the_stated_lengths(outline, area, perimeter, length):
    """IEEE Std 80-2000, Annex B: A, Lp and LC of the worked examples (from memory, cross-checked)."""
    measures = layout(outline).measures
    assert measures.area_m2 == pytest.approx(area, rel=ROUNDING)
    assert measures.perimeter_m == pytest.approx(perimeter, rel=ROUNDING)
    assert measures.conductor_length_m == pytest.approx(length, rel=ROUNDING)
    assert measures.spacing_m == pytest.approx(7, rel=ROUNDING)
    assert measures.limits == ()


def test_the_largest_distance_of_the_l_shape_is_its_outer_diagonal():
    """IEEE Std 80-2000, Annex B.4: nd = Dm / sqrt(Lx^2 + Ly^2) = 1 (from memory)."""
    measures = layout(ELL).measures
    assert measures.diagonal_m == pytest.approx((70**2 + 105**2) ** 0.5, rel=ROUNDING)


@given(
    st.integers(1, 12),
    st.integers(1, 12),
    st.floats(3, 80, allow_nan=False),
    st.floats(3, 80, allow_nan=False),
)
def test_joints_and_lengths_follow_the_mesh_count(nx, ny, length_x, length_y):
    """A mesh of nx by ny has (nx+1)(ny+1) nodes (Euler's relation: nodes - edges + meshes = 1)."""
    outline = ((0, 0), (length_x, 0), (length_x, length_y), (0, length_y))
    lines_x = tuple(length_x * i / nx for i in range(nx + 1))
    lines_y = tuple(length_y * i / ny for i in range(ny + 1))
    built = layout(outline, lines_x_m=lines_x, lines_y_m=lines_y)
    nodes, meshes = (nx + 1) * (ny + 1), nx * ny
    edges = nx * (ny + 1) + ny * (nx + 1)
    assert nodes - edges + meshes == 1
    assert built.joints == nodes
    expected = (nx + 1) * length_y + (ny + 1) * length_x
    assert built.electrode.total_length_m == pytest.approx(expected, rel=1e-6)
    same = rectangular_mat(
        length_x_m=length_x, length_y_m=length_y, meshes_x=nx, meshes_y=ny, depth_m=0.5, radius_m=0.005
    )
    assert same.total_length_m == pytest.approx(expected, rel=ROUNDING)


def test_meshes_are_never_wider_than_asked_and_follow_inner_edges():
    assert mesh_lines(ELL, 7, 0) == pytest.approx([0, 7, 14, 21, 28, 35, 42, 49, 56, 63, 70])
    lines = mesh_lines(SQUARE, 6.9, 0)
    assert max(b - a for a, b in itertools.pairwise(lines)) <= 6.9


def test_a_slanting_edge_cuts_the_mesh_lines():
    """Right triangle: the lines parallel to a leg form similar triangles, so their lengths are known."""
    mat = polygon_mat(
        [(0, 0), (100, 0), (0, 50)], spacing_x_m=10, spacing_y_m=10, depth_m=0.8, radius_m=0.006
    )
    inner_y = sum(50 * (1 - x / 100) for x in range(10, 100, 10))
    inner_x = sum(100 * (1 - y / 50) for y in range(10, 50, 10))
    outline = 100 + 50 + (100**2 + 50**2) ** 0.5
    assert mat.total_length_m == pytest.approx(outline + inner_x + inner_y, rel=1e-7)


def test_rods_of_two_rules_at_one_place_count_once_and_the_longer_stays():
    rules = (RodRule("corners", 3.0, 14.2), RodRule("perimeter", 6.0, 14.2, count=20))
    built = layout(SQUARE, rods=rules)
    rods = built.electrode.of_kind("rod")
    assert len(rods) == 20
    assert {round(r.length_m, 6) for r in rods} == {6.0}
    assert "taken once" in built.notes[0]
    assert built.warnings == ()


def test_perimeter_places_are_equally_far_apart():
    places = perimeter_points(SQUARE, spacing_m=13.9)
    assert len(places) == 21
    assert places[0] == (0, 0)


def test_a_rod_away_from_the_metal_is_named():
    built = layout(SQUARE, listed=[RodList(((35.0, 35.0), (90.0, 10.0)), 3.0, 14.2)])
    assert [w for w in built.warnings if "(90, 10)" in w]
    assert not [w for w in built.warnings if "(35, 35)" in w]
    tops = [r.start_m[2] for r in built.electrode.of_kind("rod")]
    assert tops == [0.5, 0.0]


def test_hand_formulas_are_told_when_the_layout_is_not_theirs():
    unequal = layout(SQUARE, lines_x_m=(0, 5, 20, 50, 65, 70))
    assert "unequal" in " ".join(unequal.measures.limits)
    ring = ExtraRun(((-1, -1), (71, -1), (71, 71), (-1, 71), (-1, -1)), 0.5)
    assert "leave the outline" in " ".join(layout(SQUARE, runs=[ring]).measures.limits)


def test_a_crossing_outline_is_refused():
    with pytest.raises(ValueError, match="Self-intersection"):
        polygon_mat(
            [(0, 0), (10, 10), (10, 0), (0, 10)], spacing_x_m=5, spacing_y_m=5, depth_m=0.5, radius_m=0.005
        )
