"""Numbers with units, and forms inside forms."""

import pytest

from evenground.errors import InputError
from evenground.project import parse_project, starter_text
from evenground.project._edit import edit_text, read_values
from evenground.project._schema import FaultFile, ProjectFile
from evenground.project._schema_drawing import SiteDrawingFile
from evenground.project._schema_installation import GateFile
from evenground.project._schema_tests import UpkeepFile
from evenground.web._fields import field_rows, nested_rows, parse_field, parse_typed, shown
from evenground.web._panel_forms import with_note
from evenground.web._panel_sections import _needed, adding
from evenground.web._units import parse_quantity


# the foot and the inch are exact since 1959: 0.3048 m and 25.4 mm (NIST SP 811, appendix B)
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12 ft", "m", 3.6576),
        ("3' 6\"", "m", 1.0668),
        ("2 ft 1/2 in", "m", 0.6223),
        ("5/8 in", "mm", 15.875),
        ("1 1/2 in", "mm", 38.1),
        ("600 mm", "m", 0.6),
        ("0.8 m", "mm", 800),
        ("5200 A", "kA", 5.2),
        ("0.11 kV", "V", 110),
        ("104 °F", "°C", 40),
        ("200 ms", "s", 0.2),
        ("1 Ω/mile", "Ω/km", 1 / 1.609344),
        ("100 kohm cm", "Ω·m", 1000),
    ],
)
def test_other_units_become_those_of_the_field(text, unit, value):
    typed = parse_quantity(text, unit)
    assert typed.value == pytest.approx(value, rel=1e-9)
    assert typed.written == text


# ASTM B258: nominal sections of solid wire and of thousand circular mils, as in any table of conductors
@pytest.mark.parametrize(
    ("text", "area_mm2"),
    [("4/0 AWG", 107.2), ("1/0 AWG", 53.49), ("AWG 2", 33.63), ("10 AWG", 5.261), ("250 kcmil", 126.7)],
)
def test_wire_gauges_become_sections(text, area_mm2):
    # the table gives four digits
    assert parse_quantity(text, "mm²").value == pytest.approx(area_mm2, rel=5e-4)


def test_a_gauge_as_a_diameter_depends_on_the_shape():
    # ASTM B258: 4/0 is 0.4600 in solid; ASTM B8: class B strand of 4/0 is 0.528 in over all
    assert parse_quantity("4/0 AWG", "mm").value == pytest.approx(11.684, rel=1e-4)
    # the strand's diameter stands in the table with four digits
    assert parse_quantity("4/0 AWG", "mm", stranded=True).value == pytest.approx(0.528 * 25.4, rel=1e-3)
    with pytest.raises(InputError, match="give it in mm"):
        parse_quantity("900 kcmil", "mm", stranded=True)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("12 ft", "s"), ("4/0 AWG", "s"), ("5 parsec", "m"), ("ft", "m"), ("12 kg", "m"), ("0 kcmil", "mm²")],
)
def test_a_unit_that_does_not_fit_is_refused_in_words(text, unit):
    with pytest.raises(InputError, match=r"does not fit|size of wire|above 0"):
        parse_quantity(text, unit)


def test_plain_numbers_stay_what_they_were():
    row = next(r for r in field_rows(FaultFile) if r.key == "current_ka")
    assert parse_typed(row, "5.2").value == 5.2
    assert parse_typed(row, "5.2").written == ""
    with pytest.raises(InputError, match="with a point"):
        parse_typed(row, "5,2")


def test_what_was_typed_is_noted_and_a_stale_note_goes():
    first = with_note(None, 3.6576, "12 ft")
    assert first == {"value": 3.6576, "origin": {"note": "entered as 12 ft"}}
    assert with_note(first, 4, "") == {"value": 4}
    stated = {"value": 5, "origin": {"document": "DR-1", "note": "below frost"}}
    assert with_note(stated, 6, "20 ft") == 6  # the change keeps the origin as it stands
    named = {"value": 5, "origin": {"document": "DR-1"}}
    assert with_note(named, 6.096, "20 ft")["origin"] == {"document": "DR-1", "note": "entered as 20 ft"}


def test_a_gate_has_three_answers_to_a_question_that_may_be_open():
    row = next(r for r in field_rows(GateFile) if r.key == "bonded")
    assert row.kind == "maybe"
    assert [parse_field(row, v) for v in (True, False, None)] == [True, False, None]


def _every(model, seen):
    if model not in seen:
        seen.add(model)
        for row in nested_rows(model):
            _every(row.model, seen)
    return seen


def test_every_value_of_the_project_file_has_a_field_in_the_page():
    """A new field of the schema must be reachable."""
    missing = set()
    for model in _every(ProjectFile, set()):
        reached = {r.key for r in field_rows(model)} | {r.key for r in nested_rows(model)}
        missing |= {(model.__name__, k) for k in set(model.model_fields) - reached}
    assert missing == set()


def test_values_by_key_are_written_one_a_line():
    row = next(r for r in field_rows(SiteDrawingFile) if r.key == "kinds")
    assert parse_field(row, "CB145 = circuit breaker\nX1 = pipe") == {
        "CB145": "circuit_breaker",
        "X1": "pipe",
    }
    assert shown(row, {"X1": "pipe"}) == "X1 = pipe"
    dates = next(r for r in field_rows(UpkeepFile) if r.key == "done")
    assert parse_field(dates, shown(dates, {"a": "2024-01-02"})) == {"a": "2024-01-02"}
    for wrong in ("CB145", "CB145 = teapot", "= pipe"):
        with pytest.raises(InputError, match=r"key = value|must be one of"):
            parse_field(row, wrong)


def test_missing_sections_on_the_way_are_made():
    text = starter_text("plant")
    values = read_values(text)
    place = ("network", "sources", 0)
    new = edit_text(text, adding(values, place, {"name": "far"}))
    assert read_values(new)["network"] == {"sources": [{"name": "far"}]}
    again = edit_text(new, adding(read_values(new), ("network", "sources", 1), {"name": "second"}))
    assert [s["name"] for s in read_values(again)["network"]["sources"]] == ["far", "second"]


def test_a_new_section_asks_for_what_it_can_not_be_without():
    rows = {r.key: r for r in nested_rows(ProjectFile)}
    asked = [".".join(map(str, (*step, r.key))) for step, r, _ in _needed(rows["gates"].model)]
    assert asked == ["name", "start_m", "end_m", "opens"]
    source = next(r for r in nested_rows(rows["network"].model) if r.key == "sources")
    assert "contributions.0.fault" in [
        ".".join(map(str, (*step, r.key))) for step, r, _ in _needed(source.model)
    ]


def test_a_declaration_added_by_the_page_is_a_valid_project():
    text = starter_text("plant")
    value = {"subject": "telecom circuits", "status": "not applicable", "by": "A. Reader", "reason": "none"}
    rows = read_values(text).get("declarations") or []
    new = edit_text(text, adding(read_values(text), ("declarations", len(rows)), value))
    assert parse_project(new).declarations[-1].by == "A. Reader"
