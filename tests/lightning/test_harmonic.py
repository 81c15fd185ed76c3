"""Harmonic impedance against limits, a transmission line, and a separately written hybrid solution.

The tabled impedances come from a code that shares nothing with this one (hybrid circuit and field method,
constant soil); they carry 2 % for the mesh. Power-frequency values of large mats: the same, 3 % for the
treatment of junctions.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenground.electrode import rectangular_mat
from evenground.errors import OutOfRangeError, TooLargeError
from evenground.lightning import _net
from evenground.lightning._net import Net
from evenground.lightning._soil_over_frequency import internal_impedance, soil_admittivity
from evenground.model.electrode import Conductor, Electrode
from evenground.model.lightning import FrequencySoil, WireMetal
from evenground.model.metalwork import Metalwork

FREQUENCIES = (1e4, 1e5, 3e5, 1e6, 3e6)
A_116 = math.sqrt(116e-6 / math.pi)


def rod(length: float) -> Conductor:
    return Conductor((0, 0, 0), (0, 0, length), 0.0125)


def wire(length: float, depth: float, radius: float) -> Conductor:
    return Conductor((0, 0, depth), (length, 0, depth), radius)


TABLE = [
    ("rod 3 m", rod(3), 100, 10, 30.86, "30.55-0.25j 29.89-0.40j 29.24+0.03j 28.43+2.44j 29.79+9.90j"),
    ("rod 3 m", rod(3), 1000, 10, 308.6, "307.6-2.7j 304.4-19.8j 294.0-53.7j 222.3-130.9j 65.7-115.5j"),
    ("rod 30 m", rod(30), 100, 10, 4.32, "4.10+0.69j 6.90+5.67j 11.74+8.81j 19.76+13.74j 32.2+18.7j"),
    ("rod 30 m", rod(30), 1000, 10, 43.2, "42.18-0.19j 40.79+4.58j 42.92+16.4j 78.6+39.3j 105.8+4.4j"),
    ("15 m", wire(15, 0.6, A_116), 70, 15, 7.22, "6.98+0.20j 7.31+3.34j 10.72+7.97j 18.86+12.1j 29.7+16.0j"),
    ("60 m", wire(60, 0.5, 0.007), 100, 10, 3.31, "3.40+1.66j 8.90+6.58j 14.0+9.99j 23.0+15.3j 36.2+21.1j"),
    ("60 m", wire(60, 0.5, 0.007), 1000, 10, 33.1, "32.2+0.97j 33.9+15.0j 52.2+36.0j 95.4+31.8j 113.5-0.05j"),
]


@pytest.mark.parametrize(("name", "conductor", "rho", "eps", "static", "table"), TABLE)
def test_table(name: str, conductor: Conductor, rho: float, eps: float, static: float, table: str) -> None:
    length = 0.25 if conductor.length_m < 5 else 0.4
    metal = Metalwork.from_conductors([conductor], longest_m=length)
    net = Net(metal, FrequencySoil(rho, eps, "none"), WireMetal())
    assert net.static_leakage()[0] == pytest.approx(static, rel=0.01)
    node, _ = metal.nearest_node(conductor.start_m)
    for frequency, expected in zip(FREQUENCIES, map(complex, table.split()), strict=True):
        value = net.solve(frequency, node).node_v[node]
        # the table's mesh of the long wires is coarse at 3 MHz
        share = 0.04 if frequency > 1e6 else 0.02
        assert abs(value - expected) < share * abs(expected), (name, frequency, value)


def test_transmission_line() -> None:
    """Sunde's line: sqrt(z/y) coth(gamma l), z = j w mu0 A/2pi, y = pi/A (1/rho + j w eps), to 100 kHz."""
    length, depth, radius, rho = 60.0, 0.5, 0.007, 1000.0
    conductor = wire(length, depth, radius)
    metal = Metalwork.from_conductors([conductor], longest_m=1.5)
    net = Net(metal, FrequencySoil(rho, 10, "none"), WireMetal())
    node, _ = metal.nearest_node(conductor.start_m)
    a = math.log(2 * length / math.sqrt(2 * radius * depth)) - 1
    for frequency in (1e3, 1e4, 1e5):
        w = 2 * math.pi * frequency
        z = 1j * w * 4e-7 * math.pi * a / (2 * math.pi)
        y = math.pi / a * (1 / rho + 1j * w * 10 * 8.854e-12)
        line = np.sqrt(z / y) / np.tanh(np.sqrt(z * y) * length)
        assert abs(net.solve(frequency, node).node_v[node]) == pytest.approx(abs(line), rel=0.04)


def test_low_frequency_meets_the_resistance() -> None:
    mat = rectangular_mat(length_x_m=20, length_y_m=20, meshes_x=2, meshes_y=2, depth_m=0.5, radius_m=0.007)
    metal = Metalwork.from_conductors(mat.conductors, longest_m=2.5)
    net = Net(metal, FrequencySoil(1000, 10, "none"), WireMetal())
    resistance, share = net.static_leakage()
    assert share.sum() == pytest.approx(1.0, rel=1e-12)
    answer = net.solve(1.0, 0, propagation=False)
    assert answer.node_v[0].real == pytest.approx(resistance, rel=1e-3)  # the metal's own drop
    assert answer.leakage_a.sum() == pytest.approx(1.0, rel=1e-9)  # no current is lost


def test_reciprocity() -> None:
    mat = rectangular_mat(length_x_m=20, length_y_m=10, meshes_x=2, meshes_y=1, depth_m=0.5, radius_m=0.007)
    metal = Metalwork.from_conductors(mat.conductors, longest_m=2.5)
    net = Net(metal, FrequencySoil(300), WireMetal())
    a, b = metal.nearest_node((0, 0, 0.5))[0], metal.nearest_node((20, 10, 0.5))[0]
    assert net.solve(4e5, a).node_v[b] == pytest.approx(net.solve(4e5, b).node_v[a], rel=1e-9)


@pytest.mark.parametrize(
    ("rho", "radius", "metal", "corner", "far_over_near"),
    [
        (20, 0.0062, WireMetal(), 0.0950 + 0.0112j, 0.966),
        (100, 0.0062, WireMetal(), 0.4660 + 0.0112j, 0.995),
        (20, 0.008, WireMetal(1.4e-7, 200), 0.1150 + 0.0289j, 0.745),
    ],
)
def test_power_frequency_drop_over_a_mat(
    rho: float, radius: float, metal: WireMetal, corner: complex, far_over_near: float
) -> None:
    mat = rectangular_mat(
        length_x_m=100, length_y_m=100, meshes_x=10, meshes_y=10, depth_m=0.8, radius_m=radius
    )
    work = Metalwork.from_conductors(mat.conductors)
    net = Net(work, FrequencySoil(rho, 10, "none"), metal)
    node, far = work.nearest_node((0, 0, 0.8))[0], work.nearest_node((100, 100, 0.8))[0]
    answer = net.solve(50.0, node, propagation=False).node_v
    assert abs(answer[node] - corner) < 0.03 * abs(corner)
    assert abs(answer[far]) / abs(answer[node]) == pytest.approx(far_over_near, rel=0.03)


def test_internal_impedance_limits() -> None:
    radius = np.array([0.006])
    slow = internal_impedance(radius, 0.01, 1.78e-8, 1.0)[0]
    assert slow.real == pytest.approx(1.78e-8 / (math.pi * 0.006**2), rel=1e-4)  # direct current
    fast = internal_impedance(radius, 1e6, 1.78e-8, 1.0)[0]
    depth = math.sqrt(1.78e-8 / (math.pi * 1e6 * 4e-7 * math.pi))
    skin = 1.78e-8 / (2 * math.pi * 0.006 * depth)
    assert fast.real == pytest.approx(skin, rel=0.01)  # current in a skin: depth/2a of 0.6 % is left out
    assert fast.imag == pytest.approx(fast.real, rel=0.02)


def test_dispersion_words() -> None:
    with pytest.raises(OutOfRangeError, match="must be one of none, cigre 781"):
        soil_admittivity(FrequencySoil(100, dispersion="other"), 1e5)
    lossy = [
        soil_admittivity(FrequencySoil(1000, dispersion=d), 1e6).real
        for d in (
            "alipio-visacro mean",
            "alipio-visacro relatively conservative",
            "alipio-visacro conservative",
        )
    ]
    assert lossy == sorted(lossy, reverse=True)  # the conservative set changes the soil least


def test_too_many_segments_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_net, "LARGEST_SEGMENTS", 5)
    metal = Metalwork.from_conductors(Electrode([rod(10)]).conductors, longest_m=1.0)
    with pytest.raises(TooLargeError, match="at most 5"):
        Net(metal, FrequencySoil(100), WireMetal())
