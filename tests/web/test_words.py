"""Every number opens to its formula: the steps that the page shows for checks, limits and key figures."""

from dataclasses import replace

import pytest

from evenground.project import parse_project, starter_text
from evenground.study import run_study
from evenground.web._sketch import stated_sketch
from evenground.web._words import figure_steps, key_figures, limit_steps, steps_of, zone_of


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
