"""What the engineer must know about a soil model before relying on it, in words."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log

from evenground.model.soil import ApparentReading, SoilCandidate
from evenground.soil._buried import probe_depth_bias
from evenground.soil._fit import distinct_spacings
from evenground.soil._quality import DISAGREEMENT, Noise, Repeat, repeats_of, segments_of, steep_rises

__all__ = ["model_warnings", "survey_warnings"]

SMOOTH = 0.001
"""Misfit below which readings look computed rather than measured."""
INADEQUATE = 2.0
"""Reduced chi square above which a model does not describe the readings."""
DEEP_ENOUGH = 5.0
"""Longest spacing over depth of the interface for the lower layer to be known within about 13 % (two
layers 100/500 ohm m, 5 % noise: 394 % at 1, 57 % at 2, 27 % at 3, 13 % at 5; linearised)."""
SHORT_ENOUGH_M = 2.0
"""Shortest spacing for the top metre, which governs touch voltage, to be seen (common practice: 1 m)."""
DEPTH_BIAS = 0.02
"""Error by probe depth that is reported."""
VAGUE = 0.25
"""Standard deviation of a logarithm above which a parameter is called uncertain."""


def survey_warnings(
    readings: Sequence[ApparentReading], noise: Noise, mat_extent_m: float | None
) -> tuple[list[str], dict[int, list[str]]]:
    """Warnings about the survey itself, and flags by index of the reading."""
    words: list[str] = []
    flags: dict[int, list[str]] = {}
    index = {id(r): k for k, r in enumerate(readings)}
    used = [r for r in readings if r.used]
    if len({r.traverse for r in used}) == 1:
        words.append(
            "All readings come from one traverse: neither their noise nor a change of the soil across the "
            "site can be seen; two crossing traverses are common practice"
        )
    if noise.source == "assumed":
        words.append(f"The noise of the readings is not known; {noise.value:.0%} is assumed")
    words += _disagreement(repeats_of(readings), flags, index)
    for a, b, slope in steep_rises(readings, noise.value):
        words.append(
            f"{a.place} to {b.position_m:g} m: apparent resistivity rises with slope {slope:.2f} in the "
            "log-log curve; horizontal layers give at most 1: soil changing along the line, a buried metal "
            "object, a poor probe or a wrong unit"
        )
        flags.setdefault(index[id(b)], []).append(f"rises with slope {slope:.2f} from the reading before")
    words += _reach(used, mat_extent_m)
    return words, flags


def _disagreement(repeats: Sequence[Repeat], flags: dict[int, list[str]], index: dict[int, int]) -> list[str]:
    worst = [r for r in repeats if r.spread > DISAGREEMENT]
    for repeat in worst:
        for reading in repeat.readings:
            flags.setdefault(index[id(reading)], []).append(f"traverses differ by {repeat.spread:.0%}")
    if not worst:
        return []
    places = ", ".join(f"{r.readings[0].position_m:g} m ({r.spread:.0%})" for r in worst)
    return [
        f"Traverses differ by more than {DISAGREEMENT:.0%} at {places} of {len(repeats)} spacings read on "
        "more than one: the soil may not be the same across the site"
    ]


def _reach(used: Sequence[ApparentReading], mat_extent_m: float | None) -> list[str]:
    words = []
    longest, shortest = max(r.wenner_spacing_m for r in used), min(r.wenner_spacing_m for r in used)
    if mat_extent_m is not None and longest < mat_extent_m:
        words.append(
            f"The longest spacing is {longest:.3g} m (as Wenner spacing), the mat extends over "
            f"{mat_extent_m:.3g} m: the soil below about {0.52 * longest:.2g} m, which carries much of the "
            "current, is extrapolated; spacings up to the extent of the mat are common practice"
        )
    if shortest > SHORT_ENOUGH_M:
        words.append(
            f"The shortest spacing is {shortest:.3g} m (as Wenner spacing): the top metre, which governs "
            "touch and step voltage, is not seen by itself; spacings from 1 m are common practice"
        )
    return words


def model_warnings(
    chosen: SoilCandidate,
    candidates: Sequence[SoilCandidate],
    readings: Sequence[ApparentReading],
    noise: Noise,
) -> list[str]:
    """Warnings about the chosen model."""
    words = [f"{_sentence(text)}: the readings do not fix it" for text in chosen.at_bounds]
    words += _adequacy(chosen, candidates, readings, noise)
    words += _depth(chosen, readings)
    words += _vague(chosen)
    words += _smooth(candidates, readings)
    words += _probe_depth(chosen, readings)
    if chosen.starts > 1 and chosen.agreeing == 1:
        words.append(
            f"Only one of {chosen.starts} starting points ended at this {chosen.name} model: "
            "others fit nearly as well"
        )
    return words


def _probe_depth(chosen: SoilCandidate, readings: Sequence[ApparentReading]) -> list[str]:
    """What the depth of probes leaves wrong over layers, when it matters."""
    bias = probe_depth_bias(readings, chosen.soil)
    places = [
        f"{r.place} ({b:+.1%})" for r, b in zip(readings, bias, strict=True) if not abs(b) <= DEPTH_BIAS
    ]
    if not places:
        return []
    return [
        "Probes were driven so deep that the correction for uniform soil is off over this layered soil: "
        f"{'; '.join(places)}"
    ]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _adequacy(
    chosen: SoilCandidate,
    candidates: Sequence[SoilCandidate],
    readings: Sequence[ApparentReading],
    noise: Noise,
) -> list[str]:
    fits = [c for c in candidates if c.name != "given"]
    poor = (chosen.reduced_chi_square or 0.0) > INADEQUATE
    if chosen.name == "given":
        best = min(fits, key=lambda c: c.rms)
        if chosen.rms > max(1.5 * best.rms, best.rms + noise.value):
            return [
                f"The given model misses the readings by {chosen.rms:.1%} rms (worst {chosen.worst:.0%}); "
                f"{best.name} would miss them by {best.rms:.1%}"
            ]
        return []
    if not poor:
        return []
    if chosen.soil.layers == 1 and len(fits) == 1:
        return [
            f"A uniform soil misses the readings by {chosen.rms:.1%} rms and there are only "
            f"{distinct_spacings(readings)} spacings: too few to tell the layers"
        ]
    if chosen.soil.layers == 1:
        return [
            f"The uniform model misses the readings by {chosen.rms:.1%} rms (worst {chosen.worst:.0%}), "
            f"{(chosen.reduced_chi_square or 0.0) ** 0.5:.1f} times the noise: the soil looks layered"
        ]
    turns = chosen.soil.layers == 2 and _turns(readings, noise.value)
    shape = "; it falls and rises again, or the reverse" if turns else ""
    words = (
        f"{_sentence(chosen.name)} do not describe this curve: they miss the readings by {chosen.rms:.1%} "
        f"rms against a noise of {noise.words}{shape}; more layers, a soil that changes sideways, or bad "
        "readings"
    )
    return [words + _richer(chosen, fits)]


def _richer(chosen: SoilCandidate, fits: Sequence[SoilCandidate]) -> str:
    """What a model of more layers would do, when one was tried and fits better."""
    better = [c for c in fits if c.soil.layers > chosen.soil.layers and c.bic < chosen.bic]
    if not better:
        return ""
    best = min(better, key=lambda c: c.bic)
    loose = f", but {'; '.join(best.at_bounds)}" if best.at_bounds else ""
    return f". {_sentence(best.name)} would miss them by {best.rms:.1%} ({best.soil.describe()}){loose}"


def _turns(readings: Sequence[ApparentReading], noise: float) -> bool:
    """True when a curve changes direction by more than twice the noise of a difference."""
    step = 2.0 * 2.0**0.5 * noise
    for segment in segments_of(readings):
        y = [log(r.apparent_resistivity_ohm_m) for r in segment]
        for k in range(1, len(y) - 1):
            before, after = y[:k], y[k + 1 :]
            if min(max(before), max(after)) - y[k] > step or y[k] - max(min(before), min(after)) > step:
                return True
    return False


def _depth(chosen: SoilCandidate, readings: Sequence[ApparentReading]) -> list[str]:
    if chosen.soil.layers == 1 or chosen.name == "given":
        return []
    longest = max(r.wenner_spacing_m for r in readings)
    depth = chosen.soil.interface_depths_m[-1]
    if longest >= DEEP_ENOUGH * depth:
        return []
    return [
        f"The longest spacing of {longest:.3g} m is {longest / depth:.1f} times the depth of the last "
        f"interface ({depth:.3g} m); below {DEEP_ENOUGH:g} times, the resistivity under it is not well known"
    ]


def _vague(chosen: SoilCandidate) -> list[str]:
    n = chosen.soil.layers
    words = []
    for k, std in enumerate(chosen.std_ln):
        if std > VAGUE:
            name = f"resistivity of layer {k + 1}" if k < n else f"thickness of layer {k - n + 1}"
            factor = f"a factor of {exp(2.0 * std):.2g}" if std < 2.3 else "more than a factor of 100"
            words.append(f"The readings fix the {name} only within {factor} either way (95 %)")
    return words


def _smooth(candidates: Sequence[SoilCandidate], readings: Sequence[ApparentReading]) -> list[str]:
    for c in candidates:
        if c.name != "given" and c.rms < SMOOTH and len(readings) >= c.parameters + 2:
            return [
                f"The readings follow a {c.name} curve within {c.rms:.2%} rms: smoother than any field "
                "survey; are they measured or computed?"
            ]
    return []
