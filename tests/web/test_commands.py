"""Edit commands of the plan: pure, without a browser."""

import copy
from itertools import pairwise
from math import dist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.errors import InputError
from evenground.project import parse_project, starter_text
from evenground.project._edit import edit_text, read_values, unwrapped
from evenground.web._commands import changes_of
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
