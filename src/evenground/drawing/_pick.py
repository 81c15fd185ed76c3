"""Which conductor of a group carries the label, and which rods the rod block can show."""

from __future__ import annotations

from math import hypot

from evenground.model.electrode import Conductor

__all__ = ["inner_conductor", "is_upright_rod", "upper_conductor"]


def inner_conductor(members: list[Conductor], text_m: float) -> Conductor:
    """The conductor nearest the middle that is long enough for its text, else the longest."""
    xs = [(c.start_m[0] + c.end_m[0]) / 2 for c in members]
    ys = [(c.start_m[1] + c.end_m[1]) / 2 for c in members]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    enough = [k for k, c in enumerate(members) if c.length_m > 1.5 * text_m]
    if not enough:
        return max(members, key=lambda c: c.length_m)
    flat = [k for k in enough if abs(members[k].start_m[1] - members[k].end_m[1]) < 1e-6]
    return members[min(flat or enough, key=lambda k: hypot(xs[k] - x, ys[k] - y))]


def upper_conductor(members: list[Conductor]) -> Conductor:
    """The highest in plan of those nearly as long as the longest."""
    longest = max(c.length_m for c in members)
    long = [c for c in members if c.length_m > 0.6 * longest]
    return max(long, key=lambda c: c.start_m[1] + c.end_m[1])


def is_upright_rod(c: Conductor) -> bool:
    """A vertical rod with its top first, which the rod block can show."""
    plan = hypot(c.end_m[0] - c.start_m[0], c.end_m[1] - c.start_m[1])
    return c.kind == "rod" and plan < 1e-9 and c.end_m[2] > c.start_m[2]
