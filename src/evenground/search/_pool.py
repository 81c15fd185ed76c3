"""A long row of equal jobs, in this process or over several, in any order, with progress and cancel."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from evenground.errors import EvengroundError

__all__ = ["WORKER_ENDED", "all_cores", "begin", "run_jobs", "work"]

T = TypeVar("T")
J = TypeVar("J")
R = TypeVar("R")

WORKER_ENDED = "a worker process ended on its own (out of memory, or killed); what was done before is kept"
_TASK: list[Any] = []
"""In a worker process: what its jobs share, set once at its start."""


def all_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run_jobs(
    function: Callable[[T, J], R], shared: T, jobs: Sequence[J], workers: int
) -> Iterator[tuple[int, R]]:
    """Index and result of every job as it is done; the results do not depend on the number of workers.

    With one worker everything runs here. An exception of a job, or one thrown into this generator, ends the
    workers.

    Raises
    ------
    EvengroundError
        When a worker process ended on its own.
    """
    if workers <= 1 or len(jobs) <= 1:
        for k, job in enumerate(jobs):
            yield k, function(shared, job)
        return
    context = multiprocessing.get_context("spawn")
    count = min(workers, len(jobs))
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=begin, initargs=(shared,))
    try:
        waiting: dict[Future[R], int] = {}
        left = iter(enumerate(jobs))
        for k, job in left:
            waiting[pool.submit(work, function, job)] = k
            if len(waiting) < 3 * count:
                continue
            yield from _finished(waiting)
        while waiting:
            yield from _finished(waiting)
    except BrokenProcessPool as error:
        raise EvengroundError(WORKER_ENDED) from error
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _finished(waiting: dict[Future[R], int]) -> Iterator[tuple[int, R]]:
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    for future in done:
        yield waiting.pop(future), future.result()


def begin(shared: Any) -> None:
    """Start of a worker process: keep what its jobs share."""
    import numba

    numba.set_num_threads(1)
    _TASK[:] = [shared]


def work(function: Callable[[Any, Any], Any], job: Any) -> Any:
    """One job in a worker process."""
    return function(_TASK[0], job)
