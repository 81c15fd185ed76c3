"""Readings kept in a CSV or XLSX file: columns and units are stated, never guessed."""

from pathlib import Path

import openpyxl
import pytest

from evenground.errors import InputError
from evenground.project import load_project, parse_project, starter_text
from evenground.project._readings_table import readings_of_table

SURVEY = Path(__file__).parents[1] / "data" / "soil_surveys"
WENNER = {"spacing": ("a", "m"), "resistance": ("R", "ohm")}

SITE = """evenground: 1
project: {title: Table}
frequency_hz: 50
soil:
  traverses:
    - name: T1
      array: wenner
      readings_file:
        file: survey.csv
        columns:
          spacing: {column: a, unit: ft}
          voltage: {column: V, unit: mV}
          current: {column: I, unit: mA}
faults: [{name: bus, voltage_kv: 20, current_ka: 1, shock_time_s: 0.5, thermal_time_s: 1}]
conductors: {mat: {material: copper_hard_drawn, diameter_mm: 10}}
mats: [{name: m, rectangle: {length_x_m: 10, length_y_m: 10}, spacing_m: 5, depth_m: 0.5}]
"""


def table(text, columns=WENNER, **options):
    return readings_of_table(text.encode(), "survey.csv", columns, **options)


def test_a_real_survey_is_read_with_its_units():
    """Aung San, 7 February: V in mV, I in mA, K V/I printed beside; SimPEG's gwb-dc-inversions, MIT."""
    data = (SURVEY / "Aung_San_Feb_07_raw.csv").read_bytes()
    columns = {
        "half_current_spacing": ("AB/2 (m)", "m"),
        "half_potential_spacing": ("MN/2 (m)", "m"),
        "voltage": ("V (mV)", "mV"),
        "current": ("I (mA)", "mA"),
        "apparent_resistivity": ("App. Res. (Ohm m)", "ohm m"),
    }
    readings = readings_of_table(data, "Aung_San_Feb_07_raw.csv", columns)
    assert len(readings) == 24
    first = readings[0]
    assert first.voltage_v == pytest.approx(0.04816)
    assert first.current_a == pytest.approx(0.004176)
    assert (first.half_current_m, first.half_potential_m) == (6, 2)
    # K = pi (L^2 - b^2)/(2 b) = 25.13; K V/I is the printed 289.82
    assert 25.13 * first.voltage_v / first.current_a == pytest.approx(
        first.apparent_resistivity_ohm_m, rel=1e-3
    )


def test_units_are_converted(tmp_path):
    """1 ft = 0.3048 m exactly."""
    (tmp_path / "survey.csv").write_text("a,V,I\n10,500,100\n20,180,100\n")
    file = tmp_path / "site.yaml"
    file.write_text(SITE)
    project = load_project(file)
    reading = project.traverses[0].readings[0]
    assert reading.spacing_m == pytest.approx(3.048)
    assert reading.voltage_v / reading.current_a == pytest.approx(5.0)
    assert any("2 readings" in r.value for r in project.register)


def test_the_hash_covers_the_table(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(SITE)
    (tmp_path / "survey.csv").write_text("a,V,I\n10,500,100\n20,180,100\n")
    before = load_project(file).input_hash
    (tmp_path / "survey.csv").write_text("a,V,I\n10,501,100\n20,180,100\n")
    assert load_project(file).input_hash != before


def test_a_workbook_gives_the_same_readings(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["site notes"])
    book.active.append(["a", "R"])
    book.active.append([1, 20.5])
    book.active.append([2.5, "7.25"])
    book.save(tmp_path / "s.xlsx")
    readings = readings_of_table((tmp_path / "s.xlsx").read_bytes(), "s.xlsx", WENNER, header_row=2)
    assert [(r.spacing_m, r.resistance_ohm) for r in readings] == [(1, 20.5), (2.5, 7.25)]


def test_comma_decimals_and_semicolons():
    readings = table("a;R\n1,5;20,25\n", delimiter=";", decimal=",")
    assert (readings[0].spacing_m, readings[0].resistance_ohm) == (1.5, 20.25)


def test_every_wrong_cell_is_named_with_row_and_column():
    with pytest.raises(InputError) as caught:
        table("a,R\n1,20\n2,-3\n3,n/a\n4,nan\n")
    places = [(f.line, f.column) for f in caught.value.findings]
    assert places == [(3, 2), (4, 2), (5, 2)]
    assert "'n/a'" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "columns", "options", "message"),
    [
        ("a,R\n1,2\n", {"spacing": ("x", "m")}, {}, "its columns are 'a', 'R'"),
        ("a,R\n1,2\n", {"spacing": ("a", "yards")}, {}, "use one of m, cm, mm, ft, in"),
        ("a,a\n1,2\n", {"spacing": ("a", "m")}, {}, "two columns 'a'"),
        ("a,R\n", WENNER, {}, "holds no reading"),
        ("", WENNER, {}, "no row 1"),
        ('a,R\n1,"2\n', WENNER, {}, "check delimiter and quotes"),
    ],
)
def test_what_is_wrong_is_said(text, columns, options, message):
    with pytest.raises(InputError, match=message):
        table(text, columns, **options)


@pytest.mark.parametrize("data", [b"PK\x03\x04 not a workbook", b"", b"\x00" * 100])
def test_a_broken_workbook_is_refused(data):
    with pytest.raises(InputError, match="can not be read as a workbook"):
        readings_of_table(data, "s.xlsx", WENNER)


def test_a_file_that_is_not_text_is_refused():
    with pytest.raises(InputError, match="not UTF-8"):
        readings_of_table(b"a,R\n\xff\xfe,2\n", "s.csv", WENNER)


def test_a_missing_table_points_into_the_project_file(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(SITE)
    with pytest.raises(InputError, match=r"survey\.csv: No such file") as caught:
        load_project(file)
    assert caught.value.findings[0].line == 8


def test_text_without_a_folder_can_not_name_files():
    with pytest.raises(InputError, match="needs the folder"):
        parse_project(SITE, "site.yaml")


def test_readings_and_table_together_are_refused():
    text = SITE.replace(
        "      readings_file:", "      readings: [{spacing_m: 1, resistance_ohm: 2}]\n      readings_file:"
    )
    with pytest.raises(InputError, match="keep one of them"):
        parse_project(text, "site.yaml")


def test_a_traverse_without_readings_is_refused():
    text = starter_text("substation")
    start = text.index("      readings:")
    with pytest.raises(InputError, match="without a reading"):
        parse_project(text[:start] + "faults" + text.split("\nfaults", 1)[1], "site.yaml")


def test_a_driven_rod_is_read_from_a_table():
    readings = readings_of_table(
        b"depth,R\n50,160\n100,94\n", "rod.csv", {"rod_length": ("depth", "cm"), "resistance": ("R", "ohm")}
    )
    assert [(r.rod_length_m, r.resistance_ohm) for r in readings] == [(0.5, 160.0), (1.0, 94.0)]
