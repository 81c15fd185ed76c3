"""Towers and other earths with a place in plan: coupled with the mat through the soil, inside a study."""

import dataclasses
from math import hypot, isclose, pi

import numpy as np
import pytest
from numpy.linalg import solve as dense_solve

from evenground._study_coupling import at_resistance, mat_places, soil_coupling, soil_coupling_from_far
from evenground._study_field import main_group, solve_bonded
from evenground._study_neighbours import neighbour_checks
from evenground.electrode import build_electrode, placed_metal
from evenground.errors import InputError
from evenground.field import solve_groups
from evenground.model.conductor import ConductorRequest
from evenground.model.coupling import PlacedEarth, PlacedWire
from evenground.model.fault import FaultScenario
from evenground.model.network import Contribution, Feeder, Network
from evenground.model.project import Identity, Project
from evenground.model.site import Assessment, MatLayout, SurfaceZone
from evenground.model.soil import LayeredSoil, SoilChoice
from evenground.model.split import HOME, FaultPlace, LineImpedances, Station, uniform_line
from evenground.model.study import Verdict
from evenground.split import prepare_split
from evenground.study import run_study

RHO = 100.0
UNIFORM = LayeredSoil((RHO,))
FAULT = FaultScenario(
    "bus", 110e3, 0.5, 1.0, current_a=1200.0, x_over_r=5.0, split_stated=False, path=("faults", 0)
)
SPAN, MUTUAL = 0.3 + 0.7j, 0.05 + 0.28j
SPANS, TOWER_OHM, FAR_OHM = 6, 12.0, 0.2


def line(**changes):
    given = LineImpedances(((SPAN / 300.0,),), ((MUTUAL / 300.0,),), ((SPAN / 300.0,),))
    row = uniform_line(
        "L",
        spans=SPANS,
        span_length_m=300.0,
        tower_resistance_ohm=TOWER_OHM,
        far_station="F",
        given=given,
    )
    return dataclasses.replace(row, **changes)


def network(placed=(), **changes):
    rest = {
        "lines": (line(),),
        "stations": (Station("F", FAR_OHM),),
        "feeders": (Feeder("F", "F", "L", imposed=True, contributions=(Contribution("bus", 1200.0),)),),
        "along_routes": False,
    }
    return Network(**(rest | changes), placed=tuple(placed))


def towers(first_m, count=2, **rest):
    return [
        PlacedEarth(f"L/{k + 1}", f"L, tower {k + 1}", (first_m + 300.0 * k, 0.0), width_m=4.0, **rest)
        for k in range(count)
    ]


def project_with(net, soil=UNIFORM, side_m=20.0):
    h = side_m / 2
    return Project(
        identity=Identity("case"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=soil),
        faults=(FAULT,),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", ((-h, -h), (h, -h), (h, h), (-h, h)), 5.0, 5.0, 0.6),),
        assessment=Assessment(raster_m=2.0),
        surface=(SurfaceZone("all", None, 3000.0, 0.1),),
        network=net,
    )


def coupled(net, soil=UNIFORM):
    project = project_with(net, soil)
    layout = build_electrode(project.mats, project.rods, project.runs, {"mat": 0.005}, ())
    solved = solve_bonded(project, layout, soil)
    return soil_coupling(project.network, layout, soil, solved), layout, solved


@pytest.mark.parametrize("distance_m", [200.0, 600.0, 2000.0])
def test_far_apart_the_mutual_resistance_is_that_of_point_sources(distance_m):
    """rho/(2 pi d), potential of a point source on the surface (any textbook of electrostatics)."""
    found, _, _ = coupled(network(towers(distance_m)))
    names, rows = found.matrix.groups, np.array(found.matrix.resistance_ohm)
    # finite sizes: (10 m / 200 m)^2 / 3 is below 1e-3, depths of 2 m less
    assert rows[0, names.index("L/1")] == pytest.approx(RHO / (2 * pi * distance_m), rel=2e-3)
    assert rows[1, 2] == pytest.approx(RHO / (2 * pi * 300.0), rel=1e-3)


def test_two_layers_against_the_series_of_images():
    """Point source on the surface of two layers: rho1/(2 pi) (1/r + 2 sum K^n / sqrt(r^2 + (2 n h)^2))
    (Tagg, Earth Resistances, 1964; method of images)."""
    soil = LayeredSoil((400.0, 50.0), (5.0,))
    found, _, _ = coupled(network(towers(400.0, 1, depth_m=1.2)), soil)
    k = (50.0 - 400.0) / (50.0 + 400.0)
    terms = sum(k**n / hypot(400.0, 2 * n * 5.0) for n in range(1, 400))
    value = 400.0 / (2 * pi) * (1 / 400.0 + 2 * terms)
    # mat and footing lie at 0.6 and up to 1.2 m of 5 m: second order in depth over distance, and their sizes
    assert found.earths[0].mutual_ohm == pytest.approx(value, rel=0.02)


@pytest.mark.parametrize("soil", [UNIFORM, LayeredSoil((300.0, 60.0), (3.0,))], ids=["uniform", "layers"])
@pytest.mark.parametrize("gap_m", [5.0, 30.0])
def test_near_by_against_the_solution_of_both_together(soil, gap_m):
    """The resistance matrix of mat and footings solved as groups of one electrode, and its symmetry.

    A different way: there the footings lie in the equations of the mat.
    """
    placed = towers(12.0 + gap_m, 2, wires=())
    found, layout, solved = coupled(network(placed), soil)
    both = solve_groups(main_group(layout.electrode) + placed_metal(placed), soil, segment_m=1.5)
    index = [both.groups.index(n) for n in ("mat", "L/1", "L/2")]
    expected = both.resistance_ohm[np.ix_(index, index)]
    ours = np.array(found.matrix.resistance_ohm)
    # 0.5 %: segments of another length, and the little by which a footing disturbs the mat
    assert ours[0, 1:] == pytest.approx(expected[0, 1:], rel=5e-3)
    assert ours[1, 2] == pytest.approx(expected[1, 2], rel=0.01)  # the mat between them bends the field
    assert np.array_equal(ours, ours.T)
    assert [e.computed_ohm for e in found.earths] == pytest.approx(np.diag(expected)[1:], rel=0.02)
    assert [e.own_ohm for e in found.earths] == [TOWER_OHM, TOWER_OHM]  # stated ones stay
    assert solved.resistance_ohm == pytest.approx(expected[0, 0], rel=0.01)


def test_reciprocity_of_the_two_ways():
    """Potential at the footing per ampere from the mat, and at the mat per ampere from the footing.

    The second way lets the mat leak evenly, which matters less the further the footing is.
    """
    net = network(towers(300.0, 1))
    there, layout, solved = coupled(net)
    back = soil_coupling_from_far(net, layout, UNIFORM, solved.resistance_ohm)
    assert back.earths[0].mutual_ohm == pytest.approx(there.earths[0].mutual_ohm, rel=1e-3)


def test_a_counterpoise_brings_the_tower_nearer():
    """A wire from the tower towards the mat: checked against both solved together, as above."""
    wire = PlacedWire(((60.0, 0.0), (20.0, 0.0)), depth_m=0.5, diameter_m=0.01)
    placed = [dataclasses.replace(towers(60.0, 1)[0], wires=(wire,))]
    bare, _, _ = coupled(network(towers(60.0, 1)))
    found, layout, _ = coupled(network(placed))
    assert found.earths[0].mutual_ohm > 1.3 * bare.earths[0].mutual_ohm
    assert found.earths[0].distance_m == pytest.approx(10.0, abs=1e-9)
    both = solve_groups(main_group(layout.electrode) + placed_metal(placed), UNIFORM, segment_m=1.5)
    assert found.earths[0].mutual_ohm == pytest.approx(both.resistance_ohm[0, 1], rel=0.01)


def nodal(matrix_ohm, names, current_a=1200.0):
    """Node voltages of mat, five towers and far station: dense admittances, written out by hand.

    The current comes through the phase from the far station; each span's wire gets the e.m.f. -Zm I.
    """
    earths = ["station", *(f"L/{k}" for k in range(1, SPANS)), "F"]
    z = np.diag([0.0, *[TOWER_OHM] * (SPANS - 1), FAR_OHM]).astype(complex)
    z[0, 0] = matrix_ohm[0][0]
    for i, a in enumerate(names):
        for j, b in enumerate(names):
            if i != j:
                z[earths.index(a), earths.index(b)] = matrix_ohm[i][j]
    y = np.linalg.inv(z)  # the coupled earths
    right = np.zeros(SPANS + 1, dtype=complex)
    for k in range(SPANS):
        for a, b in ((k, k + 1), (k + 1, k)):
            y[a, a] += 1 / SPAN
            y[a, b] -= 1 / SPAN
        pushed = -MUTUAL * -current_a / SPAN  # the phase current runs towards the station, against the wire
        right[k] -= pushed
        right[k + 1] += pushed
    right[0] += current_a
    right[-1] -= current_a
    volts = dense_solve(y, right)
    return dict(zip(earths, volts, strict=True)), dict(zip(earths, np.linalg.solve(z, volts), strict=True))


@pytest.fixture(scope="module")
def study():
    return run_study(project_with(network(towers(40.0, 3))))


def test_the_network_against_a_dense_nodal_solution(study):
    split = study.split[0]
    matrix = split.coupling.coupling.matrix
    volts, amperes = nodal(matrix.resistance_ohm, matrix.groups)
    result = split.result
    source = result.source_currents_a["F"]  # its angle is that of X/R
    turn = source / abs(source)
    assert abs(source) == pytest.approx(1200.0, rel=1e-12)
    assert result.gpr_v == pytest.approx(turn * volts["station"], rel=1e-9)
    assert result.mat_current_a == pytest.approx(turn * amperes["station"], rel=1e-9)
    for row in result.towers:
        assert row.potential_v == pytest.approx(turn * volts[f"L/{row.number}"], rel=1e-9)
        assert row.earth_current_a == pytest.approx(turn * amperes[f"L/{row.number}"], rel=1e-9)


def test_current_is_conserved_at_every_node_and_in_the_earth(study):
    result = study.split[0].result
    total = abs(result.fault_current_a)
    assert max(result.node_residuals_a.values()) < 1e-9 * total  # Kirchhoff, at the accuracy of the solver
    into_soil = sum(result.earth_currents_a.values()) + sum(t.earth_current_a for t in result.towers)
    assert abs(into_soil) < 1e-9 * total


def test_the_rise_holds_the_part_that_the_neighbours_give(study):
    """Superposition: R_mm I_m + sum of R_mk I_k."""
    split = study.split[0]
    matrix, result = split.coupling.coupling.matrix, split.result
    amperes = {f"L/{t.number}": t.earth_current_a for t in result.towers} | {HOME: result.mat_current_a}
    rise = sum(r * amperes[n] for r, n in zip(matrix.resistance_ohm[0], matrix.groups, strict=True))
    assert result.gpr_v == pytest.approx(rise, rel=1e-9)
    fault = study.faults[0]
    assert isclose(study.gpr_v["bus"], fault.decrement_shock * abs(result.gpr_v), rel_tol=1e-9)
    assert fault.soil_rise == pytest.approx(
        abs(rise) / abs(result.mat_current_a * study.field.resistance_ohm)
    )


def test_what_the_coupling_changes_is_shown(study):
    """The same project without places is the comparison that the study itself states."""
    effect = study.split[0].coupling
    plain = run_study(project_with(network()))
    assert plain.split[0].coupling is None
    assert effect.gpr_without_v == pytest.approx(abs(plain.split[0].result.gpr_v), rel=1e-9)
    assert effect.split_without == pytest.approx(plain.split[0].result.split_factor, rel=1e-9)
    before = {t.number: abs(t.potential_v) for t in plain.split[0].result.towers}
    assert effect.potential_without_v == pytest.approx([before[k] for k in (1, 2, 3)], rel=1e-9)
    assert effect.gpr_v > 1.005 * effect.gpr_without_v  # towers in the funnel leave more to the mat
    assert effect.gpr_v == pytest.approx(abs(study.split[0].result.gpr_v))


def test_superposition_of_two_sources():
    placed = towers(40.0, 2)
    found, _, solved = coupled(network(placed))
    from evenground.model.split import Source, SplitNetwork

    def answer(*amperes):
        sources = tuple(
            Source(f"s{k}", "F", via="L", current_a=a) for k, a in enumerate(amperes) if a is not None
        )
        circuit = SplitNetwork(
            50.0, UNIFORM, lines=(line(),), stations=(Station("F", FAR_OHM),), sources=sources
        )
        place = FaultPlace("bus")
        prepared = prepare_split(circuit, solved.resistance_ohm, earth=found.matrix, places=(place,))
        return prepared.solve(place).gpr_v

    one, other = 700.0 - 300.0j, 200.0 + 100.0j
    assert answer(one, other) == pytest.approx(answer(one) + answer(other), rel=1e-9)


def test_changed_resistances_keep_the_coupling():
    found, _, solved = coupled(network(towers(40.0, 2)))
    same = at_resistance(found, 2.0 * solved.resistance_ohm)
    rows, twice = np.array(found.matrix.resistance_ohm), np.array(same.matrix.resistance_ohm)
    assert twice[0, 0] == pytest.approx(2.0 * rows[0, 0])
    assert np.array_equal(twice[0, 1:], rows[0, 1:])
    # all soil by one factor: every field is in proportion (linear earth)
    doubled, _, _ = coupled(network(towers(40.0, 2)), LayeredSoil((2.0 * RHO,)))
    scaled = at_resistance(found, 2.0 * solved.resistance_ohm, mutual_factor=2.0)
    assert np.array(scaled.matrix.resistance_ohm) == pytest.approx(np.array(doubled.matrix.resistance_ohm))
    assert at_resistance(None, 1.0) is None


REFUSED = [
    (towers(3.0, 1), {}, "tower 1 stands on the mat"),
    (towers(12.5, 1), {}, "0.50 m beside it"),
    (
        [*towers(100.0, 1), PlacedEarth("L/2", "L, tower 2", (102.0, 2.0), depth_m=2.0)],
        {},
        "tower 1 touches L, tower 2",
    ),
    (
        towers(20.0, 1),
        {"lines": (line(tower_resistances_ohm=(0.05, *[TOWER_OHM] * (SPANS - 2))),)},
        "stated resistance of 0.05 ohm is lower than its place allows",
    ),
]


@pytest.mark.parametrize(("placed", "changes", "words"), REFUSED, ids=[w for _, _, w in REFUSED])
def test_impossible_places_are_refused(placed, changes, words):
    with pytest.raises(InputError, match=words):
        coupled(network(placed, **changes))


def opposed(first_m, **rest):
    """A far station that feeds the fault and stands so near that the soil couples it with the mat."""
    place = PlacedEarth(
        "F", "station F", (first_m, 0.0), width_m=20.0, depth_m=0.6, diameter_m=0.01, frame=True
    )
    return network([place], **rest)


def test_neighbours_of_the_other_sign_lower_no_touch_voltage():
    """Superposition: a far earth takes the current out of the soil and lowers metal and ground alike; the
    touch voltage of the mat's own current, I (R - u), stays. It may not be scaled down with the rise."""
    study = run_study(project_with(opposed(120.0, stations=(Station("F", 2.0),))), quick=True)
    effect, fault = study.split[0].coupling, study.faults[0]
    own = fault.grid_current_a * study.field.resistance_ohm
    assert effect.gpr_v < 0.99 * effect.mat_alone_v  # the case is one of the other sign
    assert study.gpr_v["bus"] == pytest.approx(own, rel=1e-9)
    assert any(f.code == "coupling-lowers" for f in study.findings)


def test_the_uneven_lift_is_looked_at_between_the_corners():
    """A tower opposite the middle of a long side: point source, 1/d at the nearest place of the side."""
    project = project_with(network(towers(23.0, 1)), side_m=40.0)
    places = mat_places(project)
    assert np.min(np.hypot(places[:, 0] - 23.0, places[:, 1])) == pytest.approx(3.0, abs=0.05)
    effect = run_study(project, quick=True).split[0].coupling
    earth = effect.coupling.earths[0]
    lift = effect.current_a[0] * earth.mutual_ohm / effect.gpr_v
    corner = hypot(3.0, 20.0)
    # the mean of 1/d along the outline of a square of 40 m, by its antiderivative asinh
    mean = 2 * (np.arcsinh(20 / 3) + np.arcsinh(20 / 43)) + 2 * (np.arcsinh(43 / 20) - np.arcsinh(3 / 20))
    mean /= 160.0
    assert effect.uneven == pytest.approx(lift * (1 / 3.0 / mean - 1.0), rel=0.1)  # sampled mean
    assert effect.uneven > 2.0 * lift * abs(1 / corner / mean - 1.0)


def test_what_neighbours_add_is_in_a_check(study):
    """Superposition at the worst place: touch of the mat's own current and the bound of the lift."""
    check = next(c for c in study.checks if c.identity == "touch-beside-neighbours")
    effect, fault = study.split[0].coupling, study.faults[0]
    worst = max((s for s in study.shocks if s.quantity == "touch"), key=lambda s: s.value_v / s.limit_v)
    added = effect.uneven * effect.gpr_v * fault.decrement_shock
    assert check.value == pytest.approx(max(worst.value_v / fault.soil_rise + added, worst.value_v))
    plain = run_study(project_with(network()), quick=True)
    assert not [c for c in plain.checks if c.identity == "touch-beside-neighbours"]


def test_a_touch_voltage_near_its_limit_beside_a_tower_is_not_decided(study):
    """The bound decides nothing by itself: a pass without it becomes not decided, never a fail."""
    shock = max((s for s in study.shocks if s.quantity == "touch"), key=lambda s: s.value_v / s.limit_v)
    near = dataclasses.replace(shock, limit_v=1.0001 * shock.value_v)
    effect = dataclasses.replace(study.split[0].coupling, uneven=0.05)
    split = [dataclasses.replace(study.split[0], coupling=effect)]
    (check,) = neighbour_checks([near], [], split, study.faults, 0.0, "")
    assert check.verdict is Verdict.NOT_DECIDED
    assert "neighbouring earths" in check.reason
    far = dataclasses.replace(shock, limit_v=10.0 * shock.value_v)
    (check,) = neighbour_checks([far], [], split, study.faults, 0.0, "")
    assert check.verdict is Verdict.PASS


def test_a_fault_at_a_tower_beside_the_mat_is_in_the_check():
    """Point source: the footing of the faulted tower takes most of the current and lifts the ground beside
    the mat. Its part is I m (d_mean / d - 1), with the current of the solved network."""
    net = network(towers(23.0, 1), along_routes=True, levels_v={"L": 110e3})
    study = run_study(project_with(net, side_m=40.0), quick=True)
    effect = study.split[0].coupling
    (near,) = [n for n in effect.nearby if "1" in n.place]
    assert near.uneven_v > 3.0 * effect.uneven * effect.gpr_v
    check = next(c for c in study.checks if c.identity == "touch-beside-neighbours")
    worst = max((s for s in study.shocks if s.quantity == "touch"), key=lambda s: s.value_v / s.limit_v)
    times = study.faults[0].decrement_shock
    unit = worst.value_v / study.gpr_v["bus"]
    assert check.value == pytest.approx(times * (unit * near.mat_alone_v + near.uneven_v), rel=1e-9)
