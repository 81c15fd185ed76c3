"""How processor time and memory of a solve grow with the number of segments, each size in a fresh process.

Square mats of 10 m meshes in three layers, one segment to a mesh side. Processor time of all threads is
taken, so that other work on the machine counts little; memory is the growth of the resident set over
what the process held before the solve.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from evenground.electrode import rectangular_mat
from evenground.field import solve
from evenground.model.soil import LayeredSoil

Row = tuple[str, float, float, str]
LAYERS = LayeredSoil((300.0, 50.0, 1000.0), (2.0, 4.0))
MESHES = (50, 100, 219)
TARGET = 1.25


def mat_solve(meshes: int) -> int:
    """Solve a mat of so many meshes a side; returns the number of segments."""
    side = 10.0 * meshes
    mat = rectangular_mat(
        length_x_m=side, length_y_m=side, meshes_x=meshes, meshes_y=meshes, depth_m=0.8, radius_m=0.006
    )
    return solve(mat, LAYERS, segment_m=17.0, method="compressed").report.segments


def _resident(key: str) -> float:
    """A figure of the process's memory in bytes: VmRSS (now) or VmHWM (largest so far)."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith(key):
            return 1024.0 * float(line.split()[1])
    raise RuntimeError(f"/proc/self/status has no line {key}")


def measure(meshes: int) -> dict[str, float]:
    """Segments, seconds by the clock, processor seconds, and bytes of one solve in this process."""
    mat_solve(30)  # loads the compiled kernels
    before = _resident("VmRSS")
    wall, cpu = time.perf_counter(), time.process_time()
    segments = mat_solve(meshes)
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    return {"segments": segments, "wall_s": wall, "cpu_s": cpu, "bytes": _resident("VmHWM") - before}


def in_fresh_process(meshes: int) -> dict[str, float]:
    """:func:`measure` in a process of its own."""
    command = [sys.executable, "-m", "benchmarks._growth", str(meshes)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, cwd=Path(__file__).parents[1])
    found: dict[str, float] = json.loads(done.stdout)
    return found


def exponent(sizes: Sequence[float], values: Sequence[float]) -> float:
    """Slope of the straight line through the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def rows() -> Iterator[Row]:
    """Fitted exponents in the column of seconds, the largest one wanted beside them."""
    found = []
    for meshes in MESHES:
        runs = [in_fresh_process(meshes) for _ in range(2 if meshes < MESHES[-1] else 1)]
        found.append(min(runs, key=lambda r: r["cpu_s"]))
    sizes = [f["segments"] for f in found]
    detail = "; ".join(f"{f['segments']:.0f}: {f['wall_s']:.1f} s, {f['bytes'] / 1e9:.2f} GB" for f in found)
    for what, key in (("processor time", "cpu_s"), ("memory", "bytes")):
        name = f"{sizes[0]:.0f} to {sizes[-1]:.0f} segments: exponent of {what}"
        yield name, exponent(sizes, [f[key] for f in found]), TARGET, f"at most wanted ({detail})"


if __name__ == "__main__":
    print(json.dumps(measure(int(sys.argv[1]))))
