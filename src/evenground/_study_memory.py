"""Stages whose inputs have not changed are not computed again while a memory is open.

A session that runs one study after the other, each of a site changed a little, opens a memory round them.
A stage is taken from it only when all of its inputs are equal to those it was computed from; the equations
that it evaluated are noted again, so that a study with and without a memory is the same.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, ParamSpec, TypeVar

from evenground.provenance import Step, recording, replayed

__all__ = ["Memory", "memory_open", "remembered", "remembering"]

P = ParamSpec("P")
R = TypeVar("R")
KEPT = 4
"""Results kept of each stage: a few soils, and the way back after an edit was undone."""


@dataclass
class Memory:
    """Latest results of every stage, the most recent last."""

    rows: dict[str, OrderedDict[int, tuple[Any, Any, tuple[Step, ...]]]] = field(default_factory=dict)
    served: int = 0
    """How many stages were taken from it so far."""


_OPEN: ContextVar[Memory | None] = ContextVar("evenground_memory", default=None)


@contextmanager
def remembering(memory: Memory) -> Iterator[Memory]:
    """Use a memory for every study inside the block."""
    token = _OPEN.set(memory)
    try:
        yield memory
    finally:
        _OPEN.reset(token)


def memory_open() -> bool:
    """Whether there is a memory at all."""
    return _OPEN.get() is not None


def remembered(function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
    """The function's result, from the open memory when it was computed from equal inputs before.

    The function must depend on nothing else, and nobody may change what it returns.
    """
    memory = _OPEN.get()
    if memory is None:
        return function(*args, **kwargs)
    rows = memory.rows.setdefault(f"{function.__module__}.{function.__qualname__}", OrderedDict())
    for number, (inputs, value, steps) in rows.items():
        if inputs == (args, kwargs):
            rows.move_to_end(number)
            memory.served += 1
            replayed(steps)
            found: R = value
            return found
    with recording() as sheet:
        value = function(*args, **kwargs)
    rows[max(rows, default=0) + 1] = ((args, kwargs), value, tuple(sheet.steps))
    if len(rows) > KEPT:
        rows.popitem(last=False)
    return value
