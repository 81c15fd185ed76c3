"""Edit commands of the plan: pure, without a browser."""

import copy
from itertools import pairwise
from math import dist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.errors import InputError
from evenground.project import parse_project, starter_text
from evenground.project._edit import edit_text, read_values, unwrapped
from evenground.web._commands import changes_of
from evenground.web._fill import graded_lines
from evenground.web._view import plan_view

SITE = starter_text("substation")


def done(text, command):
    """Text and plain values after a command."""
    new = edit_text(text, changes_of(unwrapped(read_values(text)), command))
    return new, unwrapped(read_values(new))


def test_a_drawn_conductor_follows_the_mat_in_depth_and_is_a_valid_project():
    new, data = done(SITE, {"do": "add_run", "points": [[0, 0], [5, 0], [5, 5]]})
    assert data["runs"][-1] == {
        "points_m": [[0, 0], [5, 0], [5, 5]],
        "depth_m": data["mats"][0]["depth_m"],
        "conductor": "mat",
    }
    assert parse_project(new).runs[-1].points_m == ((0, 0), (5, 0), (5, 5))


def test_rods_gather_in_one_list_and_no_two_stand_in_one_place():
    new, data = done(SITE, {"do": "add_rod", "at": [3, 4]})
    count = len(data["rods"])
    new, data = done(new, {"do": "add_rod", "at": [6, 4]})
    assert len(data["rods"]) == count
    assert data["rods"][-1]["at_m"][-2:] == [[3, 4], [6, 4]]
    with pytest.raises(InputError, match="stands there already"):
        done(new, {"do": "add_rod", "at": [6, 4.01]})


def test_a_mat_cover_and_profile_line_are_drawn_with_names_of_their_own():
    text = SITE
    for kind in ("mat", "cover", "line"):
        for _ in range(2):
            text, data = done(text, {"do": f"add_{kind}", "points": [[100, 0], [130, 0], [130, 30]]})
    assert len({m["name"] for m in data["mats"]}) == len(data["mats"])
    project = parse_project(text)
    assert {p.name for p in project.assessment.profiles} >= {"line 1", "line 2"}


def test_moving_a_mat_with_stated_lines_takes_the_lines_along():
    text = edit_text(SITE, [])
    _, data = done(text, {"do": "mesh_line", "item": "mats/0", "axis": "x", "at": 2.2})
    text, _ = done(text, {"do": "mesh_line", "item": "mats/0", "axis": "x", "at": 2.2})
    moved, after = done(text, {"do": "move", "items": ["mats/0"], "by": [10, -3]})
    assert [
        b - a for a, b in zip(data["mats"][0]["lines_x_m"], after["mats"][0]["lines_x_m"], strict=True)
    ] == pytest.approx([10] * len(after["mats"][0]["lines_x_m"]), abs=1e-9)
    back, _ = done(moved, {"do": "move", "items": ["mats/0"], "by": [-10, 3]})
    assert plan_view(unwrapped(read_values(back)))["bounds"] == plan_view(data)["bounds"]


def test_stating_a_mesh_line_keeps_the_other_direction_and_the_sum_of_lines():
    before = plan_view(unwrapped(read_values(SITE)))["items"]
    mat = next(i for i in before if i["id"] == "mats/0")
    new, data = done(SITE, {"do": "mesh_line", "item": "mats/0", "axis": "x", "at": 2.2})
    after = next(i for i in plan_view(data)["items"] if i["id"] == "mats/0")
    assert after["ys"] == mat["ys"]
    assert set(after["xs"]) == {*mat["xs"], 2.2}
    parse_project(new)
    cut, data = done(new, {"do": "trim", "item": "mats/0", "at": [2.2, 1.3]})
    assert next(i for i in plan_view(data)["items"] if i["id"] == "mats/0")["xs"] == mat["xs"]
    parse_project(cut)
    with pytest.raises(InputError, match="rim of the mat"):
        done(new, {"do": "trim", "item": "mats/0", "at": [0.0, 1.3]})


def cross_text(points):
    """A project with two crossing runs only."""
    data = SITE
    from evenground.project._edit import Put

    runs = [{"points_m": p, "depth_m": 0.6, "conductor": "mat"} for p in points]
    return edit_text(data, [Put(("mats",), []), Put(("rods",), []), Put(("runs",), runs)])


def test_trimming_cuts_a_run_at_its_crossings():
    text = cross_text([[[0, 0], [10, 0]], [[3, -1], [3, 1]], [[7, -1], [7, 1]]])
    _, data = done(text, {"do": "trim", "item": "runs/0", "at": [5, 0.1]})
    assert [r["points_m"] for r in data["runs"]] == [
        [[0, 0], [3, 0]],
        [[7, 0], [10, 0]],
        [[3, -1], [3, 1]],
        [[7, -1], [7, 1]],
    ]
    _, data = done(text, {"do": "trim", "item": "runs/0", "at": [9, 0]})
    assert data["runs"][0]["points_m"] == [[0, 0], [7, 0]]
    beside = cross_text([[[0, 0], [10, 0]], [[20, 5], [30, 5]], [[3, -1], [3, 1]]])
    _, data = done(beside, {"do": "trim", "item": "runs/0", "at": [5, 0]})
    assert [r["points_m"] for r in data["runs"]] == [[[0, 0], [3, 0]], [[20, 5], [30, 5]], [[3, -1], [3, 1]]]
    _, data = done(cross_text([[[0, 0], [10, 0]]]), {"do": "trim", "item": "runs/0", "at": [9, 0]})
    assert data["runs"] == []


def test_trimming_a_ring_leaves_one_open_conductor():
    ring = [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]
    text = cross_text([ring, [[4, -1], [4, 1]], [[6, -1], [6, 1]]])
    _, data = done(text, {"do": "trim", "item": "runs/0", "at": [5, 0]})
    points = data["runs"][0]["points_m"]
    assert len(data["runs"]) == 3
    assert points[0] == [6, 0]
    assert points[-1] == [4, 0]
    assert sum(dist(a, b) for a, b in pairwise(points)) == pytest.approx(38, abs=1e-9)


def test_deleting_many_things_at_once_hits_the_right_ones():
    text = SITE
    for k in range(5):
        text, data = done(text, {"do": "add_run", "points": [[0, k], [5, k]]})
        text, data = done(text, {"do": "add_rod", "at": [k, 20]})
    first = len(data["runs"]) - 5
    rods = len(data["rods"]) - 1
    names = [f"runs/{first + 1}", f"runs/{first + 3}", f"rods/{rods}/0", f"rods/{rods}/4"]
    _, after = done(text, {"do": "delete", "items": names})
    assert [r["points_m"][0][1] for r in after["runs"][first:]] == [0, 2, 4]
    kept = [
        p
        for p in data["rods"][rods]["at_m"]
        if p not in (data["rods"][rods]["at_m"][0], data["rods"][rods]["at_m"][4])
    ]
    assert after["rods"][rods]["at_m"] == kept


def test_a_corner_of_a_closed_ring_moves_both_of_its_ends():
    text = cross_text([[[0, 0], [10, 0], [10, 10], [0, 0]]])
    _, data = done(text, {"do": "move_point", "item": "runs/0", "index": 0, "to": [-1, -1]})
    points = data["runs"][0]["points_m"]
    assert points[0] == points[-1] == [-1, -1]


HOSTILE = [
    None,
    [],
    {},
    {"do": "format disk"},
    {"do": "add_run"},
    {"do": "add_run", "points": [[0, 0]]},
    {"do": "add_run", "points": [[0, 0], [0, 0]]},
    {"do": "add_run", "points": "x" * 100},
    {"do": "add_rod", "at": [float("nan"), 0]},
    {"do": "add_rod", "at": [1e9, 0]},
    {"do": "add_rod", "at": [True, 0]},
    {"do": "move", "items": ["mats/0"], "by": [float("inf"), 0]},
    {"do": "move", "items": ["../../etc/passwd"], "by": [0, 0]},
    {"do": "move", "items": ["mats/99"], "by": [0, 0]},
    {"do": "delete", "items": ["mats/-1"]},
    {"do": "delete", "items": ["project/title"]},
    {"do": "delete", "items": []},
    {"do": "move_point", "item": "mats/0", "index": 77, "to": [0, 0]},
    {"do": "move_point", "item": "mats/0", "index": True, "to": [0, 0]},
    {"do": "trim", "item": "surface/0", "at": [0, 0]},
    {"do": "mesh_line", "item": "mats/0", "axis": "z", "at": 1},
    {"do": "mesh_line", "item": "mats/0", "axis": "x", "at": 1e5},
]


@pytest.mark.parametrize("command", HOSTILE, ids=str)
def test_a_malformed_command_is_refused_in_words(command):
    with pytest.raises(InputError, match=r"[a-z]{3}"):
        done(SITE, command)


def test_commands_change_nothing_in_the_values_they_are_given():
    data = unwrapped(read_values(SITE))
    kept = copy.deepcopy(data)
    changes_of(data, {"do": "move", "items": ["mats/0"], "by": [1, 1]})
    changes_of(data, {"do": "delete", "items": ["mats/0"]})
    assert data == kept


@settings(max_examples=25, deadline=None)
@given(st.floats(-500, 500), st.floats(-500, 500))
def test_moving_everything_moves_the_bounds_by_as_much(dx, dy):
    before = plan_view(unwrapped(read_values(SITE)))
    names = [i["id"] for i in before["items"]]
    _, data = done(SITE, {"do": "move", "items": names, "by": [dx, dy]})
    # coordinates are kept to a tenth of a millimetre
    want = [before["bounds"][k] + (dx, dy)[k % 2] for k in range(4)]
    assert plan_view(data)["bounds"] == pytest.approx(want, abs=2e-4)


# fences, gates, equipment, sections in depth; meshes and rings


def made(text, command):
    return edit_text(text, changes_of(unwrapped(read_values(text)), command))


@pytest.mark.parametrize(
    ("command", "section", "points"),
    [
        ({"do": "add_fence", "points": [[0, -9], [9, -9], [9, -12]]}, "fences", [[0, -9], [9, -9], [9, -12]]),
        ({"do": "add_gate", "points": [[1, -9], [5, -9]]}, "gates", [[1, -9], [5, -9]]),
        ({"do": "add_item", "at": [4, 5]}, "equipment", [[4, 5]]),
        ({"do": "add_cut", "points": [[0, 0], [9, 3]]}, "cuts", [[0, 0], [9, 3]]),
    ],
)
def test_every_kind_is_drawn_moved_reshaped_and_deleted(command, section, points):
    # a gate stands in a fence
    before = made(starter_text("plant"), {"do": "add_fence", "points": [[-9, -9], [90, -9]]})
    text = made(before, command)
    load = parse_project(text)
    assert load.mats
    data = unwrapped(read_values(text))
    last = [i for i in plan_view(data)["items"] if i["id"].startswith(f"{section}/")][-1]
    assert last["points"] == points
    moved = made(text, {"do": "move", "items": [last["id"]], "by": [2, -1]})
    shape = made(moved, {"do": "move_point", "item": last["id"], "index": 0, "to": [50, 60]})
    items = {i["id"]: i for i in plan_view(unwrapped(read_values(shape)))["items"]}
    assert items[last["id"]]["points"] == [[50, 60], *[[x + 2, y - 1] for x, y in points[1:]]]
    gone = made(shape, {"do": "delete", "items": [last["id"]]})
    assert last["id"] not in {i["id"] for i in plan_view(unwrapped(read_values(gone)))["items"]}
    parse_project(gone)


def test_what_is_drawn_starts_on_the_careful_side():
    text = starter_text("plant")
    for command in (
        {"do": "add_fence", "points": [[0, -9], [9, -9]]},
        {"do": "add_gate", "points": [[1, -9], [5, -9]]},
        {"do": "add_item", "at": [4, 5]},
    ):
        text = made(text, command)
    around = parse_project(text).installation
    assert around.fences[-1].bonding == "bonded"
    assert around.gates[-1].opens == "both"
    assert around.equipment[-1].terminals == 1


def test_a_gate_keeps_two_ends():
    text = made(starter_text("plant"), {"do": "add_gate", "points": [[1, -9], [5, -9]]})
    number = len(unwrapped(read_values(text))["gates"]) - 1
    with pytest.raises(InputError, match="two ends"):
        made(text, {"do": "insert_point", "item": f"gates/{number}", "index": 1, "at": [3, -9]})
    with pytest.raises(InputError, match="two posts"):
        made(text, {"do": "add_gate", "points": [[1, -9], [5, -9], [6, -9]]})


def test_a_mesh_denser_at_the_edge_is_even_from_both_ends_and_nowhere_too_wide():
    lines = graded_lines(10.0, 52.0, 7.0, 0.5)
    spaces = np.diff(lines)
    assert (lines[0], lines[-1]) == (10.0, 52.0)
    assert max(spaces) <= 7.0 + 1e-3  # positions are rounded to a millimetre
    np.testing.assert_allclose(spaces, spaces[::-1], atol=2e-3)  # the same rounding
    assert spaces[0] / max(spaces) == pytest.approx(0.5, abs=2e-3)
    np.testing.assert_allclose(graded_lines(0, 30, 10, 1), [0, 10, 20, 30])
    for wrong in ((5, 5, 1, 1), (0, 9, 0, 1), (0, 9, 1, 0), (0, 9, 1, 1.5), (0, 1e6, 0.1, 1)):
        with pytest.raises(InputError, match=r"extent|above 0|most 1|more than"):
            graded_lines(*wrong)


def test_filling_a_mat_and_a_ring_around_it():
    text = starter_text("plant")
    graded = made(text, {"do": "mesh", "item": "mats/0", "spacing_x": 8, "spacing_y": 8, "edge": 0.4})
    mat = parse_project(graded).mats[0]
    assert mat.lines_x_m[1] - mat.lines_x_m[0] < mat.lines_x_m[2] - mat.lines_x_m[1]
    even = made(graded, {"do": "mesh", "item": "mats/0", "spacing_x": 6, "spacing_y": 9, "edge": 1})
    mat = parse_project(even).mats[0]
    assert (mat.lines_x_m, mat.spacing_x_m, mat.spacing_y_m) == (None, 6, 9)
    ring = parse_project(made(even, {"do": "add_ring", "item": "mats/0", "away": 1})).runs[-1].points_m
    assert ring[0] == ring[-1]
    assert len(ring) == 5
    xs = [p[0] for p in mat.outline_m]
    assert (min(p[0] for p in ring), max(p[0] for p in ring)) == (min(xs) - 1, max(xs) + 1)
    with pytest.raises(InputError, match="no single ring"):
        made(even, {"do": "add_ring", "item": "mats/0", "away": -500})
