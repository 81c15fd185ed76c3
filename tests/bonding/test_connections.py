"""Rules for the connections of equipment, loops below reactors, ways along the mat, leads at full current."""

import dataclasses

import pytest

from evenground.bonding import (
    check_connections,
    connection_rules,
    duty_of,
    judge_connections,
    riser_groups,
    undrawn_rods,
)
from evenground.bonding._rules import read_rules
from evenground.conductor import size_conductor
from evenground.electrode import rectangular_mat, rods_at
from evenground.fault import fault_currents
from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario
from evenground.model.installation import EquipmentItem, Fence
from evenground.model.site import Assessment
from evenground.model.study import Verdict

MAT = rectangular_mat(length_x_m=40, length_y_m=40, meshes_x=8, meshes_y=8, depth_m=0.5, radius_m=0.005)
OUTLINE = (((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0)),)
HEADER = "key,kinds,practice,aspect,sense,value,unit,weight,text,source,evidence"


def rows_of(*items, practice="international", assessment=None, **more):
    return check_connections(items, practice, MAT, OUTLINE, assessment or Assessment(), **more)


def outcome(rows, text):
    (found,) = [r for r in rows if text in r.rule]
    return found


def item(kind, x=20.0, y=20.0, **fields):
    fields = {"terminals": 2, "path": ("equipment", 0)} | fields
    return EquipmentItem(fields.pop("tag", "X1"), kind, x, y, **fields)


@pytest.mark.parametrize(
    ("kind", "terminals", "expected"),
    [
        # two separate and distinct connections of any frame: IS 3043 (abstract)
        ("circuit breaker", 1, "broken"),
        ("circuit breaker", 2, "kept"),
        ("transformer", 1, "broken"),
    ],
)
def test_every_frame_has_two_connections(kind, terminals, expected):
    found = outcome(rows_of(item(kind, terminals=terminals)), "distinct connections of every frame")
    assert found.outcome == expected
    assert found.path == ("equipment", 0, "connections")
    assert "IS 3043" in found.source


@pytest.mark.parametrize(
    ("terminals", "expected"),
    [(1, "X1 (circuit breaker): rule not kept: two separate and distinct connections"), (2, None)],
)
def test_a_shortcoming_reads_as_a_sentence(terminals, expected):
    rows = rows_of(item("circuit breaker", terminals=terminals))
    _, findings = judge_connections(rows, ())
    texts = [f.message for f in findings if "distinct connections" in f.message]
    assert [t.startswith(expected) and t.endswith("; 1 drawn") for t in texts] == ([True] if expected else [])


def test_a_neutral_has_two_connections_each_with_its_own_electrode():
    """IS 3043 (abstract): two separate distinct connections, each having its own electrode."""
    good = rows_of(item("transformer", neutral_connections=2, neutral_electrodes=2))
    assert {r.outcome for r in good} == {"kept"}
    poor = rows_of(item("transformer", neutral_connections=1))
    assert outcome(poor, "connections of the neutral").outcome == "broken"
    assert outcome(poor, "each connection of the neutral").outcome == "not stated"


def test_arrester_has_its_own_rod_and_a_short_straight_lead():
    """US Navy handbook on outdoor substations: own rod system joined to the mat below grade."""
    poor = rows_of(item("surge arrester", electrodes=0))
    assert outcome(poor, "a rod of its own").outcome == "broken"
    assert outcome(poor, "a short straight lead to the mat").outcome == "broken"
    assert outcome(poor, "length of the lead").outcome == "advice"
    good = rows_of(item("surge arrester", electrodes=1, lead_m=2.0, measures=("short straight lead",)))
    assert {r.outcome for r in good} == {"kept"}


def test_operator_mat_is_bonded_at_every_handle():
    """Construction standard of a British distribution operator: required at all switch positions."""
    assert outcome(rows_of(item("disconnector")), "operator's place").outcome == "broken"
    kept = rows_of(item("disconnector", measures=("operator mat",)))
    assert outcome(kept, "operator's place").outcome == "kept"


@pytest.mark.parametrize(("terminals", "expected"), [(3, "broken"), (4, "kept")])
def test_switchgear_mesh_has_four_ties(terminals, expected):
    """Chinese acceptance rules: the mesh of gas-insulated switchgear joins the main mat by at least four."""
    assert outcome(rows_of(item("gis", terminals=terminals)), "four conductors").outcome == expected


@pytest.mark.parametrize(
    ("diameter_m", "loops"),
    [
        # circle of 1.1 diameters round a crossing of a 5 m mesh: it holds 0, 4 and 16 whole meshes when its
        # radius is below 5 sqrt 2 m, from there on, and from 10 sqrt 2 m on (squared paper)
        (6.0, 0),
        (6.5, 4),
        (13.0, 16),
    ],
)
def test_no_loop_closes_below_a_reactor(diameter_m, loops):
    rows = rows_of(item("air core reactor", terminals=1, diameter_m=diameter_m, measures=("no closed loop",)))
    found = outcome(rows, "within 1.1 diameters")
    assert found.drawn == str(loops)
    assert found.outcome == ("broken" if loops else "kept")
    assert outcome(rows, "one bond for each pedestal").outcome == "kept"


def test_the_zone_of_a_reactor_needs_its_diameter():
    rows = rows_of(item("air core reactor", terminals=2))
    assert outcome(rows, "within 1.1 diameters").outcome == "not stated"
    assert outcome(rows, "one bond for each pedestal").outcome == "broken"


@pytest.mark.parametrize(
    ("x", "y", "way_m", "expected"),
    [
        # along the 5 m mesh from (20, 20) only the sum of both sides counts
        (30.0, 25.0, "15 m", "kept"),
        (25.0, 25.0, "10 m", "broken"),
    ],
)
def test_a_mast_keeps_its_way_along_the_mat_from_a_transformer(x, y, way_m, expected):
    """15 m along the mat in Chinese practice, from memory; other practices do not ask for it."""
    mast = item("lightning mast", x, y, tag="M1", electrodes=1, path=("equipment", 0))
    transformer = item("transformer", tag="T1", path=("equipment", 1))
    found = outcome(rows_of(mast, transformer, practice="china"), "distance along the mat")
    assert (found.drawn, found.outcome) == (way_m, expected)
    assert not any("distance along the mat" in r.rule for r in rows_of(mast, transformer))


@pytest.mark.parametrize(
    ("x", "touch_outside_m", "expected"), [(40.0, 1.0, "kept"), (41.0, 1.0, "broken"), (41.0, 2.0, "kept")]
)
def test_equipment_stands_where_touch_is_assessed(x, touch_outside_m, expected):
    """A person reaches 1 m, so equipment at the rim of the area assessed is touched from outside it."""
    rows = rows_of(item("circuit breaker", x), assessment=Assessment(touch_outside_m=touch_outside_m))
    assert outcome(rows, "where touch voltage is assessed").outcome == expected


def test_every_rule_names_kind_and_source_and_is_used():
    from typing import get_args

    from evenground.project._schema_installation import EquipmentKind, Measure

    kinds = {k.replace("_", " ") for k in get_args(EquipmentKind)}
    measures = {m.replace("_", " ") for m in get_args(Measure)}
    rules = connection_rules()
    assert {k for r in rules for k in r.kinds} == kinds
    assert {r.aspect for r in rules if r.sense == "has"} == measures


@pytest.mark.parametrize(
    ("line", "match"),
    [
        ("a,gis,,connections,min,,x,required,t,source,found", "wrong value"),
        ("a,gis,,connections,most,2,x,required,t,source,found", "wrong sense"),
        ("a,gis,,connections,min,2,x,required,t,me,found", "wrong source"),
        ("a,gis,,ring,min,2,x,required,t,source,found", "wrong aspect"),
        ("a,gis,,ring,has,,,required,t,source", "10 fields"),
        ("a,gis,,ring,has,,,required,t,source,found\na,gis,,ring,has,,,required,t,source,found", "twice"),
    ],
)
def test_a_bad_row_of_rules_is_refused(line, match):
    with pytest.raises(ValueError, match=match):
        read_rules(f"{HEADER}\n{line}")


def test_a_bad_header_of_rules_is_refused():
    with pytest.raises(ValueError, match="header must be"):
        read_rules("key,kinds\n")


# leads

RISER = ConductorRequest(
    "riser", "copper_hard_drawn", joint="exothermic", shape="strand", area_mm2=35.0, diameter_mm=7.5,
    initial_temperature_c=40.0, current_share=0.5,
)  # fmt: skip


def faults():
    rows = (
        FaultScenario("high", 110e3, 0.5, 1.0, current_a=10e3, decrement_thermal=False),
        FaultScenario("low", 20e3, 0.5, 1.0, current_a=2e3, decrement_thermal=False),
    )
    return tuple(fault_currents(row, frequency_hz=50.0) for row in rows)


def duties(*items):
    groups = riser_groups(items, {"riser": RISER}, faults())
    return [duty_of(g, size_conductor(g.request, g.faults)) for g in groups]


@pytest.mark.parametrize(
    ("joint", "kf"),
    [
        # IEEE Std 80-2013, Table 2, hard-drawn copper: Kf 7.06 to fusing, 11.78 to 250 degC (from memory)
        ("exothermic", 7.06),
        ("bolted", 11.78),
    ],
)
def test_a_lead_bears_the_full_current_to_the_limit_of_its_joint(joint, kf):
    (duty,) = duties(item("circuit breaker", joint=joint))
    assert duty.current_a == 10e3  # not shared between the two connections
    wanted = 10.0 * kf * 0.5067  # kcmil to mm2
    # Kf is printed with three or four digits
    assert duty.needed_mm2 == pytest.approx(wanted, rel=2e-3)


def test_a_lead_takes_the_faults_of_its_own_voltage():
    (duty,) = duties(item("circuit breaker", voltage_kv=20.0))
    assert (duty.scenario, duty.current_a) == ("low", 2e3)
    (both,) = duties(item("transformer", voltage_kv=20.0))
    assert both.scenario == "high"


def test_bonds_that_carry_no_fault_current_are_not_sized():
    assert duties(item("door"), item("pipe"), item("rail"), item("cable trench")) == []


def test_shortcomings_are_counted_and_named_with_their_place():
    good = item("circuit breaker", tag="Q1", path=("equipment", 0))
    bad = item("disconnector", tag="Q2", terminals=1, path=("equipment", 1))
    checks, findings = judge_connections(rows_of(good, bad), duties(good, bad))
    check = checks[0]
    assert (check.verdict, check.value, check.limit) == (Verdict.FAIL, 2, 0)
    assert "Q2" in check.reason
    assert "Q1" not in check.reason
    assert {f.path for f in findings} == {("equipment", 1, "connections"), ("equipment", 1, "measures")}


def test_what_is_not_stated_leaves_the_check_undecided():
    checks, findings = judge_connections(
        rows_of(item("transformer", neutral_connections=2)), duties(item("transformer"))
    )
    assert checks[0].verdict is Verdict.NOT_DECIDED
    assert [f.code for f in findings] == ["connection-not-stated"]


def test_advice_alone_does_not_break_anything():
    arrester = item("surge arrester", electrodes=1, measures=("short straight lead",))
    checks, findings = judge_connections(rows_of(arrester), ())
    assert checks[0].verdict is Verdict.PASS
    assert [f.severity.value for f in findings] == ["note"]


def test_a_lead_too_thin_fails():
    thin = dataclasses.replace(RISER, area_mm2=16.0, diameter_mm=5.1)
    (group,) = riser_groups([item("circuit breaker")], {"riser": thin}, faults())
    checks, _ = judge_connections(
        rows_of(item("circuit breaker")), [duty_of(group, size_conductor(group.request, group.faults))]
    )
    assert checks[1].verdict is Verdict.FAIL


def test_without_a_list_nothing_is_said():
    assert judge_connections(rows_of(), ()) == ((), ())


def test_the_flexible_bond_of_a_door_has_sixteen_square_millimetres():
    """Braid of at least 16 mm2 for doors, panels, ladders and stairs: common practice."""
    door = item("door", conductor="braid", measures=("flexible bond",))
    for sections, expected in (({"braid": 16.0}, "kept"), ({"braid": 10.0}, "broken"), ({}, "not stated")):
        found = outcome(rows_of(door, sections_mm2=sections), "flexible bond of doors")
        assert found.outcome == expected
    assert found.path == ("equipment", 0, "conductor")


RING_8 = ((12.0, 12.0), (28.0, 12.0), (28.0, 28.0), (12.0, 28.0))


@pytest.mark.parametrize(
    ("fence", "expected"),
    [
        # sides 8 m from the centre; zone of 1.1 x 8 m = 8.8 m (paper on stray fields of air-core reactors)
        (Fence(RING_8, "f", closed=True), "broken"),
        (Fence(RING_8, "f", closed=True, breaks_m=((20.0, 12.0),)), "kept"),
        (Fence(RING_8, "f", closed=True, bonding="insulating"), "kept"),
        (Fence(RING_8, "f", closed=False), "kept"),
        (Fence(tuple((2 * x - 20, 2 * y - 20) for x, y in RING_8), "f", closed=True), "kept"),
    ],
)
def test_a_closed_fence_keeps_out_of_the_zone_of_a_reactor(fence, expected):
    reactor = item("air core reactor", terminals=1, diameter_m=8.0, measures=("no closed loop",))
    assert outcome(rows_of(reactor, fences=(fence,)), "closed rings of metal fence").outcome == expected


@pytest.mark.parametrize(
    ("kind", "text", "fields"),
    [
        # a British distribution operator: voltage transformers are treated like arresters
        ("voltage transformer", "a rod at the base, joined", {"electrodes": 1}),
        # common practice: braid at the top and the base of the gantry of an earth wire
        ("entry gantry", "top and the base of its gantry", {"measures": ("flexible bond",)}),
        ("gis", "joined to the mesh at each bay", {"bond_spacing_m": 15.0}),
        ("building", "over a bonding plate", {"measures": ("bonding plate",)}),
    ],
)
def test_rules_that_advise_are_notes_until_they_are_followed(kind, text, fields):
    assert outcome(rows_of(item(kind)), text).outcome == "advice"
    assert outcome(rows_of(item(kind, **fields)), text).outcome == "kept"


def test_rules_of_one_country_stay_there():
    """British record forms count tank, tap changer, cable box and coolers; Chinese acceptance rules ask for a
    bar round the room of gas-insulated switchgear."""
    assert outcome(rows_of(item("transformer"), practice="uk"), "tap changer").outcome == "advice"
    assert not any("tap changer" in r.rule for r in rows_of(item("transformer")))
    assert outcome(rows_of(item("gis"), practice="china"), "earth bar round").outcome == "broken"
    assert not any("earth bar round" in r.rule for r in rows_of(item("gis")))


def test_rods_of_the_list_that_are_not_drawn_are_said_once():
    """Common practice: a list and a drawing that differ are put right before anything is built."""
    rod = rods_at([(20.0, 20.0)], length_m=3.0, radius_m=0.008, top_depth_m=0.5)
    near = item("surge arrester", 22.0, 20.0, tag="F1", electrodes=1)
    far = item("surge arrester", 10.0, 20.0, tag="F2", electrodes=1, path=("equipment", 1))
    none = item("disconnector", 5.0, 5.0, tag="Q1")
    (found,) = undrawn_rods((near, far, none), MAT + rod)
    assert "F2" in found.message
    assert "F1" not in found.message
    assert found.path == ("equipment", 1)
    assert undrawn_rods((near, none), MAT + rod) == ()
