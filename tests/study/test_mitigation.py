"""What would help: the same numbers as a study of the changed project, and geometry by hand."""

import dataclasses

import pytest

from evenground import mitigation
from evenground._mitigation_changes import CHANGES
from evenground.mitigation import needs_help, with_suggestions
from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario
from evenground.model.installation import Fence, Gate, Installation
from evenground.model.project import Identity, Project
from evenground.model.site import Assessment, ExtraRun, MatLayout, RodRule, SurfaceZone
from evenground.model.soil import LayeredSoil, SeasonalState, SoilChoice
from evenground.model.study import Verdict
from evenground.study import run_study

MAT = ((0.0, 0.0), (20.0, 0.0), (20.0, 12.0), (0.0, 12.0))
YARD = ((-2.0, -2.0), (22.0, -2.0), (22.0, 14.0), (-2.0, 14.0))


def project(**changes):
    fence = Fence(MAT, "round", closed=True, bond_spacing_m=10.0)
    gate = Gate((8.0, 0.0), (11.0, 0.0), "gate", opens="inward", bonded=True)
    made = Project(
        identity=Identity("help"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=LayeredSoil((100.0,))),
        faults=(FaultScenario("bus", 110e3, 0.5, 1.0, current_a=1000.0, decrement=False, split_source="t"),),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", MAT, 10.0, 12.0, 0.5, rods=(RodRule("corners", 2.0, 14.0),)),),
        assessment=Assessment(raster_m=1.0, segment_m=2.0),
        surface=(SurfaceZone("yard", YARD, 3000.0, 0.1),),
        installation=Installation(fences=(fence,), gates=(gate,), stated=("fences", "gates")),
    )
    return dataclasses.replace(made, **changes)


@pytest.fixture(scope="module")
def study():
    return with_suggestions(run_study(project()))


@pytest.fixture(scope="module")
def rows(study):
    return {r.name: r for r in study.surroundings.suggestions}


def change(name):
    (found,) = [c for c in CHANGES if c.name == name]
    return found


def share(study, quantity):
    return max(s.value_v / s.limit_v for s in study.shocks if s.quantity == quantity)


def fence_share(study):
    return max(t.value_v / t.limit_v for t in study.surroundings.boundary.touched)


@pytest.mark.parametrize("name", ["outer ring", "thicker cover", "closer mesh"])
def test_a_suggestion_says_what_a_study_of_the_changed_project_says(study, rows, name):
    made = change(name).apply(study)
    full = run_study(made.project)
    assert rows[name].touch == pytest.approx(share(full, "touch"), rel=1e-9)
    assert rows[name].step == pytest.approx(share(full, "step"), rel=1e-9)
    assert rows[name].fence == pytest.approx(fence_share(full), rel=1e-9)
    assert rows[name].resistance_ohm == pytest.approx(full.field.resistance_ohm, rel=1e-12)


def test_the_list_is_ranked_by_how_far_the_worst_falls(study):
    found = study.surroundings.suggestions
    helps = [r.helps for r in found]
    assert helps == sorted(helps, reverse=True)
    before = max(share(study, "touch"), share(study, "step"), fence_share(study))
    for row in found:
        after = max(row.touch, row.step, row.fence or 0.0)
        assert row.helps == pytest.approx(1 - after / before, rel=1e-9)
        assert not (row.passes and after > 1.0)


PEOPLE = ("touch-", "step-")


def weaker(scale, **fault):
    """The site with so much current that a quarter less brings the worst voltage to ``scale`` of it."""
    (scenario,) = project().faults
    scenario = dataclasses.replace(scenario, **fault)
    found = run_study(project(faults=(scenario,)))
    worst = max(share(found, "touch"), share(found, "step"), fence_share(found))
    current = scenario.current_a * scale / worst / 0.75
    return project(faults=(dataclasses.replace(scenario, current_a=current),))


def less_current(made, monkeypatch):
    monkeypatch.setattr("evenground.mitigation.CHANGES", (change("less current in the mat"),))
    (row,) = with_suggestions(run_study(made)).surroundings.suggestions
    return row


def test_yes_and_no_are_what_a_study_of_the_changed_project_says(monkeypatch):
    """The checks of touch, step and fences of the full study, with its refined segments."""
    for scale, wanted in ((0.9, True), (0.9995, False)):
        made = weaker(scale)
        row = less_current(made, monkeypatch)
        (fault,) = made.faults
        full = run_study(
            dataclasses.replace(made, faults=(dataclasses.replace(fault, current_a=0.75 * fault.current_a),))
        )
        people = [c for c in full.checks if c.governing and c.identity.startswith(PEOPLE)]
        assert max(row.touch, row.step, row.fence) == pytest.approx(scale, rel=1e-6)
        assert row.passes is wanted
        assert row.passes == all(c.verdict is Verdict.PASS for c in people)


@pytest.mark.parametrize(("factor", "wanted"), [(0.75, False), (0.75 / 3**0.5, True)])
def test_an_unknown_x_over_r_takes_the_largest_offset(factor, wanted):
    """The decrement factor never exceeds sqrt 3 (IEEE Std 80-2013, decrement factor): 0.9 of the limit is no
    yes without X/R, 0.9 divided by sqrt 3 is one."""
    made = weaker(0.9, decrement=True)
    after = mitigation._compute(run_study(made), made, factor, 1.0)
    assert after.worst < 1.0
    assert after.passes is wanted


def test_a_limit_outside_its_range_gives_no_yes():
    """IEEE Std 80-2013, Eq. (8): the current a body bears is stated for 0.03 s to 3 s."""
    made = weaker(0.9, shock_time_s=4.0)
    after = mitigation._compute(run_study(made), made, 0.75, 1.0)
    assert after.worst == pytest.approx(0.9, rel=1e-6)
    assert not after.passes


def test_metal_added_never_raises_the_resistance(study, rows):
    """Monotonicity of the Dirichlet problem: more metal, less resistance."""
    for name in ("outer ring", "denser edge", "closer mesh", "rods along the edge", "deep rods"):
        assert rows[name].resistance_ohm < study.field.resistance_ohm


def test_half_the_time_lowers_every_share_by_the_root_of_two(study, rows):
    """Limits of IEEE Std 80 go with 1/sqrt(t) (Dalziel), voltages stay."""
    assert rows["faster clearing"].touch == pytest.approx(share(study, "touch") / 2**0.5, rel=1e-9)
    assert rows["faster clearing"].step == pytest.approx(share(study, "step") / 2**0.5, rel=1e-9)


def test_a_quarter_less_current_lowers_every_voltage_by_a_quarter(study, rows):
    assert rows["less current in the mat"].fence == pytest.approx(0.75 * fence_share(study), rel=1e-9)


def test_a_fence_that_does_not_conduct_is_not_touched(rows):
    assert rows["fence that does not conduct"].fence is None


def test_changes_without_a_meaning_are_left_out(rows):
    assert "fence joined to the mat" not in rows  # no separate fence
    assert "insulated sections" not in rows
    bare = run_study(project(surface=()))
    assert change("thicker cover").apply(bare) is None
    assert change("wider cover").apply(bare) is None


def test_a_ring_is_tied_at_corners_and_in_the_middle_of_its_sides(study):
    """Rectangle of 20 m by 12 m: ring of 22 m by 14 m, four ties of sqrt 2 m and four of 1 m."""
    runs = change("outer ring").apply(study).project.runs
    assert len(runs) == 9
    assert sorted(runs[0].points_m[:-1]) == sorted([(-1.0, -1.0), (21.0, -1.0), (21.0, 13.0), (-1.0, 13.0)])
    lengths = sorted(
        ((r.points_m[0][0] - r.points_m[1][0]) ** 2 + (r.points_m[0][1] - r.points_m[1][1]) ** 2) ** 0.5
        for r in runs[1:]
    )
    assert lengths == pytest.approx([1.0] * 4 + [2**0.5] * 4)


def test_a_ring_that_is_there_is_not_drawn_again(study):
    there = project(runs=(ExtraRun(((-1.0, -1.0), (21.0, -1.0)), 0.5),))
    assert change("outer ring").apply(dataclasses.replace(study, project=there)) is None


def test_meshes_are_halved_and_the_edge_gets_one_line_more(study):
    (closer,) = change("closer mesh").apply(study).project.mats
    assert closer.lines_x_m == (0.0, 5.0, 10.0, 15.0, 20.0)
    (edge,) = change("denser edge").apply(study).project.mats
    assert edge.lines_x_m == pytest.approx((0.0, 10 / 3, 10.0, 50 / 3, 20.0))


def test_nothing_is_suggested_where_nothing_fails():
    good = run_study(
        project(faults=(FaultScenario("bus", 110e3, 0.5, 1.0, current_a=20.0, decrement=False),))
    )
    assert not needs_help(good)
    assert with_suggestions(good) is good


def test_the_governing_season_counts(monkeypatch):
    monkeypatch.setattr("evenground.mitigation.CHANGES", (change("less current in the mat"),))
    dry = run_study(project(seasons=(SeasonalState("dry", 1.0, 3.0, "stated"),)))
    found = {r.name: r for r in with_suggestions(dry).surroundings.suggestions}
    assert found["less current in the mat"].touch == pytest.approx(0.75 * share(dry, "touch"), rel=1e-9)


def test_report_terminal_and_table_show_the_suggestions(study):
    from io import StringIO

    from rich.console import Console

    from evenground.deliver.report import report_data
    from evenground.deliver.tables import study_tables
    from evenground.deliver.terminal import print_summary

    titles = [c["title"] for c in report_data(study, made_on="2026-05-01", plots=set())["chapters"]]
    assert "What would help" in titles
    assert study_tables(study)["what-would-help.csv"].count("\n") == len(study.surroundings.suggestions) + 1
    out = StringIO()
    print_summary(study, Console(file=out, width=80))
    assert "What would help" in out.getvalue()
    plain = [
        c["title"] for c in report_data(run_study(project()), made_on="2026-05-01", plots=set())["chapters"]
    ]
    assert "What would help" not in plain
    assert "Completeness" in plain
