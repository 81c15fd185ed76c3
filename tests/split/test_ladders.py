"""Ladders of ground wire and towers: closed forms, the network, and coupling with the phase."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenground.errors import InputError, OutOfRangeError
from evenground.model.soil import LayeredSoil
from evenground.model.split import (
    FaultPlace,
    LineImpedances,
    Source,
    SplitNetwork,
    Station,
    Wire,
    uniform_line,
)
from evenground.split import (
    endless_ladder_impedance,
    equivalent_impedance,
    finite_ladder_impedance,
    ladder_decay,
    line_impedances,
    long_line_split,
    reduction_factor,
    route_reduction_factor,
    solve_split,
)

SOIL = LayeredSoil((100.0,))
SPAN_M = 300.0


def coupled_line(span_ohm, tower_ohm, spans, *, mutual_ohm=0j, far=""):
    given = LineImpedances(((span_ohm / SPAN_M,),), ((mutual_ohm / SPAN_M,),))
    return uniform_line(
        "L", spans=spans, span_length_m=SPAN_M, tower_resistance_ohm=tower_ohm, far_station=far, given=given
    )


# Computed from the recursion and an independent nodal solution, five decimals.
# span, tower, endless, 5 spans open, 10, 20, 20 with 0.1 ohm parallel to the last tower
LADDERS = [
    (0.3 + 0.7j, 10, 2.44935 + 1.89500j, 2.73940 + 1.42408j, 2.40801 + 1.85940j, 2.44972 + 1.89541j,
     2.44901 + 1.89445j),
    (0.1 + 0.25j, 15, 1.71321 + 1.25610j, 3.22872 + 0.54099j, 1.94545 + 0.88476j, 1.67841 + 1.22455j,
     1.74503 + 1.29398j),
    (0.9 + 0.35j, 20, 4.79180 + 0.99925j, 5.89561 + 0.69852j, 4.88861 + 0.92899j, 4.79204 + 0.99768j,
     4.79144 + 1.00110j),
    (0.25 + 0j, 10, 1.71107 + 0j, 2.53447 + 0j, 1.85176 + 0j, 1.71680 + 0j, 1.70518 + 0j),
]  # fmt: skip


@pytest.mark.parametrize(("span", "tower", "endless", "five", "ten", "twenty", "ended"), LADDERS)
def test_ladder_table(span, tower, endless, five, ten, twenty, ended) -> None:
    half_digit = 7e-6  # five decimals in two parts
    assert endless_ladder_impedance(span, tower) == pytest.approx(endless, abs=half_digit)
    for spans, value in ((5, five), (10, ten), (20, twenty)):
        assert finite_ladder_impedance(span, tower, spans) == pytest.approx(value, abs=half_digit)
        network = SplitNetwork(50.0, SOIL, lines=(coupled_line(span, tower, spans),))
        assert equivalent_impedance(network) == pytest.approx(value, abs=half_digit)
    assert finite_ladder_impedance(span, tower, 20, 0.1) == pytest.approx(ended, abs=half_digit)
    line = coupled_line(span, tower, 20)
    closed = replace(line, far_station="F")  # as many towers as spans: the last beside the far station
    network = SplitNetwork(50.0, SOIL, lines=(closed,), stations=(Station("F", 0.1),))
    assert equivalent_impedance(network) == pytest.approx(ended, abs=half_digit)


def test_decay_per_span() -> None:
    # Same computation: 13 spans to 5 %.
    decay = ladder_decay(0.3 + 0.7j, 10.0)
    assert decay == pytest.approx(0.78506 - 0.11950j, abs=7e-6)
    assert abs(decay) ** 13 == pytest.approx(0.05, abs=2e-3)


def test_ladder_refuses_nonsense() -> None:
    with pytest.raises(OutOfRangeError, match="spans and a tower"):
        finite_ladder_impedance(0.3, 10.0, 0)
    with pytest.raises(OutOfRangeError, match="spans and a tower"):
        finite_ladder_impedance(0.3, math.inf, 5)


# Per km with the usual first terms: wire 0.24 ohm/km, gmr 7.01 mm, phase at 10 m, 50 Hz, 100 ohm m.
Z_SELF, Z_MUTUAL = 0.28935 + 0.74123j, 0.04935 + 0.28488j


def simple_terms(distance_m: float, resistance_per_km: float = 0.0) -> complex:
    depth = 658.5 * math.sqrt(100.0 / 50.0)
    earth = math.pi**2 * 50.0 * 1e-4
    return resistance_per_km + earth + 4e-4j * math.pi * 50.0 * math.log(depth / distance_m)


def test_coupling_case() -> None:
    # 2e-5: five decimals, and the depth's constant of four figures.
    assert simple_terms(0.00701, 0.24) == pytest.approx(Z_SELF, abs=2e-5)
    assert simple_terms(10.0) == pytest.approx(Z_MUTUAL, abs=2e-5)
    r = reduction_factor(Z_MUTUAL, Z_SELF)
    assert r == pytest.approx(0.64394 - 0.07242j, abs=2e-5)
    assert abs(r) == pytest.approx(0.6480, abs=6e-5)


def wire_above_phase(wire: Wire, *, distance_m: float = 10.0):
    phase = Wire("a", 0.0, wire.height_m - distance_m, 0.1e-3, gmr_m=0.01)
    return uniform_line(
        "L", spans=1, span_length_m=1, tower_resistance_ohm=10, ground_wires=(wire,), phases=(phase,)
    )


def test_coupling_from_geometry() -> None:
    # 1.5 %: real heights of 11 and 1 m instead of first terms only.
    acsr = Wire("gw", 0.0, 11.0, 0.24e-3, gmr_m=0.00701)
    data = line_impedances(wire_above_phase(acsr), SOIL, 50.0)
    assert abs(data.ground_ohm_per_m[0][0] * 1e3 - Z_SELF) < 0.015 * abs(Z_SELF)
    assert abs(data.mutual_ohm_per_m[0][0] * 1e3 - Z_MUTUAL) < 0.015 * abs(Z_MUTUAL)
    assert abs(route_reduction_factor(data)) == pytest.approx(0.6480, abs=0.004)


def test_steel_wire_hardly_screens() -> None:
    # 3.5 ohm/km, radius 4.5 mm, relative permeability 75: 0.957 with internal inductance mu0 mu_r/(8 pi);
    # skin effect raises the resistance by 5 % here, which moves the third decimal.
    steel = Wire("gw", 0.0, 30.0, 3.5e-3, radius_m=0.0045, relative_permeability=75.0)
    data = line_impedances(wire_above_phase(steel), SOIL, 50.0)
    assert abs(route_reduction_factor(data)) == pytest.approx(0.957, abs=0.004)
    inner = math.exp(-75.0 / 4.0) * 0.0045  # the same inductance as a geometric mean radius
    plain = Wire("gw", 0.0, 30.0, 3.5e-3, gmr_m=inner)
    data = line_impedances(wire_above_phase(plain), SOIL, 50.0)
    assert abs(route_reduction_factor(data)) == pytest.approx(0.957, abs=0.001)


# EN 50522, Annex I, list of typical values (from memory). The list states neither soil nor spacing, so
# conductor data (common practice: DIN 48204 strands) and 15 m to the phase give it to 0.04.
@pytest.mark.parametrize(
    ("wire", "typical"),
    [
        (Wire("St 50-70", 0.0, 30.0, 3.5e-3, radius_m=0.0045, relative_permeability=75.0), 0.98),
        (Wire("Al/St 44/32", 0.0, 30.0, 0.653e-3, gmr_m=0.0045), 0.77),
        (Wire("Al/St 300/50", 0.0, 30.0, 0.0949e-3, gmr_m=0.0099), 0.61),
    ],
    ids=lambda v: getattr(v, "name", None),
)
def test_typical_reduction_factors_of_lines(wire: Wire, typical: float) -> None:
    data = line_impedances(wire_above_phase(wire, distance_m=15.0), SOIL, 50.0)
    assert abs(route_reduction_factor(data)) == pytest.approx(typical, abs=0.04)


# Full nodal solution made outside this code: phase current 1 A from a far station of 0.1 ohm over n spans of
# 0.3 km, towers 10 ohm, induction in every span.
@pytest.mark.parametrize(
    ("mat", "spans", "share", "size", "by_hand"),
    [
        (0.5, 60, 0.51550 + 0.01721j, 0.51579, 0.51581),
        (0.5, 200, None, 0.51581, 0.51581),
        (2.0, 60, 0.29928 + 0.07376j, 0.30824, 0.30825),
    ],
)
def test_full_network(mat, spans, share, size, by_hand) -> None:
    span, mutual = Z_SELF * 0.3, Z_MUTUAL * 0.3
    line = coupled_line(span, 10.0, spans, mutual_ohm=mutual, far="F")
    network = SplitNetwork(
        50.0, SOIL, lines=(line,), stations=(Station("F", 0.1),),
        sources=(Source("far", "F", via="L", current_a=1.0),),
    )  # fmt: skip
    result = solve_split(network, mat, FaultPlace("in the station"))
    half_digit = 1.2e-5  # inputs and results with five decimals
    assert result.split_factor == pytest.approx(size, abs=half_digit)
    if share is not None:
        assert result.split_complex == pytest.approx(share, abs=half_digit)
    hand = long_line_split(reduction_factor(mutual, span), endless_ladder_impedance(span, 10.0), mat)
    assert abs(hand) == pytest.approx(by_hand, abs=half_digit)
    # Without induction the share is 54 % too high.
    blind = coupled_line(span, 10.0, spans, far="F")
    plain = SplitNetwork(50.0, SOIL, lines=(blind,), stations=network.stations, sources=network.sources)
    if mat == 0.5:
        ratio = solve_split(plain, mat, FaultPlace("in the station")).split_factor / result.split_factor
        assert ratio == pytest.approx(1.54, abs=0.01)


def test_nothing_but_the_mat_has_no_equivalent_impedance() -> None:
    with pytest.raises(InputError, match="no metallic or earth path from station"):
        equivalent_impedance(SplitNetwork(50.0, SOIL))
