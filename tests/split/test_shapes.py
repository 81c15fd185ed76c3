"""What the shapes refuse, naming owner and field."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.model.soil import LayeredSoil
from evenground.model.split import (
    HOME,
    Cable,
    EarthGroup,
    EarthMatrix,
    FaultPlace,
    Joint,
    LineImpedances,
    OverheadLine,
    Sheath,
    Source,
    SplitNetwork,
    Station,
    Wire,
    uniform_line,
)
from evenground.split import reduction_factor, table_estimate, typical_reduction_factors
from evenground.split._circuit import Branch, Circuit, Drive
from evenground.split.simple import long_line_split

GIVEN = LineImpedances(((0.3e-3j,),), ((0.1e-3j,),))
WIRE = Wire("gw", 0.0, 30.0, 0.2e-3, gmr_m=0.007)
SHEATH = Sheath(0.5e-3, 0.03)
LINE = OverheadLine("L", (300.0, 300.0), (10.0,), given=GIVEN, far_station="F")
CABLE = Cable("C", 1000.0, "F", SHEATH)
SINGLE_CORES = ((-0.1, 1.0), (0.0, 1.0), (0.1, 1.0))

REFUSALS = [
    (lambda: replace(WIRE, resistance_ohm_per_m=0.0), "wire gw: resistance_ohm_per_m must be above zero"),
    (lambda: replace(WIRE, height_m=0.0), "height_m not zero"),
    (lambda: replace(WIRE, gmr_m=None), "give gmr_m, or radius_m"),
    (lambda: replace(WIRE, gmr_m=-1.0), "wire gw: gmr_m"),
    (lambda: replace(WIRE, relative_permeability=math.nan), "relative_permeability"),
    (lambda: LineImpedances(((1j, 0j),), ((1j,),)), "ground_ohm_per_m: must have 1 rows of 1"),
    (lambda: LineImpedances(((1j, 0j), (1j, 1j)), ((1j,), (1j,))), "ground_ohm_per_m: must be symmetric"),
    (lambda: LineImpedances(((-1 + 1j,),), ((1j,),)), "resistance of zero or more"),
    (lambda: LineImpedances(((1j,),), ((complex(math.nan),),)), "mutual_ohm_per_m: every impedance"),
    (lambda: replace(LINE, span_lengths_m=()), "line L: span_lengths_m is empty"),
    (lambda: replace(LINE, span_lengths_m=(300.0, -1.0)), r"span_lengths_m\[1\] must be above zero"),
    (lambda: replace(LINE, tower_resistances_ohm=()), "2 spans need 1 or 2 tower_resistances_ohm, got 0"),
    (lambda: replace(LINE, far_station=""), "2 spans need 2 tower_resistances_ohm"),
    (lambda: replace(LINE, tower_resistances_ohm=(0.0,)), r"tower_resistances_ohm\[0\]"),
    (lambda: replace(LINE, given=None), "give phases"),
    (lambda: replace(LINE, ground_wires=(WIRE,)), "geometry or given impedances, not both"),
    (lambda: replace(LINE, shielded_spans=3), "shielded_spans must be 0 to 2"),
    (lambda: replace(LINE, kind="rail"), "kind must be"),
    (lambda: replace(LINE, near_station="F"), "same as near_station"),
    (lambda: replace(LINE, given=None, phases=(replace(WIRE, height_m=-1.0),)), "below ground"),
    (lambda: Sheath(0.5e-3, 0.03, core_gmr_m=0.05), "core_gmr_m must be below radius_m"),
    (lambda: Joint(0.0), "joint: distance_m"),
    (lambda: replace(CABLE, sheath=None), "give either sheath or given"),
    (lambda: replace(CABLE, bonding="loose"), "bonding must be one of"),
    (lambda: replace(CABLE, bonding="cross_bonded"), "cross_bonded needs three positions_m"),
    (lambda: replace(CABLE, positions_m=((0.0, 1.0), (1.0, 1.0))), "one or three, got 2"),
    (lambda: replace(CABLE, positions_m=((0.0, -1.0),)), "depth must be above zero"),
    (lambda: replace(CABLE, bonding="near_end", joints=(Joint(5.0),)), "no earthed joints"),
    (lambda: replace(CABLE, joints=(Joint(500.0), Joint(400.0))), "in order between the ends"),
    (lambda: replace(CABLE, joints=(Joint(1000.0),)), "in order between the ends"),
    (lambda: replace(CABLE, continuity=WIRE), "continuity conductor must be below ground"),
    (lambda: replace(CABLE, far_station=HOME), "far_station must be another station"),
    (lambda: Station(HOME, 1.0), "is not free"),
    (lambda: Station("F", -1.0), "station F: impedance_ohm"),
    (lambda: EarthGroup("fence", 0.0), "earth group fence: resistance_ohm"),
    (lambda: EarthGroup("fence", 1.0, bond_ohm=-1.0), "bond_ohm"),
    (lambda: EarthMatrix(("a", "a"), ((1.0, 0.0), (0.0, 1.0))), "groups must differ"),
    (lambda: EarthMatrix(("a", "b"), ((1.0,),)), "must be 2 by 2"),
    (lambda: EarthMatrix(("a", "b"), ((1.0, 0.2), (0.3, 1.0))), "must agree"),
    (lambda: EarthMatrix(("a", "b"), ((1.0, 2.0), (2.0, 1.0))), "too large for its diagonal"),
    (lambda: Source("s", "F"), "feed 'current' needs current_a"),
    (lambda: Source("s", "F", feed="voltage", voltage_v=1.0), "needs impedance_ohm"),
    (lambda: Source("s", "F", feed="prospective", voltage_v=1.0), "needs current_a"),
    (lambda: Source("s", "F", feed="wind"), "feed must be one of"),
    (lambda: Source("s", "F", current_a=0.0), "current_a must be finite and not zero"),
    (lambda: Source("s", "F", feed="voltage", voltage_v=1.0, impedance_ohm=-1.0), "source s: impedance_ohm"),
    (lambda: FaultPlace("x", line="L"), "line and tower"),
    (lambda: FaultPlace("x", tower=2), "line and tower"),
    (lambda: FaultPlace("x", fault_resistance_ohm=-1.0), "fault_resistance_ohm must be zero or more"),
    (lambda: SplitNetwork(0.0, LayeredSoil((100.0,))), "network: frequency_hz"),
    (lambda: SplitNetwork(50.0, LayeredSoil((100.0,)), earth_return="guess"), "earth_return 'guess'"),
]


@pytest.mark.parametrize(("make", "words"), REFUSALS, ids=[words[:40] for _, words in REFUSALS])
def test_refusals(make, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


def test_good_shapes_pass() -> None:
    assert LINE.length_m == 600.0
    assert (
        uniform_line("U", spans=3, span_length_m=100, tower_resistance_ohm=5, given=GIVEN).length_m == 300.0
    )
    assert replace(CABLE, bonding="cross_bonded", positions_m=SINGLE_CORES).bonding == "cross_bonded"
    assert FaultPlace("x", "L", 2).tower == 2


def test_hand_methods_refuse() -> None:
    with pytest.raises(OutOfRangeError, match="self_ohm_per_m is zero"):
        reduction_factor(0.1, 0.0)
    with pytest.raises(OutOfRangeError, match="mat_resistance_ohm must be above zero"):
        long_line_split(0.6, 2 + 1j, 0.0)
    for lines, feeders in ((0, 0), (-1, 2), (17, 1)):
        with pytest.raises(OutOfRangeError, match="no estimate"):
            table_estimate(lines, feeders)
    assert typical_reduction_factors("submarine") == ()


def test_singular_equations_are_named() -> None:
    # Two ideal bonds side by side: how they share the current is not defined.
    circuit = Circuit()
    home, other = circuit.node(HOME), circuit.node("other")
    circuit.to_earth(HOME, 1.0)
    for _ in range(2):
        circuit.add(Branch(home, other, 0j, "bond", "bond"))
    drive = Drive()
    drive.add(Branch(other, home, 1 + 0j, "source", "source", emf_v=1 + 0j))
    with pytest.raises(NotConvergedError, match=r"singular|Kirchhoff"):
        circuit.solve(drive)
