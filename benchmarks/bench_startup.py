"""How long a user waits for the command line, against starting Python alone."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

DEMO = Path(__file__).resolve().parents[1] / "examples" / "harrow-lane" / "site.yaml"


def best_of(count: int, *words: str) -> float:
    """Shortest of several runs of a command. [s]"""
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        subprocess.run(words, capture_output=True, check=False)
        times.append(time.perf_counter() - begin)
    return min(times)


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    bare = best_of(5, sys.executable, "-c", "pass")
    yield (
        "evenground --help",
        best_of(5, sys.executable, "-m", "evenground", "--help"),
        bare,
        "python -c pass",
    )
    with tempfile.TemporaryDirectory() as folder:
        words = [sys.executable, "-m", "evenground", "study", str(DEMO), "--out", f"{folder}/out", "-q"]
        best_of(1, *words)
        libraries = best_of(
            3, sys.executable, "-c", "import numpy, scipy.linalg, numba, matplotlib.figure, typst"
        )
        yield "demo study with report", best_of(3, *words), libraries, "importing its libraries"
