# ruff: noqa: E501 (one mistake on one line reads best)
"""Each kind of mistake in a project file: what is said, where it points, and what is advised.

The ranges behind unit slips are common practice; the mistakes are typical ones (units, typing, copying).
"""

import pytest

from evenground.errors import InputError, Severity
from evenground.project import parse_project, starter_text
from evenground.project._words import edit_distance, nearest

BASE = starter_text("substation")
PLANT = starter_text("plant")


def findings(text):
    try:
        return list(parse_project(text, "site.yaml").warnings)
    except InputError as error:
        return list(error.findings)


def changed(old, new, base=BASE):
    assert base.count(old) >= 1, old
    return base.replace(old, new, 1)


def only(text, code):
    found = [f for f in findings(text) if f.severity is Severity.ERROR]
    assert [f.code for f in found] == [code], [str(f) for f in found]
    finding = found[0]
    assert finding.file == "site.yaml"
    assert finding.line > 0
    assert finding.column > 0
    assert finding.excerpt == text.splitlines()[finding.line - 1].rstrip()
    return finding


def pointed_at(finding):
    """The text of the file from the column on."""
    return finding.excerpt[finding.column - 1 :]


ERRORS = [
    # old, new, code, points at, words of message, words of advice
    ("frequency_hz: 50", "frequncy_hz: 50", "key-unknown", "frequncy_hz", "unknown key", "did you mean 'frequency_hz' (in Hz)"),
    ("    depth_m: 0.6", "    depth_cm: 60", "key-unknown", "depth_cm", "unknown key", "did you mean 'depth_m' (in m)"),
    ("{spacing_m: 2, ", "{spacing: 2, ", "key-unknown", "spacing: 2", "", "did you mean 'spacing_m' (in m)"),
    ("\nmats:", "\nmatts:", "key-unknown", "matts:", "", "did you mean 'mats'"),
    ("    depth_m: 0.6", "    depth_m: 0.6\n    x_over_r: 9", "key-unknown", "x_over_r", "", "belongs to faults"),
    ("    depth_m: 0.6\n", "", "value-missing", "name: yard", "'depth_m' is missing", "Burial depth"),
    ("    depth_m: 0.6", "    depth_m:", "value-missing", "depth_m", "'depth_m' has no value", "Burial depth"),
    ("    depth_m: 0.6", '    depth_m: "0.6"', "value-type", '"0.6"', "a number in m", "leave out the quotes: 0.6"),
    ("    depth_m: 0.6", "    depth_m: 0,6", "value-type", "0,6", "a number in m", "use a decimal point: 0.6"),
    ("    depth_m: 0.6", "    depth_m: 0.6 m", "value-type", "0.6 m", "a number in m", "without 'm'; the key says"),
    ("    depth_m: 0.6", "    depth_m: [0.6]", "value-type", "[0.6]", "a list of 1", ""),
    ("    depth_m: 0.6", "    depth_m: true", "value-type", "true", "a number in m", ""),
    ("    depth_m: 0.6", "    depth_m: .nan", "value-finite", ".nan", "not a finite number", ""),
    ("    depth_m: 0.6", "    depth_m: .inf", "value-finite", ".inf", "not a finite number", ""),
    ("    depth_m: 0.6", "    depth_m: 1e999", "value-finite", "1e999", "not a finite number", ""),
    ("    depth_m: 0.6", "    depth_m: -0.6", "value-range", "-0.6", "-0.6 m", "above 0 m"),
    ("    depth_m: 0.6", "    depth_m: 600", "unit-slip", "600", "600 m", "millimetres: 0.6 m"),
    ("    depth_m: 0.6", "    depth_m: 60", "unit-slip", "60", "60 m", "centimetres: 0.6 m"),
    ("    spacing_m: 5", "    spacing_m: 5000", "unit-slip", "5000", "5000 m", "millimetres: 5 m"),
    ("diameter_mm: 12.5", "diameter_mm: 0.0125", "unit-slip", "0.0125", "0.0125 mm", "metres: 12.5 mm"),
    ("length_m: 3, diameter_mm: 14.2", "length_m: 3000, diameter_mm: 14.2", "unit-slip", "3000", "3000 m", "millimetres: 3 m"),
    ("value: 3.2", "value: 3200", "unit-slip", "3200", "3200 kA", "amperes: 3.2 kA"),
    ("voltage_kv: 110", "voltage_kv: 110000", "unit-slip", "110000", "110000 kV", "volts: 110 kV"),
    ("shock_time_s: 0.4", "shock_time_s: 400", "unit-slip", "400", "400 s", "milliseconds: 0.4 s"),
    ("shock_time_s: 0.4", "shock_time_s: 20", "unit-slip", "20", "20 s", "cycles of 50 Hz: 0.4 s"),
    ("thermal_time_s: 1.0", "thermal_time_s: 1000", "unit-slip", "1000", "1000 s", "milliseconds: 1 s"),
    ("initial_temperature_c: 30", "initial_temperature_c: 303", "unit-slip", "303", "303 degC", "kelvin: 29.85 degC"),
    ("value: 2500", "value: 2.5", "unit-slip", "2.5", "2.5 ohm m", "kilo-ohm metres: 2500 ohm m"),
    ("thickness_m: 0.1", "thickness_m: 100", "unit-slip", "100", "100 m", "millimetres: 0.1 m"),
    ("thickness_m: 0.1", "thickness_m: 10", "unit-slip", "10", "10 m", "centimetres: 0.1 m"),
    ("value: 0.5,", "value: 50,", "value-range", "50", "50", "50 % is written 0.5"),
    ("value: 0.5,", "value: 0,", "value-range", "0", "", "above 0"),
    ("x_over_r: 10", "growth_factor: 0.1", "value-range", "0.1", "", "written 1.1"),
    ("array: wenner ", "array: wener ", "value-choice", "wener", "not one of wenner, schlumberger", "did you mean wenner?"),
    ("body_mass_kg: 50", "body_mass_kg: 60", "value-choice", "60", "60 kg is not one of 50, 70", ""),
    ("evenground: 1 ", "evenground: 2 ", "file-version", "2", "file format 2", ""),
    ("copper_hard_drawn", "copper_hard_drwan", "material-unknown", "copper_hard_drwan", "", "did you mean 'copper_hard_drawn'?"),
    ("material: copper_hard_drawn", "material: cooper", "material-unknown", "cooper", "", "did you mean copper_annealed or copper_hard_drawn"),
    ("material: copper_hard_drawn", "material: copper", "material-unknown", "copper", "", "did you mean 'copper_annealed' or 'copper_hard_drawn'"),
    ("standard: ieee80", "standard: ieee_80", "value-choice", "ieee_80", "", "did you mean ieee80?"),
    ("standard: ieee80", "standard: en50522", "value-choice", "en50522", "", "did you mean en50522_2010 or en50522_2022?"),
    ("{spacing_m: 1, ", "{spacing_m: 1,5, ", "key-unknown", "5", "", "a decimal comma? write spacing_m: 1.5"),
    ("[[0, 0]", "[[0,5, 0]", "point-size", "[0,5", "has 3", "write 0.5 for 0,5"),
    ("conductor: mat ", "conductor: mta ", "conductor-unknown", "mta", "", "did you mean 'mat'?"),
    ("area_mm2: 95\n", "area_mm2: 950\n", "section-area", "950", "122.7 mm2", ""),
    ("shape: strand ", "shape: strip ", "section-shape", "12.5", "", "check shape"),
    ("date: \"\", description", "date: 11.02.2026, description", "value-date", "11.02.2026", "", "write 2026-02-11"),
    ("date: \"\", description", "date: 2026-02-30, description", "value-date", "2026-02-30", "calendar", ""),
    ("[60, 0], [60, 40], [0, 40]]     #", "[60, 40], [60, 0], [0, 40]]     #", "outline-crossing", "[[0, 0]", "at [30, 20]", "in order"),
    ("[60, 0], [60, 40], [0, 40]]     #", "[60, 0]]  #", "outline-corners", "[[0, 0]", "at least 3 corners, has 2", ""),
    ("[60, 0], [60, 40], [0, 40]]     #", "[60, 0], [90, 0]]  #", "outline-area", "[[0, 0]", "no area", ""),
    ("[60, 0], [60, 40], [0, 40]]     #", "[60, 0], [60, 0], [0, 40]]  #", "outline-corner-twice", "[60, 0], [0", "corners 2 and 3", ""),
    ("[60, 0], [60, 40], [0, 40]]     #", "[60, 0, 1], [60, 40], [0, 40]]  #", "point-size", "[60, 0, 1]", "2 numbers, has 3", "[x, y]"),
    ("[60, 0], [60, 40], [0, 40]]     #", "[60000, 0], [60000, 40000], [0, 40000]]  #", "mat-size", "[[0, 0]", "60000 m", "millimetres"),
    ("    spacing_m: 5 ", "    spacing_m: 50 ", "mat-spacing-wide", "50", "along y, 40 m", ""),
    ("    spacing_m: 5 ", "    spacing_m: 5\n    spacing_x_m: 4 ", "mat-spacing", "4", "given together", ""),
    ("    spacing_m: 5 ", "    lines_x_m: [0, 30, 60]\n    # ", "mat-spacing", "name: yard", "along y", "lines_y_m"),
    ("    spacing_m: 5 ", "    lines_x_m: [0, 30, 61]\n    spacing_y_m: 5\n    # ", "mat-line-outside", "61", "0 to 60 m", ""),
    ("    spacing_m: 5 ", "    lines_x_m: [0, 30, 30]\n    spacing_y_m: 5\n    # ", "mat-line-twice", "30]", "", ""),
    ("where: perimeter, spacing_m: 20", "where: perimeter", "rod-rule", "{where: perimeter", "without a spacing", ""),
    ("where: corners, length_m", "where: corners, count: 4, length_m", "rod-rule", "4", "no meaning", ""),
    ("raster_m: 0.5", "raster_m: 0.04", "raster-fine", "0.04", "million points", "at most 2 million"),
    ("    thickness_m: 0.1\n", "", "cover-thickness", "name: yard", "without a thickness", ""),
    ("    current_ka: {value: 3.2,", "    # {value: 3.2,", "fault-current", "name: 110 kV", "without a current", "sequence"),
    ("    x_over_r: 10", "    current_a: 3200", "fault-current", "3200", "given together", "keep one"),
    ("spacing_m: 2, resistance_ohm: 23.1, ", "spacing_m: 2, ", "reading-empty", "{spacing_m: 2", "", "apparent_resistivity"),
    ("spacing_m: 2, resistance_ohm: 23.1", "spacing_m: 2, voltage_v: 2.3", "reading-pair", "2.3", "without current_a", ""),
    ("{spacing_m: 2, ", "{half_potential_spacing_m: 2, ", "array-key", "2, resistance", "Wenner", "give spacing_m"),
    ("probe_depth_m: 0.15", "probe_depth_m: 2", "probe-depth", "2}", "", "smaller than the spacing"),
    ("select: auto ", "select: given ", "soil-given", "given", "no model", ""),
    ("title: Earthing", "title: ''  # Earthing", "value-missing", "''", "'title' is empty", ""),
    ("note: ultimate year}}\n    x", "note: ultimate, year}}\n    x", "key-unknown", "year", "", "in quotes"),
    ("note: ultimate year}}\n    x", "note: ultimate}, year}\n    x", "key-unknown", "year", "beside 'value'", "in quotes"),
    ("origin: {document: fault study", "origin: {documnt: fault study", "key-unknown", "documnt", "", "did you mean 'document'"),
    ("conductor: mat ", "conductor: {a: 1} ", "value-type", "{a: 1}", "must be a text", ""),
    ("  - name: yard\n    outline_m: [[-1", "  - name: bare soil\n    outline_m: [[-1", "zone-name", "bare", "no zone", "another"),
    ("soil:\n", "soil:\n  fill: {thickness_m: 0.3}\n", "fill", "{thickness", "without a resistivity", "give"),
    ("shock_time_s: 0.4", "shock_time_s: 1.4", "fault-times", "1.4", "longer than thermal_time_s", "exchanged"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "code", "target", "message", "advice"),
    ERRORS,
    ids=[f"{row[2]}: {row[1][:40].strip()!r}" for row in ERRORS],
)
def test_one_mistake_gives_one_error_at_its_place(old, new, code, target, message, advice):
    if code == "array-key":
        found = {f.code: f for f in findings(changed(old, new))}
        assert set(found) == {"array-key", "reading-spacing"}
        finding = found[code]
    else:
        finding = only(changed(old, new), code)
    assert pointed_at(finding).startswith(target)
    assert message in finding.message
    assert advice in finding.advice


WARNINGS = [
    ("split_factor: {value: 0.5, origin: {note:", "split_factor: 0.5 # ", "split-unsourced", "origin"),
    ("    depth_m: 0.6", "    depth_m: 7", "value-implausible", "usual"),
    ("diameter_mm: 14.2}\n\nmats", "diameter_mm: 20}\n\nmats", "rod-diameter", "thermal"),
    ("diameter_mm: 14.2}\n\nmats", "diameter_mm: 14.2}\n\nmats", "rod-thin", "thicker"),
    (
        "    resistivity_ohm_m: {value: 2500, origin: {note: to be proved by a test of the delivered stone}}\n",
        "",
        "cover-resistivity",
        "resistivity_ohm_m",
    ),
    ("# rods:\n#   - {at_m: [[30, 20]]", "rods:\n  - {at_m: [[3000, 20]]", "rod-far", "coordinates"),
]


@pytest.mark.parametrize(("old", "new", "code", "advice"), WARNINGS, ids=[row[2] for row in WARNINGS])
def test_a_doubtful_value_is_a_warning_and_the_project_still_loads(old, new, code, advice):
    text = changed(old, new)
    if code == "rod-thin":
        text = text.replace("diameter_mm: 14.2", "diameter_mm: 9")
    project = parse_project(text, "site.yaml")
    finding = next(f for f in project.warnings if f.code == code)
    assert finding.severity is Severity.WARNING
    assert advice in finding.advice
    assert finding.line > 0


def test_starters_give_no_warning():
    assert parse_project(BASE).warnings == ()
    assert parse_project(PLANT).warnings == ()


def test_all_errors_come_at_once_sorted_by_line():
    text = changed("frequency_hz: 50", "frequncy_hz: 50")
    for old, new in (
        ("    depth_m: 0.6", "    depth_m: 600"),
        ("weather:", "wether:"),
        ("    kind: single", "    kind: singel"),
    ):
        text = changed(old, new, text)
    found = findings(text)
    assert [f.code for f in found] == ["key-unknown", "key-unknown", "value-choice", "unit-slip"]
    assert [f.line for f in found] == sorted(f.line for f in found)


def test_the_error_text_gives_file_line_column_field_message_and_advice():
    with pytest.raises(InputError, match=r"site\.yaml:\d+:\d+: mats\[0\]\.depth_m: 600 m .*0\.6 m"):
        parse_project(changed("    depth_m: 0.6", "    depth_m: 600"), "site.yaml")


def test_nothing_in_the_ground():
    start, end = BASE.index("\nmats:"), BASE.index("\n# rods at stated")
    only_codes = [f.code for f in findings(BASE[:start] + BASE[end:])]
    assert only_codes == ["no-metal"]


def test_survey_without_readings():
    start, end = BASE.index("  traverses:"), BASE.index("\nfaults:")
    assert [f.code for f in findings(BASE[:start] + BASE[end:])] == ["survey-empty"]


def test_survey_whose_readings_are_all_left_out():
    text = BASE.replace("probe_depth_m:", "use: false, probe_depth_m:")
    assert [f.code for f in findings(text)] == ["survey-empty"]


def test_given_soil_beside_readings_needs_a_reason():
    given = "select: given\n    given: {resistivities_ohm_m: [100, 50], thicknesses_m: [3]}"
    text = changed("select: auto ", given + " ")
    assert only(text, "soil-reason").path == ("soil", "model", "select")
    assert findings(text.replace("    given:", "    reason: borehole\n    given:")) == []


@pytest.mark.parametrize("thicknesses", ["[]", "[1, 2]"])
def test_layers_and_thicknesses_must_fit(thicknesses):
    text = changed("thicknesses_m: [2.5] ", f"thicknesses_m: {thicknesses} ", PLANT)
    assert "give 1" in only(text, "soil-layers").advice


def test_given_soil_that_would_not_be_used():
    found = {f.code: f for f in findings(changed("select: given", "select: auto", PLANT))}
    assert set(found) == {"soil-given", "survey-empty"}
    assert "select: given" in found["soil-given"].advice


SCHLUMBERGER = "{half_current_spacing_m: 10, half_potential_spacing_m: 1, resistance_ohm: 1.3}"


def schlumberger(reading):
    start, end = BASE.index("        - {spacing_m: 1,"), BASE.index("\nfaults:")
    return changed(
        "array: wenner ", "array: schlumberger ", BASE[:start] + f"        - {reading}\n" + BASE[end:]
    )


def test_schlumberger_potential_probes_stand_inside():
    assert findings(schlumberger(SCHLUMBERGER)) == []
    wrong = SCHLUMBERGER.replace("potential_spacing_m: 1,", "potential_spacing_m: 10,")
    assert "exchanged" in only(schlumberger(wrong), "schlumberger-order").advice


def test_schlumberger_needs_both_distances_and_no_wenner_spacing():
    found = findings(schlumberger("{spacing_m: 3, half_current_spacing_m: 10, resistance_ohm: 1.3}"))
    assert {f.code for f in found} == {"array-key", "reading-spacing"}


@pytest.mark.parametrize("where", ["faults", "mats", "surface", "soil"])
def test_two_entries_of_one_name(where):
    block = {
        "faults": "faults:\n  - {name: A, voltage_kv: 20, current_a: 900, shock_time_s: 0.3, thermal_time_s: 1}\n",
        "mats": "mats:\n  - {name: A, rectangle: {length_x_m: 9, length_y_m: 9}, spacing_m: 3, depth_m: 0.6}\n",
        "surface": "surface:\n  - {name: A, outline_m: [[0, 0], [1, 0], [0, 1]]}\n",
        "soil": "  traverses:\n    - {name: A, array: wenner, readings: [{spacing_m: 2, resistance_ohm: 3}]}\n",
    }[where]
    head, entry = block.split("\n")[:2]
    old = next(row for row in BASE.splitlines() if row.startswith(head))
    finding = only(changed(old, f"{head}\n{entry}\n{entry}", BASE), "name-twice")
    assert f"first in line {finding.line - 1}" in finding.message


def test_zone_behind_one_that_holds_everything_is_named():
    text = changed("surface: ", "surface:\n  - {name: all, resistivity_ohm_m: 3000, thickness_m: 0.1}\n# ")
    assert [f.code for f in findings(text)] == ["zone-hidden"]


def test_two_rods_or_two_run_points_at_one_place():
    text = BASE + "\nrods:\n  - {at_m: [[3, 2], [3, 2]], length_m: 3, diameter_mm: 14.2}\n"
    assert only(text, "rod-twice").path == ("rods", 0, "at_m", 1)
    text = BASE + "\nruns:\n  - {points_m: [[3, 2], [3, 2]], depth_m: 0.6}\n"
    assert only(text, "run-point-twice").path == ("runs", 0, "points_m", 1)


def test_impedances_that_vanish_or_have_a_negative_resistance():
    text = changed("z1_ohm: [0.35, 1.9]", "z1_ohm: [0, 0]", PLANT)
    text = changed("z0_ohm: [22.0, 4.5]", "z0_ohm: [0, 0]", text)
    assert only(text, "impedance-zero").path == ("faults", 0, "sequence")
    text = changed("z1_ohm: [0.35, 1.9]", "z1_ohm: [-0.35, 1.9]", PLANT)
    assert only(text, "impedance-sign").path == ("faults", 0, "sequence", "z1_ohm", 0)


def test_a_strip_needs_both_sides_in_the_right_order():
    mat = "{material: copper_annealed, joint: compression, shape: strand, area_mm2: 70, diameter_mm: 10.7}"
    strip = "{material: zinc_coated_steel_rod, joint: welded, shape: strip, width_mm: 40, thickness_mm: 5}"
    assert findings(changed(mat, strip, PLANT)) == []
    assert (
        "thickness_mm"
        in only(changed(mat, strip.replace(", thickness_mm: 5", ""), PLANT), "section-shape").message
    )
    swapped = strip.replace("width_mm: 40, thickness_mm: 5", "width_mm: 5, thickness_mm: 40")
    assert "exchanged" in only(changed(mat, swapped, PLANT), "section-shape").advice


def test_more_wrong_values_than_can_be_read_are_summed_up():
    rows = "".join("  - {points_m: [[0, 0], [1, 1]], depth_m: deep}\n" for _ in range(2000))
    found = findings(BASE + "\nruns:\n" + rows)
    assert len(found) < 400
    assert any("more errors are not shown" in f.message for f in found)


@pytest.mark.parametrize(
    ("a", "b", "distance"),
    [
        ("kitten", "sitting", 3),
        ("saturday", "sunday", 3),
        ("ca", "abc", 3),
        ("", "abc", 3),
        ("depth", "dpeth", 1),
    ],
)
def test_edit_distance(a, b, distance):
    """Classic pairs of the literature on edit distances: kitten/sitting and saturday/sunday for
    Levenshtein (Wagner & Fischer, 1974), ca/abc = 3 for optimal string alignment."""
    assert edit_distance(a, b) == edit_distance(b, a) == distance


def test_nearest_word_is_none_when_nothing_is_near():
    assert nearest("zebra", ["depth_m", "spacing_m"]) is None
    assert nearest("x" * 10_000, ["depth_m"]) is None
    assert nearest("Depth-M", ["depth_m"]) == "depth_m"


@pytest.mark.parametrize("length", ["0.05", "1e-300"])
def test_a_mat_without_width(length):
    text = changed("length_y_m: 16}", f"length_y_m: {length}}}", PLANT)
    assert "coordinates are in m" in only(text, "mat-size").advice


FOUR_PROBES = "  traverses:\n    - {name: A, array: four_probe, readings: [{positions_m: [0, 2, 5, 9], resistance_ohm: 3}]}\n"


def with_traverses(block):
    start = BASE.index("  traverses:")
    return BASE[:start] + block + "\n" + BASE[BASE.index("\nfaults:") :]


def test_four_probes_at_stated_places_are_read():
    project = parse_project(with_traverses(FOUR_PROBES), "site.yaml")
    assert project.traverses[0].readings[0].positions_m == (0, 2, 5, 9)


def test_four_probes_need_four_different_places():
    assert only(with_traverses(FOUR_PROBES.replace("[0, 2, 5, 9]", "[0, 2, 2, 9]")), "probe-places")
    assert only(with_traverses(FOUR_PROBES.replace("positions_m: [0, 2, 5, 9], ", "")), "reading-spacing")
