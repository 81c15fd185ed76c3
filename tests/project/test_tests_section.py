"""The sections tests and upkeep of a project file: what they become, and what is said when they are wrong."""

import pytest

from evenground.errors import InputError
from evenground.model.site_test import TASK_NAMES
from evenground.project import parse_project, starter_text
from evenground.sitetest import TASKS

EQUIPMENT = """
equipment:
  - {tag: T1, kind: transformer, at_m: [10, 10], voltage_kv: 20, connections: 2}
  - {tag: Q1, kind: disconnector, at_m: [20, 10], voltage_kv: 20, connections: 2}
"""
SECTION = """
tests:
  - name: first
    date: 2027-05-18
    connected: false
    fall_of_potential:
      current_distance_m: 300
      lead_spacing_m: 2
      frequency_hz: 105
      readings:
        - {distance_m: 150, resistance_ohm: 1.1, angle_deg: 4}
        - {distance_m: 180, resistance_ohm: 1.2}
    injection:
      current_a: 10
      remote_voltage_v: 12
      paths: [{name: north line, current_a: 2, angle_deg: -20}]
      places: [{name: gate, quantity: touch, at_m: [1, 1], voltage_v: 2, loaded_v: 1.4}]
    continuity:
      reference: T1
      readings: [{riser: Q1, resistance_mohm: 2.4}]
    joints: [{name: J1, joint_mohm: 0.02, conductor_mohm: 0.019}]
    gravel: [{place: yard, thickness_m: 0.1, wet_resistivity_ohm_m: 3000}]
    buried_metal: [{place: corner, conductor: mat, thickness_mm: 9.9}]
upkeep:
  as_of: 2032-07
  in_service: 2027
  intervals_years: {gravel: 1}
  done: {visual inspection: 2031-05-02}
  changed: [{what: fence, note: moved by 5 m}]
"""
FORM = """test,item,what,unit,expected,read,angle_deg,x_m,y_m,direction_deg,note
setup,date,,-,,2027-05-18,,,,,
setup,"lines, cables and neutrals connected",,-,,no,,,,,
setup,distance to the current probe,,m,300,,,,,,
fall,150,resistance,ohm,1.0,1.1,,,,,
riser,Q1,from T1,mohm,2.2,2.4,,,,,
joint,joint 1,joint,mohm,,0.02,,,,,
joint,joint 1,conductor,mohm,,0.019,,,,,
gravel,sample 1,thickness,m,,0.1,,,,,
gravel,sample 1,wet resistivity,ohm m,,3000,,,,,
"""


def site(section):
    return starter_text("substation").replace("\nconductors:", EQUIPMENT + section + "\nconductors:", 1)


def with_form(tmp_path, form, more=""):
    (tmp_path / "form.csv").write_text(form, encoding="utf-8")
    text = f"\ntests:\n  - {{name: first, date: 2027-05-18, form: form.csv{more}}}\n"
    return parse_project(site(text), "site.yaml", tmp_path)


def test_the_sections_become_shapes():
    project = parse_project(site(SECTION))
    (test,) = project.tests
    assert test.fall.readings[0].resistance_ohm.angle_deg == 4
    assert test.fall.parallel
    assert test.injection.places[0].at_m == (1, 1)
    assert test.injection.places[0].loaded_v == 1.4
    assert test.risers[0].resistance_mohm == 2.4
    assert test.year == pytest.approx(2027 + 4 / 12 + 17 / 365.25, abs=1e-9)
    assert project.upkeep.as_of == "2032-07-01"
    assert project.upkeep.in_service == "2027-01-01"
    assert project.upkeep.changed == (("fence", "moved by 5 m"),)


def test_without_the_sections_there_is_nothing():
    project = parse_project(starter_text("substation"))
    assert project.tests == ()
    assert project.upkeep is None


def test_the_tasks_that_a_file_may_name_are_those_that_are_dated():
    assert set(TASK_NAMES) == {t.name for t in TASKS}


def test_tests_are_put_in_the_order_of_their_dates():
    later = SECTION.replace(
        "upkeep:",
        "  - {name: second, date: 2026-01-02, joints: [{name: J, joint_mohm: 1, "
        "conductor_mohm: 1}]}\nupkeep:",
    )
    assert [t.name for t in parse_project(site(later)).tests] == ["second", "first"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("date: 2027-05-18", "date: 2027-13-18", "not a day of the calendar"),
        ("    date: 2027-05-18\n", "", "'date' is missing"),
        ("frequency_hz: 105", "note2: 1", "unknown key"),
        ("      frequency_hz: 105\n", "", "leads side by side, but no frequency"),
        ("distance_m: 180", "distance_m: 150", "two readings at 150 m"),
        ("      remote_voltage_v: 12\n", "      lead_spacing_m: 3\n", "do not give the coupling"),
        ("riser: Q1", "riser: Q7", "'Q7' is no tag under equipment"),
        ("reference: T1", "reference: T9", "'T9' is no tag under equipment"),
        ("conductor: mat", "conductor: mats", "'mats' is no key under conductors"),
        ("{gravel: 1}", "{gravels: 1}", "'gravels' is no task"),
        ("as_of: 2032-07", "as_of: 2026-07", "lies before in_service"),
        ("quantity: touch", "quantity: grip", "quantity"),
        ("current_a: 10", "current_a: -10", "current_a"),
        ("changed:", "now: {fault: nothing}\n  changed:", "name of no fault"),
        ("    connected: false\n", "    form: a.csv\n", "stands beside a form"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(old, new, words):
    assert old in SECTION
    with pytest.raises(InputError, match=words) as caught:
        parse_project(site(SECTION.replace(old, new, 1)), "site.yaml")
    assert all(f.line > 0 for f in caught.value.findings)


def test_a_test_without_readings_is_refused():
    with pytest.raises(InputError, match="without any reading"):
        parse_project(site("\ntests:\n  - {name: empty, date: 2027-05-18}\n"))


def test_a_form_beside_the_file_is_read_and_changes_the_hash(tmp_path):
    project = with_form(tmp_path, FORM)
    (test,) = project.tests
    assert test.connected is False
    assert test.fall.current_distance_m == 300
    assert test.joints[0].joint_mohm == 0.02
    assert test.gravel[0].wet_resistivity_ohm_m == 3000
    other = with_form(tmp_path, FORM.replace("1.1,", "1.2,"))
    assert other.input_hash != project.input_hash


@pytest.mark.parametrize(
    ("old", "new", "words", "line"),
    [
        ("1.1,,,,,", '"1,1",,,,,', "'1,1' is not a number", 5),
        ("riser,Q1", "riser,Q9", "riser 'Q9' is no tag", 6),
        (",-,,no,", ",-,,maybe,", "neither yes nor no", 3),
        (",-,,2027-05-18,", ",-,,2027-05-19,", "the project file says 2027-05-18", 2),
        ("joint 1,conductor,mohm,,0.019", "joint 1,conductor,mohm,,", "belong together", 7),
        ("fall,150", "fell,150", "unknown test 'fell'", 5),
        ("sample 1,thickness,m,,0.1", "sample 1,thickness,m,,", "thickness is missing", 9),
    ],
)
def test_wrong_cells_of_a_form_name_file_and_line(tmp_path, old, new, words, line):
    assert old in FORM
    with pytest.raises(InputError, match=words) as caught:
        with_form(tmp_path, FORM.replace(old, new, 1))
    (found,) = caught.value.findings
    assert (found.file, found.line) == ("form.csv", line)


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ("a,b\n1,2\n", "columns test, item, what, unit, expected, read are missing"),
        (FORM.split("fall,")[0], "the column 'read' is empty"),
    ],
)
def test_a_form_that_is_none_is_refused_at_its_place(tmp_path, form, words):
    with pytest.raises(InputError, match=words) as caught:
        with_form(tmp_path, form)
    assert caught.value.findings[0].line > 0


def test_a_missing_form_is_named(tmp_path):
    text = "\ntests:\n  - {name: first, date: 2027-05-18, form: nowhere.csv}\n"
    with pytest.raises(InputError, match=r"nowhere\.csv"):
        parse_project(site(text), "site.yaml", tmp_path)
    with pytest.raises(InputError, match="save the project first"):
        parse_project(site(text), "site.yaml")
