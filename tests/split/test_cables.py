"""Cable sheaths: bonding, cross-bonding, continuity conductors, joints on the way."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenground.errors import InputError
from evenground.model.soil import LayeredSoil
from evenground.model.split import (
    Cable,
    FaultPlace,
    Joint,
    LineImpedances,
    OverheadLine,
    Sheath,
    Source,
    SplitNetwork,
    Station,
    Wire,
)
from evenground.split import (
    cable_impedances,
    conductor_shares,
    reduction_factor,
    route_reduction_factor,
    solve_split,
    typical_reduction_factors,
)

SOIL = LayeredSoil((100.0,))
AT_HOME = FaultPlace("in the station")
TREFOIL = ((-0.04, 1.0), (0.04, 1.0), (0.0, 1.0 - 0.04 * math.sqrt(3.0)))
FLAT = ((-0.2, 1.0), (0.0, 1.0), (0.2, 1.0))
SCREEN = Sheath(0.52e-3, 0.032, core_resistance_ohm_per_m=0.06e-3, core_gmr_m=0.008)


def network_of(cable: Cable, *, far: complex = 1e-9, current: complex = 1.0, **source) -> SplitNetwork:
    """Far earth of next to nothing, so that the sheath carries its share as on an endless route."""
    feed = {"current_a": current} | source
    return SplitNetwork(
        50.0,
        SOIL,
        cables=(cable,),
        stations=(Station("F", far),),
        sources=(Source("s", "F", via=cable.name, **feed),),
    )


def sheath_currents(result) -> list[complex]:
    return [p.current_a for p in result.paths if p.kind == "sheath"]


def test_one_common_sheath_bonded_at_both_ends() -> None:
    cable = Cable("C", 3000.0, "F", Sheath(0.8e-3, 0.03))
    data = cable_impedances(cable, SOIL, 50.0)
    own, mutual = data.ground_ohm_per_m[0][0], data.mutual_ohm_per_m[0][0]
    # EN 50522, Annex I, definition: the mutual is the self impedance without the sheath's resistance.
    assert own - mutual == pytest.approx(0.8e-3, rel=1e-12)
    assert own.real - 0.8e-3 == pytest.approx(math.pi**2 * 50e-7, rel=0.01)  # Carson's first term
    depth = 658.5 * math.sqrt(100.0 / 50.0)
    assert own.imag == pytest.approx(2e-7 * 2 * math.pi * 50.0 * math.log(depth / 0.03), rel=0.01)
    result = solve_split(network_of(cable), 1e-9, AT_HOME)
    r = reduction_factor(mutual, own)
    assert result.split_complex == pytest.approx(r, rel=1e-6)  # earths of 1e-9 ohm against 2 ohm
    assert sheath_currents(result)[0] == pytest.approx(1 - r, rel=1e-6)


def test_three_sheaths_by_their_matrix() -> None:
    cable = Cable("C", 2000.0, "F", SCREEN, positions_m=FLAT)
    data = cable_impedances(cable, SOIL, 50.0)
    assert data.phase_names == ("core 1", "core 2", "core 3")
    # Spacing and radius only, by hand: earth term cancels in differences (common practice).
    factor = 2j * math.pi * 50.0 * 2e-7
    z = np.array(data.ground_ohm_per_m)
    assert z[0, 0] - z[0, 1] == pytest.approx(0.52e-3 + factor * math.log(0.2 / 0.032), rel=1e-9)
    assert z[0, 1] - z[0, 2] == pytest.approx(factor * math.log(2.0), rel=1e-9)
    assert data.phase_ohm_per_m[1][1] - z[1, 1] + 0.52e-3 - 0.06e-3 == pytest.approx(
        factor * math.log(0.032 / 0.008), rel=1e-9
    )
    result = solve_split(network_of(cable), 1e-9, AT_HOME)
    # default phase is the one farthest from the sheaths: an outer core
    shares = conductor_shares(data, 0)
    assert sheath_currents(result) == pytest.approx(list(shares), rel=1e-6) or sheath_currents(
        result
    ) == pytest.approx(list(shares)[::-1], rel=1e-6)
    assert abs(result.split_complex) == pytest.approx(abs(route_reduction_factor(data, 0)), rel=1e-6)


def test_cross_bonding_evens_the_sheaths_but_takes_the_same_sum() -> None:
    """Symmetry: in trefoil the sheaths' total does not depend on transposition; the single currents do."""
    solid = Cable("C", 1500.0, "F", SCREEN, positions_m=TREFOIL)
    crossed = Cable("C", 1500.0, "F", SCREEN, positions_m=TREFOIL, bonding="cross_bonded")
    a = sheath_currents(solve_split(network_of(solid), 0.3, AT_HOME))
    b = sheath_currents(solve_split(network_of(crossed), 0.3, AT_HOME))
    # 1e-5: the upper cable lies 7 cm higher, which the earth return feels a little.
    assert sum(a) == pytest.approx(sum(b), rel=1e-5)
    assert b == pytest.approx([sum(b) / 3] * 3, rel=1e-5)
    assert max(map(abs, a)) > 1.1 * max(map(abs, b))


def test_cross_bonding_in_flat_formation_by_mean_impedances() -> None:
    """Each path passes each position once, so mean self, mutual and core couplings describe it."""
    cable = Cable("C", 1500.0, "F", SCREEN, positions_m=FLAT, bonding="cross_bonded")
    data = cable_impedances(cable, SOIL, 50.0)
    z, m = np.array(data.ground_ohm_per_m), np.array(data.mutual_ohm_per_m)
    own, between = np.trace(z) / 3, (z.sum() - np.trace(z)) / 6
    result = solve_split(network_of(cable), 1e-9, AT_HOME)
    assert sum(sheath_currents(result)) == pytest.approx(3 * m[:, 0].mean() / (own + 2 * between), rel=1e-6)


def test_sheath_earthed_at_one_end_carries_nothing_and_shows_the_induced_voltage() -> None:
    for bonding, name in (("near_end", "C/far end of sheath 1"), ("far_end", "C/near end of sheath 1")):
        cable = Cable("C", 800.0, "F", Sheath(0.8e-3, 0.03), bonding=bonding)
        result = solve_split(network_of(cable, current=1000.0, far=0.5), 0.7, AT_HOME)
        assert result.split_factor == pytest.approx(1.0, rel=1e-12)
        assert max(map(abs, sheath_currents(result)), default=0.0) < 1e-9
        mutual = cable_impedances(cable, SOIL, 50.0).mutual_ohm_per_m[0][0] * 800.0
        # the current flows towards the station, so the induced voltage rises that way
        ends = {"near_end": 700.0 + 1000.0 * mutual, "far_end": -500.0 - 1000.0 * mutual}
        assert result.potentials_v[name] == pytest.approx(ends[bonding], rel=1e-9)


def test_continuity_conductor_carries_the_return() -> None:
    wire = Wire("earth wire", 0.1, -1.0, 0.15e-3, radius_m=0.007)
    cable = Cable("C", 800.0, "F", SCREEN, positions_m=FLAT, bonding="near_end", continuity=wire)
    data = cable_impedances(cable, SOIL, 50.0)
    result = solve_split(network_of(cable), 1e-9, AT_HOME)
    share = {p.kind: p.current_a for p in result.paths}["continuity conductor"]
    # alone in the loop: mutual to the outer, farthest core over its own impedance
    assert share == pytest.approx(data.mutual_ohm_per_m[3][0] / data.ground_ohm_per_m[3][3], rel=1e-6)
    bare = Cable("C", 800.0, "F", SCREEN, positions_m=FLAT, bonding="near_end")
    assert solve_split(network_of(bare), 1e-9, AT_HOME).split_factor > 2 * result.split_factor


def test_earthed_joints_are_a_ladder() -> None:
    """A cable with earthed joints and a line with the same impedances are the same circuit."""
    given = LineImpedances(((0.3e-3 + 0.6e-3j,),), ((0.05e-3 + 0.55e-3j,),))
    joints = tuple(Joint(d, 7.0) for d in (400.0, 900.0, 1600.0))
    cable = Cable("C", 2000.0, "F", given=given, joints=joints)
    line = OverheadLine("C", (400.0, 500.0, 700.0, 400.0), (7.0,) * 3, given=given, far_station="F")
    base = network_of(cable, far=0.4)
    as_line = SplitNetwork(50.0, SOIL, lines=(line,), stations=base.stations, sources=base.sources)
    a, b = solve_split(base, 0.6, AT_HOME), solve_split(as_line, 0.6, AT_HOME)
    assert a.mat_current_a == pytest.approx(b.mat_current_a, rel=1e-12)
    assert [a.earth_currents_a[f"C/joint {k}"] for k in (1, 2, 3)] == pytest.approx(
        [t.earth_current_a for t in b.towers], rel=1e-10
    )
    insulated = Cable("C", 2000.0, "F", given=given, joints=(Joint(900.0),))
    straight = Cable("C", 2000.0, "F", given=given)
    assert solve_split(network_of(insulated), 0.6, AT_HOME).split_complex == pytest.approx(
        solve_split(network_of(straight), 0.6, AT_HOME).split_complex, rel=1e-10
    )


# EN 50522, Annex I, typical values (from memory), which state neither spacing nor temperature: resistance of
# the copper screen at about 40 degC (common practice: 18.5 mohm mm2/m), and tolerances as wide as that.
def test_typical_reduction_factors_of_cables() -> None:
    high = Cable("110 kV", 5000.0, "F", Sheath(18.5e-3 / 35, 0.035), positions_m=FLAT)
    typical = typical_reduction_factors("110 kV XLPE")[0]
    assert typical.low == 0.32
    assert typical.evidence == "from memory"
    assert abs(route_reduction_factor(cable_impedances(high, SOIL, 50.0))) == pytest.approx(0.32, abs=0.06)
    medium = Cable("20 kV", 5000.0, "F", Sheath(18.5e-3 / 16, 0.014), positions_m=TREFOIL)
    typical = typical_reduction_factors("10 to 20 kV XLPE")[0]
    value = abs(route_reduction_factor(cable_impedances(medium, SOIL, 50.0)))
    assert typical.low - 0.06 < value < typical.high + 0.06


def test_voltage_behind_a_cable_has_its_loop_impedance() -> None:
    # One sheath without earths is a coaxial line (common practice): R_c + R_s + j f mu0 ln(r_s/gmr_c).
    sheath = Sheath(0.8e-3, 0.03, core_resistance_ohm_per_m=0.1e-3, core_gmr_m=0.01)
    cable = Cable("C", 1000.0, "F", sheath)
    network = network_of(cable, far=1e9, feed="voltage", voltage_v=1000.0, impedance_ohm=0.0, current_a=None)
    result = solve_split(network, 1e9, AT_HOME)
    loop = 0.9 + 1j * 50.0 * 4e-7 * math.pi * math.log(3.0) * 1e3
    assert result.fault_current_a == pytest.approx(1000.0 / loop, rel=1e-6)
    assert result.split_factor < 1e-6


def test_buried_and_overhead_conductors_do_not_mix() -> None:
    cable = Cable("C", 800.0, "F", SCREEN, positions_m=((0.0, 1.0),), path=("network", "cables", 0))
    touching = Wire("earth wire", 0.0, -1.0, 0.2e-3, radius_m=0.005)
    clash = Cable("C", 800.0, "F", SCREEN, continuity=touching, path=("network", "cables", 0))
    with pytest.raises(InputError, match="at the same place") as caught:
        cable_impedances(clash, SOIL, 50.0)
    assert caught.value.findings[0].field == "network.cables[0]"
    assert cable_impedances(cable, SOIL, 50.0).phase_names == ("cores",)
