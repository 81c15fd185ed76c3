"""What would help, from the page: the job beside the study, and what the panel shows of it."""

import pytest

from evenground._mitigation_changes import CHANGES
from evenground.schedules import parse_prices, starter_prices_text
from evenground.web._jobs import JOBS
from evenground.web._panel_help import SHOWN, help_rows, may_help

TEXT = """\
evenground: 1
project: {title: Help}
frequency_hz: 50
soil: {model: {select: given, given: {resistivities_ohm_m: [100]}}}
faults:
  - {name: bus, voltage_kv: 110, current_ka: 1, shock_time_s: 0.5, thermal_time_s: 1, split_factor: 1,
     x_over_r: 10}
conductors:
  mat: {material: copper_hard_drawn, shape: round, diameter_mm: 10, joint: exothermic}
mats:
  - {name: yard, outline_m: [[0, 0], [20, 0], [20, 20], [0, 20]], spacing_m: 10, depth_m: 0.6}
surface:
  - {name: yard, outline_m: [[-2, -2], [22, -2], [22, 22], [-2, 22]], material: rock, state: wet,
     resistivity_ohm_m: 3000, thickness_m: 0.1}
assessment: {raster_m: 1, segment_m: 2}
"""


class Line:
    """Keeps what a job says."""

    def __init__(self):
        self.said = []

    def say(self, word, payload):
        self.said.append((word, payload))

    def progress(self, text, fraction):
        self.said.append(("progress", (text, fraction)))


@pytest.fixture(scope="module")
def said():
    patch = pytest.MonkeyPatch()
    patch.setattr("evenground.mitigation.CHANGES", tuple(c for c in CHANGES if c.name == "thicker cover"))
    line = Line()
    JOBS["help"](line, TEXT, "site.yaml", parse_prices(starter_prices_text(), "placeholders"))
    patch.undo()
    return line.said


def test_the_job_answers_with_the_study_and_its_suggestions(said):
    word, study = said[-1]
    assert word == "done"
    assert may_help(study)
    (row,) = study.surroundings.suggestions
    # the zone of 24 m by 24 m, 0.1 m more: 57.6 m3 at 45 EUR and 10 % waste, 0.1 h of 50 EUR for each
    assert row.cost == pytest.approx(57.6 * (45 * 1.1 + 0.1 * 50), rel=1e-9)
    assert any(w == "progress" and "thicker cover" in p[0] for w, p in said)


def test_the_panel_shows_change_shares_and_cost(said):
    (row,) = help_rows(said[-1][1])
    shown = [row[k] for k in SHOWN]
    assert "every cover 2 times as thick" in shown[0]
    assert shown[-2].endswith("EUR")
    assert shown[-1] == "1"


def test_a_mistake_comes_back_with_its_line():
    line = Line()
    JOBS["help"](line, TEXT.replace("spacing_m: 10,", "spacing_m: ten,"), "site.yaml", None)
    word, (findings, _) = line.said[-1]
    assert word == "refused"
    assert findings[0].line == 11
