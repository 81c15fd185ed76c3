"""The section as_built: what it becomes, what is left of the metal, what is said when it is wrong."""

from dataclasses import replace
from math import isclose

import ezdxf
import pytest

from evenground.as_built import as_built_project
from evenground.electrode import build_electrode
from evenground.errors import InputError
from evenground.project import parse_project, starter_text
from evenground.sitetest import compare_as_built

SECTION = """
as_built:
  date: 2027-04-20
  by: A. Surveyor
  not_laid: [{from_m: [5, 0], to_m: [5, 40]}]
  rods_not_driven_m: [[0, 0]]
  mat_depths_m: {yard: 0.9}
  runs: [{points_m: [[60, 20], [72, 20]], depth_m: 0.9}]
"""


def site(section):
    return starter_text("substation").replace("\nconductors:", section + "\nconductors:", 1)


def metal(project):
    radii = dict.fromkeys(project.conductors, 0.006)
    return build_electrode(project.mats, project.rods, project.runs, radii, project.separate).electrode


def test_changes_are_made_to_the_metal():
    """Arithmetic: one conductor of 40 m less, a run of 12 m and one corner rod of 3 m."""
    project = parse_project(site(SECTION))
    design, built = metal(project), metal(as_built_project(project))
    flat = [sum(c.length_m for c in e if c.start_m[2] == c.end_m[2]) for e in (design, built)]
    rods = [sum(1 for c in e if c.start_m[2] != c.end_m[2]) for e in (design, built)]
    assert isclose(flat[1] - flat[0], 12 - 40, abs_tol=1e-6)
    assert rods[0] - rods[1] == 1
    assert {c.start_m[2] for c in built if c.start_m[2] == c.end_m[2]} == {0.9}
    assert as_built_project(project).identity.revisions[-1].revision == "as built"


def test_the_differences_are_found_again():
    project = parse_project(site(SECTION.replace("  mat_depths_m: {yard: 0.9}\n", "").replace("0.9", "0.6")))
    delta = compare_as_built(metal(project), metal(as_built_project(project)))
    assert isclose(
        delta.missing_length_m, 40 + 3, abs_tol=0.6 * 2 * 9
    )  # what crosses it hides 0.5 m on both sides
    assert isclose(delta.added_length_m, 12, abs_tol=1.0)
    assert delta.re_run_needed


def test_a_run_is_cut_where_it_was_not_laid():
    section = SECTION.replace("[{from_m: [5, 0], to_m: [5, 40]}]", "[{from_m: [64, 20], to_m: [66, 20]}]")
    project = parse_project(site(section))
    own = replace(project, runs=(replace(project.as_built.runs[0], depth_m=0.6),))
    own = replace(own, as_built=replace(project.as_built, runs=()))
    assert [tuple(r.points_m) for r in as_built_project(own).runs] == [
        ((60, 20), (64, 20)),
        ((66, 20), (72, 20)),
    ]


def test_a_drawing_takes_the_place_of_all_metal(tmp_path):
    drawing = ezdxf.new(units=6)
    drawing.modelspace().add_line((0, 0), (30, 0), dxfattribs={"layer": "LAID"})
    drawing.modelspace().add_line((30, 0), (30, 20), dxfattribs={"layer": "LAID"})
    drawing.saveas(tmp_path / "built.dxf")
    section = """
as_built:
  date: 2027-04-20
  drawing: {file: built.dxf, layers: [{layer: LAID, take_as: conductor, depth_m: 0.7}]}
"""
    project = parse_project(site(section), "site.yaml", tmp_path)
    built = metal(as_built_project(project))
    assert isclose(built.total_length_m, 50.0, rel_tol=1e-9)
    assert len(project.mats) == 1
    drawing.modelspace().add_line((30, 20), (0, 20), dxfattribs={"layer": "LAID"})
    drawing.saveas(tmp_path / "built.dxf")
    assert parse_project(site(section), "site.yaml", tmp_path).input_hash != project.input_hash
    with pytest.raises(InputError, match="nothing was taken") as caught:
        parse_project(site(section.replace("LAID", "OTHER")), "site.yaml", tmp_path)
    assert caught.value.findings[0].line > 0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("{yard: 0.9}", "{garden: 0.9}", "'garden' is no mat of the design"),
        ("{yard: 0.9}", "{yard: -0.9}", "mat_depths_m"),
        ("to_m: [5, 40]", "to_m: [5, 0]", "a stretch without length"),
        ("depth_m: 0.9}]", "depth_m: 0.9, conductor: rope}]", "'rope' is no key under conductors"),
        (
            "  by:",
            "  drawing: {file: a.dxf, layers: [{layer: A, take_as: conductor}]}\n  by:",
            "beside a drawing",
        ),
        ("  date: 2027-04-20\n", "", "'date' is missing"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(old, new, words):
    assert old in SECTION
    with pytest.raises(InputError, match=words) as caught:
        parse_project(site(SECTION.replace(old, new, 1)), "site.yaml")
    assert all(f.line > 0 for f in caught.value.findings)


def test_nothing_stated_is_said():
    with pytest.raises(InputError, match="nothing differs"):
        parse_project(site("\nas_built:\n  date: 2027-04-20\n"))
    with pytest.raises(InputError, match="no section as_built"):
        as_built_project(parse_project(starter_text("substation")))
