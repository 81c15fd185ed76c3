"""Bill of quantities: what has to be bought and done, its cost and its carbon."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.schedules._design import ConductorType, Design
from evenground.schedules._measure import Quantities
from evenground.schedules._prices import PriceItem, PriceList
from evenground.schedules._table import Cell, Column, Table

__all__ = ["BillLine", "bill_lines", "bill_table"]


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line before pricing.

    ``code`` names the item of the price list; ``conversion`` is how many price units one unit of the
    quantity holds (the mass per metre), None when it is not known. ``material`` is False for work only.
    """

    code: str
    description: str
    unit: str
    quantity: float
    conversion: float | None = 1.0
    material: bool = True


def bill_lines(design: Design, q: Quantities) -> tuple[BillLine, ...]:
    """The lines of the bill, in the order of the work."""
    lines: list[BillLine] = []
    for t in q.trenches:
        size = f"{t.width_m:g} m wide, {t.dug_m:g} m deep"
        lines.append(
            BillLine("trench.dig", f"Excavation, {t.name}, {size}", "m3", t.volume_m3, material=False)
        )
    for kind, length in q.conductor_m:
        lines.append(_metal(kind, f"Conductor {kind.text} ({kind.key})", length))
    total = sum(length for _, length in q.conductor_m)
    if total > 0:
        lines.append(BillLine("lay.conductor", "Laying of conductors", "m", total, material=False))
    for rod in q.rods:
        what = f"{rod.count} rods {rod.type.text}, {rod.length_m:g} m each"
        lines.append(_metal(rod.type, what, rod.count * rod.length_m))
    bored = sum(fill.length_m for fill in q.fills if fill.upright)
    driven = sum(rod.count * rod.length_m for rod in q.rods) - bored
    if driven > 1e-9:
        lines.append(BillLine("rod.drive", "Driving of rods", "m", driven, material=False))
    if bored > 0:
        lines.append(
            BillLine("rod.bore", "Boring of holes for rods that are filled round", "m", bored, material=False)
        )
    coupled = sum(rod.couplings for rod in q.rods)
    if coupled:
        section = f"sections of {design.installation.rod_section_m:g} m"
        lines.append(BillLine("rod.coupling", f"Rod couplings, {section}", "each", coupled))
    for joint in q.joints:
        what = f"Joint, {joint.kind}, {joint.between}, {joint.method}"
        lines.append(BillLine(f"joint.{joint.method}", what, "each", joint.count))
    if q.pits:
        lines.append(BillLine("pit.inspection", "Inspection pit with disconnecting link", "each", q.pits))
    lines += _filling(design, q)
    return tuple(lines)


def _metal(kind: ConductorType, description: str, length_m: float) -> BillLine:
    return BillLine(f"metal.{kind.metal}", description, "m", length_m, kind.mass_kg_per_m)


def _filling(design: Design, q: Quantities) -> list[BillLine]:
    dug = sum(t.volume_m3 for t in q.trenches)
    share = design.installation.imported_backfill_share
    lines = []
    if dug > 0 and share < 1:
        lines.append(
            BillLine(
                "trench.backfill", "Backfill with excavated soil, compacted", "m3", dug * (1 - share),
                material=False,
            )
        )  # fmt: skip
    if dug > 0 and share > 0:
        lines.append(
            BillLine("trench.imported", "Backfill with imported fine soil, compacted", "m3", dug * share)
        )
    for fill in q.fills:
        code = "fill.concrete" if "concrete" in fill.material.lower() else "fill.compound"
        what = f"Filling round conductors, {fill.material}, ⌀ {1000 * fill.outer_diameter_m:g} mm"
        lines.append(BillLine(code, what, "m3", fill.volume_m3))
    for cover in q.covers:
        size = f"{cover.area_m2:.1f} m² × {cover.thickness_m:g} m"
        what = f"Surface cover “{cover.zone}”, {cover.material}, {size}"
        lines.append(BillLine("cover.spread", what, "m3", cover.volume_m3))
    return lines


NO_FACTOR = "–"
"""Stands where carbon is not counted: for work that brings no material, and for items without a factor,
which the notes name."""

_PLAIN = (
    Column("line", "Line", places=0, width=6),
    Column("code", "Item", width=22),
    Column("description", "Description", width=62),
    Column("quantity", "Net quantity", places=3),
    Column("unit", "Unit", width=6),
)
_PRICED = (
    Column("waste", "Waste share", places=3),
    Column("gross", "Gross quantity", places=3, formula="{quantity}*(1+{waste})"),
    Column("conversion", "Price units per unit", places=4),
    Column("price_unit", "Price unit", width=8),
    Column("price", "Price", places=2),
    Column(
        "material", "Material", formula='IF(OR({price}="",{conversion}=""),"",{gross}*{conversion}*{price})',
        total=True, width=14,
    ),
    Column("labour_h", "Labour per unit", "h", places=3),
    Column("hours", "Labour", "h", formula='IF({labour_h}="","",{quantity}*{labour_h})', total=True),
    Column("labour", "Labour cost", formula='IF({hours}="","",{hours}*{#rate})', total=True, width=14),
    Column(
        "cost", "Cost", formula='IF(OR({material}="",{labour}=""),"",{material}+{labour})', total=True,
        width=14,
    ),
    Column("carbon_factor", "Carbon factor per price unit", "kg CO2e", places=4),
    Column(
        "carbon", "Carbon", "kg CO2e", places=0, total=True,
        formula=f'IF({{carbon_factor}}="{NO_FACTOR}","{NO_FACTOR}",'
        'IF(OR({carbon_factor}="",{conversion}=""),"",{gross}*{conversion}*{carbon_factor}))',
    ),
)  # fmt: skip


def bill_table(design: Design, q: Quantities, prices: PriceList | None = None) -> Table:
    """The bill of quantities, priced when a price list is given.

    A line whose price, mass or carbon factor is missing stays blank, and so does every total that would
    need it: a total never leaves a line out silently.
    """
    lines = bill_lines(design, q)
    notes = [*_notes(design), *(f"Not measured: {w}." for w in q.not_measured)]
    if prices is None:
        rows = [(n, b.code, b.description, b.quantity, b.unit) for n, b in enumerate(lines, 1)]
        return Table("bill", "Bill of quantities", _PLAIN, tuple(rows), tuple(notes))
    rows_priced = tuple(_priced(n, b, prices) for n, b in enumerate(lines, 1))
    missing = sorted({b.code for b in lines if b.code not in prices.items})
    if missing:
        notes.append(f"No price for {', '.join(missing)}: these lines and the totals are not decided.")
    notes += _sources(lines, prices)
    title = f"Bill of quantities and cost, {prices.currency}, prices of {prices.date}"
    if prices.status != "quoted":
        title += " – PLACEHOLDER PRICES, NOT AN ESTIMATE"
    values = (("rate", "Labour rate", prices.labour_rate_per_h, f"{prices.currency}/h"),)
    return Table("bill", title, (*_PLAIN, *_PRICED), rows_priced, tuple(notes), values)


def _priced(number: int, b: BillLine, prices: PriceList) -> tuple[Cell, ...]:
    item = prices.items.get(b.code)
    head: tuple[Cell, ...] = (number, b.code, b.description, b.quantity, b.unit)
    waste = item.waste if item else 0.0
    gross = b.quantity * (1 + waste)
    if item is None:
        mark: Cell = None if b.material else NO_FACTOR
        return (*head, waste, gross, b.conversion, *([None] * 7), mark, mark)
    material = None if b.conversion is None else gross * b.conversion * item.price
    hours = b.quantity * item.labour_h
    labour = hours * prices.labour_rate_per_h
    cost = None if material is None else material + labour
    factor, carbon = _carbon(b, item, gross)
    return (
        *head, waste, gross, b.conversion, item.unit, item.price, material, item.labour_h, hours, labour,
        cost, factor, carbon,
    )  # fmt: skip


def _carbon(b: BillLine, item: PriceItem, gross: float) -> tuple[Cell, Cell]:
    if item.carbon_kg_per_unit is None:
        return NO_FACTOR, NO_FACTOR
    if b.conversion is None:
        return item.carbon_kg_per_unit, None
    return item.carbon_kg_per_unit, gross * b.conversion * item.carbon_kg_per_unit


def _notes(design: Design) -> list[str]:
    rule = design.installation
    notes = [
        f"Trench {rule.trench_width_m:g} m wide, dug {rule.trench_below_m:g} m below the conductor's axis; "
        "length × width × depth, crossings not deducted; conductors in one line share one trench.",
        "Joints are counted where conductors meet in the model; a conductor that bends or goes on in line "
        "has none. Joints between drum lengths are not counted.",
        f"Rods in sections of {rule.rod_section_m:g} m.",
    ]
    if rule.imported_backfill_share:
        notes.append(f"{rule.imported_backfill_share:.0%} of the backfill is brought in.")
    return notes


def _sources(lines: tuple[BillLine, ...], prices: PriceList) -> list[str]:
    notes = [f"Prices: {prices.source or 'source not stated'}; standing: {prices.status}."]
    used = {b.code for b in lines}
    for code in sorted(used & set(prices.items)):
        item = prices.items[code]
        if item.carbon_source:
            notes.append(f"Carbon of {code}: {item.carbon_source}.")
    bare = sorted(
        {b.code for b in lines if b.material and b.code in prices.items}
        - {code for code, item in prices.items.items() if item.carbon_kg_per_unit is not None}
    )
    without = f"; it leaves out {', '.join(bare)}, for which no factor is given" if bare else ""
    notes.append(f"Carbon counts materials only, not work, transport or disposal{without}.")
    return notes
