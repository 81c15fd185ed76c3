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
    model_values,
    name_of,
    residuals_of,
)
from evenground.soil._quality import Noise

__all__ = ["candidates_of", "choose", "given_candidate"]

SELECTIONS = ("auto", "uniform", "two_layer", "given")
FEWEST_FOR_AUTO = {1: 1, 2: 6, 3: 10, 4: 14, 5: 18}
"""Spacings for a model to be chosen by itself: twice its number of parameters."""
CLEARLY_BETTER = 2.0
"""Drop of the Bayesian criterion that a further layer must bring (Raftery 1995: above 2 is positive)."""


def candidates_of(
    readings: Sequence[ApparentReading], choice: SoilChoice, noise: Noise
) -> tuple[SoilCandidate, ...]:
    """Uniform, two layers when the spacings allow it, and the given model.

    Raises
    ------
    InputError
        When two layers are asked for and the spacings are too few.
    """
    there = distinct_spacings(readings)
    rows = [fit_layers(readings, layers=1, norm=choice.norm, noise=noise.value)]
    if there >= fewest_spacings(2):
        rows.append(fit_layers(readings, layers=2, norm=choice.norm, noise=noise.value))
    elif choice.select == "two_layer":
        raise InputError(
            [
                Finding(
                    "soil-too-few",
                    f"two layers asked for with readings at {there} spacings",
                    f"give at least {fewest_spacings(2)} different spacings, better 6 or more, or take "
                    "a uniform or a given model",
                    path=("soil", "model", "select"),
                )
            ]
        )
    if choice.given is not None:
        rows.append(given_candidate(readings, choice.given, choice.norm, noise))
    return tuple(rows)


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
    if choice.select in ("uniform", "two_layer"):
        chosen = by_name[name_of(1 if choice.select == "uniform" else 2)]
        said = f": {choice.reason}" if choice.reason else ""
        return chosen, f"asked for by the engineer{said}"
    best = by_name["uniform"]
    for candidate in candidates:
        if candidate.name == "given" or candidate.soil.layers == 1:
            continue
        enough = spacings >= FEWEST_FOR_AUTO[candidate.soil.layers]
        if enough and candidate.bic < best.bic - CLEARLY_BETTER:
            best = candidate
    return best, _auto_reason(best, by_name, noise, spacings)


def _auto_reason(best: SoilCandidate, by_name: dict[str, SoilCandidate], noise: Noise, spacings: int) -> str:
    uniform, two = by_name["uniform"], by_name.get("two layers")
    against = f"the noise of a reading is {noise.words}"
    if best is not uniform:
        return (
            f"{best.name}: a uniform soil misses the readings by {uniform.rms:.1%} rms, {best.name} by "
            f"{best.rms:.1%}; {against}; Bayesian criterion {best.bic:.1f} against {uniform.bic:.1f}"
        )
    if spacings < FEWEST_FOR_AUTO[2]:
        return (
            f"uniform: readings at {spacings} spacings are too few to choose two layers by themselves "
            f"({FEWEST_FOR_AUTO[2]} are needed); a uniform soil misses them by {uniform.rms:.1%} rms"
        )
    assert two is not None
    return (
        f"uniform: it misses the readings by {uniform.rms:.1%} rms and a second layer improves that only to "
        f"{two.rms:.1%}; {against}; Bayesian criterion {uniform.bic:.1f} against {two.bic:.1f}"
    )
