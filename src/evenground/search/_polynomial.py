"""Polynomials in several variables, as tables of products."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

__all__ = ["products", "terms_up_to"]

FloatArray = NDArray[np.float64]


def terms_up_to(degree: int, variables: int) -> tuple[tuple[int, ...], ...]:
    """Products of variables up to a degree, as lists of their numbers; the constant is the empty one."""
    return tuple(t for d in range(degree + 1) for t in combinations_with_replacement(range(variables), d))


def products(places: FloatArray, terms: Sequence[tuple[int, ...]]) -> FloatArray:
    """Values of the terms at places (n, variables); each one from that of the term without its last."""
    known: dict[tuple[int, ...], FloatArray] = {(): np.ones(len(places))}
    for t in terms:
        if t:
            known[t] = known[t[:-1]] * places[:, t[-1]]
    return np.column_stack([known[t] for t in terms])
