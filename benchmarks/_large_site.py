"""A site of 3 000 conductors drawn one by one, as a drawing of a large plant gives them."""

from __future__ import annotations

from itertools import pairwise

from evenground.project import starter_text

__all__ = ["large_site"]


def large_site(nodes: int = 36, spacing_m: float = 6.0, rods: int = 480) -> str:
    """Text of a project file: 2 520 conductors between the nodes of a square raster, and 480 rods."""
    text = starter_text("plant")
    lines = text.splitlines()
    begin = next(n for n, line in enumerate(lines) if line.startswith("mats:"))
    keep = ("surface:", "assessment:", "declarations:", "assumptions:", "practice:", "equipment:")
    end = next(n for n, line in enumerate(lines) if n > begin and line.startswith(keep))
    at = [k * spacing_m for k in range(nodes)]
    rows = ["runs:"]
    for a in at:
        for b, c in pairwise(at):
            for one, other in (((b, a), (c, a)), ((a, b), (a, c))):
                rows.append(f"  - {{points_m: [{list(one)}, {list(other)}], depth_m: 0.6}}")
    places = [(x, y) for x in at for y in at][:: max(1, nodes * nodes // rods)][:rods]
    rows.append("rods:")
    rows += [f"  - {{at_m: [{list(p)}], length_m: 3, diameter_mm: 16, top_depth_m: 0.6}}" for p in places]
    return "\n".join([*lines[:begin], *rows, "", *lines[end:]]) + "\n"
