"""The outcome of a study in words; the report and the terminal say the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground.deliver._flows import split_flows
from evenground.deliver.format import format_percent, format_place, format_quantity
from evenground.errors import Severity
from evenground.model.study import Verdict, urgency

if TYPE_CHECKING:
    from evenground.model.network import ScenarioSplit
    from evenground.model.study import Check, Study

__all__ = [
    "check_sentence",
    "limit_text",
    "margin_text",
    "split_sentence",
    "standards_text",
    "summary_sentences",
    "verdict_word",
]

MOST_SENTENCES = 5

_WORDS = {Verdict.PASS: "PASS", Verdict.FAIL: "FAIL", Verdict.NOT_DECIDED: "NOT DECIDED"}


def verdict_word(verdict: Verdict) -> str:
    """The verdict in capitals, for boxes and tables."""
    return _WORDS[verdict]


def standards_text(study: Study) -> str:
    """The standards whose limits were used, with edition: ``"IEEE Std 80, 50 kg (2013)"``."""
    from evenground.standards.limits import STANDARDS

    names = []
    for key in dict.fromkeys(row.standard for row in study.limits):
        entry = STANDARDS.get(key)
        edition = f" ({entry.edition})" if entry and entry.edition else ""
        names.append(f"{entry.title}{edition}" if entry else key)
    return "; ".join(names) or study.project.assessment.standard


def margin_text(check: Check) -> str:
    """Margin to the limit in per cent of the limit, with its sign."""
    return "—" if check.margin is None else format_percent(check.margin, sign=True)


def split_sentence(split: ScenarioSplit) -> str:
    """Where the current of one scenario goes, in a sentence."""
    flows = split_flows(split)
    total = format_quantity(abs(split.result.fault_current_a), "A")
    mat = next(flow for flow in flows if flow.kind == "mat")
    names = {"source neutral": "neutral of {}", "wire": "{}", "bond": "{}"}
    parts = "; ".join(
        f"{names[flow.kind].format(flow.name)} {format_percent(flow.share)}"
        for flow in flows
        if flow.kind in names
    )
    place = split.result.place
    where = "fault in the station" if not place.line else f"fault at {place.name}"
    count = f", worst of {len(split.places)} places" if len(split.places) > 1 else ""
    text = f"{split.scenario}: {format_percent(mat.share)} of {total} through the mat ({where}{count})"
    return f"{text}; {parts}" if parts else text


def limit_text(check: Check) -> str:
    """The limit with its sense: ``"≤ 228.2 V"``; a dash when there is none."""
    if check.limit is None:
        return "—"
    return f"{'≤' if check.sense == 'max' else '≥'} {format_quantity(check.limit, check.unit)}"


def check_sentence(check: Check) -> str:
    """One check in a sentence: what, value, limit, margin, place, scenario."""
    if check.value is None or check.limit is None:
        why = f": {check.reason}" if check.reason else ""
        if check.verdict is Verdict.NOT_DECIDED:
            return f"{check.title} is not decided{why}."
        return f"{check.title}, {'broken' if check.verdict is Verdict.FAIL else 'kept'}{why}."
    if check.verdict is Verdict.NOT_DECIDED:
        number = (
            f"{format_quantity(check.value, check.unit)} beside {format_quantity(check.limit, check.unit)}"
        )
        return (
            f"{check.title}: {number}, not decided, because {check.reason or 'the limit does not hold here'}."
        )
    relation = {
        ("max", False): "is within its limit of",
        ("max", True): "exceeds its limit of",
        ("min", False): "is not below the",
        ("min", True): "falls below the",
    }[check.sense, check.verdict is Verdict.FAIL]
    text = (
        f"{check.title}: {format_quantity(check.value, check.unit)} {relation} "
        f"{format_quantity(check.limit, check.unit)}{' required' if check.sense == 'min' else ''}"
    )
    if check.margin is not None:
        text += f" (margin {format_percent(check.margin, sign=True)})"
    if check.place is not None:
        text += f", at {format_place(check.place)}"
    if check.scenario:
        text += f", fault “{check.scenario}”"
    return text + "."


def summary_sentences(study: Study) -> list[str]:
    """What was found, in a few sentences; never a bare word."""
    governing = [c for c in study.checks if c.governing]
    failed = [c for c in governing if c.verdict is Verdict.FAIL]
    open_ = [c for c in governing if c.verdict is Verdict.NOT_DECIDED]
    total = len(governing)
    if not governing:
        first = "No check was made, so nothing is decided."
    elif failed:
        first = f"{_count(len(failed), total)} broken."
    elif open_:
        first = (
            f"No limit that was checked is broken, but {_count(len(open_), total)} not decided; "
            "the design is not shown to meet its limits."
        )
    else:
        first = (
            f"All {total} limits that were checked are kept, for the inputs stated and no others. "
            f"This says nothing about the {len(study.not_checked)} subjects listed as not checked."
        )
        warnings = [f for f in study.findings if f.severity is not Severity.NOTE]
        if warnings:
            plural = "s" if len(warnings) > 1 else ""
            first += f" {len(warnings)} warning{plural} about inputs or results must be read with it."
    if failed and open_:
        first += f" A further {len(open_)} not decided."
    lines = [first]
    if governing:
        lines.append(f"Governing: {check_sentence(study.governing_check)}")
        least = min(governing, key=urgency)
        if not failed and not open_ and least is not study.governing_check:
            lines.append(f"Smallest margin: {check_sentence(least)}")
    others = [c for c in failed if c is not study.governing_check]
    lines += [f"Also broken: {check_sentence(c)}" for c in others[:MOST_SENTENCES]]
    if len(others) > MOST_SENTENCES:
        lines.append(f"{len(others) - MOST_SENTENCES} more are broken, see the table of checks.")
    return lines


def _count(part: int, total: int) -> str:
    return f"{part} of {total} limits checked {'is' if part == 1 else 'are'}"
