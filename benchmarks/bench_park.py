"""Metal that is not equipotential at the size of a solar park, against the dense network solution.

The parks are those of ``examples/solar_park.py`` with fewer or more rows. Each solve runs in a process of
its own, so that its peak memory is its own; kernels are loaded before the clock starts. The dense solution
runs at the smallest size; at the larger ones its time is scaled from there with the cube of the segments
(stated as such), for it would need more memory than most machines have.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

ON_REQUEST = True

Row = tuple[str, float, float, str]
ROOT = Path(__file__).resolve().parents[1]
SIZES = ((240.0, 8), (480.0, 32), (960.0, 64))
"""Width in metres and number of rows, 12 m apart."""


def run_here(width_m: float, rows: int, method: str) -> None:
    """Solve one park and print its figures as JSON."""
    sys.path.insert(0, str(ROOT / "examples"))
    import solar_park

    from evenground.field import Injection, solve_network, warm_up

    warm_up(large=method == "compressed")
    park = solar_park.build(width_m, rows)
    begin = time.perf_counter()
    found = solve_network(
        park.electrode,
        solar_park.SOIL,
        solar_park.METALS,
        [Injection(park.feed_m, 1.0)],
        segment_m=6.0,
        method=method,
    )
    figures = {
        "seconds": time.perf_counter() - begin,
        "segments": found.report.segments,
        "iterations": found.report.iterations,
        "estimate": found.report.memory_bytes,
        "peak": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024,
        "impedance": [found.impedance_ohm.real, found.impedance_ohm.imag],
    }
    print(json.dumps(figures))


def run(width_m: float, rows: int, method: str) -> dict[str, float]:
    """The same in a process of its own."""
    command = [sys.executable, "-m", "benchmarks.bench_park", str(width_m), str(rows), method]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    figures: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return figures


def rows() -> Iterator[Row]:
    """Name, seconds, baseline seconds, baseline."""
    dense = run(*SIZES[0], "dense")
    for width, count in SIZES:
        found = run(width, count, "compressed")
        n = int(found["segments"])
        name = f"park, {n} segments, {found['peak'] / 1e9:.2f} GB"
        if n == dense["segments"]:
            gap = abs(complex(*found["impedance"]) / complex(*dense["impedance"]) - 1.0)
            if gap > 1e-5:
                raise RuntimeError(f"compressed and dense network differ by {gap:.1e}")
            yield name, found["seconds"], dense["seconds"], f"dense network, {dense['peak'] / 1e9:.2f} GB"
            continue
        scale = n / dense["segments"]
        what = f"dense scaled by n^3, would need {112 * n**2 / 1e9:.0f} GB"
        yield name, found["seconds"], dense["seconds"] * scale**3, what


if __name__ == "__main__":
    run_here(float(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
