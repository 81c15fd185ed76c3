"""The split stage of a study: the share of the mat is computed with the mat's own resistance of each case."""

import cmath
import dataclasses
from math import isclose, sqrt

import pytest

from evenground.errors import InputError
from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario, fault_cases
from evenground.model.network import Contribution, Feeder, Network, reduced_route
from evenground.model.project import Identity, Project
from evenground.model.site import Assessment, MatLayout, SurfaceZone
from evenground.model.soil import LayeredSoil, SeasonalState, SoilChoice
from evenground.model.split import HOME, Station, Wire, uniform_line
from evenground.study import run_study

SOIL = LayeredSoil((200.0, 80.0), (2.0,))
FAULT = FaultScenario(
    "bus", 110e3, 0.5, 1.0, current_a=1200.0, x_over_r=5.0, split_stated=False, path=("faults", 0)
)
LINE = uniform_line(
    "ridge line",
    spans=30,
    span_length_m=300.0,
    tower_resistance_ohm=20.0,
    ground_wires=(Wire("shield", 0.0, 24.0, 0.5e-3, gmr_m=0.005),),
    phases=(Wire("a", 3.0, 16.0, 0.12e-3, gmr_m=0.009),),
    far_station="Upper",
)
REMOTE = Feeder("Upper", "Upper", "ridge line", contributions=(Contribution("bus", 800.0),))
LOCAL = Feeder("T1", contributions=(Contribution("bus"),))
NETWORK = Network(
    lines=(LINE,),
    stations=(Station("Upper", 0.2),),
    feeders=(REMOTE, LOCAL),
    levels_v={"ridge line": 110e3},
)


def project_with(network, *faults, **rest):
    corners = ((0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0))
    return Project(
        identity=Identity("case"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=SOIL),
        faults=faults or (FAULT,),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", corners, 4.0, 4.0, 0.6),),
        assessment=Assessment(raster_m=1.0),
        surface=(SurfaceZone("all", None, 3000.0, 0.1),),
        network=network,
        **rest,
    )


@pytest.fixture(scope="module")
def study():
    return run_study(project_with(NETWORK, seasons=(SeasonalState("dry", 1.0, 3.0),)))


def test_the_rise_is_that_of_the_network_with_the_resistance_of_the_governing_case(study):
    split, fault = study.split[0], study.faults[0]
    assert isclose(split.result.mat_resistance_ohm.real, study.field.resistance_ohm, rel_tol=1e-12)
    by_network = fault.decrement_shock * abs(split.result.gpr_v)
    assert isclose(study.gpr_v["bus"], by_network, rel_tol=1e-9)  # both are products of the same numbers
    assert isclose(fault.scenario.split_factor, split.result.split_factor, rel_tol=1e-12)
    assert "computed from the network" in fault.scenario.split_source


def test_a_worse_mat_takes_a_smaller_share(study):
    """Current division: more resistance in one branch, less current in it (network theory)."""
    cases = {c.name: c for c in study.soil_cases}
    assert cases["dry"].resistance_ohm > cases["as surveyed"].resistance_ohm
    assert cases["dry"].split_factors["bus"] < cases["as surveyed"].split_factors["bus"]


def test_every_node_conserves_current_and_all_places_are_shown(study):
    split = study.split[0]
    total = abs(split.result.fault_current_a)
    assert max(split.result.node_residuals_a.values()) < 1e-9 * total  # limit of the solver itself
    leaving = sum(p.current_a for p in split.result.paths)
    assert abs(leaving) < 1e-9 * total
    assert len(split.places) == 1 + 29 + 1  # the station, the towers, the far end
    assert [p.governs for p in split.places].count(True) == 1
    worst = next(p for p in split.places if p.governs)
    assert worst.gpr_v == max(p.gpr_v for p in split.places)


def test_metal_is_sized_for_the_whole_current(study):
    fault = study.faults[0]
    assert isclose(fault.thermal_current_a, 1200.0 * fault.decrement_thermal, rel_tol=1e-12)
    assert fault.earth_fault_current_a < 1200.0  # the real earths lower it


def test_the_subject_is_no_longer_unchecked(study):
    plain = run_study(project_with(None, dataclasses.replace(FAULT, split_stated=True, split_source="x")))
    assert any("split factor is an input" in row for row in plain.not_checked)
    assert not any("split factor is an input" in row for row in study.not_checked)
    assert plain.split == ()
    assert any("Current split beyond the model" in row for row in study.not_checked)


def test_the_open_contribution_takes_what_the_others_leave(study):
    """Phasors of equal angle: 1200 A less 800 A from afar leave 400 A to the neutral of the station."""
    place = study.split[0].places[0]
    assert isclose(place.local_current_a, 400.0, rel_tol=1e-9)


def test_stated_and_computed_factors_that_differ_are_a_finding():
    low = run_study(project_with(NETWORK, dataclasses.replace(FAULT, split_factor=0.05, split_stated=True)))
    row = next(f for f in low.findings if f.code == "split-differs")
    assert row.severity.value == "warning"
    assert row.path == ("faults", 0, "split_factor")
    assert "0.05" in row.message
    near = low.split[0].result.split_factor * 1.05
    close = run_study(project_with(NETWORK, dataclasses.replace(FAULT, split_factor=near, split_stated=True)))
    assert not [f for f in close.findings if f.code == "split-differs"]


def test_a_reduced_line_is_reduction_factor_times_current_division():
    """EN 50522 (definition of r): the mat in parallel with the chain of earth wires takes r 3I0."""
    r, chain = 0.7, 1.5 + 0.6j
    network = Network(
        lines=(reduced_route("old line", r, chain, "remote"),),
        stations=(Station("remote", 0j),),
        feeders=(Feeder("far", "remote", "old line", contributions=(Contribution("bus"),)),),
        reduced={"old line": r},
    )
    study = run_study(project_with(network))
    mat = study.field.resistance_ohm
    expected = abs(r * chain / (chain + mat))
    # the imposed current is that of ideal earths; the share does not depend on it
    assert isclose(study.split[0].result.split_factor, expected, rel_tol=1e-6)


def test_local_neutrals_only_raise_nothing_inside_and_something_outside():
    only = dataclasses.replace(NETWORK, feeders=(LOCAL,))
    inside = run_study(project_with(dataclasses.replace(only, along_routes=False)))
    assert inside.gpr_v["bus"] == 0.0
    assert inside.faults[0].grid_current_a == 0.0
    outside = run_study(project_with(only))
    assert outside.split[0].result.place.line == "ridge line"
    assert outside.gpr_v["bus"] > 0.0


def test_back_up_clearing_shares_the_solution_and_lowers_the_limit():
    study = run_study(project_with(NETWORK, *fault_cases(FAULT, 1.2)))
    assert [s.scenario for s in study.split] == ["bus", "bus, back-up clearing"]
    limits = {z.scenario: z.touch_v for z in study.limits}
    # IEEE Std 80: the tolerable voltage goes with one over the root of the time
    ratio = limits["bus"] / limits["bus, back-up clearing"]
    assert isclose(ratio, sqrt(1.2 / 0.5), rel_tol=1e-9)


def test_reclosing_counts_the_sum_of_the_shots():
    """IEEE Std 80-2013, clause 8.3 (from memory): the summed duration for the body."""
    once = run_study(project_with(NETWORK))
    twice = run_study(project_with(NETWORK, dataclasses.replace(FAULT, reclosings=1)))
    assert isclose(once.limits[0].touch_v / twice.limits[0].touch_v, sqrt(2.0), rel_tol=1e-9)
    times = [s.conductors["mat"].time_s for s in (once, twice)]
    assert times == [1.0, 1.5]  # the first shot and then the back-up time


BROKEN = [
    ({"feeders": ()}, {}, "nothing under network feeds it"),
    ({"feeders": (REMOTE,)}, {}, "add up to 800 A, the fault's current is 1200 A"),
    ({}, {"x_over_r": None}, "the angle of the current is not known"),
    (
        {"feeders": (dataclasses.replace(REMOTE, contributions=(Contribution("bus", 1200.0),)), LOCAL)},
        {},
        "nothing is left for T1, the others give 1200 A of the fault's 1200 A",
    ),
    (
        {"feeders": (dataclasses.replace(REMOTE, contributions=(Contribution("bus", 2000.0),)), LOCAL)},
        {},
        "the others give 2000 A of the fault's 1200 A",
    ),
    (
        {
            "feeders": (
                dataclasses.replace(REMOTE, contributions=(Contribution("bus", impedance_ohm=9 + 40j),)),
                LOCAL,
            )
        },
        {},
        "beside impedance_ohm no current can be left open",
    ),
]


@pytest.mark.parametrize(("network", "fault", "words"), BROKEN)
def test_contradictions_are_refused(network, fault, words):
    project = project_with(dataclasses.replace(NETWORK, **network), dataclasses.replace(FAULT, **fault))
    with pytest.raises(InputError, match=words):
        run_study(project)


def test_a_rise_above_the_driving_voltage_is_refused():
    imposed = dataclasses.replace(REMOTE, imposed=True, contributions=(Contribution("bus"),))
    network = dataclasses.replace(NETWORK, feeders=(imposed,), levels_v={})
    low = dataclasses.replace(FAULT, voltage_v=500.0)
    with pytest.raises(InputError, match="is above the 318 V that drive this fault"):
        run_study(project_with(network, low))
    free = dataclasses.replace(network, feeders=(dataclasses.replace(imposed, imposed=False),))
    with pytest.raises(InputError, match="does not let that current flow"):
        run_study(project_with(free, low))


def test_impedances_instead_of_currents_drive_by_the_voltage():
    """Ohm's law of the loop: phase voltage over the source's impedance, the line and the earths; without
    line and earths it would be 110 kV/sqrt(3) over 100 ohm, 635 A."""
    feeder = dataclasses.replace(REMOTE, contributions=(Contribution("bus", impedance_ohm=10 + 99.5j),))
    study = run_study(project_with(dataclasses.replace(NETWORK, feeders=(feeder,), along_routes=False)))
    current = abs(study.split[0].result.fault_current_a)
    assert 0.85 * 635.0 < current < 635.0


def test_imposed_currents_flow_unchanged():
    rows = (dataclasses.replace(REMOTE, imposed=True), dataclasses.replace(LOCAL, imposed=True))
    study = run_study(project_with(dataclasses.replace(NETWORK, feeders=rows, along_routes=False)))
    assert isclose(abs(study.split[0].result.fault_current_a), 1200.0, rel_tol=1e-9)


def test_growth_multiplies_the_contributions():
    rows = (dataclasses.replace(REMOTE, imposed=True), dataclasses.replace(LOCAL, imposed=True))
    network = dataclasses.replace(NETWORK, feeders=rows, along_routes=False)
    study = run_study(project_with(network, dataclasses.replace(FAULT, growth_factor=1.25)))
    assert isclose(abs(study.split[0].result.fault_current_a), 1500.0, rel_tol=1e-9)


def test_annex_c_stands_beside(study):
    """IEEE Std 80-2000, Annex C: one line alone, |Z/(Z + R)| with the impedance its table implies."""
    row = study.split[0].table
    assert (row.lines, row.feeders, row.derived) == (1, 0, True)
    mat = study.field.resistance_ohm
    assert isclose(row.split_factor, abs(row.impedance_ohm / (row.impedance_ohm + mat)), rel_tol=1e-12)
    remote = abs(study.split[0].result.fault_current_a - study.split[0].result.local_current_a)
    assert isclose(row.computed, abs(study.split[0].result.mat_current_a) / remote, rel_tol=1e-9)
    assert cmath.isfinite(row.impedance_ohm)


def test_fault_in_the_station_is_the_first_place(study):
    first = study.split[0].places[0]
    assert (first.place, first.route, first.tower_rise_v) == ("in the station", "", None)
    assert study.split[0].places[1].distance_m == 300.0
    assert HOME not in {p.route for p in study.split[0].places}


def test_coverage_names_the_computed_split_and_the_back_up_case():
    study = run_study(project_with(NETWORK, *fault_cases(FAULT, 1.2)))
    rows = {r.subject: r for r in study.surroundings.coverage}
    split = next(r for name, r in rows.items() if name.startswith("Current split"))
    assert (split.status, split.how) == (
        "looked at",
        "computed for 2 of 2 scenarios from 1 lines and neutrals, 0 cables",
    )
    late = next(r for name, r in rows.items() if "back-up" in name)
    assert late.status == "looked at"
    assert "bus, back-up clearing" in late.how
