"""Which inputs drive the spread of a result, from the samples themselves."""

from __future__ import annotations

from collections.abc import Mapping
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["left_of_spread", "main_effects", "proportion_interval"]

FloatArray = NDArray[np.float64]


def main_effects(inputs: Mapping[str, ArrayLike], output: ArrayLike) -> dict[str, float]:
    """Share of the variance of the output that would go if one input were known (first-order index).

    Given-data estimate: the samples are cut into classes of equal count along the input, and the variance
    of the class means is set against the whole, less what chance alone gives (Plischke, Borgonovo and Smith,
    European Journal of Operational Research 226 (2013) 536). Inputs may depend on each other; the share then
    holds what an input tells about the others too.

    Parameters
    ----------
    inputs : mapping
        Name -> values (n,).
    output : (n,)

    Raises
    ------
    ValueError
        With fewer than 50 samples.
    """
    y = np.asarray(output, dtype=float)
    n = len(y)
    if n < 50:
        raise ValueError(f"main_effects: {n} samples; at least 50 are needed")
    total = float(y.var())
    found = {}
    for name, values in inputs.items():
        x = np.asarray(values, dtype=float)
        levels = np.unique(x)
        if total <= 1e-18 * float(np.mean(y)) ** 2 or len(levels) < 2:
            found[name] = 0.0
            continue
        if len(levels) <= 12:
            groups = [y[x == level] for level in levels]
        else:
            count = int(np.clip(round(n ** (1 / 3) * 2), 5, 40))
            groups = np.array_split(y[np.argsort(x, kind="stable")], count)
        found[name] = _corrected(groups, n)
    return found


def _corrected(groups: list[FloatArray], n: int) -> float:
    """Share of variance between classes, adjusted for their number (omega squared, Hays 1963)."""
    whole = np.concatenate(groups)
    mean = whole.mean()
    between = sum(len(g) * (g.mean() - mean) ** 2 for g in groups)
    within = sum(float(((g - g.mean()) ** 2).sum()) for g in groups)
    k = len(groups)
    noise = within / max(n - k, 1)
    share = (between - (k - 1) * noise) / (between + within + noise)
    return float(min(max(share, 0.0), 1.0))


def proportion_interval(kept: int, count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact interval of a probability from counts (Clopper and Pearson, Biometrika 26 (1934) 404)."""
    from scipy.stats import beta

    tail = 0.5 * (1.0 - confidence)
    low = 0.0 if kept == 0 else float(beta.ppf(tail, kept, count - kept + 1))
    high = 1.0 if kept == count else float(beta.ppf(1.0 - tail, kept + 1, count - kept))
    return low, high


def left_of_spread(share: float) -> float:
    """Part of the standard deviation that stays when an input with this share becomes known."""
    return sqrt(max(0.0, 1.0 - share))
