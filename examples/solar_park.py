"""Linnet Moor, an invented solar park: earth fault at its substation, with metal that is not equipotential.

Rows of driven steel piles, each row bonded by a bare copper conductor in its trench, cross conductors and a
ring of galvanised steel, a mat at the substation, and insulated copper earth wires in the cable trenches from
the mat to the middle of the blocks. Soil of three layers. Run it::

    python examples/solar_park.py            # 20 000 piles, 69 km of bare conductor: a few minutes, 2 GB
    python examples/solar_park.py --small    # one block of it, seconds

Writes ``metal-potential.png`` and ``touch-along-a-row.png`` into ``examples/solar-park`` (or ``--out``).
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenground._caution import CAUTION
from evenground.electrode import rectangular_mat
from evenground.field import Injection, Metal, NetworkSolution, solve, solve_network
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

FloatArray = NDArray[np.float64]

SOIL = LayeredSoil((180.0, 70.0, 400.0), (2.5, 9.0))
FAULT_A = 5000.0
FREQUENCY_HZ = 50.0
TRENCH_M = 0.6
PILE_M, PILE_RADIUS_M = 2.0, 0.04
PITCH_M, PILE_STEP_M = 12.0, 3.0
CROSS_M = 120.0
COPPER, STEEL = Metal(1.78e-8), Metal(1.6e-7, 200.0)
METALS = {
    "row": COPPER,
    "mat": COPPER,
    "cross": STEEL,
    "pile": STEEL,
    "earth wire": Metal(1.78e-8, insulated=True),
}


@dataclass(frozen=True)
class Park:
    """The electrode and the places that matter."""

    electrode: Electrode
    piles_m: FloatArray
    feed_m: tuple[float, float, float]
    rows_m: FloatArray


def line(a: tuple[float, float], b: tuple[float, float], depth: float, radius: float, kind: str) -> Conductor:
    """A horizontal conductor."""
    return Conductor((*a, depth), (*b, depth), radius, kind=kind)


def build(width: float, rows: int) -> Park:
    """Rows run east to west; the substation lies at the south-west corner. [m]"""
    y = PITCH_M * np.arange(rows)
    north = float(y[-1])
    row_radius, steel_radius = 0.004, 0.005
    parts = [line((0, v), (width, v), TRENCH_M, row_radius, "row") for v in y.tolist()]
    crosses = np.arange(0.0, width + 1.0, CROSS_M).tolist()
    parts += [line((x, 0), (x, north), TRENCH_M, steel_radius, "cross") for x in crosses]
    x, v = np.meshgrid(np.arange(1.5, width, PILE_STEP_M), y)
    piles = np.column_stack([x.ravel(), v.ravel()])
    parts += [Conductor((a, b, 0.0), (a, b, PILE_M), PILE_RADIUS_M, kind="pile") for a, b in piles.tolist()]
    mat = rectangular_mat(
        length_x_m=40, length_y_m=30, meshes_x=5, meshes_y=4, depth_m=TRENCH_M, radius_m=0.006
    ).translated(-50.0, 0.0)
    parts.append(line((-10, 0), (0, 0), TRENCH_M, row_radius, "row"))
    parts += earth_wires(width, north, crosses)
    feed = (-26.0, 15.0, TRENCH_M)
    return Park(mat + Electrode(parts), piles, feed, y)


def earth_wires(width: float, north: float, crosses: list[float]) -> list[Conductor]:
    """Insulated wires from the mat's corner along the southern edge, up to the middle of every block."""
    depth, radius, south = 0.9, 0.0055, -3.0
    found = [Conductor((-10, 0, TRENCH_M), (-10, 0, depth), radius, kind="earth wire")]
    ends = [x + 2.0 for x in crosses[1:-1:2]]
    middle = PITCH_M * round(0.5 * north / PITCH_M)
    bus = [(-10.0, 0.0), (-10.0, south), *((x, south) for x in ends)]
    found += [line(a, b, depth, radius, "earth wire") for a, b in pairwise(bus)]
    for x in ends:
        found.append(line((x, south), (x, middle), depth, radius, "earth wire"))
        found.append(Conductor((x, middle, depth), (x, middle, TRENCH_M), radius, kind="earth wire"))
    return found


def metal_at_piles(solution: NetworkSolution, piles: FloatArray) -> NDArray[np.complex128]:
    """Potential of each pile at the surface."""
    from scipy.spatial import cKDTree

    tree = cKDTree(solution.nodes_m)
    gap, node = tree.query(np.column_stack([piles, np.zeros(len(piles))]))
    assert gap.max() < 1e-6
    return np.asarray(solution.node_potential_v[node])


def touch_at_piles(solution: NetworkSolution, piles: FloatArray) -> FloatArray:
    """Metal against the surface one metre south of every pile."""
    soil = solution.potential_v(np.column_stack([piles - [0.0, 1.0], np.zeros(len(piles))]))
    return np.abs(metal_at_piles(solution, piles) - soil)


def touch_along_row(solution: NetworkSolution, park: Park, row: int) -> tuple[FloatArray, FloatArray]:
    """Row metal against the surface one metre south of it, every half metre."""
    y = park.rows_m[row]
    own = park.piles_m[park.piles_m[:, 1] == y]
    x = np.arange(own[0, 0], own[-1, 0] + 0.01, 0.5)
    metal = metal_at_piles(solution, own)
    at_x = np.interp(x, own[:, 0], metal.real) + 1j * np.interp(x, own[:, 0], metal.imag)
    soil = solution.potential_v(np.column_stack([x, np.full(len(x), y - 1.0), np.zeros(len(x))]))
    return x, np.abs(at_x - soil)


def draw(
    solution: NetworkSolution, park: Park, x: FloatArray, touch: FloatArray, row: int, out: Path
) -> None:
    """Plan of the metal's potential, and the touch voltage along the worst row."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib.collections import LineCollection
    from matplotlib.figure import Figure

    flat = np.abs(solution.segments.vector[2]) < 1e-9
    v = np.abs(solution.node_potential_v[solution.ends]).mean(axis=0)[flat]
    ends = np.stack([solution.segments.start[:2, flat].T, solution.segments.end[:2, flat].T], axis=1)
    figure = Figure(figsize=(10, 7.5), layout="constrained")
    axes = figure.add_subplot()
    lines = LineCollection(list(ends), array=v, cmap="viridis", linewidths=1.2)
    axes.add_collection(lines)
    axes.plot(*park.feed_m[:2], "^", color="crimson", ms=10, label=f"fault, {FAULT_A:g} A")
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.set(xlabel="x in m", ylabel="y in m", title="Linnet Moor (invented): potential of the metal")
    axes.legend(loc="upper right")
    figure.colorbar(lines, label="magnitude against far earth in V", shrink=0.8)
    figure.savefig(out / "metal-potential.png", dpi=110)
    figure = Figure(figsize=(10, 4), layout="constrained")
    axes = figure.add_subplot()
    axes.plot(x, touch, lw=1.0)
    axes.set(
        xlabel="x in m",
        ylabel="touch voltage in V",
        title=f"Row at y = {park.rows_m[row]:g} m: metal against the surface 1 m south of it",
    )
    axes.grid(alpha=0.3)
    axes.set_ylim(bottom=0.0)
    figure.savefig(out / "touch-along-a-row.png", dpi=110)


def show(text: str, fraction: float) -> None:
    """Progress on standard error."""
    sys.stderr.write(f"\r{fraction:5.0%} {text:40}")
    sys.stderr.flush()


def main(arguments: list[str] | None = None) -> NetworkSolution:
    """Build, solve, print, draw."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--small", action="store_true", help="one block only, for a quick look")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent / "solar-park")
    chosen = parser.parse_args(arguments)
    chosen.out.mkdir(parents=True, exist_ok=True)
    park = build(240.0, 6) if chosen.small else build(960.0, 64)
    bare = park.electrode.of_kind("row", "mat", "cross")
    length = bare.total_length_m / 1000.0
    print(f"Linnet Moor, an invented site: {len(park.piles_m)} piles, {length:.1f} km of bare conductor")
    begin = time.perf_counter()
    solution = solve_network(
        park.electrode,
        SOIL,
        METALS,
        [Injection(park.feed_m, FAULT_A)],
        frequency_hz=FREQUENCY_HZ,
        segment_m=6.0,
        progress=show,
    )
    spent = time.perf_counter() - begin
    sys.stderr.write("\r" + " " * 50 + "\r")
    report_solver(solution, spent)
    report_voltages(solution, park, chosen.out)
    bonded = solve(Electrode(c for c in park.electrode if c.kind != "earth wire"), SOIL, segment_m=6.0)
    print(f"  same metal at one potential    {bonded.resistance_ohm:.4f} ohm")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"  time, memory                   {spent:.0f} s for the solve, {peak / 1e9:.2f} GB at the peak")
    print(CAUTION)
    return solution


def report_solver(solution: NetworkSolution, spent: float) -> None:
    """How the solution came about."""
    r = solution.report
    print(f"  method                         {r.method}")
    print(f"  segments, iterations           {r.segments}, {r.iterations}")
    print(f"  residual, energy, joints       {r.residual:.0e}, {r.energy_balance:.0e}, {r.node_balance:.0e}")
    for note in r.notes:
        print(f"  note                           {note}")


def report_voltages(solution: NetworkSolution, park: Park, out: Path) -> None:
    """Impedance, voltage drop, touch."""
    z, v = solution.impedance_ohm, np.abs(solution.node_potential_v)
    print(f"  impedance at the substation    {z.real:.4f} + j{z.imag:.4f} ohm, magnitude {abs(z):.4f}")
    print(f"  metal, highest and lowest      {v.max():.0f} V, {v.min():.0f} V against far earth")
    print(f"  greatest drop across the metal {solution.greatest_difference_v:.0f} V")
    touch = touch_at_piles(solution, park.piles_m)
    worst = int(np.argmax(touch))
    x, y = park.piles_m[worst]
    print(f"  highest touch voltage at piles {touch[worst]:.0f} V, 1 m south of ({x:g}, {y:g})")
    row = int(np.argmin(np.abs(park.rows_m - y)))
    along, values = touch_along_row(solution, park, row)
    print(f"  along that row of tables       {values.max():.0f} V at x = {along[np.argmax(values)]:g} m")
    print("  (touch voltages are computed, not judged: no limit was applied)")
    draw(solution, park, along, values, row, out)


if __name__ == "__main__":
    main()
