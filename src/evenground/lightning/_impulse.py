"""Impulse response of an electrode: solve over frequency, transform to time, read the figures off."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, InputError
from evenground.lightning._net import Net
from evenground.lightning._published import published_sizes
from evenground.lightning._soil_over_frequency import MU0, soil_admittivity
from evenground.lightning._time import TimeGrid, respond, time_grid
from evenground.lightning._waves import front_time_us, scales
from evenground.model.lightning import CurrentWave, FrequencySoil, ImpulseRequest, ImpulseResult
from evenground.model.metalwork import Metalwork

__all__ = ["impulse_response", "segment_length_m"]

Complexes = NDArray[np.complex128]
Floats = NDArray[np.float64]

_SHORTEST_M, _LONGEST_M = 0.2, 10.0


def segment_length_m(soil: FrequencySoil, wave: CurrentWave) -> float:
    """Segment short enough for the front of a wave: 0.7 over the propagation constant at 0.5/front. [m]"""
    frequency = 0.5 / scales(wave)[0]
    kappa = soil_admittivity(soil, frequency)
    gamma = abs(complex(np.sqrt(2j * math.pi * frequency * MU0 * kappa)))
    return min(max(0.7 / gamma, _SHORTEST_M), _LONGEST_M)


def impulse_response(request: ImpulseRequest) -> ImpulseResult:
    """Voltage of an electrode, and at other places, while a current shape is driven into it.

    Uniform soil and a linear response; with ``ionisation_v_per_m`` the leakage radius of every segment grows
    until the field at its surface falls to the critical gradient at the largest leakage.

    Raises
    ------
    InputError
        When the place of injection is not on the metal, or the metal is not all bonded.
    TooLargeError
        When the net would need too many segments.
    OutOfRangeError
        For an unknown dispersion model.
    """
    length = request.segment_m or segment_length_m(request.soil, request.wave)
    metal = Metalwork.from_conductors(
        request.electrode.conductors,
        longest_m=length,
        cut_at_m=[request.injection_m, *(p for _, p in request.watch_m)],
        snap_m=request.snap_m,
    )
    node = _injection(metal, request)
    net = Net(metal, request.soil, request.metal)
    grid = time_grid(request.wave, request.per_decade)
    radius: Floats | None = None
    notes = list(_notes(request, grid))
    gradient = 0.0
    for turn in range(6):
        solved = _solve_all(net, request, grid, node, radius)
        leakage = _peak_leakage(solved[2], net, request, radius)
        if turn == 0:
            gradient = float(np.max(_gradient(request.soil, leakage, metal.radius_m)))
        if request.ionisation_v_per_m is None:
            break
        even = _smoothed(metal, leakage)
        wanted = request.soil.resistivity_ohm_m * even / (2.0 * math.pi * request.ionisation_v_per_m)
        grown = np.clip(wanted, metal.radius_m, np.maximum(0.5 * metal.length_m, metal.radius_m))
        change = np.max(np.abs(grown / (metal.radius_m if radius is None else radius) - 1.0))
        radius = grown
        if change < 0.02:
            break
    else:
        notes.append("ionised radii had not settled within 2 % after six rounds")
    if radius is not None and np.any(radius >= 0.5 * metal.length_m):
        notes.append(
            "ionisation counted only up to half a segment in radius: the voltage is on the high side"
        )
    return _result(request, grid, net, solved, leakage, gradient, radius, tuple(notes))


def _injection(metal: Metalwork, request: ImpulseRequest) -> int:
    node, gap = metal.nearest_node(request.injection_m)
    findings = []
    if gap > request.snap_m:
        findings.append(
            Finding(
                "impulse-off-metal",
                f"injection_m {request.injection_m}: the nearest node of the metal is {gap:.2f} m away",
                "inject on a conductor, or add the riser that leads there",
            )
        )
    labels = metal.pieces_of_bonded_net()
    if labels.max() > 0:
        findings.append(
            Finding(
                "impulse-not-bonded",
                f"the electrode has {labels.max() + 1} parts that do not touch",
                "pass only the metal that is bonded to the place of injection",
            )
        )
    if findings:
        raise InputError(findings)
    return node


def _solve_all(
    net: Net, request: ImpulseRequest, grid: TimeGrid, node: int, radius: Floats | None
) -> tuple[Complexes, Complexes, Complexes]:
    """Potentials of all nodes, of the watched points, and leakages, each (frequencies, ...)."""
    points = np.array([p for _, p in request.watch_m], dtype=np.float64).reshape(-1, 3)
    node_v, watch_v, leakage = [], [], []
    for frequency in grid.frequencies_hz:
        answer = net.solve(float(frequency), node, leakage_radius_m=radius, propagation=request.propagation)
        row = net.point_coefficients(points, float(frequency)) @ answer.leakage_a
        for index, point in enumerate(points):
            near, gap = net.metal.nearest_node((point[0], point[1], point[2]))
            if gap <= request.snap_m:
                row[index] = answer.node_v[near]
        node_v.append(answer.node_v[node])
        watch_v.append(row)
        leakage.append(answer.leakage_a)
    return np.array(node_v), np.array(watch_v), np.array(leakage)


def _peak_leakage(leakage: Complexes, net: Net, request: ImpulseRequest, radius: Floats | None) -> Floats:
    """Largest leakage of every segment in time. [A/m]"""
    coarse = time_grid(request.wave, request.per_decade, coarser=8)
    share = net.static_leakage(radius)[1]
    peaks = [
        np.max(np.abs(respond(coarse, leakage[:, k : k + 32], share[k : k + 32])), axis=0)
        for k in range(0, leakage.shape[1], 32)
    ]
    result: Floats = np.concatenate(peaks) / net.metal.length_m
    return result


def _smoothed(metal: Metalwork, leakage: Floats) -> Floats:
    """Leakage averaged over each segment and those it touches; single ends would run away. [A/m]"""
    count = len(metal.nodes_m)
    current = np.zeros(count)
    length = np.zeros(count)
    for ends in (metal.start, metal.end):
        current += np.bincount(ends, leakage * metal.length_m, count)
        length += np.bincount(ends, metal.length_m, count)
    own = leakage * metal.length_m
    total = current[metal.start] + current[metal.end] - own
    whole = length[metal.start] + length[metal.end] - metal.length_m
    result: Floats = total / whole
    return result


def _gradient(soil: FrequencySoil, leakage: Floats, radius: Floats) -> Floats:
    result: Floats = soil.resistivity_ohm_m * leakage / (2.0 * math.pi * radius)
    return result


def _notes(request: ImpulseRequest, grid: TimeGrid) -> tuple[str, ...]:
    notes = ["uniform soil; the surface is flat; conductors above ground are not part of the net"]
    if request.ionisation_v_per_m is None:
        notes.append("no soil ionisation: voltages are on the high side near the place of injection")
    else:
        notes.append("ionisation at the largest leakage, as if it stood still; axial impedance unchanged")
    if request.soil.dispersion != "none" and grid.frequencies_hz[-1] > 4e6:
        notes.append("soil dispersion is used above 4 MHz, the limit of its measurements")
    if not request.propagation:
        notes.append("without delay and loss in the soil: for low frequencies only")
    return tuple(notes)


def _result(
    request: ImpulseRequest,
    grid: TimeGrid,
    net: Net,
    solved: tuple[Complexes, Complexes, Complexes],
    leakage: Floats,
    gradient: float,
    radius: Floats | None,
    notes: tuple[str, ...],
) -> ImpulseResult:
    node_v, watch, _ = solved
    resistance = net.static_leakage()[0]
    static = net.static_leakage(radius)[0]
    voltage = respond(grid, node_v, static)
    shown = grid.shown
    current = grid.current_a[shown]
    watch_v: dict[str, Floats] = {}
    for index, (name, point) in enumerate(request.watch_m):
        low = float(watch[0, index].real)  # the lowest frequency solved stands for zero
        gap = net.metal.nearest_node(point)[1]
        low = static if gap <= request.snap_m else low
        watch_v[name] = respond(grid, watch[:, index], low)[shown]
    voltage = voltage[shown]
    peak_v, peak_i = float(np.max(np.abs(voltage))), float(np.max(np.abs(current)))
    return ImpulseResult(
        resistance_ohm=resistance,
        impulse_impedance_ohm=peak_v / peak_i,
        impulse_coefficient=peak_v / peak_i / resistance,
        peak_current_a=peak_i,
        peak_voltage_v=peak_v,
        front_time_us=front_time_us(grid.times_s[shown], current),
        peak_time_us=float(grid.times_s[int(np.argmax(np.abs(current)))]) * 1e6,
        times_s=grid.times_s[shown],
        current_a=current,
        voltage_v=voltage,
        watch_v=watch_v,
        watch_peak_v={k: float(np.max(np.abs(v))) for k, v in watch_v.items()},
        watch_difference_v={k: float(np.max(np.abs(voltage - v))) for k, v in watch_v.items()},
        frequencies_hz=grid.frequencies_hz,
        impedance_ohm=node_v,
        peak_leakage_a_per_m=leakage,
        peak_gradient_v_per_m=gradient,
        ionised_radius_m=radius,
        charge_c=float(np.sum(current) * grid.step_s),
        action_a2s=float(np.sum(current**2) * grid.step_s),
        segments=len(net.metal.start),
        published=published_sizes(
            request.soil.resistivity_ohm_m,
            float(grid.times_s[int(np.argmax(np.abs(current)))]) * 1e6,
        ),
        notes=notes,
    )
