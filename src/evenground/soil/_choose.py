"""Candidate models, and which of them the readings call for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenground.errors import Finding, InputError
from evenground.model.soil import ApparentReading, LayeredSoil, SoilCandidate, SoilChoice
from evenground.soil._fit import (
    distinct_spacings,
    fewest_spacings,
    fit_layers,
    fixed_by_readings,
    name_of,
    residuals_of,
)
from evenground.soil._quality import Noise
from evenground.soil._survey import model_values

__all__ = ["candidates_of", "choose", "given_candidate"]

SELECTIONS = ("auto", "uniform", "two_layer", "three_layer", "four_layer", "five_layer", "given")
FEWEST_FOR_AUTO = {1: 1, 2: 6, 3: 10, 4: 14, 5: 18}
"""Spacings for a model to be chosen by itself: twice its number of parameters."""
CLEARLY_BETTER = {2: 2.0, 3: 10.0, 4: 10.0, 5: 10.0}
"""Drop of the Bayesian criterion that a further layer must bring (Raftery 1995: above 2 is positive, above 10
very strong evidence)."""
HOPELESS = 0.25
"""Misfit of a uniform soil from which two layers may be chosen with fewer readings (common practice)."""
DOUBTFUL = 1.5
"""Reduced chi square from which a further layer is tried."""


def layers_asked(choice: SoilChoice) -> int | None:
    """Number of layers that the choice names, or None."""
    index = SELECTIONS.index(choice.select)
    return index if 1 <= index <= 5 else None


def candidates_of(
    readings: Sequence[ApparentReading], choice: SoilChoice, noise: Noise
) -> tuple[SoilCandidate, ...]:
    """Uniform, two layers when the spacings allow it, more while they are needed, and the given model.

    Raises
    ------
    InputError
        When more layers are asked for than the spacings allow.
    """
    there, asked = distinct_spacings(readings), layers_asked(choice)
    if asked is not None and there < fewest_spacings(asked):
        raise InputError([_too_few(asked, there)])
    rows = [fit_layers(readings, layers=1, norm=choice.norm, noise=noise.value)]
    most = max(2, choice.most_layers, asked or 0)
    for layers in range(2, most + 1):
        chi_square = rows[-1].reduced_chi_square or 0.0
        needed = layers == 2 or chi_square > DOUBTFUL or layers <= (asked or 0)
        if not needed or there < fewest_spacings(layers):
            break
        rows.append(fit_layers(readings, layers=layers, norm=choice.norm, noise=noise.value))
    if choice.given is not None:
        rows.append(given_candidate(readings, choice.given, choice.norm, noise))
    return tuple(rows)


def _too_few(layers: int, there: int) -> Finding:
    return Finding(
        "soil-too-few",
        f"{name_of(layers)} asked for with readings at {there} spacings",
        f"give at least {fewest_spacings(layers)} different spacings, better {FEWEST_FOR_AUTO[layers]} or "
        "more, or take fewer layers or a given model",
        path=("soil", "model", "select"),
    )


def given_candidate(
    readings: Sequence[ApparentReading], soil: LayeredSoil, norm: str, noise: Noise
) -> SoilCandidate:
    """A stated model with its misfit; it has no parameters of its own."""
    measured = np.array([r.apparent_resistivity_ohm_m for r in readings])
    residuals = residuals_of(measured, model_values(readings, soil), norm)
    chi_square = float(np.sum((residuals / noise.value) ** 2))
    return SoilCandidate(
        name="given",
        soil=soil,
        rms=float(np.sqrt(np.mean(residuals**2))),
        worst=float(np.max(np.abs(residuals))),
        parameters=0,
        reduced_chi_square=chi_square / len(measured),
        bic=chi_square,
    )


def choose(
    candidates: Sequence[SoilCandidate], choice: SoilChoice, noise: Noise, spacings: int
) -> tuple[SoilCandidate, str]:
    """The candidate to use and the reason in words."""
    by_name = {c.name: c for c in candidates}
    if choice.select == "given":
        return by_name["given"], choice.reason or "given by the engineer"
    asked = layers_asked(choice)
    if asked is not None:
        said = f": {choice.reason}" if choice.reason else ""
        return by_name[name_of(asked)], f"asked for by the engineer{said}"
    best = by_name["uniform"]
    for candidate in candidates:
        layers = candidate.soil.layers
        if candidate.name == "given" or layers == 1 or layers > choice.most_layers:
            continue
        allowed = spacings >= FEWEST_FOR_AUTO[layers] and (layers == 2 or fixed_by_readings(candidate))
        allowed = allowed or (layers == 2 and _overwhelming(candidate, by_name["uniform"], spacings))
        if allowed and candidate.bic < best.bic - CLEARLY_BETTER[layers]:
            best = candidate
    return best, _auto_reason(best, by_name, noise, spacings)


def _overwhelming(two: SoilCandidate, uniform: SoilCandidate, spacings: int) -> bool:
    """Whether few readings still leave no doubt that the soil is layered.

    A uniform soil that misses them by more than ``HOPELESS`` is no cautious choice: it may halve the
    voltages.
    """
    return spacings >= fewest_spacings(2) and uniform.rms > HOPELESS and two.rms < uniform.rms / 3


def _auto_reason(best: SoilCandidate, by_name: dict[str, SoilCandidate], noise: Noise, spacings: int) -> str:
    uniform, two = by_name["uniform"], by_name.get("two layers")
    against = f"the noise of a reading is {noise.words}"
    if best is not uniform:
        fewer = [c for c in by_name.values() if c.name != "given" and c.soil.layers < best.soil.layers]
        missed = ", ".join(f"{c.name} by {c.rms:.1%}" for c in fewer)
        return (
            f"{best.name} miss the readings by {best.rms:.1%} rms ({missed}); {against}; Bayesian criterion "
            f"{best.bic:.1f} against {fewer[-1].bic:.1f}"
        )
    if two is None or spacings < FEWEST_FOR_AUTO[2]:
        there = f"{spacings} spacing{'s' if spacings > 1 else ''}"
        return (
            f"readings at {there} are too few to choose two layers by themselves ({FEWEST_FOR_AUTO[2]} are "
            f"needed); a uniform soil misses them by {uniform.rms:.1%} rms"
        )
    return (
        f"a uniform soil misses the readings by {uniform.rms:.1%} rms and a second layer improves that only "
        f"to {two.rms:.1%}; {against}; Bayesian criterion {uniform.bic:.1f} against {two.bic:.1f}"
    )
