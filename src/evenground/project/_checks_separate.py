"""Cross-field checks of separate electrodes, backfill and sections in depth."""

from __future__ import annotations

from itertools import pairwise
from math import dist

from evenground.project._explain import Path
from evenground.project._look import Look, Record, number, points, records, section, words
from evenground.project._polygons import SAME_PLACE_M
from evenground.project._words import meant_by, shorten

__all__ = ["check_separate"]

SHARE_SLACK = 1e-6
MAIN = "mat"
"""The main electrode, in links."""


def check_separate(look: Look) -> None:
    """Separate electrodes have metal, names of their own and links that lead somewhere; backfill fits."""
    entries = list(records(look.data.get("separate_electrodes")))
    names = [words(entry, "name") for _, entry in entries]
    for i, entry in entries:
        path: Path = ("separate_electrodes", i)
        if not entry.get("rods") and not entry.get("runs"):
            look.error("separate-empty", path, "a separate electrode without metal", "give rods or runs")
        _name(look, path, words(entry, "name"), names[:i])
        for k, run in records(entry.get("runs")):
            _run(look, (*path, "runs", k), run)
        for k, rods in records(entry.get("rods")):
            _rod_backfill(look, (*path, "rods", k), rods)
        for k, link in records(entry.get("links")):
            _link(look, (*path, "links", k), words(entry, "name"), words(link, "to"), names)
    for name in ("mats", "runs"):
        for i, item in records(look.data.get(name)):
            _line_backfill(look, (name, i), item)
            for k, rule in records(item.get("rods")):
                _rod_backfill(look, (name, i, "rods", k), rule)
    for i, rods in records(look.data.get("rods")):
        _rod_backfill(look, ("rods", i), rods)
    _sections(look)
    _entries(look, any(entry.get("links") for _, entry in entries))


def _name(look: Look, path: Path, name: str | None, before: list[str | None]) -> None:
    if name == MAIN:
        look.error("separate-name", (*path, "name"), "'mat' means the main electrode", "give another name")
    elif name is not None and name in before:
        message = f"'{shorten(name)}' is the name of two separate electrodes"
        look.error("name-twice", (*path, "name"), message, "give each its own name")


def _run(look: Look, path: Path, run: Record) -> None:
    conductors = section(look.data.get("conductors"))
    reference = "mat" if run.get("conductor") is None else words(run, "conductor")
    if reference is not None and reference not in conductors:
        known = ", ".join(shorten(k) for k in list(conductors)[:12]) or "none"
        message = f"conductor '{shorten(reference)}' is not defined"
        advice = meant_by(reference, conductors) or f"defined under conductors: {known}"
        look.error("conductor-unknown", (*path, "conductor"), message, advice)
    for k, (a, b) in enumerate(pairwise(points(run.get("points_m")) or []), 1):
        if dist(a, b) < SAME_PLACE_M:
            message = f"points {k} and {k + 1} are the same place, [{b[0]:g}, {b[1]:g}]"
            look.error("run-point-twice", (*path, "points_m", k), message, "remove one of them")
    _line_backfill(look, path, run)


def _link(look: Look, path: Path, own: str | None, to: str | None, names: list[str | None]) -> None:
    if to is None or to == MAIN:
        return
    if to == own:
        look.error("link-itself", (*path, "to"), "a link from an electrode to itself", "remove it")
    elif to not in names:
        known = [MAIN, *(n for n in names if n and n != own)]
        advice = meant_by(to, known) or f"one of: {', '.join(map(shorten, known))}"
        look.error("link-unknown", (*path, "to"), f"there is no electrode '{shorten(to)}'", advice)


def _line_backfill(look: Look, path: Path, item: Record) -> None:
    conductors = section(look.data.get("conductors"))
    key = "mat" if item.get("conductor") is None else words(item, "conductor")
    metal = section(conductors.get(key)) if key else {}
    stated = number(metal, "diameter_mm") or number(metal, "width_mm")
    _backfill(look, path, item, stated)


def _rod_backfill(look: Look, path: Path, rods: Record) -> None:
    _backfill(look, path, rods, number(rods, "diameter_mm"))


def _backfill(look: Look, path: Path, item: Record, metal_mm: float | None) -> None:
    outer = number(section(item.get("backfill")), "outer_diameter_mm")
    if outer is None or metal_mm is None:
        return
    place = (*path, "backfill", "outer_diameter_mm")
    if outer <= metal_mm:
        message = f"a backfill of {outer:g} mm around metal of {metal_mm:g} mm"
        look.error("backfill-size", place, message, "give the diameter of the hole or trench, in mm")
    elif outer > 2000:
        message = f"a backfill {outer:g} mm across is wider than the model of a thin conductor allows"
        look.warn("backfill-wide", place, message, "the resistance is an estimate; use more conductors")


def _entries(look: Look, linked: bool) -> None:
    """Shares of the entry points make one; links belong to a network, which entry points do not know."""
    path: Path = ("assessment", "entry_points")
    entries = list(records(section(look.data.get("assessment")).get("entry_points")))
    shares = [1.0 if e.get("share") is None else number(e, "share") for _, e in entries]
    known = [s for s in shares if s is not None]
    if entries and len(known) == len(shares) and abs(sum(known) - 1.0) > SHARE_SLACK:
        message = f"the shares of the entry points add up to {sum(known):g}"
        look.error("entry-shares", path, message, "give shares that make 1 together")
    if entries and linked:
        message = (
            "entry_points are given while separate electrodes have links, which can not be solved together"
        )
        advice = "leave out the links, or the entry points; metal joined without resistance goes under runs"
        look.error("entry-links", path, message, advice)


def _sections(look: Look) -> None:
    for i, entry in records(section(look.data.get("assessment")).get("sections")):
        ends = points([entry.get("from_m"), entry.get("to_m")])
        if ends is not None and dist(*ends) < SAME_PLACE_M:
            path: Path = ("assessment", "sections", i, "to_m")
            look.error("section-short", path, "the section starts and ends at one place", "give two places")
