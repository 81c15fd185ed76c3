"""What the commands of the searches do."""

from __future__ import annotations

import csv as csv_module
import io
import json as json_module
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from evenground._caution import CAUTION
from evenground.errors import InputError
from evenground.model.study import Verdict

if TYPE_CHECKING:
    from evenground.search import Confidence, Driver, Loss, Losses, Range, SiteRow

__all__ = ["confidence", "losses", "portfolio", "progress", "show_table", "write_rows"]

Tell = Callable[[str, float], None]


@contextmanager
def progress(quiet: bool) -> Iterator[Tell]:
    """A bar on standard error, only on a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda text, done: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=1.0)
        yield lambda text, done: bar.update(task, description=text, completed=done)


def write_rows(rows: Sequence[Mapping[str, Any]], path: Path) -> None:
    """A CSV file with one line per row; the keys of the first are the heading."""
    from evenground.deliver.files import write_text

    text = io.StringIO()
    writer = csv_module.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    write_text(path, text.getvalue())


def show_table(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], notes: Sequence[str]) -> None:
    """A table on standard output, its notes and the caution."""
    from rich import box
    from rich.table import Table

    from evenground.cli._run import wide_console

    console = wide_console()
    table = Table(title=title, box=box.SIMPLE, title_justify="left")
    for k, head in enumerate(heads):
        table.add_column(head, justify="left" if k == 0 else "right")
    for row in rows:
        table.add_row(*row)
    console.print(table)
    for note in (*notes, CAUTION):
        console.print(f"- {note}", highlight=False, markup=False)


def losses(file: Path, csv: Path | None, top: int, *, as_json: bool, quiet: bool) -> int:
    """Rank the losses; returns the exit code."""
    from evenground.project import load_project
    from evenground.search import rank_losses
    from evenground.study import run_study

    project = load_project(file)
    with progress(quiet) as tell:
        study = run_study(project, lambda text, done: tell(text, 0.5 * done))
        found = rank_losses(study, lambda text, done: tell(text, 0.5 + 0.5 * done))
    if csv is not None:
        write_rows([_loss_row(r) for r in (found.intact, *found.rows)], csv)
    if as_json:
        rows = {"as_drawn": _loss_row(found.intact), "losses": [_loss_row(r) for r in found.rows]}
        typer.echo(json_module.dumps({**rows, "notes": found.notes}, indent=2, ensure_ascii=False))
    else:
        _show_losses(found, top)
    if max(r.utilisation for r in (found.intact, *found.rows)) > 1.0:
        return 1
    open_touch = (c.verdict is Verdict.NOT_DECIDED for c in study.checks if c.identity.startswith("touch-"))
    return 3 if any(open_touch) else 0


def _loss_row(r: Loss) -> dict[str, Any]:
    return {
        "kind": r.kind,
        "name": r.name,
        "resistance_ohm": r.resistance_ohm,
        "resistance_change": r.resistance_change,
        "touch_v": r.touch_v,
        "touch_limit_v": r.limit_v,
        "touch_over_limit": r.utilisation,
        "change_of_touch_over_limit": r.utilisation_change,
        "zone": r.zone,
        "scenario": r.scenario,
        "x_m": r.at_m[0],
        "y_m": r.at_m[1],
        "cut_off_m": r.cut_off_m,
        "floating_share": r.floating_share,
    }


def _show_losses(found: Losses, top: int) -> None:
    rows = [
        (
            r.name,
            f"{r.resistance_ohm:.4g}",
            f"{r.resistance_change:+.2%}",
            f"{r.touch_v:.0f}",
            f"{r.utilisation:.0%}",
            f"{100 * r.utilisation_change:+.1f}",
            f"{r.cut_off_m:.3g}" if r.cut_off_m else "",
        )
        for r in (found.intact, *found.rows[:top])
    ]
    heads = ("lost", "R, ohm", "change", "touch, V", "of limit", "points", "cut off, m")
    broken = len(found.breaking)
    kept = found.intact.utilisation <= 1.0
    words = f"{broken} of {len(found.rows)} single losses break a touch limit that is kept as drawn"
    if not kept:
        words = "a touch limit is broken with the metal as drawn already"
    show_table("The worst single losses", heads, rows, (words, *found.notes))


def confidence(
    file: Path,
    ranges: Mapping[str, str],
    *,
    samples: int,
    seed: int,
    workers: int,
    wanted: float,
    fixed_soil: bool,
    broken: float,
    store: Path | None,
    as_json: bool,
    quiet: bool,
) -> int:
    """Sample the doubts; returns the exit code."""
    from evenground.model._serial import to_plain
    from evenground.project import load_project
    from evenground.search import Doubts, Store, all_cores, sample_doubts
    from evenground.study import run_study

    read = {name: read_range(name, text) for name, text in ranges.items()}
    doubts = Doubts(soil=not fixed_soil, broken=broken, **read)
    project = load_project(file)
    place = store or file.with_name(f"{file.stem}-confidence.sqlite")
    with Store(place) as kept, progress(quiet) as tell:
        study = run_study(project, lambda text, done: tell(text, 0.2 * done))
        found = sample_doubts(
            study,
            doubts,
            samples=samples,
            seed=seed,
            workers=workers or all_cores(),
            store=kept,
            progress=lambda text, done: tell(text, 0.2 + 0.8 * done),
        )
    if as_json:
        typer.echo(json_module.dumps(to_plain(found), indent=2, ensure_ascii=False))
    else:
        _show_confidence(found)
    low, high = found.interval
    if low >= wanted:
        return 0
    return 1 if high < wanted else 3


def read_range(name: str, text: str) -> Range:
    """``LOW:HIGH`` or ``LOW:HIGH:SHAPE``.

    Raises
    ------
    InputError
        When it is neither.
    """
    from evenground.search import Range

    parts = text.split(":")
    shape = parts[2] if len(parts) == 3 else ("normal" if name == "depth_m" else "log")
    option = "--" + name.removesuffix("_m").replace("_", "-")
    try:
        if len(parts) not in (2, 3):
            raise ValueError("needs LOW:HIGH or LOW:HIGH:SHAPE")
        return Range(float(parts[0]), float(parts[1]), shape)
    except ValueError as error:
        raise InputError(f"{option} {text}: {error}") from error


def _show_confidence(found: Confidence) -> None:
    rows = [
        (
            c.title,
            f"{c.probability:.1%}",
            f"{1 - c.nominal:+.0%}",
            f"{1 - c.over_limit[2]:+.0%} to {1 - c.over_limit[0]:+.0%}",
            "; ".join(driver_words(d) for d in c.drivers[:3] if max(d.share, d.total or 0.0) >= 0.01),
        )
        for c in found.checks
    ]
    heads = ("check", "kept", "margin", "margin, 95 % band", "driven by (of variance, in all)")
    show_table("Confidence", heads, rows, (found.sentence, *found.advice, *found.notes))


def driver_words(d: Driver) -> str:
    """An input with its share of the variance and, where known, its total-order index."""
    return f"{d.name} {d.share:.0%}" + ("" if d.total is None else f" ({d.total:.0%})")


def portfolio(
    folder: Path,
    change: tuple[float, float, str],
    store: Path | None,
    workers: int,
    csv: Path | None,
    *,
    out: Path | None,
    quiet: bool,
) -> int:
    """Assess the sites of a folder; returns the exit code."""
    from evenground.search import SiteChange, Store, all_cores, assess_sites, project_files

    wanted = SiteChange(*change)
    files = project_files(folder)
    with Store(store or folder / "portfolio.sqlite") as kept, progress(quiet) as tell:
        rows = assess_sites(files, wanted, kept, root=folder, workers=workers or all_cores(), progress=tell)
    if csv is not None:
        write_rows([_site_row(r) for r in rows], csv)
    if out is not None:
        _write_sites(out, rows, wanted.describe())
    _show_sites(rows, wanted.describe())
    verdicts = {r.after.verdict for r in rows}
    return next(
        (code for word, code in (("fail", 1), ("wrong input", 2), ("not decided", 3)) if word in verdicts), 0
    )


def _write_sites(out: Path, rows: Sequence[SiteRow], change: str) -> None:
    """Ranking, map and a sheet of every site as a folder."""
    from evenground.deliver.files import replaced_folder
    from evenground.deliver.portfolio_sheets import sites_pdf, sites_plots

    with replaced_folder(out) as fresh:
        write_rows([_site_row(r) for r in rows], fresh / "sites.csv")
        (fresh / "sites.pdf").write_bytes(sites_pdf(rows, change))
        for name, data in sites_plots(rows, change, "png").items():
            (fresh / name).write_bytes(data)


def _site_row(row: SiteRow) -> dict[str, Any]:
    from dataclasses import asdict

    latitude, longitude = row.at_deg or (None, None)
    found: dict[str, Any] = {"site": row.site, "title": row.title}
    found |= {"latitude_deg": latitude, "longitude_deg": longitude}
    for when, result in (("as_stated", row.before), ("changed", row.after)):
        found |= {f"{when}_{name}": v for name, v in asdict(result).items() if name != "checks"}
    return found


def _show_sites(rows: Sequence[SiteRow], change: str) -> None:
    def share(value: float | None) -> str:
        return "" if value is None else f"{value:.0%}"

    table = [
        (
            r.site,
            r.before.verdict,
            r.after.verdict,
            share(r.before.touch_over_limit),
            share(r.after.touch_over_limit),
            r.after.failing or r.after.reason or r.after.governing,
        )
        for r in rows
    ]
    heads = ("site", "as stated", "changed", "touch of limit", "changed", "fails, open or governing")
    turned = sum(r.turned for r in rows)
    notes = (
        f"{turned} of {len(rows)} sites come to another verdict",
        "touch of limit: the touch voltage nearest to its limit, or furthest beyond it",
    )
    show_table(f"Sites, {change}", heads, table, notes)
