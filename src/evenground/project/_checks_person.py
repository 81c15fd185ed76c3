"""Cross-field checks of persons (free case) and exposure (risk)."""

from __future__ import annotations

from itertools import pairwise

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, points, records, section, words

__all__ = ["check_person"]

_TAKES_PERSON = ("free", "iec60479_derived")


def check_person(look: Look) -> None:
    """Persons fit their standard and are whole; exposures know how often there is a fault."""
    assessment = section(look.data.get("assessment"))
    common = assessment.get("person")
    places: list[tuple[Path, Record]] = [(("assessment",), assessment)]
    places += [(("surface", i), zone) for i, zone in records(look.data.get("surface"))]
    standard = words(assessment, "standard") or "ieee80"
    compared = assessment.get("compare_standards") is True
    used = {words(record, "standard") or standard for _, record in places}
    for path, record in places:
        stated = words(record, "standard")
        own = stated or standard
        person = record.get("person")
        if stated == "free" and person is None and common is None:
            look.error(
                "person-missing",
                (*path, "standard"),
                "standard free without a person",
                "give person with body, current and paths",
            )
        if person is not None:
            allowed = used if path == ("assessment",) else {own}
            _person(look, (*path, "person"), section(person), allowed, compared)
        exposure = record.get("exposure")
        if exposure is not None:
            _exposure(look, (*path, "exposure"), section(exposure))


def _person(look: Look, path: Path, person: Record, allowed: set[str], compared: bool) -> None:
    if not compared and not allowed & set(_TAKES_PERSON):
        look.error(
            "person-unused",
            path,
            f"{' and '.join(sorted(allowed))} {'has' if len(allowed) == 1 else 'have'} a person of its own",
            "write standard: free (or iec60479_derived), or compare_standards: true, or remove person",
        )
    if "free" in allowed:
        lacking = [key for key in ("body", "current") if person.get(key) is None]
        if not person.get("paths") and not person.get("own_paths"):
            lacking.append("paths")
        if lacking:
            look.error(
                "person-whole",
                path,
                f"a free case without {' and '.join(lacking)}",
                "nothing is taken for granted: give body, current and paths (or own_paths)",
            )
    _pair(look, path, person, "body", "fixed", "body_ohm")
    _pair(look, path, person, "current", "square_root", "constant_as")
    _pair(look, path, person, "current", "points", "current_points")
    _points(look, (*path, "current_points"), person)
    names = [words(p, "name") for _, p in records(person.get("own_paths"))]
    names += [p for p in person.get("paths") or () if isinstance(p, str)]
    if len(set(names)) < len(names):
        look.error("person-paths", path, "a path is named twice", "keep one of them")


def _pair(look: Look, path: Path, person: Record, key: str, word: str, needed: str) -> None:
    """A word that needs a number, and a number that needs its word."""
    chosen, given = words(person, key), person.get(needed) is not None
    if chosen == word and not given:
        look.error("person-value", (*path, key), f"{key}: {word} without {needed}", f"give {needed}")
    elif given and chosen is not None and chosen != word:
        look.error(
            "person-value", (*path, needed), f"{needed} beside {key}: {chosen}", f"write {key}: {word}"
        )


def _points(look: Look, path: Path, person: Record) -> None:
    rows = points(person.get("current_points"))
    for (t0, i0), (t1, i1) in pairwise(rows or ()):
        if t1 <= t0 or i1 > i0:
            message = f"the current must fall with time; see {t1:g} s, {i1:g} A"
            look.error("person-curve", path, message, "order the points by time, [s, A] each")
            return


def _exposure(look: Look, path: Path, exposure: Record) -> None:
    if exposure.get("governs") is True and not exposure.get("reason"):
        look.error(
            "exposure-reason",
            (*path, "governs"),
            "the risk governs without a reason",
            "give reason: who accepts a judgement by risk, and where the rates come from",
        )
    if number(exposure, "faults_per_year") is not None or "faults_per_year" in exposure:
        return
    for i, fault in records(look.data.get("faults")):
        if fault.get("faults_per_year") is None:
            look.error(
                "exposure-faults",
                path,
                f"an exposure, but not how often there is the fault “{words(fault, 'name') or i + 1}”",
                "give faults_per_year here, or in each fault",
            )
            return
