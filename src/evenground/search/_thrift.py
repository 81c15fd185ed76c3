"""The cheapest design that keeps what is asked: evolution, a walk downhill in cost, full studies as judge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from hashlib import sha256
from json import dumps
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenground._version import __version__
from evenground.errors import EvengroundError, InputError
from evenground.model.study import Study
from evenground.schedules import PriceList, design_of_study, total_cost
from evenground.search._base import Tell
from evenground.search._crew import Crew
from evenground.search._demand import Demand, Judged, Scale, judged, of_metal, smallest_margin
from evenground.search._draft import Draft, space_of
from evenground.search._estimate import Bench, Estimate, bench_of, estimate, estimate_project, price
from evenground.search._evolve import evolve
from evenground.search._moves import neighbours
from evenground.search._reasons import reasons_of
from evenground.search._store import Store
from evenground.search._thrift_result import Effort, FrontRow, Thrift
from evenground.study import run_study

__all__ = ["find_cheapest"]

FloatArray = NDArray[np.float64]
BATCH = 4
"""Neighbours looked at together; not the number of workers, so that the answer does not depend on it."""
MOST_STEPS = 60


def find_cheapest(
    study: Study,
    prices: PriceList,
    *,
    margin: float = 0.0,
    keep_margins: bool = False,
    effort: Effort | None = None,
    workers: int = 1,
    store: Store | None = None,
    progress: Tell | None = None,
) -> Thrift:
    """Search the cheapest design of a project under its rules of construction.

    Parameters
    ----------
    study : Study
        Full study of the project as drawn; its project states the rules under ``construction``.
    prices : PriceList
    margin : float
        Least margin of every check in volts.
    keep_margins : bool
        Ask also that no margin of a check in volts is smaller than as drawn.
    effort : Effort, optional
    workers : int
        Processes; the answer does not depend on it.
    store : Store, optional
        Holds every estimate and study, so that a search that was stopped goes on where it was.
    progress : callable, optional

    Raises
    ------
    InputError
        No rules of construction, nothing to choose, a margin outside 0 to 1, or an item without a price.
    OutOfRangeError
        For what the searches do not follow.
    CancelledError
        Stopped by ``progress``.
    """
    if not 0.0 <= margin < 1.0:
        raise InputError(f"margin {margin:g}: needs a fraction from 0 to below 1")
    space = space_of(study.project)
    start_cost = total_cost(design_of_study(study), prices)
    bench = bench_of(space, study, prices)
    demand = Demand(margin, judged(study), keep_margins)
    own = Store(":memory:") if store is None else store  # an empty store is false
    try:
        with Crew(bench, workers) as crew:
            run = _Run(bench, demand, own, crew, progress or (lambda text, done: None), effort or Effort())
            found = run.search()
            return run.report(found, start_cost.total, dict(start_cost.parts))
    finally:
        if store is None:
            own.close()


def _study_job(bench: Bench, draft: Draft) -> Judged | str:
    try:
        return judged(run_study(bench.space.made(draft)))
    except EvengroundError as error:
        return str(error)


class _Run:
    """One search: what was estimated, what was studied, and how estimates are read."""

    def __init__(
        self, bench: Bench, demand: Demand, store: Store, crew: Crew, tell: Tell, effort: Effort
    ) -> None:
        self.bench, self.demand, self.store, self.crew = bench, demand, store, crew
        self.tell, self.effort = tell, effort
        self.guesses: dict[Draft, Estimate] = {}
        self.studies: dict[Draft, Judged | str] = {}
        self.prices: dict[Draft, float] = {}
        self.scale = Scale()
        self.done = 0.0
        rules = (bench.space.project.input_hash, __version__, repr(bench.space.choices), repr(bench.prices))
        self.base = sha256(repr((rules, repr(bench.space.rules))).encode()).hexdigest()

    # -- looking at drafts

    def _key(self, what: str, draft: Draft) -> str:
        return sha256(dumps([self.base, what, draft.genes, draft.dropped]).encode()).hexdigest()

    def look(self, drafts: Sequence[Draft], text: str) -> list[Estimate]:
        """Estimates of drafts, from the store where they are known."""
        new: list[Draft] = []
        for draft in dict.fromkeys(drafts):
            if draft in self.guesses:
                continue
            kept = self.store.get(self._key("estimate", draft))
            if kept is None:
                new.append(draft)
            else:
                self.guesses[draft] = Estimate(**kept["estimate"])
        for draft, guess in zip(new, self.crew.results(estimate, new), strict=True):
            self.guesses[draft] = guess
            self._keep("estimate", draft, asdict(guess))
            self.tell(f"{text}: {len(self.guesses)} designs", self.done)
        return [self.guesses[d] for d in drafts]

    def study(self, draft: Draft) -> Judged | str:
        """Full study of a draft, or why there is none."""
        if draft in self.studies:
            return self.studies[draft]
        self.tell(f"full study {len(self.studies) + 1}", self.done)
        kept = self.store.get(self._key("study", draft))
        found: Judged | str
        if kept is None:
            found = next(iter(self.crew.results(_study_job, [draft])))
            self._keep("study", draft, found if isinstance(found, str) else asdict(found))
        elif isinstance(kept["study"], str):
            found = str(kept["study"])
        else:
            found = Judged(**{**kept["study"], "volts": tuple(kept["study"]["volts"])})
        self.studies[draft] = found
        return found

    def _keep(self, what: str, draft: Draft, data: Any) -> None:
        name = self.bench.space.project.file_name
        row = {"verdict": what, what: data}
        self.store.put(self._key(what, draft), name, str(draft.genes), row)

    # -- judging drafts

    def excess(self, guess: Estimate) -> float:
        """By how much an estimate misses what is asked; infinite for a draft that breaks a rule."""
        return float("inf") if guess.broken else self.demand.excess(self.scale.read(guess))

    def good(self, draft: Draft) -> bool:
        """Whether a draft is expected to do, and no study has found otherwise."""
        found = self.studies.get(draft)
        if found is not None:
            return not self.faults(found)
        return self.excess(self.guesses[draft]) <= 0.0

    def faults(self, found: Judged | str) -> tuple[str, ...]:
        """Why a studied design does not do."""
        return (found,) if isinstance(found, str) else self.demand.fails(found)

    # -- the search

    def search(self) -> Draft | None:
        """The cheapest draft that a full study accepts; None when there is none."""
        drawn = estimate_project(self.bench, self.bench.space.project)
        if drawn.broken:
            raise InputError(f"the project as drawn can not be estimated: {drawn.broken}")
        self.scale = Scale.of(self.demand.start, drawn)
        self._evolve()
        best: Draft | None = None
        for number in range(self.effort.studies):
            self.done = 0.5 + 0.4 * number / self.effort.studies
            draft = self._downhill(self._cheapest(best))
            if draft is None or (best is not None and self._cost(draft) >= self._cost(best)):
                break
            found = self.study(draft)
            if not self.faults(found):
                best = draft
            if isinstance(found, Judged):
                self.scale = Scale.of(found, self.guesses[draft])
        return best

    def _cost(self, draft: Draft) -> float:
        return self.guesses[draft].cost

    def _evolve(self) -> None:
        space, effort, seen = self.bench.space, self.effort, [0]

        def score(genes: Sequence[tuple[int, ...]]) -> tuple[FloatArray, FloatArray]:
            seen[0] += 1
            self.done = 0.05 + 0.45 * seen[0] / effort.generations
            guesses = self.look([Draft(g) for g in genes], f"generation {seen[0]}")
            top = 10.0 * max((g.cost for g in guesses if isfinite(g.cost)), default=1.0)
            rows = [
                (top, 10.0, 10.0)
                if g.broken
                else (g.cost, 1.0 - smallest_margin(self.scale.read(g)), self.excess(g))
                for g in guesses
            ]
            table = np.array(rows)
            return table[:, :2], table[:, 2:]

        sizes = [len(c.options) for c in space.choices]
        evolve(
            sizes,
            space.start.genes,
            score,
            population=effort.population,
            generations=effort.generations,
            seed=effort.seed,
        )

    def _cheapest(self, best: Draft | None) -> Draft | None:
        """Cheapest draft known that is expected to do, or the one that misses by the least."""
        known = [d for d, g in self.guesses.items() if not g.broken and d not in self._refused()]
        good = [d for d in known if self.good(d)]
        if good:
            return min(good, key=lambda d: (self._cost(d), d.genes, d.dropped))
        if best is not None or not known:
            return best
        return min(known, key=lambda d: (self.excess(self.guesses[d]), d.genes, d.dropped))

    def _refused(self) -> set[Draft]:
        return {d for d, found in self.studies.items() if self.faults(found)}

    def _downhill(self, draft: Draft | None) -> Draft | None:
        """Walk to cheaper neighbours that are expected to do, until there is none."""
        for _ in range(MOST_STEPS):
            if draft is None:
                return None
            better = self._better(draft)
            if better is None:
                break
            draft = better
        return draft if draft is not None and self.good(draft) else None

    def _better(self, draft: Draft) -> Draft | None:
        refused = self._refused()
        if not self.good(draft):  # nothing does yet: go where least is missing
            rows = [d for d in next(neighbours(self.bench.space, draft)) if d not in refused]
            self.look(rows, "toward the limits")
            missing = {d: self.excess(self.guesses[d]) for d in rows}
            nearest = min(rows, key=lambda d: (missing[d], d.genes, d.dropped), default=None)
            here = self.excess(self.guesses[draft])
            return nearest if nearest and missing[nearest] < here - 1e-6 else None
        for rows in neighbours(self.bench.space, draft):
            found = self._cheaper(draft, [d for d in rows if d not in refused])
            if found is not None:
                return found
        return None

    def _cheaper(self, draft: Draft, rows: Sequence[Draft]) -> Draft | None:
        """The cheapest of some neighbours that is expected to do; None when none is cheaper."""
        unknown = [d for d in rows if d not in self.prices]
        self.prices.update(zip(unknown, self.crew.results(price, unknown), strict=True))
        least = self._cost(draft) * (1 - 1e-6)
        cheaper = sorted((self.prices[d], d.genes, d.dropped) for d in rows if self.prices[d] < least)
        for k in range(0, len(cheaper), BATCH):
            batch = [Draft(genes, dropped) for _, genes, dropped in cheaper[k : k + BATCH]]
            self.look(batch, "cheaper neighbours")
            for d in batch:
                if self.good(d):
                    return d
        return None

    # -- what is told

    def report(self, best: Draft | None, start_cost: float, start_parts: Mapping[str, float]) -> Thrift:
        """Everything that is told about the search."""
        self.done = 0.92
        space = self.bench.space
        found = None if best is None else self.study(best)
        if best is not None and isinstance(found, Judged):
            self.scale = Scale.of(found, self.guesses[best])
        why = () if best is None else reasons_of(space, best, self.look, self.scale, self.demand)
        refused = [
            f"{self._cost(d):.0f}: {'; '.join(words)}"
            for d, s in self.studies.items()
            if (words := self.faults(s)) and d != space.start
        ]
        return Thrift(
            currency=self.bench.prices.currency,
            price_status=self.bench.prices.status,
            start_cost=start_cost,
            start_parts=start_parts,
            start=self.demand.start,
            best=found if isinstance(found, Judged) else None,
            best_cost=None if best is None else self._cost(best),
            parts={} if best is None else self.guesses[best].parts,
            draft=best,
            made=None if best is None else space.made(best),
            chosen={} if best is None else space.words(best),
            reasons=why,
            front=self._front(best),
            estimates=len(self.guesses),
            studies=len(self.studies) + 1,
            refused=tuple(refused),
            notes=self._notes(),
        )

    def _front(self, best: Draft | None) -> tuple[FrontRow, ...]:
        rows = []
        for draft, guess in self.guesses.items():
            found = self.studies.get(draft)
            if guess.broken or not self.good(draft):
                continue
            ratios = found.ratios if isinstance(found, Judged) else self.scale.read(guess)
            rows.append((guess.cost, -smallest_margin(ratios), draft, isinstance(found, Judged)))
        front: list[FrontRow] = []
        rows.sort(key=lambda r: (r[0], not r[3], r[1], r[2].genes, r[2].dropped))
        for cost, worse, draft, studied in rows:
            if best is not None and cost < self._cost(best):
                continue
            if not front or -worse > front[-1].margin + 1e-4:
                guess = self.guesses[draft]
                words = self.bench.space.words(draft)
                front.append(FrontRow(cost, -worse, guess.resistance_ohm, studied, words, draft))
        return tuple(front)

    def _notes(self) -> tuple[str, ...]:
        open_before = [
            f"{title} is {self.demand.start.verdicts[key]} as drawn; metal and cover do not decide it"
            for key, title in self.demand.start.titles.items()
            if self.demand.start.verdicts[key] != "pass" and not of_metal(key)
        ]
        notes = [
            "a heuristic search: a cheaper design than the one found may exist",
            "designs marked as estimated were not studied in full",
            *open_before,
        ]
        if self.bench.prices.status != "quoted":
            notes.insert(0, "PLACEHOLDER PRICES: costs show how designs compare by this list, no more")
        return tuple(notes)
