"""The schedules that installers and testers work from."""

from __future__ import annotations

from collections import defaultdict

from evenground.model.study import ShockResult
from evenground.schedules._design import Design
from evenground.schedules._fence_points import fence_points
from evenground.schedules._measure import Quantities, couplings
from evenground.schedules._table import Cell, Column, Table

__all__ = [
    "conductor_table",
    "equipment_table",
    "joint_table",
    "joint_total_table",
    "quantity_table",
    "rod_table",
    "test_point_table",
]

_XYZ = (
    Column("x", "x", "m", 3),
    Column("y", "y", "m", 3),
    Column("depth", "Depth", "m", 3),
)


def conductor_table(design: Design) -> Table:
    """Every horizontal conductor with its ends, size and length."""
    columns = (
        Column("number", "No.", places=0, width=6),
        Column("tag", "Name", width=18),
        Column("use", "Use", width=8),
        Column("metal", "Metal", width=18),
        Column("size", "Size", width=24),
        Column("x1", "From x", "m", 3),
        Column("y1", "From y", "m", 3),
        Column("z1", "From depth", "m", 3),
        Column("x2", "To x", "m", 3),
        Column("y2", "To y", "m", 3),
        Column("z2", "To depth", "m", 3),
        Column(
            "length", "Length", "m", 3, total=True,
            formula="SQRT(({x2}-{x1})^2+({y2}-{y1})^2+({z2}-{z1})^2)",
        ),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for n, (i, c) in enumerate(((i, c) for i, c in enumerate(design.electrode) if c.kind != "rod"), 1):
        kind = design.type_of(i)
        rows.append(
            (n, c.tag or f"{c.kind} {n}", c.kind, kind.metal, kind.size, *c.start_m, *c.end_m, c.length_m)
        )
    return Table("conductors", "Conductors", columns, tuple(rows))


def rod_table(design: Design) -> Table:
    """Rods and earth pits, with what they are joined to and room for the measured resistance."""
    columns = (
        Column("number", "Rod", places=0, width=6),
        Column("x", "x", "m", 3),
        Column("y", "y", "m", 3),
        Column("top", "Top depth", "m", 3),
        Column("length", "Length", "m", 3, total=True),
        Column("bottom", "Bottom depth", "m", 3, formula="{top}+{length}"),
        Column("metal", "Metal", width=18),
        Column("size", "Size", width=20),
        Column("couplings", "Couplings", places=0, total=True),
        Column("pit", "Inspection pit", width=14),
        Column("links", "Joined to", width=26),
        Column("measured", "Measured R, link open", "ohm", 3, width=22),
        Column("date", "Date", width=12),
        Column("by", "Measured by", width=14),
    )
    links = _rod_links(design)
    pits = set(design.installation.pit_rods)
    positions = [i for i, c in enumerate(design.electrode) if c.kind == "rod"]
    rows = []
    for (number, rod), position in zip(design.rods, positions, strict=True):
        kind = design.type_of(position)
        top = min(rod.start_m[2], rod.end_m[2])
        rows.append(
            (
                number, *rod.start_m[:2], top, rod.length_m, top + rod.length_m, kind.metal, kind.size,
                couplings(rod.length_m, design.installation.rod_section_m), "yes" if number in pits else "no",
                links.get(position, "no conductor: draw the link"), None, None, None,
            )
        )  # fmt: skip
    notes = (
        "The resistance of a rod with its link open is measured against the mat's own resistance and is no "
        "proof of the mat; it is kept as a reference for later tests.",
    )
    return Table("rods", "Rods and earth pits", columns, tuple(rows), notes)


def _rod_links(design: Design) -> dict[int, str]:
    found: dict[int, str] = {}
    conductors = design.electrode.conductors
    for joint in design.joints.joints:
        if joint.kind != "rod":
            continue
        names = [conductors[m].tag or f"{conductors[m].kind} {m + 1}" for m in joint.members[1:]]
        found[joint.members[0]] = ", ".join(names)
    return found


def equipment_table(design: Design, q: Quantities) -> Table:
    """Connections of equipment to the mat."""
    columns = (
        Column("tag", "Tag", width=16),
        Column("kind", "Kind", width=20),
        Column("x", "x", "m", 3),
        Column("y", "y", "m", 3),
        Column("terminals", "Connections", places=0, total=True),
        Column("metal", "Metal", width=16),
        Column("size", "Size", width=22),
        Column("target", "To conductor", width=18),
        Column("tx", "Joint x", "m", 3),
        Column("ty", "Joint y", "m", 3),
        Column("tz", "Joint depth", "m", 3),
        Column("each", "Length each", "m", 2),
        Column("length", "Length", "m", 2, formula="{terminals}*{each}", total=True),
        Column("joint", "Joint at the mat", width=16),
        Column("note", "Special rule", width=34),
        Column("checked", "Checked", width=12),
    )
    rows = []
    for lead in q.leads:
        item = lead.item
        kind = design.types.get(item.conductor)
        target = design.electrode.conductors[lead.target]
        rows.append(
            (
                item.tag or "no tag on the drawing", item.kind, item.x_m, item.y_m, item.terminals,
                kind.metal if kind else "not stated", kind.size if kind else f"{item.conductor}: not stated",
                target.tag or f"{target.kind} {lead.target + 1}", *lead.place_m, lead.length_m,
                item.terminals * lead.length_m, design.type_of(lead.target).joint, item.note, None,
            )
        )  # fmt: skip
    notes = [
        "Length each: straight line in plan to the nearest conductor, plus its depth and the height of the "
        "terminal. Separate connections to one item go to different conductors where the layout allows it."
    ]
    if not q.leads:
        notes.append("No equipment list was given: nothing is stated about connections.")
    return Table("equipment", "Equipment connections", columns, tuple(rows), tuple(notes))


def joint_table(design: Design) -> Table:
    """Every joint with its number and place, for the joint test."""
    columns = (
        Column("number", "No.", places=0, width=6),
        Column("kind", "Kind", width=10),
        *_XYZ,
        Column("arms", "Arms", places=0, width=6),
        Column("between", "Between", width=44),
        Column("method", "Method", width=14),
        Column("measured", "Measured", "µohm", 0, width=14),
        Column("seen", "Looked at", width=12),
    )
    rows = []
    for j in design.joints.joints:
        types = [design.type_of(m) for m in j.members]
        between = " to ".join(sorted({t.text for t in types}))
        rows.append((j.number, j.kind, *j.place_m, j.arms, between, types[0].joint, None, None))
    return Table("joints", "Joints", columns, tuple(rows))


def joint_total_table(q: Quantities) -> Table:
    """Joints by kind, sizes and method."""
    columns = (
        Column("kind", "Kind", width=20),
        Column("between", "Between", width=54),
        Column("method", "Method", width=16),
        Column("count", "Count", places=0, total=True),
    )
    rows = tuple((j.kind, j.between, j.method, j.count) for j in q.joints)
    note = f"{q.bends} places where one conductor bends or goes on in line have no joint."
    return Table("joint-counts", "Joints by kind", columns, rows, (note,))


def quantity_table(q: Quantities) -> Table:
    """Lengths of conductor and trench, rods, covers."""
    columns = (
        Column("what", "What", width=54),
        Column("quantity", "Quantity", places=3),
        Column("unit", "Unit", width=8),
        Column("mass", "Mass", "kg", 1),
    )
    rows: list[tuple[Cell, ...]] = []
    for kind, length in q.conductor_m:
        mass = None if kind.mass_kg_per_m is None else kind.mass_kg_per_m * length
        rows.append((f"Conductor {kind.text} ({kind.key})", length, "m", mass))
    for rod in q.rods:
        mass = None if rod.type.mass_kg_per_m is None else rod.type.mass_kg_per_m * rod.length_m * rod.count
        rows.append((f"Rod {rod.type.text}, {rod.length_m:g} m", rod.count, "each", mass))
    for t in q.trenches:
        rows.append((f"Trench, {t.name}, {t.width_m:g} m × {t.dug_m:g} m", t.length_m, "m", "–"))
        rows.append((f"Excavation, {t.name}", t.volume_m3, "m3", "–"))
    for cover in q.covers:
        rows.append((f"Cover “{cover.zone}”, {cover.material}, area", cover.area_m2, "m2", "–"))
        rows.append((f"Cover “{cover.zone}”, {cover.material}, volume", cover.volume_m3, "m3", "–"))
    notes = tuple(f"Not measured: {w}." for w in q.not_measured)
    return Table("quantities", "Quantities, net of waste", columns, tuple(rows), notes)


def test_point_table(design: Design) -> Table:
    """Where to measure, what, and the design value it is compared with."""
    columns = (
        Column("number", "No.", places=0, width=6),
        Column("x", "x", "m", 2),
        Column("y", "y", "m", 2),
        Column("what", "Measure", width=44),
        Column("why", "Because", width=44),
        Column("design", "Design value", "V", 0, width=14),
        Column("limit", "Limit", "V", 0),
        Column("measured", "Measured, scaled", width=18),
        Column("date", "Date", width=12),
    )
    rows: list[tuple[Cell, ...]] = []
    for number, rod in design.rods:
        if number in design.installation.pit_rods:
            rows.append(
                (*rod.start_m[:2], "resistance of the rod, link open", f"pit at rod {number}", "–", "–")
            )
    for gate in design.installation.gates:
        middle = ((gate.start_m[0] + gate.end_m[0]) / 2, (gate.start_m[1] + gate.end_m[1]) / 2)
        rows.append((*middle, "touch voltage, gate closed and fully open", gate.name, "–", "–"))
    rows += fence_points(design)
    rows += [
        (item.x_m, item.y_m, "resistance of the bond to the mat", item.tag or item.kind, "–", "–")
        for item in design.installation.equipment
    ]
    notes = ["Measured values are scaled to the design current before they are compared."]
    if design.study is not None:
        rows += [_shock_row(s) for s in _worst(design.study.shocks)]
    else:
        notes.append("The electrode was not calculated, so no design value is stated.")
    numbered = tuple((n, *row, None, None) for n, row in enumerate(rows, 1))
    return Table("test-points", "Test points", columns, numbered, tuple(notes))


def _worst(shocks: tuple[ShockResult, ...]) -> list[ShockResult]:
    """The worst place of each quantity in each zone over all scenarios."""
    groups: dict[tuple[str, str, str], list[ShockResult]] = defaultdict(list)
    for s in shocks:
        groups[s.quantity, s.metal, s.zone].append(s)
    return [max(rows, key=lambda s: s.value_v / s.limit_v) for rows in groups.values()]


def _shock_row(s: ShockResult) -> tuple[Cell, ...]:
    at = f" at {s.metal}" if s.metal else ""
    why = f"worst {s.quantity} voltage{at} of zone “{s.zone}”, {s.scenario}"
    return (s.place.x_m, s.place.y_m, f"{s.quantity} voltage", why, s.value_v, s.limit_v)
