"""Current split of six lines of a hundred spans, faults at every tower, against dense nodal matrices."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np

from benchmarks._dense_network import DenseLine, injections, nodal_matrix
from evenground.model.soil import LayeredSoil
from evenground.model.split import HOME, FaultPlace, Source, SplitNetwork, Station, Wire, uniform_line
from evenground.split import line_impedances, prepare_split

LINES, SPANS, SPAN_M = 6, 100, 300.0
TOWER_OHM, FAR_OHM, MAT_OHM = 15.0, 0.3, 0.6
FAR_A, LOCAL_A = 1500.0 - 600.0j, 1200.0 - 900.0j


def network() -> SplitNetwork:
    """Six equal lines, two of them with a source, and a local transformer."""
    shield = Wire("shield", 0.0, 28.0, 0.24e-3, gmr_m=0.007)
    phase = (Wire("a", -5.0, 20.0, 0.1e-3, gmr_m=0.011),)
    lines = tuple(
        uniform_line(
            f"line {k}",
            spans=SPANS,
            span_length_m=SPAN_M,
            tower_resistance_ohm=TOWER_OHM,
            ground_wires=(shield,),
            phases=phase,
            far_station=f"far {k}",
        )
        for k in range(LINES)
    )
    far = tuple(Source(f"source {k}", f"far {k}", via=f"line {k}", current_a=FAR_A) for k in range(2))
    return SplitNetwork(
        50.0,
        LayeredSoil((300.0,), ()),
        lines=lines,
        stations=tuple(Station(f"far {k}", FAR_OHM) for k in range(LINES)),
        sources=(*far, Source("T1", HOME, current_a=LOCAL_A)),
    )


def places() -> list[tuple[int, int]]:
    """The station and every tower, as line and number."""
    return [(0, 0)] + [(line, k) for line in range(LINES) for k in range(1, SPANS)]


def named(place: tuple[int, int]) -> FaultPlace:
    """The same place for the program."""
    line, tower = place
    return FaultPlace(f"{line}/{tower}", f"line {line}", tower) if tower else FaultPlace("station")


def dense_lines(net: SplitNetwork) -> list[DenseLine]:
    """The lines for the baseline, with the program's impedances per metre."""
    rows = []
    for line in net.lines:
        data = line_impedances(line, net.soil, net.frequency_hz)
        own, mutual = data.ground_ohm_per_m[0][0] * SPAN_M, data.mutual_ohm_per_m[0][0] * SPAN_M
        rows.append(DenseLine(SPANS, own, mutual, TOWER_OHM, FAR_OHM))
    return rows


def surveyed(net: SplitNetwork) -> list[complex]:
    """Potential rise for every place, by the program."""
    return [row.gpr_v for row in prepare_split(net, MAT_OHM).survey(map(named, places()))]


def dense(net: SplitNetwork, *, together: bool) -> list[complex]:
    """The same by dense matrices: one solution for each place, or one for all right sides."""
    lines = dense_lines(net)
    y, nodes = nodal_matrix(lines, MAT_OHM)
    far = {0: FAR_A, 1: FAR_A}
    sides = [injections(lines, nodes, place, far, LOCAL_A) for place in places()]
    if together:
        return [complex(v) for v in np.linalg.solve(y, np.column_stack(sides))[0]]
    return [complex(np.linalg.solve(y, side)[0]) for side in sides]


def timed(work: Callable[[], list[complex]]) -> tuple[float, list[complex]]:
    """Seconds and answer of one run."""
    begin = time.perf_counter()
    answer = work()
    return time.perf_counter() - begin, answer


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    net = network()
    prepare_split(net, MAT_OHM)  # wire impedances are kept by the program and are not the subject
    own = min((timed(lambda: surveyed(net)) for _ in range(3)), key=lambda pair: pair[0])
    each = timed(lambda: dense(net, together=False))
    once = min((timed(lambda: dense(net, together=True)) for _ in range(3)), key=lambda pair: pair[0])
    for _, answer in (each, once):
        if not np.allclose(answer, own[1], rtol=1e-7):
            raise AssertionError("the baseline comes to another answer")
    name = f"split, {LINES} lines x {SPANS} spans, {len(own[1])} places"
    yield name, own[0], each[0], "NumPy, dense, one solution a place"
    yield name, own[0], once[0], "NumPy, dense, all right sides at once"
