"""Why each element of a design is there: what is lost without it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from evenground.search._demand import Demand, Scale, of_metal
from evenground.search._draft import Draft, Space
from evenground.search._estimate import Estimate

__all__ = ["Reason", "reasons_of"]

Look = Callable[[Sequence[Draft], str], list[Estimate]]


@dataclass(frozen=True, slots=True)
class Reason:
    """One element, and the design without it, by the estimate that agrees with the full study of the whole.

    Attributes
    ----------
    element, instead : str
        What is taken away, and what stands in its place.
    saving : float
        What it would save; negative when the design without it costs more. [currency]
    check : str
        Identity of the check that comes nearest to what is allowed, or furthest beyond it.
    margin_with, margin_without : float or None
        Margin of that check; None when the design without it breaks a rule.
    words : str
        The reason.
    """

    element: str
    instead: str
    saving: float
    check: str
    margin_with: float | None
    margin_without: float | None
    words: str


def reasons_of(space: Space, best: Draft, look: Look, scale: Scale, demand: Demand) -> tuple[Reason, ...]:
    """The elements of a design, those that matter most first."""
    cases = list(_without(space, best))
    whole = look([best], "why each element is there")[0]
    guesses = look([draft for _, _, draft in cases], "why each element is there")
    rows = [
        _reason(element, instead, whole, guess, scale, demand)
        for (element, instead, _), guess in zip(cases, guesses, strict=True)
    ]
    return tuple(
        sorted(rows, key=lambda r: (r.margin_without is not None, r.margin_without or 0.0, r.element))
    )


def _without(space: Space, best: Draft) -> Iterator[tuple[str, str, Draft]]:
    for line in space.lines(best):
        mat, axis, place = line
        name = space.project.mats[mat].name
        words = f"mesh line of {name} at {'xy'[axis]} = {place:g} m"
        yield words, "no line there", replace(best, dropped=tuple(sorted((*best.dropped, line))))
    for k, choice in enumerate(space.choices):
        gene = best.genes[k]
        if choice.key.startswith(("meshes", "edge_x", "edge_y")) or gene == 0:
            continue
        less = 0 if choice.key.startswith(("corner", "edge_rods", "ring", "rod_fill", "metal")) else gene - 1
        if choice.key.startswith("edge_sections") and not _has_edge_rods(space, best, choice.key):
            continue
        genes = (*best.genes[:k], less, *best.genes[k + 1 :])
        words = f"{choice.title}: {space.option_words(choice, gene)}"
        yield words, space.option_words(choice, less), replace(best, genes=genes)


def _has_edge_rods(space: Space, best: Draft, key: str) -> bool:
    number = key.rpartition(" ")[2]
    return bool(space.chosen(best)[f"edge_rods {number}"])


def _reason(
    element: str, instead: str, whole: Estimate, guess: Estimate, scale: Scale, demand: Demand
) -> Reason:
    saving = whole.cost - guess.cost
    if guess.broken:
        return Reason(element, instead, 0.0, "", None, None, f"without it: {guess.broken}")
    before, after = scale.read(whole), scale.read(guess)
    moved = [k for k in after if of_metal(k) and abs(after[k] - before.get(k, 0.0)) > 1e-6]
    key = max(moved or filter(of_metal, after), key=lambda k: after[k] / demand.allowed(k))
    title = demand.start.titles.get(key, key)
    over = after[key] > demand.allowed(key)
    margins = f"margin of “{title}” {1 - before[key]:.1%} → {1 - after[key]:.1%}"
    if over:
        words = f"without it: {margins}, {1 - demand.allowed(key):.1%} asked"
    elif saving <= 0:
        words = f"what stands in its place costs {-saving:.0f} more; {margins}"
    else:
        words = f"could go by the estimate, saving {saving:.0f}, but the full study refused that; {margins}"
    return Reason(element, instead, saving, key, 1 - before[key], 1 - after[key], words)
