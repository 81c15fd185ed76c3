"""The part of the report on rules of practice: which were looked at, and which not."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, heading, table, text
from evenground.deliver._report_evidence import evidence_tag

if TYPE_CHECKING:
    from evenground.model.practice import RuleOutcome
    from evenground.model.study import Study

__all__ = ["rule_blocks", "rule_sentence"]


def rule_sentence(study: Study) -> str:
    """How many rules of practice were kept, not kept and not looked at; empty without any."""
    if not study.rules:
        return ""
    counts = Counter(rule.outcome for rule in study.rules)
    countries = " and ".join(dict.fromkeys(rule.country for rule in study.rules))
    return (
        f"Rules of practice ({countries}): {counts['kept']} kept, {counts['not kept']} not kept, "
        f"{counts['differs']} not as usual, {counts['not looked at']} not looked at here; "
        "they decide nothing."
    )


def rule_blocks(study: Study) -> list[Block | None]:
    """Each rule with what the design has, then those that were not looked at."""
    if not study.rules:
        return []
    looked = [rule for rule in study.rules if rule.outcome != "not looked at"]
    left = [rule for rule in study.rules if rule.outcome == "not looked at"]
    return [
        heading("Rules of practice"),
        text(
            f"{rule_sentence(study)} They say what is usual, not what is required of this site; fences and "
            "connections have chapters of their own. Tags of evidence as in the appendix of formulas."
        ),
        table(
            "Rules that were held against the design",
            ["Rule", "Wanted", "Here", "Outcome", "Source", "Evidence"],
            [[_text(r), r.wanted, r.found, {"bold": r.outcome}, *_source(r)] for r in looked],
            widths=["1.3fr", "auto", "auto", "auto", "1fr", "auto"],
            small=True,
        ),
        table(
            "Rules not looked at here: the study has no number for them, or the chapters on fences and "
            "connections judge them",
            ["Rule", "Wanted", "Source", "Evidence"],
            [[_text(r), r.wanted or "—", *_source(r)] for r in left],
            widths=["1.6fr", "auto", "1fr", "auto"],
            small=True,
        ),
    ]


def _text(rule: RuleOutcome) -> str:
    return f"{rule.topic}: {rule.rule}"


def _source(rule: RuleOutcome) -> list[str]:
    return [rule.source, evidence_tag(rule.evidence)]
