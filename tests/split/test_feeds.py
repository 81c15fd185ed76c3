"""Sources, local transformers, fault places, and the potential rise against the driving voltage."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from evenground.errors import InputError, OutOfRangeError
from evenground.model.soil import LayeredSoil
from evenground.model.split import (
    HOME,
    EarthGroup,
    FaultPlace,
    LineImpedances,
    Source,
    SplitNetwork,
    Station,
    Wire,
    uniform_line,
)
from evenground.split import (
    compare_with_table,
    lagging_current,
    line_impedances,
    solve_split,
    source_impedance,
    sweep_fault_places,
    table_estimate,
)
from evenground.standards.ieee80_current import single_line_current

SOIL = LayeredSoil((100.0,))
AT_HOME = FaultPlace("in the station")
PHASES = tuple(Wire(n, x, 20.0, 0.1e-3, gmr_m=0.011) for n, x in (("a", -6.0), ("b", 0.0), ("c", 6.0)))
GROUND = (Wire("gw", 0.0, 30.0, 0.24e-3, gmr_m=0.007),)
NOUGHT = 1e-9
PHASE_V = 110e3 / math.sqrt(3.0)


def line(name="L", far="F", spans=30, tower=15.0, wires=GROUND, **changes):
    return uniform_line(
        name, spans=spans, span_length_m=300, tower_resistance_ohm=tower, ground_wires=wires, phases=PHASES,
        far_station=far, **changes,
    )  # fmt: skip


def remote(**changes) -> Source:
    given = {"name": "remote", "station": "F", "via": "L", "current_a": 5000.0 + 0j} | changes
    return Source(**given)


LOCAL = Source("transformer", HOME, current_a=3000.0 + 0j)


def network_of(*sources: Source, far: complex = 0.2, lines=None, **rest) -> SplitNetwork:
    lines = lines or (line(),)
    stations = tuple(Station(x.far_station, far) for x in lines)
    return SplitNetwork(50.0, SOIL, lines=lines, stations=stations, sources=sources, **rest)


# --- local transformers ----------------------------------------------------------------------------------


def test_local_current_circulates_in_metal() -> None:
    result = solve_split(network_of(LOCAL), 0.5, AT_HOME)
    assert abs(result.mat_current_a) < 1e-9
    assert abs(result.gpr_v) < 1e-9
    assert result.remote_split_factor is None
    assert result.local_current_a == 3000.0
    with pytest.raises(OutOfRangeError, match="local"):
        compare_with_table(result, table_estimate(1, 1))


def test_local_current_dilutes_the_share_of_the_whole_but_not_the_rise() -> None:
    alone = solve_split(network_of(remote()), 0.5, AT_HOME)
    both = solve_split(network_of(remote(), LOCAL), 0.5, AT_HOME)
    assert both.fault_current_a == pytest.approx(8000.0)
    assert both.gpr_v == pytest.approx(alone.gpr_v, rel=1e-12)
    assert both.remote_split_factor == pytest.approx(alone.split_factor, rel=1e-12)
    assert both.split_factor == pytest.approx(alone.split_factor * 5 / 8, rel=1e-12)
    kinds = [p.kind for p in both.paths]
    assert kinds.count("fault") == 2
    assert kinds.count("source neutral") == 1
    assert abs(sum(p.current_a for p in both.paths)) < 1e-8


def test_local_neutral_on_a_bonded_group_is_local_too() -> None:
    group = EarthGroup("neutral earth", 4.0, bonded_to=HOME, bond_ohm=0.001)
    source = replace(LOCAL, station="neutral earth")
    result = solve_split(network_of(source, groups=(group,)), 0.5, AT_HOME)
    assert result.local_current_a == 3000.0
    # network theory: the bond carries the part that does not go through the soil
    assert abs(result.mat_current_a) < 3000.0 * 0.001 / 0.5


def test_separate_neutral_earth_brings_the_current_back_through_the_soil() -> None:
    group = EarthGroup("neutral earth", 4.0)
    source = replace(LOCAL, station="neutral earth")
    result = solve_split(SplitNetwork(50.0, SOIL, groups=(group,), sources=(source,)), 0.5, AT_HOME)
    assert result.split_factor == pytest.approx(1.0)
    assert result.potentials_v["neutral earth"] == pytest.approx(-12000.0)


def test_fault_on_the_line_makes_a_local_neutral_draw_through_the_mat() -> None:
    place = FaultPlace("tower 2", "L", 2)
    result = solve_split(network_of(LOCAL), 0.5, place)
    assert abs(result.mat_current_a) > 10.0
    assert abs(result.towers[1].potential_v) == max(abs(t.potential_v) for t in result.towers)
    # No ground wire: the whole current returns through the mat (network theory).
    bare = solve_split(network_of(LOCAL, lines=(line(wires=()),)), 0.5, place)
    assert bare.mat_current_a == pytest.approx(-3000.0)
    assert bare.towers[1].potential_v == pytest.approx(3000.0 * 15.0)


def test_a_fault_seen_from_the_other_end_is_the_mirror_image() -> None:
    """A remote source feeding tower k is a local one feeding tower n - k of the reversed line."""
    k, n = 7, 30
    here = solve_split(network_of(remote(), far=0.2), 0.5, FaultPlace("x", "L", k))
    local = replace(LOCAL, current_a=5000.0)
    there = solve_split(network_of(local, far=0.5), 0.2, FaultPlace("x", "L", n - k))
    assert here.potentials_v["F"] == pytest.approx(there.gpr_v, rel=1e-10)
    assert here.gpr_v == pytest.approx(there.potentials_v["F"], rel=1e-10)
    mirrored = [t.potential_v for t in reversed(there.towers)]
    assert [t.potential_v for t in here.towers] == pytest.approx(mirrored, rel=1e-9)


# --- voltage sources -------------------------------------------------------------------------------------


@pytest.mark.parametrize("wires", [(), GROUND], ids=["no ground wire", "ground wire"])
def test_current_of_symmetrical_components(wires) -> None:
    """With ideal earths: 3I0 = 3E/(Z1 + Z2 + Z0) of the transposed line (IEEE Std 80)."""
    z_source = {"z1_ohm": 0.5 + 6j, "z2_ohm": 0.5 + 6j, "z0_ohm": 0.8 + 5j}
    the_line = line(wires=wires)
    data, length = line_impedances(the_line, SOIL, 50.0), the_line.length_m
    z = np.array(data.phase_ohm_per_m)
    own, between = np.trace(z) / 3, (z.sum() - np.trace(z)) / 6
    z1, z0 = (own - between) * length, (own + 2 * between) * length
    if wires:
        mutual = np.array(data.mutual_ohm_per_m).mean()
        z0 -= 3 * mutual**2 / data.ground_ohm_per_m[0][0] * length
    expected = single_line_current(
        110e3, 1.0, *(z_source[k] + z for k, z in (("z1_ohm", z1), ("z2_ohm", z1), ("z0_ohm", z0))), 0.0
    )
    source = remote(
        feed="voltage",
        current_a=None,
        voltage_v=PHASE_V,
        impedance_ohm=source_impedance(**z_source),
        phase="mean",
    )
    result = solve_split(network_of(source, far=NOUGHT, lines=(the_line,)), NOUGHT, AT_HOME)
    # 1e-6: earths of 1e-9 ohm. Equal spans between ideal earths: no tower has a potential.
    assert abs(result.fault_current_a) == pytest.approx(expected, rel=1e-6)


def test_voltage_and_current_feeds_tell_the_same_story() -> None:
    source = remote(feed="voltage", current_a=None, voltage_v=PHASE_V, impedance_ohm=1 + 9j)
    driven = solve_split(network_of(source), 2.0, AT_HOME)
    imposed = solve_split(network_of(remote(current_a=driven.fault_current_a)), 2.0, AT_HOME)
    assert imposed.mat_current_a == pytest.approx(driven.mat_current_a, rel=1e-10)
    assert imposed.gpr_v == pytest.approx(driven.gpr_v, rel=1e-10)


def test_current_falls_and_the_rise_stays_below_the_driving_voltage() -> None:
    bare = (line(wires=()),)
    source = remote(feed="voltage", current_a=None, voltage_v=PHASE_V, impedance_ohm=1 + 9j)
    results = [
        solve_split(network_of(source, lines=bare), r, AT_HOME) for r in (0.1, 1.0, 10.0, 100.0, 1000.0)
    ]
    currents = [abs(r.fault_current_a) for r in results]
    assert currents == sorted(currents, reverse=True)
    assert all(abs(r.gpr_v) < PHASE_V for r in results)
    assert not any(r.warnings for r in results)
    # Ohm's law for the bare line, by hand.
    own = np.mean([line_impedances(bare[0], SOIL, 50.0).phase_ohm_per_m[i][i] for i in range(1)]) * 9000.0
    assert results[2].fault_current_a == pytest.approx(PHASE_V / (1 + 9j + own + 10.0 + 0.2), rel=1e-9)


def test_imposed_current_that_can_not_flow_is_called_out() -> None:
    impossible = solve_split(network_of(remote(voltage_v=PHASE_V), lines=(line(wires=()),)), 50.0, AT_HOME)
    assert abs(impossible.gpr_v) == pytest.approx(250e3)
    assert any("can not flow" in w for w in impossible.warnings)
    silent = solve_split(network_of(remote()), 0.5, AT_HOME)
    assert silent.warnings == ()
    assert any("no upper bound" in n for n in silent.notes)


def test_prospective_current_flows_at_ideal_earths_and_falls_behind_real_ones() -> None:
    stated = lagging_current(5000.0, 4.0)
    source = remote(feed="prospective", current_a=stated, voltage_v=PHASE_V)
    ideal = solve_split(network_of(source, far=NOUGHT), NOUGHT, AT_HOME)
    assert ideal.fault_current_a == pytest.approx(stated, rel=1e-6)  # earths of 1e-9 ohm
    real = solve_split(network_of(source, far=0.5), 5.0, AT_HOME)
    assert abs(real.fault_current_a) < abs(stated)
    # Bare line: what the earths add to the loop is all that changes (Ohm's law).
    bare = solve_split(network_of(source, far=0.5, lines=(line(wires=()),)), 5.0, AT_HOME)
    assert bare.fault_current_a == pytest.approx(PHASE_V / (PHASE_V / stated + 5.5), rel=1e-9)


def test_prospective_current_that_the_line_forbids_is_refused() -> None:
    source = remote(
        feed="prospective", current_a=60e3 + 0j, voltage_v=PHASE_V, path=("network", "sources", 0)
    )
    with pytest.raises(InputError, match="alone does not let that current flow") as caught:
        solve_split(network_of(source), 1.0, AT_HOME)
    assert caught.value.findings[0].field == "network.sources[0]"


def test_sources_share_the_stretch_to_a_fault_on_the_line() -> None:
    """Two equal local transformers are one of half the impedance (network theory)."""
    one = Source("T", HOME, feed="voltage", voltage_v=PHASE_V, impedance_ohm=0.5 + 4j)
    two = tuple(replace(one, name=f"T{i}", impedance_ohm=1 + 8j) for i in (1, 2))
    place = FaultPlace("tower 9", "L", 9, fault_resistance_ohm=2.0)
    single = solve_split(network_of(one), 0.5, place)
    double = solve_split(network_of(*two), 0.5, place)
    assert double.fault_current_a == pytest.approx(single.fault_current_a, rel=1e-9)
    assert double.mat_current_a == pytest.approx(single.mat_current_a, rel=1e-9)


def test_fault_resistance_lowers_a_driven_current() -> None:
    source = remote(feed="voltage", current_a=None, voltage_v=PHASE_V, impedance_ohm=1 + 9j)
    clean = solve_split(network_of(source), 0.5, AT_HOME)
    through = solve_split(network_of(source), 0.5, replace(AT_HOME, fault_resistance_ohm=10.0))
    assert abs(through.fault_current_a) < abs(clean.fault_current_a)
    assert through.split_complex == pytest.approx(clean.split_complex, rel=1e-9)


def test_phase_choice() -> None:
    wires = (Wire("gw", -6.0, 26.0, 0.24e-3, gmr_m=0.007),)
    shares = {
        phase: solve_split(
            network_of(remote(phase=phase), lines=(line(wires=wires),)), 0.5, AT_HOME
        ).split_factor
        for phase in ("a", "b", "c", "farthest", "mean")
    }
    assert shares["farthest"] == shares["c"] == max(shares.values())
    assert shares["a"] < shares["mean"] < shares["c"]
    with pytest.raises(InputError, match="no phase 'z'"):
        solve_split(network_of(remote(phase="z")), 0.5, AT_HOME)


def test_source_impedance_and_lagging_current() -> None:
    assert source_impedance(3 + 6j, 3 + 6j, 9 + 3j) == 5 + 5j
    assert abs(lagging_current(100.0, 10.0)) == pytest.approx(100.0)
    assert math.tan(-cmath.phase(lagging_current(100.0, 10.0))) == pytest.approx(10.0)
    with pytest.raises(OutOfRangeError, match="must be positive"):
        lagging_current(-1.0, 10.0)


# --- several places --------------------------------------------------------------------------------------


def swept() -> SplitNetwork:
    second = line("M", "G", spans=20)
    far = Source("second", "G", via="M", current_a=1500.0)
    low = Source("20 kV winding", HOME, current_a=2000.0)
    places = (
        FaultPlace("110 kV in the station", sources=("remote", "second")),
        FaultPlace("20 kV in the station", sources=("20 kV winding",)),
        FaultPlace("20 kV, tower 1", "M", 1, sources=("20 kV winding",)),
        FaultPlace("20 kV, tower 10", "M", 10, sources=("20 kV winding",)),
    )
    return network_of(remote(), far, low, lines=(line(), second), places=places)


def test_sweep_names_the_governing_place() -> None:
    sweep = sweep_fault_places(swept(), 0.5)
    rises = {r.place.name: abs(r.gpr_v) for r in sweep.results}
    assert sweep.highest_rise.place.name == max(rises, key=lambda n: rises[n]) == "110 kV in the station"
    assert rises["20 kV in the station"] < 1e-9
    assert rises["20 kV, tower 10"] > rises["20 kV, tower 1"] > 0
    assert sweep.largest_utilisation is None
    # a long-lasting fault on the lower voltage may govern although its rise is lower
    allowed = dict.fromkeys(rises, 1000.0) | {"20 kV, tower 10": rises["20 kV, tower 10"] / 10}
    timed = sweep_fault_places(swept(), 0.5, permitted_rise_v=allowed)
    assert timed.largest_utilisation is not None
    assert timed.largest_utilisation.place.name == "20 kV, tower 10"
    assert max(timed.utilisations) == pytest.approx(10.0)


def test_sweep_refuses_half_information() -> None:
    with pytest.raises(InputError, match="no fault place"):
        sweep_fault_places(network_of(remote()), 0.5)
    with pytest.raises(InputError, match="no permitted rise above zero for 20 kV in the station"):
        sweep_fault_places(swept(), 0.5, permitted_rise_v={"110 kV in the station": 1e3, "20 kV, tower 1": 1, "20 kV, tower 10": 1})  # fmt: skip  # noqa: E501


def test_insulated_ground_wire_sends_everything_through_the_mat() -> None:
    # Common practice: a wire insulated at the gantry takes nothing from the station.
    result = solve_split(network_of(remote(), lines=(line(bonded_near=False),)), 0.5, AT_HOME)
    assert result.split_factor == pytest.approx(1.0, rel=1e-9)
    far_cut = solve_split(network_of(remote(), lines=(line(bonded_far=False),)), 0.5, AT_HOME)
    assert 0.1 < far_cut.split_factor < 1.0


def test_partly_shielded_line() -> None:
    shares = [
        solve_split(network_of(remote(), lines=(line(shielded_spans=k),)), 0.5, AT_HOME).split_factor
        for k in (0, 2, 8, 30)
    ]
    assert shares[0] == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    same = solve_split(network_of(remote()), 0.5, AT_HOME).split_factor
    assert shares[-1] == pytest.approx(same, rel=1e-12)


def test_given_impedances_serve_as_a_line() -> None:
    given = LineImpedances(((0.3e-3 + 0.7e-3j,),), ((0.05e-3 + 0.28e-3j,),))
    plain = uniform_line(
        "L", spans=5, span_length_m=300, tower_resistance_ohm=9, far_station="F", given=given
    )
    result = solve_split(network_of(remote(), lines=(plain,)), 0.5, AT_HOME)
    assert [p.name for p in result.paths] == ["L: ground wire 1", "mat", "remote"]
    assert [t.distance_m for t in result.towers] == [300.0, 600.0, 900.0, 1200.0]


# --- refusals --------------------------------------------------------------------------------------------


def test_every_wrong_reference_is_reported_at_once() -> None:
    network = SplitNetwork(
        50.0,
        SOIL,
        lines=(line(far="nowhere", path=("network", "lines", 0)), line("M", "F")),
        stations=(Station("F", 1.0), Station("F", 2.0)),
        groups=(EarthGroup("fence", 3.0, bonded_to="moon"),),
        sources=(
            Source("one", "F", current_a=1.0, path=("network", "sources", 0)),
            Source("two", "F", via="X", current_a=1.0),
            Source("three", "mars", via="M", current_a=1.0),
        ),
    )
    with pytest.raises(InputError, match="not a station of the network") as caught:
        solve_split(network, -1.0, FaultPlace("x", "Y", 3, sources=("ghost",)))
    text = str(caught.value)
    for piece in (
        "name 'F' is used 2 times",
        "far_station 'nowhere'",
        "bonded_to 'moon'",
        "source one: a far source needs via",
        "via 'X' is neither",
        "station 'mars' is not known",
        "'Y' is not an overhead line",
        "source 'ghost' is not known",
        "mat_resistance_ohm must be finite",
    ):
        assert piece in text
    assert "network.lines[0].far_station" in {f.field for f in caught.value.findings}


def test_wrong_tower_and_wrong_side() -> None:
    with pytest.raises(InputError, match="L has 30 spans, the last to its far end"):
        solve_split(network_of(remote()), 0.5, FaultPlace("x", "L", 31))
    with pytest.raises(InputError, match="nothing feeds it"):
        solve_split(network_of(), 0.5, AT_HOME)
    beyond = line("N", "H", near_station="F")
    net = SplitNetwork(
        50.0, SOIL, lines=(line(), beyond), stations=(Station("F", 1.0), Station("H", 1.0)),
        sources=(Source("s", "H", via="N", current_a=1.0),),
    )  # fmt: skip
    with pytest.raises(InputError, match="N does not start at the station"):
        solve_split(net, 0.5, FaultPlace("x", "N", 1))
    good = replace(net, sources=(Source("s", "F", via="L", current_a=1.0),))
    assert solve_split(good, 0.5, AT_HOME).split_factor < 1.0  # the line beyond only helps the far station


def test_tower_without_any_earth_is_refused() -> None:
    lonely = line(wires=(), tower=math.inf)
    with pytest.raises(InputError, match="no metallic or earth path from L/3"):
        solve_split(network_of(LOCAL, lines=(lonely,)), 0.5, FaultPlace("x", "L", 3))


def test_currents_that_cancel_have_no_share() -> None:
    from evenground.errors import NotConvergedError

    two = (remote(), replace(LOCAL, current_a=-5000.0))
    with pytest.raises(NotConvergedError, match="cancel"):
        solve_split(network_of(*two), 0.5, AT_HOME)
