"""The page's study judges the site tests of the project as the command does."""

import pytest

from evenground.deliver.compare import plain
from evenground.deliver.words import check_sentence
from evenground.model.study import Check, Verdict
from evenground.project import starter_text
from evenground.web._jobs import JOBS
from evenground.web._words import _row

TESTS = """
tests:
  - {name: cover, date: 2030-05-01, gravel: [{place: yard, thickness_m: 0.02}]}
"""


class Line:
    """Keeps what a job says."""

    def __init__(self):
        self.said = []

    def say(self, kind, what):
        self.said.append((kind, what))

    def progress(self, text, done):
        pass


def test_a_thin_cover_fails_on_the_page_too(tmp_path):
    text = starter_text("substation").replace("\nconductors:", TESTS + "\nconductors:", 1)
    text = text.replace("[[0, 0], [60, 0], [60, 40], [0, 40]]", "[[0, 0], [30, 0], [30, 20], [0, 20]]", 1)
    line = Line()
    JOBS["study"](line, text, str(tmp_path / "site.yaml"), coarse=False)
    kind, (study, _, _) = line.said[-1]
    assert kind == "done"
    (check,) = [c for c in study.checks if c.identity == "site-tests"]
    assert check.verdict is Verdict.FAIL
    assert "cover" in check.reason


@pytest.mark.parametrize(("verdict", "words"), [(Verdict.FAIL, "broken"), (Verdict.PASS, "kept")])
def test_a_judgement_without_a_number_is_not_called_undecided(verdict, words):
    check = Check("site-tests", "Site tests", verdict, None, None, "", reason="touch and step")
    row = _row(check)
    assert (row["value"], row["relation"], row["limit"]) == ("", "", "")
    assert check_sentence(check) == f"Site tests, {words}: touch and step."


def test_a_group_shows_what_its_author_wrote():
    rods = {"at_m": [[1.0, 2.0]], "path": ["as_built", "rods", 0], "backfill": None}
    assert plain(rods) == '{"at_m": [[1.0, 2.0]]}'
