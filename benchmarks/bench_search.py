"""Metal lost piece by piece against solving again for each; a design estimated against its full study."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from evenground.electrode import rectangular_mat
from evenground.field import keep_solution, solve
from evenground.model.electrode import Electrode
from evenground.model.soil import LayeredSoil
from evenground.project import load_project
from evenground.schedules import parse_prices, starter_prices_text
from evenground.search import space_of
from evenground.search._estimate import bench_of, estimate_project
from evenground.search._pieces import pieces_of
from evenground.study import run_study

SOIL = LayeredSoil((300.0, 100.0), (2.5,))
DEMO = Path(__file__).resolve().parents[1] / "examples" / "harrow-lane" / "site-revised.yaml"
ESTIMATES = 5
SOLVED_AGAIN = 5
"""Losses solved again; their mean time stands for all."""


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    mat = rectangular_mat(length_x_m=70, length_y_m=70, meshes_x=10, meshes_y=10, depth_m=0.5, radius_m=0.005)
    grid = np.arange(-1.0, 72.0, 1.0)
    x, y = (v.ravel() for v in np.meshgrid(grid, grid))
    points = np.column_stack([x, y, np.zeros(len(x))])
    keep_solution(mat, SOIL).influence(points[:2])

    begin = time.perf_counter()
    kept = keep_solution(mat, SOIL)
    pieces = pieces_of(kept, mat)
    per_volt = np.asfortranarray(kept.influence(points) @ kept.inverse_s)
    surface = per_volt.sum(axis=1)
    ready = time.perf_counter()
    for k, piece in enumerate(pieces.pieces):
        floating = [
            np.concatenate([pieces.pieces[i].segments for i in part]) for part in pieces.loose(without=[k])
        ]
        changed = kept.without(piece.segments, floating)
        float(np.max(1.0 - surface - changed.added(per_volt)))
    end = time.perf_counter()

    rest = Electrode(mat.conductors[1:])
    solve(rest, SOIL).potential_v(points)
    again = time.perf_counter()
    for k in range(SOLVED_AGAIN):
        solution = solve(Electrode(c for i, c in enumerate(mat) if i != k), SOIL)
        float(np.max(1.0 - solution.potential_v(points)))
    each = (time.perf_counter() - again) / SOLVED_AGAIN
    count = len(pieces.pieces)
    yield f"{count} pieces lost in turn", end - ready, count * each, "solving again for each"
    yield f"{count} pieces lost, preparation included", end - begin, count * each, "solving again for each"
    yield from _estimates()


def _estimates() -> Iterator[tuple[str, float, float, str]]:
    """One design of the search for the cheapest, as drawn in the demo, against its full study."""
    project = load_project(DEMO)
    study = run_study(project)
    bench = bench_of(space_of(project), study, parse_prices(starter_prices_text()))
    estimate_project(bench, project)
    begin = time.perf_counter()
    for _ in range(ESTIMATES):
        estimate_project(bench, project)
    each = (time.perf_counter() - begin) / ESTIMATES
    begin = time.perf_counter()
    run_study(project)
    yield "one design priced and judged", each, time.perf_counter() - begin, "its full study"
