"""Fields of many samples from those of some, checked on samples held back.

With all resistivities changed by one factor the pattern of potentials stays and the resistance changes by
that factor, so what is left are ratios of resistivities, thicknesses and the depth. In their logarithms
resistance and worst voltages are smooth; polynomials through some solved samples give the others. Samples
held back say how good that is: where it is not good enough more are solved, in the end all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.search._kept import KeptFields
from evenground.search._polynomial import products, terms_up_to
from evenground.search._pool import run_jobs
from evenground.search._slim import SlimCase, SlimJob, SlimResult, slim_result

__all__ = ["ERROR", "FEWEST", "fields_of"]

FloatArray = NDArray[np.float64]
Tell = Callable[[int, int], None]

ERROR = 0.005
"""Largest relative error of resistance and worst voltages in the samples held back."""
FEWEST = 240
"""Up to this many samples each one is solved."""
HELD_BACK = 24
PER_TERM = 2.5
"""Solved samples for each term of the polynomial."""
DEGREES = (3, 4, 5)


@dataclass(frozen=True)
class _Outcome:
    solved: dict[SlimJob, SlimResult]
    note: str


def fields_of(
    case: SlimCase, jobs: Sequence[SlimJob], workers: int, tell: Tell, kept: KeptFields | None = None
) -> _Outcome:
    """The field of every job, solved or from polynomials; the note says which, with the error.

    What ``kept`` holds is not solved again, and what is solved goes there at once.
    """
    solved: dict[SlimJob, SlimResult] = {}

    def solve(wanted: Sequence[SlimJob]) -> None:
        left = [job for job in dict.fromkeys(wanted) if job not in solved]
        if kept is not None:
            solved.update({job: known for job in left if (known := kept.get(job)) is not None})
            left = [job for job in left if job not in solved]
        for k, result in run_jobs(slim_result, case, left, workers):
            solved[left[k]] = result
            if kept is not None:
                kept.put(left[k], result)
            tell(len(solved), len(jobs))

    alike = [job for job in jobs if job.missing is None]
    if len(alike) <= FEWEST or len({len(job.soil.resistivities_ohm_m) for job in alike}) > 1:
        solve(jobs)
        return _Outcome(solved, "")
    place = _places(alike)
    mixed = np.random.default_rng(0).permutation(len(alike))
    back, rest = mixed[:HELD_BACK], mixed[HELD_BACK:]
    order = rest[_spread_out(place[rest])]
    for degree in DEGREES:
        terms = terms_up_to(degree, place.shape[1])
        count = int(PER_TERM * len(terms))
        if count + HELD_BACK > len(alike) // 2:
            break
        chosen = order[:count]
        solve([alike[int(k)] for k in chosen])
        solve([alike[int(k)] for k in back])
        given = _fitted(place, chosen, terms, [solved[alike[int(k)]] for k in chosen], alike)
        worst = max(_gap(given[int(k)], solved[alike[int(k)]]) for k in back)
        if worst <= ERROR:
            solve([job for job in jobs if job.missing is not None])
            own = len(solved)
            solved = {job: given[k] for k, job in enumerate(alike)} | solved
            words = (
                f"the fields of {own} of {len(jobs)} samples were solved, those of the others lie between "
            )
            return _Outcome(solved, words + f"(largest error in {HELD_BACK} held back: {worst:.2%})")
    solve(jobs)
    return _Outcome(solved, "")


def _places(jobs: Sequence[SlimJob]) -> FloatArray:
    """Ratios of resistivities, thicknesses and depth of every job, those that vary, from -1 to 1."""
    rows = []
    for job in jobs:
        rho, thickness = np.array(job.soil.resistivities_ohm_m), np.array(job.soil.thicknesses_m)
        rows.append([*np.log(rho[1:] / rho[0]), *np.log(thickness), job.deeper_m])
    place = np.array(rows)
    low, high = place.min(axis=0), place.max(axis=0)
    varies = high - low > 1e-9
    return np.asarray(2.0 * (place[:, varies] - low[varies]) / (high[varies] - low[varies]) - 1.0)


def _spread_out(place: FloatArray) -> NDArray[np.int64]:
    """All rows, first those that lie far from each other and at the rim."""
    if place.shape[1] == 0:
        return np.arange(len(place))
    order = [int(np.argmax(np.linalg.norm(place, axis=1)))]
    gap = np.full(len(place), np.inf)
    while len(order) < len(place):
        gap = np.minimum(gap, np.linalg.norm(place - place[order[-1]], axis=1))
        gap[order[-1]] = -1.0
        order.append(int(np.argmax(gap)))
    return np.array(order, dtype=np.int64)


def _fitted(
    place: FloatArray,
    chosen: NDArray[np.int64],
    terms: Sequence[tuple[int, ...]],
    results: Sequence[SlimResult],
    jobs: Sequence[SlimJob],
) -> list[SlimResult]:
    """Polynomials in the logarithms through the chosen samples, at all of them."""
    matrix = products(place, terms)
    top = np.array([job.soil.resistivities_ohm_m[0] for job in jobs])
    keys = list(results[0].unit)
    known = np.array([[r.resistance_ohm, *(r.unit[key] for key in keys)] for r in results])
    known[:, 0] /= top[chosen]
    factors = np.linalg.lstsq(matrix[chosen], np.log(known), rcond=None)[0]
    values = np.exp(matrix @ factors)
    values[:, 0] *= top
    return [SlimResult(float(v[0]), dict(zip(keys, v[1:].tolist(), strict=True))) for v in values]


def _gap(one: SlimResult, other: SlimResult) -> float:
    """Largest relative difference of two results."""
    gaps = [one.resistance_ohm / other.resistance_ohm - 1.0]
    gaps += [one.unit[key] / other.unit[key] - 1.0 for key in other.unit]
    return max(abs(g) for g in gaps)
