"""The entry functions of the package: a design in, schedules out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenground.language import ENGLISH, Language, words_in
from evenground.schedules._bill import bill_table
from evenground.schedules._design import Design
from evenground.schedules._measure import Quantities, measure
from evenground.schedules._prices import PriceList
from evenground.schedules._speak import spoken
from evenground.schedules._table import Cell, Column, Table
from evenground.schedules._tables import (
    conductor_table,
    equipment_table,
    joint_table,
    joint_total_table,
    quantity_table,
    rod_table,
    test_point_table,
)
from evenground.schedules._writers import write_csv, write_xlsx

__all__ = ["CAUTION", "Schedules", "build_schedules", "write_schedules"]

CAUTION = (
    "Design aid. A licensed engineer must check every result against the local code before anything is "
    "built or energised."
)


@dataclass(frozen=True, slots=True)
class Schedules:
    """All tables of one design, with the quantities they were made from; written in ``language``."""

    title: str
    quantities: Quantities
    tables: tuple[Table, ...]
    language: Language = ENGLISH

    def table(self, name: str) -> Table:
        """One table by its name."""
        return next(t for t in self.tables if t.name == name)


def build_schedules(design: Design, prices: PriceList | None = None) -> Schedules:
    """Make every schedule of a design.

    Parameters
    ----------
    design : Design
        From :func:`design_of_study` or :func:`design_of_electrode`.
    prices : PriceList, optional
        Without one the bill has quantities only.

    Returns
    -------
    Schedules
        Tables ``about``, ``quantities``, ``bill``, ``conductors``, ``rods``, ``equipment``,
        ``joint-counts``, ``joints``, ``test-points``.
    """
    q = measure(design)
    tables = (
        _about(design),
        quantity_table(q),
        bill_table(design, q, prices),
        conductor_table(design),
        rod_table(design),
        equipment_table(design, q),
        joint_total_table(q),
        joint_table(design),
        test_point_table(design),
    )
    words = design.language.knowing(design.language.names | words_in(prices))
    return Schedules(design.identity.title, q, tables, words)


def _about(design: Design) -> Table:
    identity = design.identity
    last = identity.revisions[-1] if identity.revisions else None
    rows: list[tuple[Cell, ...]] = [
        ("Title", identity.title),
        ("Site", identity.site),
        ("Client", identity.client),
        ("Document", identity.document_number),
        ("Revision", f"{last.revision}, {last.date}" if last else "none stated"),
        ("Project file", design.file_name or "none"),
        ("SHA-256 of the project file", design.input_hash or "none"),
        ("Program", f"Evenground {design.version}"),
        ("Caution", CAUTION),
    ]
    rows += [("Assumption", text) for text in design.assumptions]
    rows += [("Warning", text) for text in design.warnings]
    columns = (Column("what", "What", width=30), Column("value", "Value", width=100))
    return Table("about", "About these schedules", columns, tuple(rows))


def write_schedules(schedules: Schedules, folder: Path | str) -> Sequence[Path]:
    """Write ``schedules.xlsx`` and one CSV file per table into an existing folder.

    Returns
    -------
    sequence of Path
        The files written.
    """
    place = Path(folder)
    book = place / "schedules.xlsx"
    tables = [spoken(table, schedules.language) for table in schedules.tables]
    write_xlsx(tables, book, title=schedules.title, words=schedules.language)
    files = [book]
    for table in tables:
        file = place / f"{table.name}.csv"
        write_csv(table, file)
        files.append(file)
    return files
