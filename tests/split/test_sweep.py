"""Many fault places at once: the same answer as one by one, and as a dense nodal solution written by hand."""

from __future__ import annotations

import cmath
from dataclasses import replace
from math import inf, isclose

import numpy as np
import pytest
from benchmarks._dense_network import DenseLine, injections, nodal_matrix

from evenground.model.network import Network, reduced_route
from evenground.model.soil import LayeredSoil
from evenground.model.split import (
    HOME,
    Cable,
    FaultPlace,
    Joint,
    Sheath,
    Source,
    SplitNetwork,
    Station,
    Wire,
    uniform_line,
)
from evenground.split import line_impedances, prepare_split, solve_split

SOIL = LayeredSoil((200.0,), ())
MAT = 0.8
SHIELD = Wire("shield", 0.0, 26.0, 0.3e-3, gmr_m=0.006)
PHASES = tuple(Wire(n, x, 18.0, 0.12e-3, gmr_m=0.009) for n, x in (("a", -4.0), ("b", 0.0), ("c", 4.0)))
FAR, LOCAL = 1500.0 - 900.0j, 800.0 - 700.0j


def line(name: str, spans: int, tower: float, far: str, phases=PHASES):
    return uniform_line(
        name, spans=spans, span_length_m=280.0, tower_resistance_ohm=tower, ground_wires=(SHIELD,),
        phases=phases, far_station=far,
    )  # fmt: skip


def cable(name: str, far: str, **rest):
    sheath = Sheath(0.5e-3, 0.02, 0.1e-3, 0.008)
    positions = ((-0.1, 1.0), (0.0, 1.0), (0.1, 1.0))
    return Cable(name, 1800.0, far, sheath, positions, joints=(Joint(700.0, 12.0),), **rest)


NETWORK = SplitNetwork(
    50.0,
    SOIL,
    lines=(line("L", 12, 15.0, "F"), line("M", 7, 30.0, "G")),
    cables=(cable("K", "H"), cable("X", "H", bonding="cross_bonded")),
    stations=(Station("F", 0.3), Station("G", 0.5), Station("H", 1.2)),
    sources=(
        Source("f", "F", via="L", feed="prospective", current_a=FAR, voltage_v=63.5e3),
        Source("g", "G", via="M", current_a=FAR / 2),
        Source("t", HOME, feed="voltage", voltage_v=63.5e3, impedance_ohm=2.0 + 20.0j),
    ),
)
PLACES = (
    FaultPlace("in"),
    *(FaultPlace(f"{n}{k}", n, k) for n, end in (("L", 12), ("M", 7)) for k in range(1, end + 1)),
    *(FaultPlace(f"{n}{k}", n, k) for n in ("K", "X") for k in (1, 2)),
    FaultPlace("phase b", "L", 5, phase="b"),
    FaultPlace("one source", "M", 3, sources=("t",)),
    FaultPlace("through 7 ohm", "M", 3, fault_resistance_ohm=7.0),
)


@pytest.mark.parametrize("place", PLACES, ids=[p.name for p in PLACES])
def test_together_and_one_by_one_agree(place: FaultPlace) -> None:
    """The shared factors and shared columns are only a shorter way to the same equations."""
    together = {row.place.name: row for row in prepare_split(NETWORK, MAT).survey(PLACES)}[place.name]
    alone = solve_split(NETWORK, MAT, place)
    scale = abs(alone.fault_current_a)
    # rounding of a direct solution
    assert abs(together.fault_current_a - alone.fault_current_a) < 1e-9 * scale
    assert abs(together.mat_current_a - alone.mat_current_a) < 1e-9 * scale
    assert abs(together.local_current_a - alone.local_current_a) < 1e-9 * scale
    assert abs(together.gpr_v - alone.gpr_v) < 1e-9 * scale * MAT


def test_every_tower_against_a_dense_nodal_solution() -> None:
    """Node voltages by one dense admittance matrix, spans as Norton sources (network theory)."""
    phases = PHASES[:1]
    lines = (line("L", 12, 15.0, "F", phases), line("M", 7, 30.0, "G", phases))
    sources = (
        Source("f", "F", via="L", current_a=FAR),
        Source("g", "G", via="M", current_a=FAR / 2),
        Source("t", HOME, current_a=LOCAL),
    )
    net = SplitNetwork(50.0, SOIL, lines=lines, stations=NETWORK.stations[:2], sources=sources)
    places = [(0, 0)] + [(0, k) for k in range(1, 12)] + [(1, k) for k in range(1, 7)]
    named = [FaultPlace(f"{a}/{k}", "LM"[a], k) if k else FaultPlace("in") for a, k in places]
    dense = []
    for shape, far in zip(lines, (0.3, 0.5), strict=True):
        data = line_impedances(shape, SOIL, 50.0)
        own, mutual = 280.0 * data.ground_ohm_per_m[0][0], 280.0 * data.mutual_ohm_per_m[0][0]
        feet = shape.tower_resistances_ohm[0]
        dense.append(DenseLine(len(shape.span_lengths_m), own, mutual, feet, far))
    matrix, nodes = nodal_matrix(dense, MAT)
    sides = [injections(dense, nodes, place, {0: FAR, 1: FAR / 2}, LOCAL) for place in places]
    volts = np.linalg.solve(matrix, np.column_stack(sides))
    rows = prepare_split(net, MAT).survey(named)
    for k, (row, (a, tower)) in enumerate(zip(rows, places, strict=True)):
        assert abs(row.gpr_v - volts[0, k]) < 1e-9 * abs(volts[:, k]).max()
        assert abs(row.fault_potential_v - volts[nodes[a][tower], k]) < 1e-9 * abs(volts[:, k]).max()


def test_a_fault_at_the_far_end_of_a_cable_comes_home_in_sheath_and_soil() -> None:
    """A local source and nothing else: what the sheaths do not bring back, the mat does (current law)."""
    net = replace(NETWORK, lines=(), cables=NETWORK.cables[:1], stations=NETWORK.stations[2:], sources=(
        Source("t", HOME, current_a=1000.0),
    ))  # fmt: skip
    result = solve_split(net, MAT, FaultPlace("end", "K", 2))
    back = sum(p.current_a for p in result.paths if p.kind in ("sheath", "mat"))
    assert isclose(back.real, -1000.0, rel_tol=1e-9)
    assert result.split_factor > 0.0
    assert abs(result.potentials_v["H"]) > abs(result.gpr_v)


def test_a_cross_bonded_joint_is_a_place_too() -> None:
    """The three sections between two joints count as one stop: both joint and end are earthed nodes."""
    rows = prepare_split(NETWORK, MAT).survey([FaultPlace("j", "X", 1), FaultPlace("e", "X", 2)])
    alone = solve_split(NETWORK, MAT, FaultPlace("j", "X", 1))
    assert abs(rows[0].fault_potential_v - alone.potentials_v["X/joint 1"]) < 1e-6
    end = solve_split(NETWORK, MAT, FaultPlace("e", "X", 2))
    assert abs(rows[1].fault_potential_v - end.potentials_v["H"]) < 1e-6


@pytest.mark.parametrize("r", [0.2, 0.61, 0.77, 1.0])
@pytest.mark.parametrize("chain", [None, 0.9 + 0.4j])
def test_a_reduced_route_gives_r_times_current_division(r: float, chain: complex | None) -> None:
    """EN 50522: I_E = r 3I0 (definition of r), shared by mat and chain; 0.77 and 0.61 are rows of Annex I."""
    route = reduced_route("old", r, chain, "away")
    net = SplitNetwork(
        50.0, SOIL, lines=(route,), stations=(Station("away", 0j),),
        sources=(Source("s", "away", via="old", current_a=1000.0),),
    )  # fmt: skip
    result = solve_split(net, MAT, FaultPlace("in"))
    expected = r if chain is None else abs(r * chain / (chain + MAT))
    assert isclose(result.split_factor, expected, rel_tol=2e-6)  # 1 Mohm stands for a chain not counted
    assert cmath.isfinite(result.gpr_v)


def test_a_reduction_factor_above_one_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0 and at most 1"):
        reduced_route("old", 1.2, None, "away")


def test_places_of_a_bare_line_are_only_where_there_is_earth() -> None:
    feet = (10.0, inf, inf, 12.0)
    bare = replace(
        line("L", 5, 15.0, "F"), tower_resistances_ohm=feet, ground_wires=(SHIELD,), shielded_spans=2
    )
    net = Network(lines=(bare,), levels_v={"L": 110e3})
    names = [p.name for p in net.fault_places("x", 110e3)]
    assert names == ["in the station", "L, tower 1", "L, tower 2", "L, tower 4", "L, far end"]
