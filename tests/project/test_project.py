"""From the file to the frozen project: SI units, defaults, origins, register, and the demo sites."""

from pathlib import Path

import pytest

from evenground.errors import InputError
from evenground.model.project import Origin
from evenground.model.soil import ArrayKind, LayeredSoil
from evenground.project import SCHEMA_VERSION, load_project, parse_project, starter_text

BASE = starter_text("substation")
PLANT = starter_text("plant")
EXAMPLES = sorted(Path("examples").glob("*/*.yaml"))


def changed(old, new, base=BASE):
    assert old in base
    return base.replace(old, new, 1)


def test_kilovolts_kiloamperes_and_percent_become_si():
    project = parse_project(changed("life_years: 40", "life_years: 40, area_percent: 15"))
    fault = project.faults[0]
    assert fault.voltage_v == 110_000.0
    assert fault.current_a == 3200.0
    assert project.conductors["mat"].corrosion_area_fraction == pytest.approx(0.15, rel=1e-15)  # one division
    assert project.conductors["mat"].corrosion_rate_mm_per_year == 0.005
    assert project.conductors["mat"].life_years == 40.0


def test_amperes_may_be_given_instead():
    old = "current_ka: {value: 3.2, origin: {document: fault study, note: ultimate year}}\n    x"
    assert parse_project(changed(old, "current_a: 3200\n    x")).faults[0].current_a == 3200.0


def test_sequence_impedances_are_complex_and_z2_follows_z1():
    sequence = parse_project(PLANT).faults[0].sequence
    assert sequence.z1_ohm == 0.35 + 1.9j
    assert sequence.z2_ohm == sequence.z1_ohm
    assert sequence.z0_ohm == 22.0 + 4.5j
    other = parse_project(changed("      z0_ohm", "      z2_ohm: [0.3, 1.5]\n      z0_ohm", PLANT))
    assert other.faults[0].sequence.z2_ohm == 0.3 + 1.5j


def test_rectangle_becomes_its_four_corners():
    project = parse_project(
        changed(
            "corner_m: [0, 0], ",
            "corner_m: [-2, 3], ",
            PLANT.replace("lines_x_m: [0, 8, 16, 24]", "spacing_x_m: 8"),
        )
    )
    assert project.mats[0].outline_m == ((-2, 3), (22, 3), (22, 19), (-2, 19))


def test_stated_lines_keep_their_places_and_the_spacing_is_their_largest_gap():
    mat = parse_project(changed("[0, 8, 16, 24]", "[0, 5, 17, 24]", PLANT)).mats[0]
    assert mat.lines_x_m == (0, 5, 17, 24)
    assert mat.spacing_x_m == 12.0
    assert (mat.lines_y_m, mat.spacing_y_m) == (None, 8.0)


def test_one_spacing_counts_for_both_directions():
    mat = parse_project(BASE).mats[0]
    assert (mat.spacing_x_m, mat.spacing_y_m) == (5.0, 5.0)
    assert [r.where for r in mat.rods] == ["corners", "perimeter"]


def test_a_closed_outline_is_opened():
    closed = parse_project(changed("[0, 40]]     #", "[0, 40], [0, 0]]     #"))
    assert closed.mats[0].outline_m == parse_project(BASE).mats[0].outline_m


def test_soil_given_and_read():
    given = parse_project(PLANT).soil_choice
    assert (given.select, given.given) == ("given", LayeredSoil((120.0, 60.0), (2.5,)))
    traverse = parse_project(BASE).traverses[0]
    assert traverse.array is ArrayKind.WENNER
    assert len(traverse.readings) == 6
    assert traverse.readings[1].path == ("soil", "traverses", 0, "readings", 1)


def test_empty_values_are_left_out_and_defaults_hold():
    project = parse_project(changed("raster_m: 0.5", "raster_m:\n  reach_m: ~"))
    assert (project.assessment.raster_m, project.assessment.reach_m) == (0.5, 1.0)
    assert project.assessment.resistance_target_ohm is None


def test_a_number_where_a_text_is_wanted_is_taken_as_written():
    project = parse_project(
        changed("revision: A,", "revision: 01,").replace('document_number: ""', "document_number: 1e3")
    )
    assert project.identity.revisions[0].revision == "01"
    assert project.identity.document_number == "1e3"


def test_zone_without_cover_is_bare_soil():
    text = BASE.replace("    resistivity_ohm_m: {value: 2500", "    # {value: 2500")
    zone = parse_project(text).surface[0]
    assert (zone.resistivity_ohm_m, zone.thickness_m) == (None, 0.0)


def test_every_entry_knows_its_path():
    project = parse_project(PLANT)
    assert project.faults[0].path == ("faults", 0)
    assert project.conductors["mat"].path == ("conductors", "mat")
    assert (project.conductors["mat"].role, project.mats[0].path) == ("mat", ("mats", 0))
    assert (project.runs[0].path, project.rods[0].path, project.surface[0].path) == (
        ("runs", 0),
        ("rods", 0),
        ("surface", 0),
    )


def row(project, *path):
    return next(r for r in project.register if r.path == path)


def test_register_has_every_value_as_written_with_its_line():
    project = parse_project(BASE)
    lines = BASE.splitlines()
    for entry in project.register:
        assert entry.value == "" or entry.value in lines[entry.line - 1]
    assert [r.line for r in project.register] == sorted(r.line for r in project.register)
    assert row(project, "faults", 0, "thermal_time_s").value == "1.0"
    assert row(project, "mats", 0, "outline_m", 1, 0).value == "60"
    assert len({r.path for r in project.register}) == len(project.register)
    assert not any("origin" in r.path or "value" in r.path for r in project.register)


def test_register_gives_the_origin_of_a_value():
    project = parse_project(BASE)
    origin = row(project, "faults", 0, "current_ka").origin
    assert origin == Origin(document="fault study", note="ultimate year")
    assert row(project, "faults", 0, "voltage_kv").origin is None
    assert project.faults[0].split_source.startswith("estimate, two lines")


def test_origin_of_a_section_holds_for_its_values_unless_they_have_their_own():
    origin = "origin: {document: SR-017, revision: B, date: 2026-02, confidence: measured}"
    text = changed("      array: wenner", f"      {origin}\n      array: wenner")
    text = changed("resistance_ohm: 23.1", "resistance_ohm: {value: 23.1, origin: field book}", text)
    project = parse_project(text)
    readings = ("soil", "traverses", 0, "readings")
    assert row(project, *readings, 0, "spacing_m").origin == Origin("SR-017", "B", "2026-02", "", "measured")
    assert row(project, *readings, 1, "resistance_ohm").origin == Origin(document="field book")
    assert row(project, "faults", 0, "x_over_r").origin is None
    assert project.traverses[0].readings[1].resistance_ohm == 23.1


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("depth_m: 0.6", "depth_m: {value: 0.6, origin: {note: n}}"),
        (
            "[[0, 0], [60, 0], [60, 40], [0, 40]]",
            "{value: [[0, 0], [60, 0], [60, 40], [0, 40]], origin: {note: n}}",
        ),
        ("[60, 40], [0, 40]]     #", "[{value: 60, origin: {note: n}}, 40], [0, 40]]     #"),
        ("body_mass_kg: 50", "body_mass_kg: {value: 50}"),
        ("raster_m: 0.5", "raster_m: {origin: {note: n}, value: 0.5}"),
    ],
)
def test_any_value_may_carry_an_origin_at_any_depth(old, new):
    plain, other = parse_project(BASE), parse_project(changed(old, new))
    assert (plain.mats, plain.assessment) == (other.mats, other.assessment)
    assert [r.path for r in plain.register] == [r.path for r in other.register]


def test_errors_inside_a_value_with_origin_point_at_the_value():
    with pytest.raises(InputError) as caught:
        parse_project(changed("depth_m: 0.6", "depth_m: {value: deep, origin: {note: n}}"))
    finding = caught.value.findings[0]
    assert finding.path == ("mats", 0, "depth_m")
    assert finding.excerpt[finding.column - 1 :].startswith("deep")


def test_split_source_says_when_all_current_takes_the_mat():
    old = BASE[BASE.index("    split_factor:") : BASE.index("\nconductors:")]
    assert parse_project(changed(old, "")).faults[0].split_source == "all current is taken through the mat"


def test_version_and_starters():
    assert f"evenground: {SCHEMA_VERSION}" in BASE
    with pytest.raises(InputError, match="did you mean substation"):
        starter_text("substaton")


@pytest.mark.parametrize("file", EXAMPLES, ids=[f"{f.parent.name}/{f.name}" for f in EXAMPLES])
def test_demo_sites_load_without_warning(file):
    project = load_project(file)
    assert project.warnings == ()
    assert len(project.register) > 100


def test_there_are_demo_sites():
    assert len(EXAMPLES) >= 2
