"""The section lightning of a project file: what it becomes, and what is said when it is wrong."""

import pytest

from evenground.errors import InputError
from evenground.project import parse_project, starter_text

SECTION = """
lightning:
  protection_level: III
  flashes_per_km2_year: 2
  masts:
    - {name: M1, at_m: [0, 0], height_m: 20, down_conductors: 2}
    - {name: M2, at_m: [30, 0], height_m: 20, foot_m: [29, 0]}
  wires:
    - {name: W1, start_m: [0, 0, 20], end_m: [30, 0, 20], sag_m: 0.5}
  protected:
    - {name: bus, points_m: [[5, 2, 7], [25, 2, 7]]}
    - {name: T1, box: {centre_m: [15, 5], length_m: 6, width_m: 4, height_m: 5}}
  arresters:
    - {name: F1, protects: T1, protective_level_kv: 258, withstand_kv: 450, distance_m: 4, line_lead_m: 1,
       earth_lead_m: 2, steepness_kv_per_us: 1000}
  impulse: {ionisation_kv_per_m: 300}
"""


def site(section):
    return starter_text("substation").replace("\nconductors:", section + "\nconductors:", 1)


def test_the_section_becomes_shapes_in_si_units():
    found = parse_project(site(SECTION)).lightning
    assert [m.height_m for m in found.terminals.masts] == [20.0, 20.0]
    assert found.feet[1].at_m == (29, 0)
    assert found.objects[1].box.centre_m == (15, 5)
    assert found.arresters[0].safety_factor == 1.15
    assert found.arresters[0].tied_to_mat is None
    assert found.impulse.ionisation_v_per_m == 300e3


def test_without_the_section_there_is_nothing():
    assert parse_project(starter_text("substation")).lightning is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("protection_level: III", "protection_level: III\n  sphere_radius_m: 20", "both give the sphere"),
        ("  protection_level: III\n", "", "no rule for the sphere"),
        ("name: M2", "name: M1", "name of two entries"),
        ("end_m: [30, 0, 20]", "end_m: [0, 0, 12]", "both ends stand on one place"),
        ("end_m: [30, 0, 20]", "end_m: [30, 0, -2]", "a wire at height -2 m"),
        ("sag_m: 0.5", "sag_m: 20", "reaches the ground"),
        ("[5, 2, 7]", "[5, 2, -7]", "a height of -7 m"),
        ("name: bus, points_m: [[5, 2, 7], [25, 2, 7]]", "name: bus", "needs points_m or a box"),
        ("protection_level: III", "protection_level: V", "protection_level"),
    ],
)
def test_what_is_wrong_is_said(old, new, words):
    assert old in SECTION
    with pytest.raises(InputError, match=words):
        parse_project(site(SECTION.replace(old, new, 1)))


def test_objects_without_masts_are_warned_of():
    start, end = SECTION.index("  masts:"), SECTION.index("  protected:")
    text = (SECTION[:start] + SECTION[end:]).replace("  impulse: {ionisation_kv_per_m: 300}\n", "")
    assert any("nothing shields" in w.message for w in parse_project(site(text)).warnings)
