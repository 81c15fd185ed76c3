"""A table as data: what the spreadsheet, the CSV file and the sheets on paper are written from."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Cell", "Column", "Table"]

Cell = str | float | int | None
"""None is a blank that somebody fills in, or a number that is not decided."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes
    ----------
    key, title, unit : str
    places : int
        Decimals shown.
    formula : str
        For a computed column: a spreadsheet formula with ``{key}`` for the cell of another column in the
        same row and ``{#name}`` for a named value of the table, without the equals sign. The rows carry the
        value as well.
    total : bool
        Whether the foot of the table adds it up.
    width : int
        Characters.
    """

    key: str
    title: str
    unit: str = ""
    places: int = 2
    formula: str = ""
    total: bool = False
    width: int = 12

    @property
    def heading(self) -> str:
        """Title with its unit."""
        return f"{self.title} [{self.unit}]" if self.unit else self.title


@dataclass(frozen=True, slots=True)
class Table:
    """A schedule.

    Attributes
    ----------
    name : str
        Short, unique: file and sheet name.
    title : str
    columns : tuple of Column
    rows : tuple of tuple of Cell
    notes : tuple of str
        Assumptions and cautions printed with the table.
    values : tuple of (str, str, float, str)
        Named values that formulas use: name, words, value, unit.
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()
    values: tuple[tuple[str, str, float, str], ...] = ()

    def __post_init__(self) -> None:
        width = len(self.columns)
        if any(len(row) != width for row in self.rows):
            raise ValueError(f"table {self.name}: every row needs {width} cells")

    def column(self, key: str) -> tuple[Cell, ...]:
        """All cells of one column."""
        index = [c.key for c in self.columns].index(key)
        return tuple(row[index] for row in self.rows)

    def total(self, key: str) -> float | None:
        """Sum of one column; None when a cell is blank, words in a cell are passed over."""
        cells = self.column(key)
        if any(c is None for c in cells):
            return None
        return sum(float(c) for c in cells if not isinstance(c, str) and c is not None)
