"""Rules for fences by national practice: which row of the table of country rules counts."""

from __future__ import annotations

import csv
import functools
from importlib import resources

from evenground.standards.limits import CountryRule, VoltageLimit, country_rules, voltage_limits

__all__ = ["contour_limits", "fence_rule", "is_required", "rule_number"]

FALLBACK = "international"


def _lines(name: str) -> list[dict[str, str]]:
    text = (resources.files("evenground.safety") / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines(), strict=True))


@functools.cache
def _advised() -> frozenset[tuple[str, str]]:
    return frozenset(
        (r["practice"], r["what"]) for r in _lines("fence_rules.csv") if r["weight"] == "advised"
    )


def is_required(practice: str, what: str) -> bool:
    """Whether a rule decides; one that only advises is shown beside the verdict."""
    own = (practice, what) if (practice, what) in _rules() else (FALLBACK, what)
    return own not in _advised()


@functools.cache
def _rules() -> dict[tuple[str, str], CountryRule]:
    known = {r.key: r for r in country_rules()}
    return {(row["practice"], row["what"]): known[row["rule"]] for row in _lines("fence_rules.csv")}


def fence_rule(practice: str, what: str) -> CountryRule | None:
    """The rule of a practice, else the one in general use, else None."""
    rules = _rules()
    return rules.get((practice, what)) or rules.get((FALLBACK, what))


def rule_number(rule: CountryRule) -> float:
    """The number that decides: of a range the end that allows more for a largest value. [rule.unit]"""
    if rule.value is None:
        raise ValueError(f"rule {rule.key} has no number")
    return rule.upper if rule.sense == "max" and rule.upper is not None else rule.value


@functools.cache
def contour_limits() -> tuple[VoltageLimit, ...]:
    """Voltages whose contours outside the site are drawn, rising. [V]"""
    known = {limit.key: limit for limit in voltage_limits()}
    return tuple(sorted((known[r["limit"]] for r in _lines("contours.csv")), key=lambda v: v.voltage_v))
