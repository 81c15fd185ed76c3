"""The command ``compare``: two project files, result folders or study.json files side by side."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from evenground.deliver.compare import Comparison

__all__ = ["compare", "print_comparison"]


def compare(a: Path, b: Path, *, as_json: bool, csv: Path | None, quiet: bool) -> int:
    """Print the difference of two studies; returns 0 also when they differ."""
    from evenground.deliver.compare import compare_studies, comparison_rows
    from evenground.deliver.files import write_text
    from evenground.deliver.tables import csv_text
    from evenground.model._serial import to_plain

    comparison = compare_studies(_study_of(a, quiet), _study_of(b, quiet))
    if csv is not None:
        columns = ["kind", "what", "before", "after", "change"]
        write_text(csv, csv_text(columns, comparison_rows(comparison)))
    if as_json:
        typer.echo(json.dumps(to_plain(comparison), indent=2, ensure_ascii=False))
    else:
        print_comparison(comparison)
    return 0


def print_comparison(comparison: Comparison) -> None:
    """Print what differs between two studies."""
    from evenground.cli._run import wide_console

    _print(comparison, wide_console())


def _study_of(path: Path, quiet: bool) -> dict[str, Any]:
    """Plain data of a study: read when there is one, computed from a project file otherwise."""
    from evenground.deliver.compare import read_study

    if path.suffix.lower() not in (".yaml", ".yml"):
        return read_study(path)
    from evenground.cli._run import run_quietly
    from evenground.model._serial import study_to_dict
    from evenground.project import load_project

    return study_to_dict(run_quietly(load_project(path), quiet))


def _print(c: Comparison, console: Console) -> None:
    from evenground.deliver._report_compare import change_cells, check_cells

    for name, about in (("A", c.a), ("B", c.b)):
        line = f"{name}: {about['title']}, revision {about['revision'] or 'none'}, {about['file']}, "
        line += f"input {about['sha256'][:12] or 'without hash'}, verdict {about['verdict']}"
        console.print(line, highlight=False)
    if c.same_input:
        console.print("Both studies were made from the same input.")
    for title, changes in (("Inputs", c.inputs), ("Results", c.results), ("Quantities", c.quantities)):
        _table(console, title, ["What", "A", "B", "Change"], [change_cells(x) for x in changes])
    _table(
        console,
        "Checks",
        ["Check", "Verdict A", "Verdict B", "Margin A", "Margin B"],
        [check_cells(x) for x in c.checks],
    )


def _table(console: Console, title: str, columns: list[str], rows: list[list[str]]) -> None:
    from rich.table import Table
    from rich.text import Text

    if not rows:
        console.print(f"{title}: no difference")
        return
    grid = Table(title=f"{title} that differ", title_justify="left")
    for column in columns:
        grid.add_column(column, overflow="fold")
    for row in rows:
        grid.add_row(*(Text(cell) for cell in row))
    console.print(grid)
