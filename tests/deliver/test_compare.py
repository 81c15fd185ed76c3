"""Two studies side by side: the expected numbers are worked out by hand from the two plain documents."""

import copy
import csv
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evenground import load_project, run_study
from evenground.cli._main import app
from evenground.deliver.compare import compare_studies, comparison_rows, plain, read_study, unlike_parts
from evenground.deliver.report import report_data
from evenground.errors import InputError
from evenground.model._serial import study_to_dict

DEMO = Path("examples/harrow-lane")


@pytest.fixture(scope="module")
def revised():
    return run_study(load_project(DEMO / "site-revised.yaml"))


@pytest.fixture(scope="module")
def studies(revised):
    first = run_study(load_project(DEMO / "site.yaml"))
    return tuple(json.loads(json.dumps(study_to_dict(s))) for s in (first, revised))


def test_a_study_does_not_differ_from_itself(studies):
    a, _ = studies
    c = compare_studies(a, copy.deepcopy(a))
    assert c.same_input
    assert (c.inputs, c.results, c.checks, c.quantities) == ((), (), (), ())


def test_one_changed_input_is_found_at_its_path_and_nothing_else(studies):
    a, _ = studies
    b = copy.deepcopy(a)
    b["project"]["faults"][0]["shock_time_s"] *= 2
    b["project"]["mats"][0]["path"] = ["elsewhere"]
    c = compare_studies(a, b)
    (change,) = c.inputs
    assert change.what == f"faults[{a['project']['faults'][0]['name']}].shock_time_s"
    assert change.relative == pytest.approx(1.0, rel=1e-12)  # twice the time is 100 % more
    assert (c.results, c.checks, c.quantities) == ((), (), ())


def test_verdicts_and_margins_of_the_two_revisions(studies):
    a, b = studies
    c = compare_studies(a, b)
    assert (c.a["verdict"], c.b["verdict"]) == ("fail", b["verdict"])
    assert not c.same_input
    by_name = {x["identity"]: x for x in a["checks"]}
    for change in c.checks:
        if change.verdict_before is None:
            assert change.identity not in by_name
            continue
        row = by_name[change.identity]
        limit, value = row["limit"], row["value"]
        if value is None or not limit:
            continue
        margin = (limit - value) / limit if row["sense"] == "max" else (value - limit) / limit
        assert change.margin_before == pytest.approx(margin, rel=1e-12)
    assert any(x.verdict_before == "fail" and x.verdict_after == "pass" for x in c.checks)
    mat = next(x for x in c.quantities if x.what == "mat conductor m")
    assert mat.before == pytest.approx(8 * 50 + 6 * 70, abs=1e-6)  # 8 and 6 lines of the first layout
    assert mat.after == b["quantities"]["mat_conductor_m"]


def test_the_chapter_of_the_report_lists_what_the_comparison_lists(studies, revised):
    a, b = studies
    data = report_data(revised, made_on="2026-04-17", plots=set(), earlier=a)
    part = next(c for c in data["chapters"] if c["title"] == "Changes since the earlier revision")
    tables = {x["caption"]: x for x in part["blocks"] if x["kind"] == "table"}
    assert len(tables["Checks before and now"]["rows"]) == len(compare_studies(a, b).checks)
    assert a["input"]["sha256"] in json.dumps(part)
    without = report_data(revised, made_on="2026-04-17", plots=set())
    assert all(c["title"] != part["title"] for c in without["chapters"])


def test_compare_on_the_command_line_as_words_json_and_table(studies, tmp_path):
    for name, study in zip("ab", studies, strict=True):
        (tmp_path / name).mkdir()
        (tmp_path / name / "study.json").write_text(json.dumps(study), encoding="utf-8")
    words = ["compare", str(tmp_path / "a"), str(tmp_path / "b" / "study.json")]
    done = CliRunner().invoke(app, [*words, "--csv", str(tmp_path / "difference.csv")])
    assert done.exit_code == 0
    assert "verdict fail" in " ".join(done.stdout.split())
    expected = compare_studies(*studies)
    as_json = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)
    assert len(as_json["checks"]) == len(expected.checks)
    assert as_json["a"]["sha256"] == studies[0]["input"]["sha256"]
    with (tmp_path / "difference.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert len(rows) == 1 + len(comparison_rows(expected))
    assert ["study", "verdict", "fail", studies[1]["verdict"], ""] in rows


def test_long_lists_are_shown_by_what_differs_and_written_in_full():
    line = [[float(x), 0.0] for x in range(200)]
    moved = [*line[:120], [120.0, 7.5], [120.5, 7.5], *line[121:]]
    assert unlike_parts(line, moved) == (
        "[… [120.0, 0.0] …] (200)",
        "[… [120.0, 7.5], [120.5, 7.5] …] (201)",
    )
    assert unlike_parts(line, line[:190]) == (
        "[… " + ", ".join(f"[{x}.0, 0.0]" for x in range(190, 200)) + "] (200)",
        "[… –] (190)",
    )
    assert unlike_parts([1.0], [2.0]) == ([1.0], [2.0])
    assert unlike_parts(None, line) == (None, line)
    assert json.loads(plain(moved)) == moved


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"format": "other/1"}', "[" * 100_000])
def test_what_is_no_study_is_refused(tmp_path, text):
    file = tmp_path / "study.json"
    file.write_text(text)
    with pytest.raises(InputError, match="study"):
        read_study(tmp_path)


def test_an_earlier_study_that_is_missing_is_told_before_anything_is_computed(tmp_path):
    text = (DEMO / "site.yaml").read_text(encoding="utf-8")
    file = tmp_path / "site.yaml"
    file.write_text(text.replace("project:\n", "project:\n  compared_with: gone/study.json\n", 1))
    done = CliRunner().invoke(app, ["study", str(file)])
    assert isinstance(done.exception, InputError)
    (finding,) = done.exception.findings
    assert finding.path == ("project", "compared_with")
    assert finding.line == 7
    assert not (tmp_path / "site-results").exists()
