"""Site tests of a known mat: the form that the plan prints, filled in, is read back and judged."""

import csv
import io
from dataclasses import replace
from math import isclose

import pytest

from evenground._sitetest_form import COLUMNS, form_rows
from evenground._sitetest_verdict import judge_tests
from evenground._study_sitetest import prepare_site_tests
from evenground.deliver.sitetest_sheets import form_csv, plan_pdf, result_json, result_pdf
from evenground.errors import InputError
from evenground.project import parse_project, site_test_of_rows, starter_text
from evenground.study import run_study


@pytest.fixture(scope="module")
def study():
    return run_study(parse_project(starter_text("substation")))


@pytest.fixture(scope="module")
def tests(study):
    return prepare_site_tests(study, potential_bearing_deg=90.0)


def filled(tests, *, scale=1.0, connected="no", total=10.0):
    """The form as a surveyor would fill it in at a mat that is the model's, times a factor."""
    rows = list(csv.DictReader(io.StringIO(form_csv(tests))))
    volts = {(p.name, p.quantity): p.volts_per_ampere for p in tests.places}
    for row in rows:
        if row["item"] == "lines, cables and neutrals connected":
            row["read"] = connected
        elif row["test"] in ("fall", "riser") and row["expected"]:
            row["read"] = str((scale if row["test"] == "fall" else 1.0) * float(row["expected"]))
        elif row["item"] == "injected current":
            row["read"] = str(total)
        elif row["item"] == "remote voltage":
            row["read"] = str(scale * total * tests.mat.resistance_ohm)
        elif row["test"] == "place":
            loaded = row["what"].endswith(" with 1 kohm across")
            row["read"] = "" if loaded else str(scale * total * volts[row["item"], row["what"]])
    return rows


def outcome(tests, rows):
    return judge_tests(tests, site_test_of_rows(rows))


def test_a_known_mat_is_read_back(tests):
    """Synthetic test: readings made from the model stand for the model's resistance."""
    found = outcome(tests, filled(tests))
    assert isclose(found.fall.resistance_ohm, tests.mat.resistance_ohm, rel_tol=1e-3)  # form has 5 decimals
    for place in found.injection.places:
        assert isclose(place.ratio, 1.0, rel_tol=5e-3)  # places are printed to the millimetre
    assert found.verdict != "re-run with tested soil"


def test_far_too_much_resistance_asks_for_more_than_a_pass(tests):
    found = outcome(tests, filled(tests, scale=3.0))
    assert found.verdict in ("mitigation", "re-run with tested soil")
    assert found.why


def test_connected_paths_never_pass(tests):
    """IEEE Std 81-2012: with earth wires connected the reading is that of everything (from memory)."""
    found = outcome(tests, filled(tests, connected="yes"))
    assert found.verdict != "pass"
    assert any(f.code == "fall-paths" for f in found.findings)


def test_an_impossible_reading_is_flagged(tests):
    rows = filled(tests)
    next(r for r in rows if r["test"] == "fall")["read"] = "-0.2"
    next(r for r in rows if r["test"] == "place")["read"] = str(99 * 10 * tests.mat.resistance_ohm)
    found = outcome(tests, rows)
    assert any(f.code == "fall-negative" for f in found.findings)
    assert any("above the rise of the whole mat" in f.message for f in found.findings)


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [("read", "0,45", "is not a number"), ("read", "inf", "not a finite"), ("test", "falls", "unknown test")],
)
def test_wrong_cells_are_named_with_their_line(tests, column, text, words):
    rows = filled(tests)
    number = next(i for i, r in enumerate(rows) if r["test"] == "fall")
    rows[number][column] = text
    with pytest.raises(InputError, match=words) as caught:
        site_test_of_rows(rows)
    assert caught.value.findings[0].line == number + 2


def test_an_empty_form_is_refused(tests):
    rows = list(csv.DictReader(io.StringIO(form_csv(tests))))
    with pytest.raises(InputError, match="empty"):
        site_test_of_rows(rows)


def test_what_was_not_read_is_open(tests):
    rows = [r for r in filled(tests) if r["test"] != "injection" and r["test"] != "place"]
    found = outcome(tests, rows)
    assert "touch and step voltages by injection" in found.not_tested
    assert found.verdict != "pass"


def test_the_form_has_the_columns_that_are_read(tests):
    assert all(len(row) == len(COLUMNS) for row in form_rows(tests))


def test_papers_are_written(study, tests):
    found = outcome(tests, filled(tests))
    assert plan_pdf(study, tests).startswith(b"%PDF")
    assert result_pdf(study, tests, found).startswith(b"%PDF")
    assert '"verdict"' in result_json(study, tests, replace(found, date="2026-05-04"))
