"""Sums over images."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError

__all__ = ["image_sum"]

_LONGEST = 300_000


def image_sum(
    reflection: float, term: Callable[[NDArray[np.float64]], NDArray[np.float64]], *, tolerance: float = 1e-12
) -> float:
    """Sum of K^n term(n) over n = 1, 2, ... until |K|^n falls below the tolerance.

    Raises
    ------
    NotConvergedError
        When |K| is so near to 1 that more than 300 000 images would be needed.
    """
    k = abs(reflection)
    if k == 0.0:
        return 0.0
    count = math.ceil(math.log(tolerance) / math.log(k)) if k < 1.0 else _LONGEST + 1
    if count > _LONGEST:
        raise NotConvergedError(f"the sum needs {count} images or more (reflection factor {reflection!r})")
    n = np.arange(1, max(count, 1) + 1, dtype=np.float64)
    return float(np.sum(reflection**n * term(n)))
