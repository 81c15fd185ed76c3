"""``python -m benchmarks``: every benchmark as a ratio against a baseline run side by side.

Each module ``bench_*.py`` offers ``rows()``, which yields (name, seconds, baseline seconds, baseline).
Name modules on the command line (``solver``, ``startup``) to run only these; one with ``ON_REQUEST``
(``million``) runs only when it is named.
"""

from __future__ import annotations

import importlib
import platform
import sys
from pathlib import Path


def main(names: list[str]) -> None:
    """Print the table."""
    modules = sorted(p.stem for p in Path(__file__).parent.glob("bench_*.py"))
    chosen = [m for m in modules if not names or m.removeprefix("bench_") in names]
    print(
        f"{platform.machine()}, Python {platform.python_version()}; seconds are orientation, ratios count\n"
    )
    print(f"{'what':44} {'s':>9} {'baseline s':>11} {'ratio':>9}  baseline")
    for module in map(importlib.import_module, [f"benchmarks.{m}" for m in chosen]):
        if not names and getattr(module, "ON_REQUEST", False):
            continue
        for name, seconds, baseline, what in module.rows():
            print(f"{name:44} {seconds:9.4f} {baseline:11.4f} {baseline / seconds:8.2f}x  {what}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
