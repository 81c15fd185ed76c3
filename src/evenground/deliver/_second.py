"""A second process that draws part of the pictures; it loads its libraries while the study still runs."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["draw", "draw_all", "second_process"]


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


def draw_all(study: Study, helper: Executor | None) -> dict[str, bytes]:
    """All figures of a study as SVG, in the order of the report; every second one by the helper."""
    from evenground.deliver.plots import study_figures

    names = list(study_figures(study))
    if helper is None:
        return draw(study, names)
    future = helper.submit(draw, study, names[1::2])
    drawn = draw(study, names[::2]) | future.result()
    return {name: drawn[name] for name in names}
