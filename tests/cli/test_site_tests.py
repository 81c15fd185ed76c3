"""The commands testplan and testresult, from the printed form to the judgement of the readings."""

import csv
import io
import json
from dataclasses import replace
from types import SimpleNamespace

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from evenground.cli import _run
from evenground.cli._main import app
from evenground.errors import InputError
from evenground.project import starter_text

EQUIPMENT = """
equipment:
  - {tag: T1, kind: transformer, at_m: [10, 10], voltage_kv: 20, connections: 2}
  - {tag: Q1, kind: disconnector, at_m: [20, 10], voltage_kv: 20, connections: 2}
"""
TESTS = """
tests:
  - {name: commissioning, date: 2027-05-18, form: filled.csv}
"""


def run(*words):
    """Exit code and output; an error of the input is raised as the command line would print it."""
    result = CliRunner().invoke(app, [str(w) for w in words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return SimpleNamespace(code=result.exit_code, text=result.output)


@pytest.fixture(scope="module", autouse=True)
def one_study():
    """The study of each soil is run once; nothing else that a study depends on differs in this module."""
    known = {}
    run_really = _run.run_quietly

    def run_once(project, quiet):
        key = repr(project.soil_choice)
        if key not in known:
            known[key] = run_really(project, quiet)
        return replace(known[key], project=project)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_run, "run_quietly", run_once)
        yield known


@pytest.fixture(scope="module")
def plan(one_study, tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan")
    file = folder / "site.yaml"
    text = starter_text("substation").replace("\nconductors:", EQUIPMENT + "\nconductors:", 1)
    file.write_text(
        text.replace("[[0, 0], [60, 0], [60, 40], [0, 40]]", "[[0, 0], [30, 0], [30, 20], [0, 20]]", 1)
    )
    done = run("testplan", file, "--potential-bearing", "90", "--current", "10")
    return SimpleNamespace(file=file, folder=folder / "site-testplan", done=done)


def filled(plan, *, scale=1.0, riser=1.1, **cells):
    """The form of the plan with readings of a mat that is the predicted one times a factor."""
    rows = list(csv.DictReader(io.StringIO((plan.folder / "form.csv").read_text(encoding="utf-8"))))
    for row in rows:
        if row["item"] in ("date", "lines, cables and neutrals connected"):
            row["read"] = "2027-05-18" if row["item"] == "date" else "no"
        elif row["test"] == "fall":
            row["read"] = f"{scale * float(row['expected']):.5f}"
        elif row["test"] == "riser":
            row["read"] = f"{riser * float(row['expected']):.4f}"
        row["read"] = cells.get(row["item"], row["read"])
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0].keys(), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def result_of(plan, tmp_path, text, *more):
    form = tmp_path / "filled.csv"
    form.write_text(text, encoding="utf-8")
    done = run("testresult", plan.file, form, "--out", tmp_path / "out", *more)
    return done, json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))


def test_the_plan_is_written(plan):
    assert plan.done.code == 0
    assert (plan.folder / "sheets.pdf").read_bytes().startswith(b"%PDF")
    sheet = load_workbook(plan.folder / "form.xlsx").active
    words = [cell.value for row in sheet.iter_rows() for cell in row]
    assert "distance to the current probe" in words
    assert "Q1" in words


def test_a_form_is_never_written_over(plan):
    with pytest.raises(InputError, match="may hold readings"):
        run("testplan", plan.file)


def test_readings_that_agree(plan, tmp_path):
    done, data = result_of(plan, tmp_path, filled(plan))
    assert data["fall"]["resistance_ohm"] == pytest.approx(data["predicted_ohm"], rel=1e-3)  # five decimals
    assert data["verdict"] == "not decided"  # nobody read touch and step
    assert done.code == 3
    assert "not tested: touch and step voltages by injection" in done.text
    assert (tmp_path / "out" / "result.pdf").read_bytes().startswith(b"%PDF")


def test_readings_that_do_not_agree_and_the_study_run_again(plan, tmp_path):
    """Layers times one factor raise the resistance by that factor: Laplace's equation is linear."""
    done, data = result_of(plan, tmp_path, filled(plan, scale=1.6), "--again")
    assert (done.code, data["verdict"]) == (3, "re-run with tested soil")
    assert data["tested_soil"]["factor"] == pytest.approx(1.6, rel=1e-3)
    anew = json.loads((tmp_path / "out" / "study-tested-soil.json").read_text(encoding="utf-8"))
    assert anew["field"]["resistance_ohm"] == pytest.approx(1.6 * data["predicted_ohm"], rel=2e-3)
    rows = (tmp_path / "out" / "tested-soil-changes.csv").read_text(encoding="utf-8")
    assert "resistance" in rows.lower()


def test_an_open_riser_asks_for_mitigation(plan, tmp_path):
    done, data = result_of(plan, tmp_path, filled(plan, Q1="2500"))
    assert (done.code, data["verdict"]) == (1, "mitigation")
    assert "Continuity T1 to Q1" in done.text


def test_a_dated_test_of_the_project_file(plan, tmp_path):
    (tmp_path / "filled.csv").write_text(filled(plan), encoding="utf-8")
    file = tmp_path / "dated.yaml"
    file.write_text(plan.file.read_text() + TESTS)
    done = run("testresult", file, "--test", "commissioning")
    assert done.code == 3
    data = json.loads((tmp_path / "dated-result" / "result.json").read_text(encoding="utf-8"))
    assert data["date"] == "2027-05-18"
    with pytest.raises(InputError, match="there are commissioning"):
        run("testresult", file, "--test", "other")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("fall,", "fell,", "unknown test 'fell'"),
        ("-,,2027-05-18", "-,,18.05.2027", "not a date like"),
        ("test,item", "kind,item", "columns test are missing"),
    ],
)
def test_wrong_forms_are_refused_before_anything_is_computed(plan, tmp_path, old, new, words):
    form = tmp_path / "wrong.csv"
    form.write_text(filled(plan).replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=words):
        run("testresult", plan.file, form)
    assert not (tmp_path / "wrong-result").exists()


def test_other_wrong_inputs(plan, tmp_path):
    with pytest.raises(InputError, match="has no section tests"):
        run("testresult", plan.file)
    with pytest.raises(FileNotFoundError):
        run("testresult", plan.file, tmp_path / "nowhere.csv")
    binary = tmp_path / "binary.csv"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not a CSV file in UTF-8"):
        run("testresult", plan.file, binary)
    blocked = tmp_path / "blocked"
    blocked.write_text("")
    form = tmp_path / "form.csv"
    form.write_text(filled(plan), encoding="utf-8")
    with pytest.raises(InputError, match="is a file; give a folder"):
        run("testresult", plan.file, form, "--out", blocked)
