"""Current split by one dense nodal matrix, as one would write it by hand with NumPy.

One earth wire for each line, currents imposed, equal spans: the fault current in the phase induces a voltage
in each span it passes, which is turned into a pair of injected currents.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class DenseLine:
    """Impedances of one span, footing, far earth. [ohm]"""

    spans: int
    span_ohm: complex
    mutual_ohm: complex
    tower_ohm: float
    far_ohm: float


def nodal_matrix(lines: list[DenseLine], mat_ohm: float) -> tuple[ComplexArray, list[list[int]]]:
    """Admittances between the station (node 0), towers and far earths; nodes along each line."""
    count = 1 + sum(line.spans for line in lines)
    y = np.zeros((count, count), dtype=np.complex128)
    y[0, 0] = 1.0 / mat_ohm
    nodes, free = [], 1
    for line in lines:
        way = [0, *range(free, free + line.spans)]
        free += line.spans
        for a, b in itertools.pairwise(way):
            y[a, a] += 1.0 / line.span_ohm
            y[b, b] += 1.0 / line.span_ohm
            y[a, b] -= 1.0 / line.span_ohm
            y[b, a] -= 1.0 / line.span_ohm
        for k in way[1:-1]:
            y[k, k] += 1.0 / line.tower_ohm
        y[way[-1], way[-1]] += 1.0 / line.far_ohm
        nodes.append(way)
    return y, nodes


def injections(
    lines: list[DenseLine],
    nodes: list[list[int]],
    place: tuple[int, int],
    far_a: dict[int, complex],
    local_a: complex,
) -> ComplexArray:
    """Right side for a fault at (line, tower), tower 0 being the station, with imposed source currents."""
    faulted, tower = place
    rhs = np.zeros(1 + sum(line.spans for line in lines), dtype=np.complex128)

    def run(line: int, first: int, last: int, current: complex) -> None:
        """A current along the phase from node ``first`` to ``last`` of a line, and what it induces."""
        step = 1 if last > first else -1
        push = lines[line].mutual_ohm / lines[line].span_ohm * current
        for k in range(first, last, step):
            # the wire beside carries -push in the sense of the phase current
            rhs[nodes[line][k]] += push
            rhs[nodes[line][k + step]] -= push

    for line, current in far_a.items():
        end = lines[line].spans
        rhs[nodes[line][end]] -= current
        if line == faulted:
            run(line, end, tower, current)
        else:
            run(line, end, 0, current)
            run(faulted, 0, tower, current)
        rhs[nodes[faulted][tower]] += current
    rhs[0] -= local_a
    run(faulted, 0, tower, local_a)
    rhs[nodes[faulted][tower]] += local_a
    return rhs
