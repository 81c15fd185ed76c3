"""A second process that draws part of the pictures; it loads its libraries while the study still runs."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["begin", "draw", "draw_all", "second_process"]


def _load() -> None:
    """Load what drawing needs."""
    import evenground.deliver.plots  # noqa: F401


@contextmanager
def second_process() -> Iterator[Executor]:
    """A process of its own, started at once and ended with the block."""
    pool = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn"))
    try:
        pool.submit(_load)
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def draw(study: Study, names: Sequence[str]) -> dict[str, bytes]:
    """Some of the figures of a study as SVG, by name."""
    from evenground.deliver.plots import figure_bytes, study_figures

    figures = study_figures(study)
    return {name: figure_bytes(figures[name](), "svg") for name in names}


MOST = 80
"""Figures asked for in advance; a study has fewer."""
_KEPT: list[Study] = []
"""In the second process: the study whose figures are asked for."""


def begin(study: Study, helper: Executor) -> list[Future[bytes | None]]:
    """Let the helper draw one figure after the other while this process still computes."""
    helper.submit(_keep, study)
    return [helper.submit(_figure, number) for number in range(MOST)]


def _keep(study: Study) -> None:
    _KEPT[:] = [study]


def _figure(number: int) -> bytes | None:
    """One figure of the kept study; None when it has fewer."""
    from evenground.deliver.plots import figure_bytes, study_figures

    figures = list(study_figures(_KEPT[0]).values())
    return figure_bytes(figures[number](), "svg") if number < len(figures) else None


def draw_all(
    study: Study, helper: Executor | None, begun: Sequence[Future[bytes | None]] = ()
) -> dict[str, bytes]:
    """All figures of a study as SVG, in the order of the report.

    The helper draws from the first one on, this process from the last, until they meet.
    """
    from evenground.deliver.plots import study_figures

    names = list(study_figures(study))
    if helper is None:
        return draw(study, names)
    futures = list(begun or begin(study, helper))
    for future in futures[len(names) :]:
        future.cancel()
    drawn: dict[str, bytes | None] = {}
    for name, future in zip(reversed(names), reversed(futures[: len(names)]), strict=True):
        if future.cancel():
            drawn |= draw(study, [name])
    drawn |= {n: f.result() for n, f in zip(names, futures, strict=False) if n not in drawn}
    return {name: data for name in names if (data := drawn[name]) is not None}
