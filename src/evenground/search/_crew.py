"""Worker processes that stay while a search sends them one batch of jobs after the other."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from evenground.errors import EvengroundError
from evenground.search._pool import begin, work

__all__ = ["Crew"]

T = TypeVar("T")
J = TypeVar("J")
R = TypeVar("R")


class Crew:
    """Runs jobs with something shared, in this process or over several; a context manager."""

    def __init__(self, shared: Any, workers: int) -> None:
        self._shared = shared
        self._pool: ProcessPoolExecutor | None = None
        if workers > 1:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(workers, context, initializer=begin, initargs=(shared,))

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, *exception: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def results(self, function: Callable[[Any, J], R], jobs: Sequence[J]) -> Iterator[R]:
        """Results in the order of the jobs, each as soon as it and those before it are done.

        Raises
        ------
        EvengroundError
            When a worker process ended on its own.
        """
        if self._pool is None:
            yield from (function(self._shared, job) for job in jobs)
            return
        try:
            futures = [self._pool.submit(work, function, job) for job in jobs]
            for future in futures:
                yield future.result()
        except BrokenProcessPool as error:
            text = (
                "a worker process ended on its own (out of memory, or killed); what was done before is kept"
            )
            raise EvengroundError(text) from error
