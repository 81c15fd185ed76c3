"""Where services end: insulating joints, and metal whose potential the network of currents gives."""

import dataclasses
from math import pi
from types import SimpleNamespace

import numpy as np
import pytest

from evenground import _study_surroundings as around
from evenground._study_metal import solve_metal
from evenground._study_parts import potential_rise, share_later
from evenground._study_split import share_currents
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.errors import InputError
from evenground.fault import fault_currents
from evenground.field import solve_groups
from evenground.model.conductor import ConductorRequest
from evenground.model.electrode import Conductor, Electrode
from evenground.model.fault import FaultScenario
from evenground.model.installation import Installation
from evenground.model.network import Contribution, Feeder, Network
from evenground.model.project import Identity, Project
from evenground.model.services import FarEnd, Service
from evenground.model.site import Assessment, MatLayout, SurfaceZone
from evenground.model.soil import LayeredSoil, SoilChoice
from evenground.model.split import Cable, LineImpedances, Station
from evenground.model.study import Verdict
from evenground.project import parse_project, starter_text
from evenground.safety import zone_limits
from evenground.safety._zones import ZoneIndex

SOIL = LayeredSoil((100.0,))
MAT = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
CURRENT = 100.0
FAULT = FaultScenario(
    "bus", 33e3, 0.5, 1.0, current_a=CURRENT, decrement=False, split_source="test", x_over_r=1e-4
)


def boundary_of(*services, network=None, fault=FAULT):
    """The boundary of a project by the same pieces as in a study, without the search for touch and step."""
    made = Project(
        identity=Identity("ends"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=SOIL),
        faults=(fault,),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", MAT, 10.0, 10.0, 0.5),),
        assessment=Assessment(raster_m=1.0),
        surface=(SurfaceZone("yard", ((-2, -2), (22, -2), (22, 22), (-2, 22)), 3000.0, 0.1),),
        installation=Installation(services=tuple(services), stated=("services",)),
        network=network,
    )
    faults = tuple(
        fault_currents(f, frequency_hz=50.0, share_later=share_later(made, f)) for f in made.faults
    )
    conductors = {k: size_conductor(r, faults) for k, r in made.conductors.items()}
    layout = build_electrode(made.mats, made.rods, made.runs, {"mat": 0.005})
    solved = solve_metal(made, layout, SOIL, conductors)
    faults, split = share_currents(made, faults, SOIL, solved.resistance_ohm)
    gpr_v = potential_rise(faults, solved.resistance_ohm)
    limits = zone_limits(ZoneIndex(made.surface).zones, faults, made.assessment, 100.0)
    found = around.boundary(made, layout, SOIL, solved, limits, faults, gpr_v, 0.01, "", split)
    checks = {c.identity: c for c in found.checks}
    return SimpleNamespace(
        checks=checks, found=found, gpr_v=gpr_v["bus"], layout=layout, split=split, limits=limits
    )


PIPE = Service(
    "main",
    "pipe",
    "bonded",
    route_m=((30.0, 10.0), (60.0, 10.0)),
    route_depth_m=0.8,
    route_diameter_m=0.1,
    far_end=FarEnd(2.5, 5000.0),
)


def test_a_joint_bears_the_whole_rise_and_the_metal_beyond_is_far_earth():
    study = boundary_of(PIPE)
    check = study.checks["transfer-main"]
    assert check.value == pytest.approx(study.gpr_v)
    assert check.limit == 5000.0
    assert check.verdict is Verdict.PASS
    (row,) = study.found.transfers
    assert row.meaning == "across its insulating joint"
    assert "along 30 m to its joint" in row.remark
    assert not [f for f in study.found.findings if f.code == "service-carries-all"]
    assert study.checks["joint-main"].verdict is Verdict.PASS


def test_touch_on_both_sides_of_the_joint_against_the_groups_solved_by_themselves():
    """Mat and pipe at one volt in one solution made here; beyond the joint metal at far earth touches the
    surface potential itself."""
    study = boundary_of(PIPE)
    pipe = Conductor((30.0, 10.0, 0.8), (60.0, 10.0, 0.8), 0.05, group="pipe")
    groups = solve_groups(study.layout.electrode + Electrode((pipe,)), SOIL, segment_m=2.0)
    state = groups.energise(potential_v=dict.fromkeys(groups.groups, 1.0))
    turn = np.arange(360) * pi / 180

    def at(x, y):
        return state.field_v(np.column_stack([x, y, np.zeros(len(x))])).real

    around_end = at(60.0 + np.cos(turn), 10.0 + np.sin(turn))
    along = study.checks["touch-main-along"]
    # the end is the worst place of the near side: 16 places on the circle, segments of another length
    assert along.value == pytest.approx(study.gpr_v * float(np.max(1.0 - around_end)), rel=0.03)
    beyond = study.checks["touch-main-beyond"]
    ground = at(62.5 + np.cos(turn), 10.0 + np.sin(turn))
    assert beyond.value == pytest.approx(study.gpr_v * float(ground.max()), rel=0.03)


def test_metal_drawn_beyond_floats_by_the_resistance_matrix():
    """Floating potential R_bm I_m with the currents of mat and pipe at one volt (linear network theory)."""
    far = FarEnd(2.5, 5000.0, ((62.5, 10.0), (100.0, 10.0)))
    study = boundary_of(dataclasses.replace(PIPE, far_end=far))
    metal = [
        Conductor((30.0, 10.0, 0.8), (60.0, 10.0, 0.8), 0.05, group="pipe"),
        Conductor((62.5, 10.0, 0.8), (100.0, 10.0, 0.8), 0.05, group="beyond"),
    ]
    groups = solve_groups(study.layout.electrode + Electrode(metal), SOIL, segment_m=2.0)
    r = groups.resistance_ohm
    fed = np.linalg.solve(r[:2, :2], [1.0, 1.0])  # currents of mat and pipe
    floating = float(r[2, :2] @ fed)
    surface = groups.energise(potential_v={"mat": 1.0, "pipe": 1.0})
    end = surface.field_v([[101.0, 10.0, 0.0], [61.5, 10.0, 0.0]]).real
    # worst of floating and far earth: far earth beside the joint, floating metal at the far tip
    wanted = max(float(end.max()), float(np.max(np.abs(floating - end))))
    assert study.checks["touch-main-beyond"].value == pytest.approx(study.gpr_v * wanted, rel=0.03)
    assert study.checks["transfer-main"].value == pytest.approx(study.gpr_v)


def test_a_short_joint_is_judged_from_hand_to_hand():
    """EN 50522:2022, permissible touch voltage at 0.5 s about 220 V; a rise above it fails."""
    study = boundary_of(dataclasses.replace(PIPE, far_end=FarEnd(0.3, 5000.0)))
    check = study.checks["joint-main"]
    assert check.unit == "V"
    assert check.value == pytest.approx(study.gpr_v)
    assert 200.0 < check.limit < 240.0
    assert study.gpr_v > 200.0
    assert check.verdict is (Verdict.FAIL if study.gpr_v > check.limit else Verdict.PASS)
    low = boundary_of(
        dataclasses.replace(PIPE, far_end=FarEnd(0.3, 5000.0)),
        fault=dataclasses.replace(FAULT, current_a=20.0),
    )
    assert low.checks["joint-main"].verdict is Verdict.PASS


def test_a_joint_without_a_withstand_voltage_is_not_decided():
    study = boundary_of(dataclasses.replace(PIPE, far_end=FarEnd(2.5)))
    assert study.checks["transfer-main"].verdict is Verdict.NOT_DECIDED
    assert "withstand_v of its joint is not stated" in study.checks["transfer-main"].reason


# potentials from the network

SHEATH, TO_PHASE, FAR_OHM = 1.2 + 0.4j, 0.05 + 0.35j, 2.0
CABLE = Cable(
    "C",
    length_m=1000.0,
    far_station="pumps",
    given=LineImpedances(((SHEATH / 1e3,),), ((TO_PHASE / 1e3,),), ((SHEATH / 1e3,),)),
)
NET = Network(
    cables=(CABLE,),
    stations=(Station("pumps", FAR_OHM),),
    feeders=(Feeder("far", "pumps", "C", imposed=True, contributions=(Contribution("bus", CURRENT),)),),
    levels_v={"C": 33e3},
    along_routes=False,
)
FED = dataclasses.replace(FAULT, split_stated=False)
SERVED = Service("pilot wires", "pipe", "bonded", network_earth="pumps")


def by_hand(mat_ohm):
    """Two nodes: the fault current goes into the mat's node and out of the far one, the sheath between them
    gets the e.m.f. of the phase beside it (circuit theory)."""
    y = np.array([[1 / mat_ohm + 1 / SHEATH, -1 / SHEATH], [-1 / SHEATH, 1 / FAR_OHM + 1 / SHEATH]])
    # sheath current from mat to far, positive: (V1 - V2 + Zm I)/Z
    push = TO_PHASE * CURRENT / SHEATH
    return np.linalg.solve(y, [CURRENT - push, -CURRENT + push])


@pytest.fixture(scope="module")
def served():
    isolated = dataclasses.replace(SERVED, name="relay wires", disposal="isolated", withstand_v=2000.0)
    return boundary_of(SERVED, isolated, network=NET, fault=FED)


def test_a_bonded_service_has_the_potential_of_its_station(served):
    mat_ohm = served.split[0].result.mat_resistance_ohm.real
    near, far = by_hand(mat_ohm)
    assert served.gpr_v == pytest.approx(abs(near), rel=1e-9)
    check = served.checks["transfer-pilot-wires"]
    assert check.value == pytest.approx(abs(far), rel=1e-9)
    (row,) = [t for t in served.found.transfers if t.name == "pilot wires"]
    assert row.meaning == "at pumps, from the network"
    assert "fault in the station" in row.remark
    assert not [f for f in served.found.findings if f.code == "service-carries-all"]


def test_an_isolation_bears_the_phasor_difference(served):
    """The far metal is out of phase with the mat: more than either alone."""
    near, far = by_hand(served.split[0].result.mat_resistance_ohm.real)
    check = served.checks["transfer-relay-wires"]
    assert check.value == pytest.approx(abs(near - far), rel=1e-9)
    assert check.value > served.gpr_v


def test_the_worst_place_of_the_fault_counts_for_each(served):
    """A fault at the far end lifts that end more than one in the station does."""
    along = boundary_of(SERVED, network=dataclasses.replace(NET, along_routes=True), fault=FED)
    split = along.split[0]
    (watched,) = split.watched
    places = {p.place: p for p in split.places}
    assert set(places) == {"in the station", "C, far end"}
    assert watched.potential_v >= served.checks["transfer-pilot-wires"].value * (1 - 1e-9)
    assert along.checks["transfer-pilot-wires"].value == pytest.approx(watched.potential_v)


def test_the_open_end_of_a_sheath_carries_rise_and_induction():
    """Earthed here only: no current in the sheath, so its far end is the mat's potential plus Zm I."""
    bound = dataclasses.replace(CABLE, bonding="near_end")
    study = boundary_of(
        dataclasses.replace(SERVED, network_earth="C"),
        network=dataclasses.replace(NET, cables=(bound,)),
        fault=FED,
    )
    gpr = CURRENT * study.split[0].result.mat_resistance_ohm.real
    wanted = abs(gpr + TO_PHASE * CURRENT), abs(gpr - TO_PHASE * CURRENT)
    value = study.checks["transfer-pilot-wires"].value
    assert min(abs(value - w) for w in wanted) < 1e-6 * value


def test_a_fault_that_the_network_does_not_feed_leaves_the_service_open():
    stated = dataclasses.replace(FAULT, name="bus", split_stated=True)
    idle = dataclasses.replace(NET, feeders=())
    study = boundary_of(SERVED, network=idle, fault=stated)
    check = study.checks["transfer-pilot-wires"]
    assert check.verdict is Verdict.NOT_DECIDED
    assert "no source of the network feeds this fault" in check.reason


SECTION = """
network:
  stations: [{name: Weir, impedance_ohm: [3, 0]}]
  transformers: [{name: T1, contributions: [{fault: 110 kV single line to earth}]}]
services:
  - {name: main, kind: pipe, disposal: bonded, route_m: [[90, 10], [120, 10]], far_end: {section_m: 2.5, beyond_m: [[122.5, 10], [150, 10]]}}
  - {name: relay wires, kind: telecom, disposal: isolated, network_earth: Weir, withstand_v: 2000, by: A. B.}
"""  # noqa: E501
TEXT = starter_text("substation").split("\nservices:")[0] + SECTION

WRONG = [
    ("network_earth: Weir", "network_earth: Weer", "'Weer' is no station, earth or cable of the network"),
    ("network_earth: Weir", "network_earth: Weir, remote_rods_m: [[1, 1]]", "described twice"),
    ("bonded, route_m: [[90, 10], [120, 10]]", "bonded", "far_end without the route that leads there"),
    ("kind: pipe", "kind: lv_supply", "far_end belongs to a pipe, rail or sheath"),
    ("disposal: bonded, route", "disposal: isolated, by: A. B., route", "far_end ends bonded metal"),
    ("[[122.5, 10]", "[[121, 10]", "metal beyond the joint starts 1.00 m from it"),
    ("[120, 10]]", "[120, 10], [120, 10]]", "points 2 and 3 are 0 m apart, the metal is 0.1 m thick"),
    ("[[122.5, 10], [150, 10]]", "[[122.5, 10], [122.5, 10]]", "points 1 and 2 are 0 m apart"),
]


@pytest.mark.parametrize(("old", "new", "words"), WRONG, ids=[w for _, _, w in WRONG])
def test_contradictions_in_the_file(old, new, words):
    assert TEXT.count(old) == 1
    with pytest.raises(InputError, match=words):
        parse_project(TEXT.replace(old, new))


def test_what_the_file_becomes():
    main, relay = parse_project(TEXT).installation.services
    assert main.far_end == FarEnd(2.5, None, ((122.5, 10.0), (150.0, 10.0)))
    assert relay.network_earth == "Weir"
