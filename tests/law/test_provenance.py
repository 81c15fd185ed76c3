"""Equations, their declarations and the sheet they are noted on."""

import pytest

from evenground.provenance import equation, info, outside_range, recording


@equation("R", "ohm", source="Ohm's law", symbols="U I", form="U/I", valid=("0 < I",))
def resistance(voltage_v, current_a):
    return voltage_v / current_a


def test_nothing_is_noted_outside_a_recording():
    assert resistance(10.0, 2.0) == 5.0


def test_each_evaluation_is_noted_with_inputs_and_label():
    with recording("first") as sheet:
        resistance(10.0, 2.0)
        with sheet.labelled("second"):
            resistance(voltage_v=9.0, current_a=3.0)
    assert [(s.label, s.value, dict(s.inputs)) for s in sheet.steps] == [
        ("first", 5.0, {"U": 10.0, "I": 2.0}),
        ("second", 3.0, {"U": 9.0, "I": 3.0}),
    ]


def test_an_inner_recording_is_seen_by_the_outer_one():
    with recording() as outer:
        with recording("inner") as inner:
            resistance(1.0, 1.0)
        resistance(2.0, 1.0)
    assert len(inner.steps) == 1
    assert [s.value for s in outer.steps] == [1.0, 2.0]


def test_a_breach_of_the_range_is_noted_with_its_source():
    with recording() as sheet:
        resistance(1.0, -2.0)
    assert sheet.steps[0].outside == ("0 < I",)
    assert "Ohm's law" in sheet.outside[0]
    assert outside_range(resistance, 1.0, 2.0) == ()


def test_a_failing_formula_notes_nothing():
    with recording() as sheet, pytest.raises(ZeroDivisionError):
        resistance(1.0, 0.0)
    assert sheet.steps == []


def test_a_declaration_that_forgets_a_parameter_fails_at_import():
    with pytest.raises(TypeError, match="1 symbols for 2 parameters"):

        @equation("R", "ohm", source="x", symbols="U", form="U")
        def wrong(voltage_v, current_a):
            return voltage_v / current_a


def test_a_form_with_an_undeclared_symbol_fails_at_import():
    with pytest.raises(TypeError, match="undeclared symbols"):

        @equation("R", "ohm", source="x", symbols="U I", form="U/J")
        def wrong(voltage_v, current_a):
            return voltage_v / current_a


def test_the_declaration_is_readable():
    assert info(resistance).symbols == {"U": "voltage_v", "I": "current_a"}
