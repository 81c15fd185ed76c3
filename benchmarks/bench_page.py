"""An edit in the page until verdict and map are ready, against the whole study of the same site.

Seconds are processor time of this process on all its cores, so that other work on the machine counts less;
with two cores free a user waits for little more than half of it. ``python -m benchmarks.bench_page wire``
measures instead what a user of the process waits, with the transfer between the processes.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchmarks._large_site import large_site
from evenground import load_project, run_study
from evenground._study_memory import Memory, remembering
from evenground.model.project import Project
from evenground.web._layers import map_layers

DEMO = Path("examples/harrow-lane/site-revised.yaml")


def spent(work: Callable[[], object]) -> float:
    """Processor time of one run. [s]"""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def moved(project: Project, by_m: float) -> Project:
    """The project with its last extra conductor moved."""
    *rest, last = project.runs
    points = tuple((x + by_m, y) for x, y in last.points_m)
    return replace(project, runs=(*rest, replace(last, points_m=points)))


def answered(project: Project, *, quick: bool) -> dict[str, Any]:
    """What goes to the page."""
    return map_layers(run_study(project, quick=quick))


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    with tempfile.TemporaryDirectory() as folder:
        large = Path(folder) / "site.yaml"
        large.write_text(large_site())
        for name, file in (("demo", DEMO), ("3 000 conductors", large)):
            project = load_project(file)
            answered(project, quick=True)  # code is loaded
            whole = spent(lambda p=project: answered(p, quick=False))  # type: ignore[misc]
            with remembering(Memory()):
                answered(project, quick=True)
                answered(project, quick=False)
                first = moved(project, 0.05)
                what = "the whole study"
                look = spent(lambda p=first: answered(p, quick=True))  # type: ignore[misc]
                yield f"{name}: first look after an edit", look, whole, what
                exact = spent(lambda p=first: answered(p, quick=False))  # type: ignore[misc]
                yield f"{name}: exact answer after an edit", exact, whole, what
            size = len(json.dumps(answered(first, quick=False))) / 1e6
            print(f"{name}: {size:.2f} MB of maps to the page", file=sys.stderr)


def wire(file: Path) -> Iterator[tuple[str, float]]:
    """Wall-clock seconds from submitting an edit to the answer in the process of the server."""
    from evenground.web._worker import Worker

    text, name = file.read_text(encoding="utf-8"), str(file.resolve())
    heard: list[tuple[float, str]] = []
    worker = Worker(lambda number, word, payload: heard.append((time.perf_counter(), word)))

    def ask(edited: str) -> list[tuple[str, float]]:
        heard.clear()
        begin = time.perf_counter()
        worker.submit("study", edited, name)
        while not any(word in ("done", "refused", "lost") for _, word in heard):
            time.sleep(0.005)
        return [(word, at - begin) for at, word in heard if word != "progress"]

    ask(text)
    for raster in ("0.51", "0.52", "0.53"):
        yield from ask(text.replace("raster_m: 0.5\n", f"raster_m: {raster}\n", 1))
    worker.close()


if __name__ == "__main__" and sys.argv[1:2] == ["wire"]:
    for word, seconds in wire(Path(sys.argv[2]) if len(sys.argv) > 2 else DEMO):
        print(f"{word:8} {seconds:6.2f} s")
