"""Joints against hand counts and Euler's relation."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.electrode import polygon_mat, rectangular_mat, rods_at
from evenground.model.electrode import Conductor, Electrode
from evenground.schedules import find_joints

EXACT = 1e-9


def counts(conductors):
    survey = find_joints(tuple(conductors))
    return {kind: survey.count(kind) for kind in ("crossing", "tee", "corner", "star", "rod", "riser")}


def mesh(nx, ny, dx=5.0, dy=4.0, **more):
    return rectangular_mat(
        length_x_m=nx * dx, length_y_m=ny * dy, meshes_x=nx, meshes_y=ny, depth_m=0.6, radius_m=0.005, **more
    )


@given(st.integers(1, 9), st.integers(1, 9), st.floats(0.5, 30), st.floats(0.5, 30))
def test_a_mesh_has_the_nodes_of_eulers_relation(nx, ny, dx, dy):
    """Euler's relation for a plane graph: nodes - edges + meshes = 1. A mesh of nx by ny has 4 corners,
    2(nx-1) + 2(ny-1) tees and (nx-1)(ny-1) crossings (counting on squared paper)."""
    found = counts(mesh(nx, ny, dx, dy))
    assert found["corner"] == 4
    assert found["tee"] == 2 * (nx - 1) + 2 * (ny - 1)
    assert found["crossing"] == (nx - 1) * (ny - 1)
    arms = 2 * found["corner"] + 3 * found["tee"] + 4 * found["crossing"]
    nodes, edges = sum(found.values()), arms // 2
    assert nodes - edges + nx * ny == 1


@given(st.integers(1, 6), st.integers(1, 6), st.integers(1, 4))
def test_drawn_in_pieces_or_whole_gives_the_same_joints(nx, ny, parts):
    whole = mesh(nx, ny)
    pieces = []
    for c in whole:
        cuts = [
            tuple(a + (b - a) * k / parts for a, b in zip(c.start_m, c.end_m, strict=True))
            for k in range(parts + 1)
        ]
        pieces += [Conductor(a, b, c.radius_m) for a, b in itertools.pairwise(cuts)]
    assert counts(pieces) == counts(whole)


@settings(deadline=None)
@given(st.floats(0, 2 * math.pi), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_joints_do_not_depend_on_where_the_site_lies(angle, x, y):
    turned = []
    for c in mesh(3, 2):
        ends = []
        for px, py, pz in (c.start_m, c.end_m):
            ends.append(
                (
                    x + px * math.cos(angle) - py * math.sin(angle),
                    y + px * math.sin(angle) + py * math.cos(angle),
                    pz,
                )
            )
        turned.append(Conductor(*ends, c.radius_m))
    assert counts(turned) == counts(mesh(3, 2))


def test_an_l_shaped_mat_has_an_inner_corner_with_four_arms():
    """Counted by hand: three squares of 10 m in an L. Corners 5; tees 2 on the long sides; the inner corner
    is met by the two mesh lines that go on from its edges, so it is a crossing."""
    ell = polygon_mat(
        [(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)],
        spacing_x_m=10,
        spacing_y_m=10,
        depth_m=0.5,
        radius_m=0.005,
    )
    found = counts(ell)
    assert found == {"crossing": 1, "tee": 2, "corner": 5, "star": 0, "rod": 0, "riser": 0}


def test_two_mats_that_share_an_edge_count_it_once():
    """Two squares side by side: 4 corners and 2 tees at the shared edge (by hand)."""
    found = counts(mesh(1, 1) + mesh(1, 1, corner_m=(5.0, 0.0)))
    assert (found["corner"], found["tee"], found["crossing"]) == (4, 2, 0)


def test_six_conductors_from_one_place_are_a_star():
    rays = [
        Conductor((0, 0, 0.5), (9 * math.cos(k), 9 * math.sin(k), 0.5), 0.005)
        for k in (0, 1.05, 2.09, 3.14, 4.19, 5.24)
    ]
    assert counts(rays)["star"] == 1


def test_a_polygon_in_small_steps_is_one_bent_conductor():
    points = [(10 * math.cos(a), 10 * math.sin(a), 0.6) for a in (2 * math.pi * k / 36 for k in range(37))]
    survey = find_joints(tuple(Conductor(a, b, 0.005) for a, b in itertools.pairwise(points)))
    assert survey.joints == ()
    assert survey.bends == 36


def test_conductors_that_pass_at_different_depths_are_not_joined_but_named():
    a = Conductor((0, 0, 0.5), (10, 0, 0.5), 0.005)
    b = Conductor((5, -5, 0.9), (5, 5, 0.9), 0.005)
    survey = find_joints((a, b))
    assert survey.joints == ()
    assert survey.passes_m == (pytest.approx((5, 0, 0.7), abs=EXACT),)


def test_rods_join_where_their_top_or_their_length_meets_a_conductor():
    line = Conductor((0, 0, 0.6), (10, 0, 0.6), 0.005)
    rods = (*rods_at([(0, 0), (5, 0)], length_m=3, radius_m=0.007, top_depth_m=0.6),)
    through = Conductor((8, 0, 0.3), (8, 0, 3.3), 0.007, kind="rod")
    alone = Conductor((5, 4, 0.6), (5, 4, 3.6), 0.007, kind="rod")
    too_deep = Conductor((3, 0, 1.0), (3, 0, 4.0), 0.007, kind="rod")
    riser = Conductor((10, 0, 0.6), (10, 0, 0.0), 0.005, kind="riser")
    survey = find_joints((line, *rods, through, alone, too_deep, riser))
    assert survey.count("rod") == 3
    assert survey.count("riser") == 1
    assert survey.loose == (4, 5)


def test_no_metal_and_rods_alone_have_no_joints():
    assert find_joints(()).joints == ()
    rod = Conductor((0, 0, 0), (0, 0, 3), 0.007, kind="rod")
    assert find_joints((rod,)).loose == (0,)


def test_joints_are_numbered_by_row():
    numbers = [(j.number, j.place_m[:2]) for j in find_joints(mesh(1, 1).conductors).joints]
    assert numbers == [(1, (0, 0)), (2, (5, 0)), (3, (0, 4)), (4, (5, 4))]


def test_an_empty_set_is_an_electrode_too():
    assert counts(Electrode()) == dict.fromkeys(("crossing", "tee", "corner", "star", "rod", "riser"), 0)
