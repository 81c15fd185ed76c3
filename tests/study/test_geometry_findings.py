"""Errors of geometry come all at once, before anything is solved, with line, caret and both partners.

Where conductors meet is worked out by hand from the coordinates.
"""

import subprocess
import sys

import pytest

from evenground.errors import InputError
from evenground.project import parse_project, placed
from evenground.study import run_study

TEXT = """\
evenground: 1
project: {title: Geometry}
frequency_hz: 50
soil: {model: {select: given, given: {resistivities_ohm_m: [100]}}}
faults:
  - {name: bus, voltage_kv: 110, current_ka: 1, shock_time_s: 0.5, thermal_time_s: 1, split_factor: 1,
     x_over_r: 10}
conductors:
  mat: {material: copper_hard_drawn, shape: round, diameter_mm: 10, joint: exothermic}
mats:
  - {name: yard, outline_m: [[0, 0], [20, 0], [20, 20], [0, 20]], spacing_m: 10, depth_m: 0.6}
runs:
  - {points_m: [[20, 10], [40, 10]], depth_m: 0.6}
separate_electrodes:
  - name: neutral rod
    rods: [{at_m: [[20, 20]], length_m: 3, diameter_mm: 16}]
fences:
  - name: into
    points_m: [[10, 0], [10, 30]]
    bonding: separate
    posts: {spacing_m: 5, depth_m: 1.0, diameter_mm: 60}
  - name: across
    points_m: [[5, 30], [15, 30]]
    bonding: separate
    posts: {spacing_m: 5, depth_m: 0.6, diameter_mm: 60}
services:
  - {name: main, kind: pipe, disposal: open, route_m: [[30, 0], [30, 20]], route_depth_m: 0.6}
assessment:
  entry_points:
    - {at_m: [10, 10], share: 0.5}
    - {at_m: [60, 10], share: 0.5}
"""


@pytest.fixture(scope="module")
def findings():
    with pytest.raises(InputError, match="touches") as caught:
        run_study(parse_project(TEXT, "site.yaml"))
    return caught.value.findings


def test_all_errors_come_in_one_go(findings):
    found = [(f.code, f.field) for f in findings]
    assert sorted(found) == [
        ("entry-beside", "assessment.entry_points[1].at_m"),
        ("metal-touches", "fences[0]"),
        ("metal-touches", "fences[0]"),
        ("metal-touches", "separate_electrodes[0]"),
        ("metal-touches", "services[0]"),
    ]


def test_both_partners_are_named_by_their_paths(findings):
    """Posts of “into” stand on the mat's line x = 10; the pipe crosses the run at (30, 10), 0.6 m deep."""
    by_field = {}
    for f in findings:
        by_field.setdefault(f.field, []).append(f)
    pipe = by_field["services[0]"][0]
    assert pipe.message.startswith(
        "“main” (services[0]) touches the bonded metal (runs[0]) near (30.00, 10.00)"
    )
    assert "0.60 m" in pipe.message
    assert "disposal: bonded" in pipe.advice
    texts = " ".join(f.message for f in by_field["fences[0]"])
    assert "the bonded metal (mats[0])" in texts
    rod = " ".join(f.message for f in by_field["separate_electrodes[0]"])
    assert "(mats[0])" in rod


def test_two_fences_at_one_post_are_told_to_be_one(findings):
    """Both have a post at (10, 30)."""
    (pair,) = [f for f in findings if "fences[0]" in f.message and "fences[1]" in f.message]
    assert "(10.00, 30.00)" in pair.message
    assert "one fence" in pair.advice


def test_an_entry_beside_the_metal_names_the_nearest_place(findings):
    """The run ends at (40, 10), 20 m from the entry point."""
    (entry,) = [f for f in findings if f.code == "entry-beside"]
    assert "20.00 m away" in entry.message
    assert "[40.00, 10.00]" in entry.advice


def test_lines_and_carets_are_found_again(findings):
    rows = placed(findings, TEXT, "site.yaml")
    for row in rows:
        assert min(row.line, row.column) > 0
        assert row.file == "site.yaml"
        assert row.excerpt == TEXT.splitlines()[row.line - 1][: len(row.excerpt)] or row.excerpt
    (entry,) = [r for r in rows if r.code == "entry-beside"]
    assert "[60, 10]" in TEXT.splitlines()[entry.line - 1]


def test_the_command_line_shows_every_one_with_its_line(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(TEXT, encoding="utf-8")
    words = [sys.executable, "-m", "evenground", "study", str(file), "--no-files", "-q"]
    out = subprocess.run(words, capture_output=True, text=True, timeout=120)
    assert out.returncode == 2
    assert out.stderr.count(" touches ") == 4
    assert f"{file}:23:" in out.stderr or "services[0]" in out.stderr
    assert "^" in out.stderr
    assert "Traceback" not in out.stderr


def test_a_name_in_use_is_refused_at_the_name():
    text = TEXT.replace("name: main,", "name: neutral rod,")
    with pytest.raises(InputError, match="name of other metal") as caught:
        run_study(parse_project(text, "site.yaml"))
    (twice,) = [f for f in caught.value.findings if f.code == "name-twice"]
    assert twice.field == "services[0].name"
    assert "separate_electrodes[0]" in twice.message


def test_one_name_for_a_fence_and_a_service_is_refused():
    """They would be one piece of metal in the solution."""
    text = TEXT.replace("name: main,", "name: across,")
    with pytest.raises(InputError, match="two pieces of metal") as caught:
        run_study(parse_project(text, "site.yaml"))
    (twice,) = [f for f in caught.value.findings if f.code == "name-twice"]
    assert twice.field == "services[0].name"
    assert "fences[1]" in twice.message


def test_metal_apart_is_refused_before_anything_is_solved(monkeypatch):
    text = TEXT[: TEXT.index("separate_electrodes:")] + TEXT[TEXT.index("assessment:") :]
    text = text.replace("[[20, 10], [40, 10]]", "[[30, 10], [40, 10]]").replace("[60, 10]", "[10, 0]")

    def never(*args, **kwargs):
        raise AssertionError("solved")

    monkeypatch.setattr("evenground._study_field.solve", never)
    with pytest.raises(InputError, match="no current enters") as caught:
        run_study(parse_project(text, "site.yaml"))
    assert [f.code for f in caught.value.findings] == ["entry-pieces"]
