"""A study with several soil cases: each is solved, the worst governs, nothing is mixed up."""

import dataclasses

import pytest

from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario
from evenground.model.project import Identity, Project
from evenground.model.site import Assessment, MatLayout, SurfaceZone
from evenground.model.soil import Earthworks, LayeredSoil, SeasonalState, SoilChoice
from evenground.model.study import Verdict
from evenground.study import run_study

SOIL = LayeredSoil((200.0, 80.0), (2.0,))


@pytest.fixture(scope="module")
def project():
    corners = ((0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0))
    return Project(
        identity=Identity("case"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=SOIL),
        faults=(FaultScenario("bus", 20e3, 0.5, 1.0, current_a=120.0, x_over_r=5.0, split_source="test"),),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", corners, 4.0, 4.0, 0.6),),
        assessment=Assessment(raster_m=1.0),
        surface=(SurfaceZone("all", None, 3000.0, 0.1),),
    )


@pytest.fixture(scope="module")
def seasonal(project):
    seasons = (SeasonalState("dry", 1.0, 3.0, "stated by the client"), SeasonalState("wet", 0.3, 0.5))
    return run_study(dataclasses.replace(project, seasons=seasons))


def test_without_seasons_there_is_one_case_and_it_governs(project):
    study = run_study(project)
    assert [c.name for c in study.soil_cases] == ["as surveyed"]
    assert study.soil_cases[0].governs
    assert study.soil_used == SOIL


def test_a_dry_top_raises_resistance_and_touch_and_governs(seasonal):
    """Resistivity raised anywhere can not lower the resistance of an electrode (monotonicity of the
    Dirichlet problem)."""
    by_name = {c.name: c for c in seasonal.soil_cases}
    assert (
        by_name["dry"].resistance_ohm > by_name["as surveyed"].resistance_ohm > by_name["wet"].resistance_ohm
    )
    assert by_name["dry"].governs
    assert by_name["dry"].note == "stated by the client"
    assert seasonal.soil_used == LayeredSoil((600.0, 200.0, 80.0), (1.0, 1.0))


def test_the_study_shows_the_governing_case(seasonal):
    dry = next(c for c in seasonal.soil_cases if c.governs)
    assert seasonal.field.resistance_ohm == dry.resistance_ohm
    assert seasonal.verdict is dry.verdict
    touch = seasonal.worst_touch
    assert touch.value_v / touch.limit_v == pytest.approx(dry.worst_touch, rel=1e-12)
    rises = [s.value for s in seasonal.steps if s.info.symbol == "U_E"]
    assert rises == [seasonal.gpr_v["bus"]]


def test_a_failing_season_fails_the_study(project, seasonal):
    passing = run_study(project)
    assert passing.verdict is Verdict.PASS
    room = min(s.limit_v / s.value_v for s in (passing.worst_touch, passing.worst_step))
    fault = dataclasses.replace(project.faults[0], current_a=120.0 * 0.98 * room)
    seasons = (SeasonalState("dry", 1.0, 3.0),)
    assert run_study(dataclasses.replace(project, faults=(fault,))).verdict is Verdict.PASS
    assert run_study(dataclasses.replace(project, faults=(fault,), seasons=seasons)).verdict is Verdict.FAIL


def test_fill_becomes_the_top_layer(project):
    filled = run_study(dataclasses.replace(project, earthworks=Earthworks(0.5, 1.0, 400.0)))
    assert filled.soil_used == LayeredSoil((400.0, 200.0, 80.0), (1.0, 1.5))


def test_the_list_of_what_was_not_checked_knows_about_seasons(project, seasonal):
    assert any("Seasonal change" in row for row in run_study(project).not_checked)
    assert not any("Seasonal change" in row for row in seasonal.not_checked)


def test_all_standards_are_compared_on_request(project):
    study = run_study(
        dataclasses.replace(
            project, assessment=dataclasses.replace(project.assessment, compare_standards=True)
        )
    )
    assert {"en50522_2022", "ieee80_70kg", "gb50065_effective"} <= {r.standard for r in study.comparison}
