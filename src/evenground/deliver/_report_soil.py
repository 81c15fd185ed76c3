"""The chapter of the report on soil: readings, candidate models, the choice and why."""

from __future__ import annotations

from math import exp, isfinite
from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, figure, heading, listing, table, text
from evenground.deliver.format import (
    format_number,
    format_percent,
    format_quantity,
    format_stated,
    format_value,
)
from evenground.deliver.words import verdict_word

if TYPE_CHECKING:
    from evenground.model.soil import SoilCandidate, SoilResult
    from evenground.model.study import Study

__all__ = ["soil"]


def soil(study: Study) -> Block:
    """Readings, candidates, the choice and why."""
    result = study.soil
    blocks: list[Block | None] = [
        text(f"Model used: {result.soil.describe()} ({result.chosen})."),
        text(f"Why: {result.reason}." if result.reason else ""),
    ]
    if result.readings:
        blocks.append(
            figure(
                "sounding",
                "Sounding curve: readings of every traverse, candidate models and residuals",
                "Apparent resistivity against spacing",
            )
        )
    blocks.append(_candidates(result))
    blocks += _left_open(result)
    if result.noise is not None:
        blocks.append(
            text(
                f"Relative standard deviation of one reading: {format_percent(result.noise)} "
                f"({result.noise_source or 'source not stated'})."
            )
        )
    if result.longest_spacing_m is not None:
        blocks.append(
            text(
                "Longest spacing surveyed, as Wenner spacing: "
                f"{format_quantity(result.longest_spacing_m, 'm', 3)}. The survey says little about the "
                "soil far below that depth."
            )
        )
    blocks += [_traverses(study), _readings(result), _cases(study)]
    if result.warnings:
        blocks += [heading("Warnings about the soil"), listing(result.warnings)]
    return chapter("Soil", blocks)


def _left_open(result: SoilResult) -> list[Block | None]:
    """Quantiles of the parameters, what they mean, and which readings would help."""
    blocks: list[Block | None] = []
    if result.spread is not None:
        rows = [
            [_parameter(name), *(format_number(v, 4) for v in values)]
            for name, values in zip(result.spread.names, result.spread.quantiles, strict=True)
        ]
        caption = "What the readings leave open: 95 of 100 soils lie between the outer columns"
        blocks.append(table(caption, ["Parameter", "2.5 %", "median", "97.5 %"], rows, align="lrrr"))
        blocks.append(listing(list(result.spread.words)))
    if result.advice:
        blocks += [heading("Readings that would help"), listing(list(result.advice))]
    return blocks


def _parameter(name: str) -> str:
    """``rho1`` -> ``resistivity of layer 1, Ω·m``."""
    if name.startswith("rho"):
        return f"resistivity of layer {name[3:]}, Ω·m"
    return f"thickness of layer {name[1:]}, m"


def _candidates(result: SoilResult) -> Block | None:
    rows = [
        [
            f"{row.name}{' (chosen)' if row.name == result.chosen else ''}",
            row.soil.describe(),
            f"{100 * row.rms:.1f}",
            f"{100 * row.worst:.1f}",
            _spread(row),
            format_number(row.bic, 4) if isfinite(row.bic) else "—",
            f"{row.agreeing}/{row.starts}",
        ]
        for row in result.candidates
    ]
    bounds = [f"{row.name}: {words}" for row in result.candidates for words in row.at_bounds]
    return table(
        "Candidate models" + (f". On a bound: {'; '.join(bounds)}" if bounds else ""),
        ["Model", "Layers", "rms, %", "Worst, %", "Spread", "BIC", "Starts agreeing"],
        rows,
        align="llrrlrr",
        widths=["auto", "1.4fr", "auto", "auto", "1fr", "auto", "auto"],
        small=True,
    )


def _spread(row: SoilCandidate) -> str:
    """One standard deviation of each parameter in per cent (linearised)."""
    if not row.std_ln:
        return "—"
    return ", ".join("unbounded" if not isfinite(s) else f"±{100 * s:.1f} %" for s in row.std_ln)


def _traverses(study: Study) -> Block | None:
    rows = [
        [
            t.name,
            t.array.value.capitalize().replace("_", " "),
            t.date or "—",
            t.weather or "—",
            t.instrument or "—",
            format_stated(t.instrument_resolution_ohm, "ohm") if t.instrument_resolution_ohm else "—",
        ]
        for t in study.project.traverses
    ]
    return table(
        "Traverses",
        ["Traverse", "Array", "Date", "Weather", "Instrument", "Resolution"],
        rows,
        widths=["1fr", "auto", "auto", "1fr", "1fr", "auto"],
        small=True,
    )


def _readings(result: SoilResult) -> Block | None:
    rows = [
        [
            row.traverse,
            format_value(row.position_m),
            format_value(row.half_potential_m) if row.half_potential_m is not None else "—",
            format_number(row.resistance_ohm),
            format_number(row.apparent_resistivity_ohm_m),
            format_number(row.model_ohm_m) if isfinite(row.model_ohm_m) else "—",
            f"{100 * (exp(row.residual) - 1):+.1f}".replace("-", "−") if isfinite(row.residual) else "—",
            "yes" if row.used else "no",
            "; ".join(row.flags) or "—",
        ]
        for row in result.readings
    ]
    return table(
        "Readings and their distance from the chosen model. Position: Wenner spacing a, or "
        "Schlumberger AB/2 with MN/2 beside it, or the length of a driven rod",
        ["Traverse", "Position, m", "MN/2, m", "R, Ω", "ρa, Ω·m", "Model, Ω·m", "Off, %", "Used", "Remarks"],
        rows,
        align="lrrrrrrcl",
        widths=["1.2fr", *["auto"] * 7, "1fr"],
        small=True,
    )


def _cases(study: Study) -> Block | None:
    """Soil cases carried through the study; one alone needs no table."""
    if len(study.soil_cases) < 2:
        return None
    rows = [
        [
            f"{case.name}{' (governs)' if case.governs else ''}",
            case.soil.describe(),
            format_number(case.resistance_ohm),
            format_number(case.gpr_v),
            f"{100 * case.worst_touch:.0f}",
            f"{100 * case.worst_step:.0f}",
            {"bold": verdict_word(case.verdict)},
            case.note or "—",
        ]
        for case in study.soil_cases
    ]
    return table(
        "Soil cases carried through the whole study; limits, checks and maps belong to the one that governs. "
        "Touch and step: highest share of the limit",
        ["Case", "Soil", "R, Ω", "Rise, V", "Touch, %", "Step, %", "Verdict", "Remark"],
        rows,
        align="llrrrrll",
        widths=["auto", "1.3fr", "auto", "auto", "auto", "auto", "auto", "1fr"],
        small=True,
    )
