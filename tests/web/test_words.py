"""Every number opens to its formula: the steps that the page shows for checks, limits and key figures."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from evenground.errors import InputError
from evenground.model.study import Check, Place, Verdict
from evenground.project import parse_project, starter_text
from evenground.study import run_study
from evenground.web._charts import sounding_chart
from evenground.web._fields import parse_number
from evenground.web._sketch import stated_sketch
from evenground.web._tables import plain_units
from evenground.web._words import (
    check_rows,
    figure_steps,
    key_figures,
    label_words,
    limit_steps,
    marks,
    steps_of,
    zone_of,
)

SOUNDING = SimpleNamespace(
    readings=(),
    curves_ohm_m={"uniform": (100.0, 100.0), "two layers": (300.0, 100.0)},
    curve_positions_m=(0.5, 60.0),
    chosen="two layers",
)


@pytest.fixture(scope="module")
def study():
    return run_study(parse_project(starter_text("plant")))


def test_the_limit_of_a_check_opens_to_the_formula_that_gave_it(study):
    """IEEE Std 80-2013, eq. 29 to 33: the tolerable voltage shown is the limit of the check."""
    looked = 0
    for check in study.checks:
        zone = zone_of(study, check)
        kind = "touch" if check.identity.startswith("touch") else "step"
        if not zone or check.limit is None or not check.identity.startswith(("touch", "step")):
            continue
        looked += 1
        named = [s for s in steps_of(study, check) if s.info.name == f"tolerable {kind} voltage"]
        assert check.limit in [pytest.approx(s.value, rel=1e-9) for s in named]
    assert looked >= 2


def test_every_row_of_limits_has_its_formulas(study):
    for limit in study.limits:
        values = [s.value for s in limit_steps(study, limit.zone, limit.scenario)]
        assert pytest.approx(limit.touch_v, rel=1e-9) in values


def test_every_key_figure_says_what_stands_behind_it(study):
    for name, _ in key_figures(study):
        words, _ = figure_steps(study, name)
        assert words
        assert all(words)
    rise = max(study.gpr_v.values())
    _, steps = figure_steps(study, "Largest potential rise")
    assert pytest.approx(rise, rel=1e-9) in [s.value for s in steps]


def test_a_name_with_marks_of_a_page_stays_text_in_the_sketch(study):
    fault = study.faults[0]
    nasty = replace(fault, scenario=replace(fault.scenario, name="<script>x</script>"))
    drawn = stated_sketch(nasty)
    assert "<script" not in drawn
    assert "&lt;script&gt;" in drawn


def check(identity, value, limit, verdict, sense="max"):
    place = Place(1.0, 2.0, 0.0)
    return Check(identity, identity, verdict, value, limit, "V", sense=sense, place=place)


def test_what_stands_between_value_and_limit_is_true_as_it_is_read(study):
    """Arithmetic: 880 is not below 684."""
    rows = (
        (check("a", 880.0, 684.0, Verdict.FAIL), ">"),
        (check("b", 600.0, 684.0, Verdict.PASS), "≤"),
        (check("c", 90.0, 95.0, Verdict.FAIL, "min"), "<"),
        (check("d", 99.0, 95.0, Verdict.PASS, "min"), "≥"),
        (check("e", None, 95.0, Verdict.NOT_DECIDED), "against"),
    )
    shown = {
        r["identity"]: r["relation"] for r in check_rows(replace(study, checks=tuple(c for c, _ in rows)))
    }
    assert shown == {c.identity: relation for c, relation in rows}


def test_only_touch_and_step_are_marked_as_such_and_the_gravest_lies_on_top(study):
    checks = (
        check("touch-yard", 9.0, 5.0, Verdict.FAIL),
        check("step-yard", 1.0, 5.0, Verdict.PASS),
        check("arrester-leads-F1", 1.0, 5.0, Verdict.PASS),
        check("shielding-M1", 9.0, 5.0, Verdict.FAIL),
    )
    rows = [(r["name"], r["letter"]) for r in marks(replace(study, checks=checks))]
    assert rows == [("step-yard", "S"), ("shielding-M1", "!"), ("touch-yard", "T")]


@pytest.mark.parametrize("text", ["1e999", "-1e999"])
def test_a_number_beyond_every_quantity_is_refused_in_words(text):
    with pytest.raises(InputError, match="larger than any quantity"):
        parse_number(text)


def test_a_long_name_is_wrapped_beside_its_arrow_and_not_cut_in_the_middle(study):
    fault = study.faults[0]
    named = replace(
        fault, scenario=replace(fault.scenario, name="110 kV single line to earth at the far end")
    )
    drawn = stated_sketch(named)
    assert ">110 kV single line to<" in drawn
    assert "<title>110 kV single line to earth at the far end</title>" in drawn


def test_units_and_standards_are_shown_by_their_names():
    assert plain_units("at least 67.4 mm2, 3 m3, 20 m2, kg CO2e") == "at least 67.4 mm², 3 m³, 20 m², kg CO₂e"
    assert plain_units("gate m2x and item2") == "gate m2x and item2"
    assert label_words("yard, fault: ieee80_50kg, 0.4 s") == "yard, fault: IEEE Std 80, 50 kg, 0.4 s"
    assert label_words("line: earth wire") == "line: earth wire"


def test_the_ticks_of_a_sounding_say_the_whole_number():
    """A tick at 50 m that is labelled 5 would be read as 5 m."""
    axis = sounding_chart(SOUNDING, dark=False)["layout"]["xaxis"]
    assert axis["ticktext"] == [f"{v:g}" for v in axis["tickvals"]]
    assert {1, 2, 5, 10, 20, 50} <= set(axis["tickvals"])
