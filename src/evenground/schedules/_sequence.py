"""Order of construction with its hold points, and the forms that record what nobody sees later."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from evenground.language import ENGLISH, Language
from evenground.schedules._design import Design
from evenground.schedules._measure import Quantities, measure
from evenground.schedules._table import Cell, Column, Table

__all__ = ["ConstructionPlan", "WorkStep", "plan_construction"]

SAMPLE_SHARE = 0.1
"""Share of the joints whose resistance is measured when the client states none; all are looked at."""


@dataclass(frozen=True, slots=True)
class WorkStep:
    """One step. ``hold`` says what must be witnessed before the next step may begin; empty: no hold point."""

    number: int
    title: str
    work: str
    hold: str = ""
    record: str = ""


@dataclass(frozen=True, slots=True)
class ConstructionPlan:
    """Steps, and the forms: hidden-work record, joint test, as-built mark-up; printed in ``language``."""

    title: str
    steps: tuple[WorkStep, ...]
    forms: tuple[Table, ...]
    head: tuple[tuple[str, str], ...]
    language: Language = ENGLISH


def plan_construction(design: Design, *, joint_sample_share: float = SAMPLE_SHARE) -> ConstructionPlan:
    """Order of work and record forms for one design.

    Parameters
    ----------
    design : Design
    joint_sample_share : float
        Share of the joints whose resistance is measured, above 0 up to 1.

    Raises
    ------
    ValueError
        When the share is outside its range.
    """
    if not 0 < joint_sample_share <= 1:
        raise ValueError(f"joint_sample_share: {joint_sample_share} must lie above 0 and not above 1")
    q = measure(design)
    identity = design.identity
    last = identity.revisions[-1] if identity.revisions else None
    head = (
        ("Title", identity.title),
        ("Site", identity.site),
        ("Document", identity.document_number),
        ("Revision", f"{last.revision} {last.date}".strip() if last else "none stated"),
        ("Project file", (design.input_hash or "no hash")[:16]),
    )
    forms = (hidden_work_form(design), joint_form(design, joint_sample_share), as_built_form(design))
    steps = _steps(design, q, joint_sample_share)
    return ConstructionPlan(identity.title, steps, forms, head, design.language)


def _steps(design: Design, q: Quantities, share: float) -> tuple[WorkStep, ...]:
    steps: list[tuple[str, str, str, str]] = [
        (
            "Check before work",
            "Issue the drawings for construction; compare levels, soil and services on site with the design. "
            "Compare conductor, rods and joint material delivered with the schedules.",
            "Any difference goes to the designer before digging.",
            "delivery papers, certificates",
        ),
        ("Set out", _setting_out(design), "Setting-out seen by the client.", "survey of pegs"),
    ]
    if q.rods:
        count = sum(r.count for r in q.rods)
        coupled = sum(r.couplings for r in q.rods)
        work = f"Drive {count} rods with {coupled} couplings to the depths of the rod schedule."
        work += " Measure each rod alone before it is joined to anything."
        steps.append(("Rods", work, "Refusal above the design depth goes to the designer.", "rod schedule"))
    for t in q.trenches:
        work = f"Dig {t.length_m:.0f} m of trench ({t.name}), {t.width_m:g} m wide, {t.dug_m:g} m deep"
        steps.append(("Trench", f"{work}, about {t.volume_m3:.0f} m³.", "", "depth at each 10 m"))
    if q.conductor_m:
        work = "Lay " + "; ".join(f"{length:.0f} m {kind.text}" for kind, length in q.conductor_m) + "."
        steps.append(("Conductors", work, "", "hidden-work record"))
    total = sum(j.count for j in q.joints)
    if total:
        work = (
            f"Make {total} joints: " + "; ".join(f"{j.count} {j.kind} ({j.method})" for j in q.joints) + "."
        )
        hold = f"Every joint looked at, {share:.0%} measured, before any trench is closed."
        steps.append(("Joints", work, hold, "joint test, photographs"))
    steps += _closing(q)
    return tuple(WorkStep(n, *parts) for n, parts in enumerate(steps, 1))


def _setting_out(design: Design) -> str:
    parts = [f"{len(design.outlines_m)} outline(s)", f"{len(design.rods)} rods"]
    if design.installation.equipment:
        parts.append(f"{len(design.installation.equipment)} equipment positions")
    return "Peg out " + ", ".join(parts) + " from the site datum; mark buried services."


def _closing(q: Quantities) -> list[tuple[str, str, str, str]]:
    steps = []
    if q.trenches:
        steps.append(
            (
                "Backfill",
                "Fill in layers of 150 mm, each compacted, without stones or rubble against the conductor.",
                "Hidden-work record signed for each stretch first.",
                "hidden-work record",
            )
        )
    if q.leads:
        work = (
            f"Connect {len(q.leads)} pieces of equipment with {sum(k.item.terminals for k in q.leads)} leads."
        )
        steps.append(("Equipment", work, "", "equipment schedule"))
    if q.pits:
        work = f"Set {q.pits} inspection pits with disconnecting links."
        steps.append(("Inspection pits", work, "", "rod schedule"))
    for cover in q.covers:
        work = f"Spread {cover.volume_m3:.0f} m³ of {cover.material} over zone “{cover.zone}”"
        work += f", {1000 * cover.thickness_m:.0f} mm thick when compacted ({cover.area_m2:.0f} m²)."
        hold = "Thickness measured at ten places; resistivity of a wet sample of the material delivered."
        steps.append(("Surface cover", work, hold, "cover record"))
    steps.append(
        (
            "As-built and tests",
            "Mark up the drawing, survey rods and outline; measure resistance, touch and step voltages at "
            "the test points; compare with the design.",
            "Not energised before the comparison is accepted.",
            "as-built form, test report",
        )
    )
    return steps


def hidden_work_form(design: Design) -> Table:
    """One row per stretch of conductor, to be signed before it is covered."""
    columns = (
        Column("number", "No.", places=0, width=5),
        Column("what", "Conductor", width=18),
        Column("size", "Size", width=20),
        Column("route", "From – to [m]", width=26),
        Column("design", "Depth", "m", 2, width=8),
        Column("found", "Depth found", "m", 2, width=10),
        Column("photo", "Photo", width=8),
        Column("soil", "Soil, remarks", width=18),
        Column("signed", "Date, signed", width=16),
    )
    rows: list[tuple[Cell, ...]] = []
    for n, (i, c) in enumerate(design.horizontal, 1):
        a, b = c.start_m, c.end_m
        route = f"({a[0]:.2f}, {a[1]:.2f}) – ({b[0]:.2f}, {b[1]:.2f})"
        depth = (a[2] + b[2]) / 2
        rows.append(
            (n, c.tag or f"{c.kind} {n}", design.type_of(i).text, route, depth, None, None, None, None)
        )
    note = "Nothing is covered before its row is signed. Depth is to the axis, below finished ground."
    return Table("hidden-work", "Hidden-work record", columns, tuple(rows), (note,))


def joint_form(design: Design, share: float) -> Table:
    """The joints to be measured: an even sample of each kind, at least one of each."""
    columns = (
        Column("number", "Joint no.", places=0, width=6),
        Column("kind", "Kind", width=10),
        Column("x", "x", "m", 2, width=9),
        Column("y", "y", "m", 2, width=9),
        Column("between", "Between", width=34),
        Column("method", "Method", width=14),
        Column("looked", "Looked at", width=9),
        Column("micro", "Measured", "µohm", 0, width=11),
        Column("length", "Equal length of conductor", "µohm", 0, width=15),
        Column("signed", "Date, signed", width=15),
    )
    rows: list[tuple[Cell, ...]] = []
    joints = design.joints.joints
    for kind in dict.fromkeys(j.kind for j in joints):
        same = [j for j in joints if j.kind == kind]
        count = max(1, ceil(share * len(same)))
        for k in range(count):
            j = same[k * len(same) // count]
            types = [design.type_of(m) for m in j.members]
            between = " to ".join(sorted({t.text for t in types}))
            blank: tuple[Cell, ...] = (None, None, None, None)
            rows.append((j.number, j.kind, j.place_m[0], j.place_m[1], between, types[0].joint, *blank))
    rows.sort(key=lambda row: int(str(row[0])))
    notes = (
        f"{len(rows)} of {len(joints)} joints are measured, spread evenly over each kind; every joint is "
        "looked at. A joint is compared with the same length of conductor beside it.",
    )
    return Table("joint-test", "Joint test", columns, tuple(rows), notes)


def as_built_form(design: Design) -> Table:
    """Rods and corners as designed, with room for what was built."""
    columns = (
        Column("what", "What", width=18),
        Column("x", "x", "m", 2, width=10),
        Column("y", "y", "m", 2, width=10),
        Column("depth", "Top depth", "m", 2, width=10),
        Column("length", "Length", "m", 2, width=10),
        Column("bx", "Built x", "m", 2, width=10),
        Column("by", "Built y", "m", 2, width=10),
        Column("bdepth", "Built depth", "m", 2, width=10),
        Column("blength", "Built length", "m", 2, width=10),
        Column("why", "Reason of change", width=26),
    )
    blank: tuple[Cell, ...] = (None,) * 5
    rows: list[tuple[Cell, ...]] = []
    for k, outline in enumerate(design.outlines_m, 1):
        for n, (x, y) in enumerate(outline, 1):
            rows.append((f"outline {k}, corner {n}", x, y, "–", "–", *blank))
    for number, rod in design.rods:
        top = min(rod.start_m[2], rod.end_m[2])
        rows.append((f"rod {number}", *rod.start_m[:2], top, rod.length_m, *blank))
    note = (
        "Draw every change of a conductor's route on the layout drawing in red. Changes of more than 0.5 m, "
        "missing rods and shorter rods go back to the designer, who runs the study again."
    )
    return Table("as-built", "As-built mark-up", columns, tuple(rows), (note,))
