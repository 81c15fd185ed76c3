"""The soil stage: field readings and a choice in, a layered soil with everything known about it out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from evenground.errors import Finding, InputError, Severity
from evenground.model.soil import (
    ApparentReading,
    ArrayKind,
    LayeredSoil,
    SoilCandidate,
    SoilChoice,
    SoilResult,
    Traverse,
)
from evenground.soil._advice import recommend_spacings
from evenground.soil._choose import SELECTIONS, candidates_of, choose
from evenground.soil._fit import distinct_spacings, fit_layers
from evenground.soil._forward import schlumberger_apparent_resistivity, wenner_apparent_resistivity
from evenground.soil._lateral import lateral_change
from evenground.soil._quality import Noise, noise_of, survey_errors
from evenground.soil._readings import process_readings
from evenground.soil._rod import rod_curve
from evenground.soil._segments import segment_offsets, without_factors
from evenground.soil._survey import model_values
from evenground.soil._warnings import model_warnings, survey_warnings

__all__ = ["interpret_soil"]

CURVE_POINTS = 61
MOST_NAMED = 5
MOST_APART = 1.0 / 3.0
"""Share of readings beyond which it is the model that stands apart, which another warning says."""
SEGMENT_STEP = 0.1
"""Smallest step between segments that is reported."""
STANDS_APART = 3.0
"""Residual, in standard deviations of the robust fit, at which a reading is flagged."""


def interpret_soil(
    traverses: Iterable[Traverse], choice: SoilChoice, *, mat_extent_m: float | None = None
) -> SoilResult:
    """Make the soil model of a site from its field readings.

    All traverses are pooled: each reading counts once. Candidates are a uniform soil, two layers, more layers
    while they are needed, and the given model; which is used follows ``choice``.

    Parameters
    ----------
    traverses : iterable of Traverse
    choice : SoilChoice
    mat_extent_m : float, optional
        Largest plan dimension of the earthing system, to judge the reach of the survey. [m]

    Returns
    -------
    SoilResult

    Raises
    ------
    InputError
        With all findings at once: readings that are impossible or contradict themselves, a failed survey, a
        choice that the readings do not allow, or neither readings nor a given model.
    """
    readings, findings = process_readings(traverses)
    errors = [f for f in findings if f.severity is Severity.ERROR]
    errors += survey_errors(readings) + _choice_errors(choice, readings)
    if errors:
        raise InputError(errors)
    doubts = [str(replace(f, path=())) for f in findings]
    used = [r for r in readings if r.used]
    if not used:
        assert choice.given is not None
        return _without_readings(choice.given, choice, readings, doubts)
    noise = noise_of(used, choice.noise)
    factors: dict[str, float] = {}
    if choice.segments == "shifted":
        readings, factors = without_factors(readings, most_layers=choice.most_layers, noise=noise.value)
        used = [r for r in readings if r.used]
    candidates = candidates_of(used, choice, noise)
    chosen, reason = choose(candidates, choice, noise, distinct_spacings(used))
    survey, flags = survey_warnings(readings, noise, mat_extent_m)
    apart, robust = _standing_apart(readings, candidates, chosen, choice, noise)
    for index, text in apart.items():
        flags.setdefault(index, []).append(text)
    across = lateral_change(used, noise=noise.value)
    positions, curves = _curves(used, candidates)
    return SoilResult(
        soil=chosen.soil,
        chosen=chosen.name,
        reason=reason,
        readings=_with_model(readings, chosen.soil, flags),
        candidates=candidates,
        noise=noise.value,
        noise_source=noise.source,
        longest_spacing_m=max(r.wenner_spacing_m for r in used),
        warnings=(
            *doubts,
            *survey,
            *across.words,
            *(_factor_words(factors) or _segment_warnings(used, noise)),
            *robust,
            *model_warnings(chosen, candidates, used, noise),
        ),
        curve_positions_m=positions,
        curves_ohm_m=curves,
        traverse_soils=across.soils,
        advice=_advice(used, chosen, noise),
        segment_factors=factors,
    )


def _advice(used: Sequence[ApparentReading], chosen: SoilCandidate, noise: Noise) -> tuple[str, ...]:
    return tuple(a.words for a in recommend_spacings(used, chosen.soil, noise=noise.value))


def _segment_warnings(used: Sequence[ApparentReading], noise: Noise) -> list[str]:
    """Steps between segments of one MN that noise does not explain."""
    limit = max(SEGMENT_STEP, 2.0 * 2.0**0.5 * noise.value)
    steps = [o for o in segment_offsets(used) if abs(o.step_ln) > limit]
    if not steps:
        return []
    places = [
        f"{o.narrow.traverse} at AB/2 = {o.narrow.position_m:g} m ({np.expm1(o.step_ln):+.0%} from MN/2 = "
        f"{o.narrow.half_potential_m:g} to {o.wide.half_potential_m:g} m)"
        for o in steps
    ]
    more = f" and {len(places) - MOST_NAMED} more" if len(places) > MOST_NAMED else ""
    return [
        f"Segments of one MN do not join: {'; '.join(places[:MOST_NAMED])}{more}: the potential probes stood "
        "in other ground, or a reading is bad; soil.model.segments: shifted allows for a factor per segment"
    ]


def _factor_words(factors: dict[str, float]) -> list[str]:
    """What was taken out of the segments, as asked for."""
    if not factors:
        return []
    parts = "; ".join(f"{name} by {1.0 / factor - 1.0:+.1%}" for name, factor in factors.items())
    return [
        f"Segments of one MN were shifted to join each other: {parts}. The level of the whole curve then "
        "rests on the usual size of such factors (7.5 %)"
    ]


def _choice_errors(choice: SoilChoice, readings: Sequence[ApparentReading]) -> list[Finding]:
    path = ("soil", "model")
    found = []
    if choice.select not in SELECTIONS:
        found.append(
            Finding(
                "soil-select",
                f"soil model {choice.select!r} is not known",
                f"one of {', '.join(SELECTIONS)}",
                path=(*path, "select"),
            )
        )
    if choice.norm not in ("log", "relative"):
        found.append(
            Finding(
                "soil-norm", f"norm {choice.norm!r} is not known", "log or relative", path=(*path, "norm")
            )
        )
    if choice.noise is not None and not 0.0 < choice.noise < 1.0:
        found.append(
            Finding(
                "soil-noise",
                f"noise of {choice.noise:g}",
                "a share between 0 and 1: 0.05 for 5 %",
                path=(*path, "noise"),
            )
        )
    if not 1 <= choice.most_layers <= 5:
        found.append(Finding("soil-layers", f"most_layers is {choice.most_layers}", "1 to 5", path=path))
    there = any(r.used for r in readings)
    if choice.select == "given" and choice.given is None:
        found.append(Finding("soil-given", "no model is given", "give its layers", path=(*path, "given")))
    elif choice.select == "given" and there and not choice.reason.strip():
        found.append(
            Finding(
                "soil-reason",
                "a given model beside readings needs a reason",
                "say why the readings do not decide",
                path=(*path, "reason"),
            )
        )
    elif choice.select != "given" and not there:
        found.append(
            Finding(
                "soil-no-readings",
                "there is no soil reading in use",
                "give readings, or a given model with select: given",
                path=("soil",),
            )
        )
    return found


def _without_readings(
    soil: LayeredSoil, choice: SoilChoice, readings: tuple[ApparentReading, ...], doubts: list[str]
) -> SoilResult:
    return SoilResult(
        soil=soil,
        chosen="given",
        reason=choice.reason or "given by the engineer; there are no readings in use",
        readings=_with_model(readings, soil, {}),
        warnings=(*doubts, "The soil model is given and no reading in use supports it"),
    )


def _with_model(
    readings: tuple[ApparentReading, ...], soil: LayeredSoil, flags: dict[int, list[str]]
) -> tuple[ApparentReading, ...]:
    if not readings:
        return ()
    model = model_values(readings, soil)
    return tuple(
        replace(
            r,
            model_ohm_m=float(m),
            residual=float(np.log(r.apparent_resistivity_ohm_m / m)),
            flags=(*r.flags, *flags.get(k, ())),
        )
        for k, (r, m) in enumerate(zip(readings, model, strict=True))
    )


def _standing_apart(
    readings: tuple[ApparentReading, ...],
    candidates: Sequence[SoilCandidate],
    chosen: SoilCandidate,
    choice: SoilChoice,
    noise: Noise,
) -> tuple[dict[int, str], list[str]]:
    """Readings that a robust fit leaves far from its curve, and what it would give."""
    simple = [c for c in candidates if c.name != "given" and c.soil.layers <= 2]
    best = min(simple, key=lambda c: c.bic) if chosen.name == "given" or chosen in simple else chosen
    used = [r for r in readings if r.used]
    if len(used) < best.parameters + 3:
        return {}, []
    robust = fit_layers(readings, layers=best.soil.layers, norm=choice.norm, noise=noise.value, loss="huber")
    model = model_values(readings, robust.soil)
    flags, places = {}, []
    for k, (r, m) in enumerate(zip(readings, model, strict=True)):
        off = float(np.log(r.apparent_resistivity_ohm_m / m))
        if r.used and abs(off) > STANDS_APART * noise.value:
            flags[k] = f"stands apart from the robust curve by {np.expm1(off):+.0%}"
            places.append(f"{r.place} ({np.expm1(off):+.0%})")
    if not places or len(places) > MOST_APART * len(used):
        return {}, []
    more = f" and {len(places) - MOST_NAMED} more" if len(places) > MOST_NAMED else ""
    return flags, [
        f"{len(places)} of {len(used)} readings stand apart from the curve through the others: "
        f"{'; '.join(places[:MOST_NAMED])}{more}. They are kept. A robust fit, which gives them less "
        f"weight, finds {robust.soil.describe()}; check the field notes, repeat or leave out what is wrong"
    ]


def _curves(
    used: Sequence[ApparentReading], candidates: Sequence[SoilCandidate]
) -> tuple[tuple[float, ...], dict[str, tuple[float, ...]]]:
    """Sounding curves of the candidates on a logarithmic grid a little wider than the survey.

    When several arrays were used the Wenner curve bears the candidate's name, the Schlumberger curve the
    name followed by ", Schlumberger", MN/2 being the usual share of AB/2 in the survey, and that of rods of
    growing depth ", driven rod".
    """
    positions = [r.position_m for r in used]
    rods = [r.rod_diameter_m for r in used if r.rod_diameter_m is not None]
    grid = np.geomspace(min(positions) / 2.0, 2.0 * max(positions), CURVE_POINTS)
    kinds = {r.array for r in used}
    wenner = not kinds <= {ArrayKind.SCHLUMBERGER, ArrayKind.DRIVEN_ROD}
    plain = 1 if wenner else 0 if ArrayKind.SCHLUMBERGER in kinds else -1
    share = [r.half_potential_m / r.position_m for r in used if r.half_potential_m is not None]
    curves = {}
    for c in candidates:
        if wenner:
            curves[c.name] = tuple(float(v) for v in wenner_apparent_resistivity(grid, c.soil))
        if ArrayKind.SCHLUMBERGER in kinds:
            name = f"{c.name}, Schlumberger" if wenner else c.name
            half = float(np.median(share)) * grid
            curves[name] = tuple(float(v) for v in schlumberger_apparent_resistivity(grid, half, c.soil))
        if rods:
            name = c.name if plain < 0 else f"{c.name}, driven rod"
            curves[name] = rod_curve(grid, float(np.median(rods)), c.soil)
    return tuple(float(v) for v in grid), curves
