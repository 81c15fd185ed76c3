"""A mat of 10 000 conductors to and from DXF, against the drawing library alone on as many bare lines."""

from __future__ import annotations

import io
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from evenground.drawing import own_layers, read_dxf, write_dxf
from evenground.model.electrode import Conductor, Electrode
from evenground.model.project import Identity
from evenground.schedules import Design, build_schedules, design_of_electrode, find_joints

MESHES = 70
"""70 x 70 meshes with conductors from node to node: 2 x 70 x 71 = 9940 pieces, and 60 rods."""


def large_design() -> Design:
    """A mat of 350 m by 350 m in pieces, with rods along one edge."""
    step, depth = 5.0, 0.6
    pieces = []
    for i in range(MESHES + 1):
        for j in range(MESHES):
            pieces.append(Conductor((step * i, step * j, depth), (step * i, step * (j + 1), depth), 0.006))
            pieces.append(Conductor((step * j, step * i, depth), (step * (j + 1), step * i, depth), 0.006))
    rods = [Conductor((step * i, 0, depth), (step * i, 0, depth + 3), 0.007, kind="rod") for i in range(60)]
    return design_of_electrode(Electrode([*pieces, *rods]), Identity("benchmark"))


def bare_lines(design: Design) -> None:
    """The same lines by the library alone, without layers, marks, sheets or text."""
    from ezdxf.filemanagement import new

    document = new("R2018")
    space = document.modelspace()
    for c in design.electrode:
        space.add_line(c.start_m, c.end_m)
    document.write(io.StringIO())


def best_of(count: int, work: Callable[[], object]) -> float:
    """Shortest of several runs. [s]"""
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    design = large_design()
    bare = best_of(3, lambda: bare_lines(design))
    what = "the library, bare lines"
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "plan.dxf"
        yield "10 000 conductors to DXF", best_of(3, lambda: write_dxf(design, file)), bare, what
        yield "10 000 conductors from DXF", best_of(3, lambda: read_dxf(file, own_layers())), bare, what
    conductors = design.electrode.conductors
    yield "joints of 10 000 conductors", best_of(3, lambda: find_joints(conductors)), bare, what
    yield "all schedules of 10 000 conductors", best_of(1, lambda: build_schedules(design)), bare, what
