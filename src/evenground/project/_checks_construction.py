"""Cross-field checks of the rules of construction."""

from __future__ import annotations

from evenground.project._checks_system import check_metal
from evenground.project._look import Look, number, points, records, section
from evenground.project._polygons import check_outline

__all__ = ["check_construction"]


def check_construction(look: Look) -> None:
    """Spacings in order, zones that exist, outlines that are simple, materials of the table."""
    rules = section(look.data.get("construction"))
    if not rules:
        return
    least = number(rules, "least_spacing_m") if "least_spacing_m" in rules else 2.0
    greatest = number(rules, "greatest_spacing_m") if "greatest_spacing_m" in rules else 20.0
    if least is not None and greatest is not None and greatest < 2 * least:
        message = f"greatest_spacing_m {greatest:g} leaves no choice above least_spacing_m {least:g}"
        key = "greatest_spacing_m" if "greatest_spacing_m" in rules else "least_spacing_m"
        look.error("construction-spacing", ("construction", key), message, "give at least twice the least")
    zones = [z.get("name") for _, z in records(look.data.get("surface"))]
    for i, cover in records(rules.get("covers")):
        if isinstance(cover.get("zone"), str) and cover["zone"] not in zones:
            known = ", ".join(str(z) for z in zones) or "none"
            message = f"there is no zone “{cover['zone']}” under surface"
            look.error(
                "construction-zone",
                ("construction", "covers", i, "zone"),
                message,
                f"zones of the file: {known}",
            )
    for i, area in records(rules.get("forbidden")):
        corners = points(area.get("outline_m"))
        if corners is not None:
            check_outline(look, ("construction", "forbidden", i, "outline_m"), corners)
    for name, metal in section(rules.get("mat_conductors")).items():
        check_metal(look, ("construction", "mat_conductors", name), section(metal))
