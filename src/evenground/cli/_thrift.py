"""What the command of the search for the cheapest design does."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from evenground.cli._search import progress, show_table

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.search import Thrift

__all__ = ["thrift"]

SHOWN = 12


def thrift(
    file: Path,
    out: Path | None,
    prices: Path | None,
    asked: Mapping[str, Any],
    effort: Mapping[str, int],
    store: Path | None,
    workers: int,
    *,
    as_json: bool,
    quiet: bool,
) -> int:
    """Search, write the result folder, print; returns the exit code."""
    from evenground.deliver.thrift_sheets import thrift_json
    from evenground.project import load_project
    from evenground.schedules import placeholder_prices, read_prices
    from evenground.search import Effort, Store, all_cores, find_cheapest, space_of
    from evenground.study import run_study

    project = load_project(file)
    space_of(project)  # wrong rules are told before the study
    listed = read_prices(prices) if prices else placeholder_prices()
    place = store or file.with_name(f"{file.stem}-thrift.sqlite")
    with Store(place) as kept, progress(quiet) as tell:
        study = run_study(project, lambda text, done: tell(text, 0.05 * done))
        found = find_cheapest(
            study,
            listed,
            **asked,
            effort=Effort(**effort),
            workers=workers or all_cores(),
            store=kept,
            progress=lambda text, done: tell(text, 0.05 + 0.95 * done),
        )
    folder = out or file.with_name(f"{file.stem}-thrift")
    _write(folder, file, project, found)
    if as_json:
        typer.echo(thrift_json(found, project), nl=False)
    else:
        _show(found)
        design = "" if found.made is None else f"{file.stem}-thrift.yaml and "
        typer.echo(f"written to {design}{folder}", err=True)
    return 3 if found.made is None else 0


def _write(folder: Path, file: Path, project: Project, found: Thrift) -> None:
    from evenground.deliver import thrift_sheets as sheets
    from evenground.deliver.files import replaced_folder, write_text
    from evenground.search import written

    if found.made is not None:  # beside the file it grew from: it may name other files there
        remark = f"Layout found by a search: {sheets.outcome_words(found)}."
        text = written(file.read_text(encoding="utf-8"), project, found.made, remark, file.parent)
        write_text(file.with_name(f"{file.stem}-thrift.yaml"), text)
    with replaced_folder(folder) as fresh:
        (fresh / "front.csv").write_text(sheets.front_csv(found), encoding="utf-8")
        (fresh / "thrift.json").write_text(sheets.thrift_json(found, project), encoding="utf-8")
        (fresh / "thrift.pdf").write_bytes(sheets.thrift_pdf(found, project))
        for name, data in sheets.thrift_plots(found, project, "png").items():
            (fresh / name).write_bytes(data)


def _show(found: Thrift) -> None:
    from evenground.deliver.thrift_sheets import outcome_words

    rows = [(r.element, r.instead, f"{r.saving:,.0f}", r.words) for r in found.reasons[:SHOWN]]
    notes = (outcome_words(found), *(f"{k}: {v}" for k, v in found.chosen.items()), *found.notes)
    heads = ("element", "instead", f"saves, {found.currency}", "what is lost")
    show_table("Why each element is there", heads, rows, notes)
