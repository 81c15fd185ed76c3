"""The evolutionary search: NSGA-II of the library pymoo over whole numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from evenground.errors import EvengroundError

__all__ = ["evolve"]

FloatArray = NDArray[np.float64]
Genes = tuple[int, ...]
Score = Callable[[Sequence[Genes]], tuple[FloatArray, FloatArray]]


def evolve(
    sizes: Sequence[int],
    start: Genes,
    score: Score,
    *,
    population: int,
    generations: int,
    seed: int,
) -> None:
    """Make generation after generation of genes and have each scored.

    Parameters
    ----------
    sizes : sequence of int
        Number of options of each choice.
    start : tuple of int
        One member of the first generation; the others are drawn.
    score : callable
        Objectives (n, 2), all to become small, and constraints (n, 1), kept when not above 0, of n genes.
        It keeps what it finds; equal scores lead to equal generations.

    Raises
    ------
    EvengroundError
        When the library is not installed.
    """
    try:
        from pymoo.algorithms.moo.nsga2 import NSGA2
        from pymoo.core.evaluator import Evaluator
        from pymoo.core.problem import Problem
        from pymoo.operators.crossover.sbx import SBX
        from pymoo.operators.mutation.pm import PM
        from pymoo.operators.repair.rounding import RoundingRepair
        from pymoo.problems.static import StaticProblem
    except ImportError as error:
        raise EvengroundError("this search needs pymoo: pip install 'evenground[search]'") from error
    highest = np.array(sizes) - 1
    first = np.random.default_rng(seed).integers(0, highest + 1, size=(population, len(sizes)))
    first[0] = start
    problem = Problem(n_var=len(sizes), n_obj=2, n_ieq_constr=1, xl=0, xu=highest, vtype=int)
    algorithm = NSGA2(
        pop_size=population,
        sampling=first,
        crossover=SBX(prob=0.9, eta=8, vtype=float, repair=RoundingRepair()),
        mutation=PM(eta=10, vtype=float, repair=RoundingRepair()),
        eliminate_duplicates=True,
    )
    algorithm.setup(problem, termination=("n_gen", generations), seed=seed, verbose=False)
    while algorithm.has_next():
        members = algorithm.ask()
        genes = [tuple(int(v) for v in row) for row in members.get("X")]
        objectives, constraints = score(genes)
        Evaluator().eval(StaticProblem(problem, F=objectives, G=constraints), members)
        algorithm.tell(infills=members)
