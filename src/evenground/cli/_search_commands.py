"""Commands of the searches: ``losses``. Exit codes as in :mod:`evenground.cli._main`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["add_commands"]

ProjectFile = Annotated[Path, typer.Argument(metavar="FILE", help="Project file (YAML).")]
Csv = Annotated[Path | None, typer.Option("--csv", metavar="TABLE", help="Write every row as CSV.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON instead of a table.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No progress on standard error.")]


def add_commands(app: typer.Typer) -> None:
    """Register the commands."""
    app.command()(losses)


def losses(
    file: ProjectFile,
    csv: Csv = None,
    top: Annotated[int, typer.Option("--top", min=1, help="Rows of the table.")] = 20,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Lose each conductor, rod and joint in turn and rank what that does to touch voltage and resistance.

    Exit code 1 when one loss breaks a touch limit, 0 when none does.
    """
    from evenground.cli import _search

    raise typer.Exit(_search.losses(file, csv, top, as_json=json, quiet=quiet))
