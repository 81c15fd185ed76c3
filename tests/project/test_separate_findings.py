"""Mistakes in separate electrodes, backfill and sections: what is said and where it points."""

import pytest

from evenground.errors import InputError, Severity
from evenground.project import parse_project, starter_text

BASE = starter_text("substation")
PIPE = """
separate_electrodes:
  - name: pipe
    runs:
      - {points_m: [[200, 0], [200, 50]], depth_m: 1.0}
"""


def errors(text):
    with pytest.raises(InputError) as caught:
        parse_project(text, "site.yaml")
    return [f for f in caught.value.findings if f.severity is Severity.ERROR]


def test_a_separate_electrode_is_read_with_tops_at_the_surface():
    text = BASE + PIPE + "    rods: [{at_m: [[200, 60]], length_m: 1, diameter_mm: 40}]\n"
    (pipe,) = parse_project(text, "site.yaml").separate
    assert pipe.name == "pipe"
    assert pipe.rods[0].top_depth_m == 0.0
    assert pipe.touchable


@pytest.mark.parametrize(
    ("old", "new", "code", "points_at"),
    [
        (PIPE, "\nseparate_electrodes:\n  - name: pipe\n", "separate-empty", "name: pipe"),
        ("name: pipe", "name: mat", "separate-name", "mat"),
        ("depth_m: 1.0}", "depth_m: 1.0, conductor: iron}", "conductor-unknown", "iron"),
        ("[[200, 0], [200, 50]]", "[[200, 0], [200, 0]]", "run-point-twice", "[200, 0]]"),
        (
            "    runs:",
            "    links: [{to: fence, resistance_ohm: 1}]\n    runs:",
            "link-unknown",
            "fence",
        ),
        ("    runs:", "    links: [{to: pipe, resistance_ohm: 1}]\n    runs:", "link-itself", "pipe"),
        ("    runs:", "    links: [{to: mat, resistance_ohm: 0}]\n    runs:", "value-range", "0"),
        (
            "depth_m: 1.0}",
            "depth_m: 1.0, backfill: {outer_diameter_mm: 2, resistivity_ohm_m: 5}}",
            "backfill-size",
            "2,",
        ),
    ],
)
def test_each_mistake_is_named_at_its_place(old, new, code, points_at):
    text = (BASE + PIPE).replace(old, new, 1)
    found = errors(text)
    assert [f.code for f in found] == [code]
    assert found[0].excerpt[found[0].column - 1 :].startswith(points_at)


def test_two_electrodes_of_one_name_are_refused():
    twice = PIPE + PIPE.split("separate_electrodes:\n")[1].replace("200", "300")
    assert [f.code for f in errors(BASE + twice)] == ["name-twice"]


def test_a_section_needs_two_places():
    section = "{name: s, from_m: [1, 1], to_m: [1, 1], depth_m: 5}"
    assert BASE.count("\nassessment:\n") == 1
    text = BASE.replace("\nassessment:\n", f"\nassessment:\n  sections: [{section}]\n")
    assert [f.code for f in errors(text)] == ["section-short"]


@pytest.mark.parametrize(
    ("entries", "code"),
    [
        ("[{at_m: [0, 0], share: 0.5}, {at_m: [9, 0], share: 0.4}]", "entry-shares"),
        ("[{at_m: [0, 0]}, {at_m: [9, 0]}]", "entry-shares"),
        ("[{at_m: [0, 0], share: 1.5}]", "value-range"),
    ],
)
def test_shares_of_entry_points_make_one(entries, code):
    text = BASE.replace("\nassessment:\n", f"\nassessment:\n  entry_points: {entries}\n")
    assert [f.code for f in errors(text)] == [code]


def test_entry_points_and_links_are_not_combined():
    linked = PIPE.replace("    runs:", "    links: [{to: mat, resistance_ohm: 1}]\n    runs:")
    text = (BASE + linked).replace("\nassessment:\n", "\nassessment:\n  entry_points: [{at_m: [0, 0]}]\n")
    assert [f.code for f in errors(text)] == ["entry-links"]
