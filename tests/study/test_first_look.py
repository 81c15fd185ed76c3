"""A first look against the exact study, and studies that remember stages against studies that do not.

The exact study is the reference here; it is itself checked against published figures in tests/published.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from evenground._study_memory import Memory, remembered, remembering
from evenground._study_quick import FIRST_LOOK_ERROR
from evenground.model.study import Verdict
from evenground.project import load_project, parse_project, starter_text
from evenground.provenance import equation, recording
from evenground.study import run_study
from evenground.web._words import headline

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ROUNDING = 1e-9  # two threads add up in another order


@pytest.fixture(scope="module")
def demo():
    return load_project(EXAMPLES / "harrow-lane" / "site-revised.yaml")


def moved(project, by_m):
    """The project with its first extra conductor moved."""
    first, *rest = project.runs
    points = tuple((x + by_m, y) for x, y in first.points_m)
    return replace(project, runs=(replace(first, points_m=points), *rest))


def plain(study):
    return json.loads(study.to_json())


def same(a, b, where=""):
    """Equal up to rounding; the assertion names the place."""
    assert type(a) is type(b), where
    if isinstance(a, dict):
        assert a.keys() == b.keys(), where
        for key in a:
            same(a[key], b[key], f"{where}/{key}")
    elif isinstance(a, list):
        assert len(a) == len(b), where
        for k, (x, y) in enumerate(zip(a, b, strict=True)):
            same(x, y, f"{where}/{k}")
    elif isinstance(a, float):
        assert a == pytest.approx(b, rel=ROUNDING, abs=ROUNDING, nan_ok=True), where
    else:
        assert a == b, where


def test_a_memory_changes_no_result(demo):
    with remembering(Memory()) as memory:
        run_study(demo)
        served = memory.served
        after = run_study(moved(demo, 0.4))
        assert memory.served > served
    fresh = run_study(moved(demo, 0.4))
    same(plain(after), plain(fresh))
    assert [s.info.name for s in after.steps] == [s.info.name for s in fresh.steps]


def test_first_look_lies_within_its_stated_error(demo):
    project = moved(demo, 0.7)
    with remembering(Memory()):
        quick, exact = run_study(project, quick=True), run_study(project)
    compare(quick, exact)
    assert any(f.code == "first-look" for f in quick.findings)
    assert not any(f.code == "first-look" for f in exact.findings)


@pytest.mark.parametrize("kind", ["substation", "plant"])
def test_first_look_of_a_starter(kind):
    project = parse_project(starter_text(kind), "starter.yaml")
    compare(run_study(project, quick=True), run_study(project))


def compare(quick, exact):
    """Same places looked at, values within the stated error, and the same verdict on touch and step."""
    assert len(quick.shocks) == len(exact.shocks)
    for one, other in zip(quick.shocks, exact.shocks, strict=True):
        assert (one.quantity, one.zone, one.scenario) == (other.quantity, other.zone, other.scenario)
        assert one.value_v == pytest.approx(other.value_v, rel=FIRST_LOOK_ERROR)
        assert one.limit_v == pytest.approx(other.limit_v, rel=ROUNDING)
    assert quick.field.resistance_ohm == pytest.approx(exact.field.resistance_ohm, rel=0.01)
    found = {c.identity: c for c in quick.checks}
    for check in exact.checks:
        if check.identity.startswith(("touch-", "step-")) and check.identity in found:
            near = abs(check.value / check.limit - 1) < 2 * FIRST_LOOK_ERROR
            assert near or found[check.identity].verdict in (check.verdict, Verdict.NOT_DECIDED)


def test_only_equal_inputs_are_served():
    calls = []

    def stage(a, b=0):
        calls.append((a, b))
        return a + b

    with remembering(Memory()):
        assert [remembered(stage, 1, b=2), remembered(stage, 1, b=2), remembered(stage, 1, b=3)] == [3, 3, 4]
    assert remembered(stage, 1, b=2) == 3  # no memory is open
    assert calls == [(1, 2), (1, 3), (1, 2)]


def test_remembered_equations_are_noted_again():
    @equation("x", "", source="none", symbols="a", form="2*a")
    def twice(a):
        return 2 * a

    with remembering(Memory()):
        for _ in range(2):
            with recording() as sheet:
                remembered(twice, 4.0)
            assert [(s.inputs, s.value) for s in sheet.steps] == [({"a": 4.0}, 8.0)]


def test_memory_keeps_the_latest_few():
    calls = []
    with remembering(Memory()):
        for n in [*range(6), 5, 0]:
            remembered(calls.append, n)
    assert calls == [0, 1, 2, 3, 4, 5, 0]


def test_a_first_look_shows_no_passed_study(demo):
    with remembering(Memory()):
        quick = run_study(demo, quick=True)
    assert quick.verdict is Verdict.PASS
    line = headline(quick)
    assert (line["class"], line["sign"]) == ("open", "…")
    assert "within" not in line["words"].lower()
