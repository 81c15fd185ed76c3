"""What the commands do. Only this module and :mod:`evenground.deliver` touch files and the clock."""

from __future__ import annotations

import datetime
import json as json_module
import os
import sys
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, Future
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from evenground.errors import Finding, InputError, Severity
from evenground.model.study import Verdict

if TYPE_CHECKING:
    from rich.console import Console

    from evenground.model.project import Project
    from evenground.model.study import Study
    from evenground.schedules import PriceList

__all__ = [
    "drawings",
    "new",
    "open_page",
    "run_quietly",
    "schema",
    "show_findings",
    "siteplan",
    "soil",
    "study",
]

EXIT = {Verdict.PASS: 0, Verdict.FAIL: 1, Verdict.NOT_DECIDED: 3}


def show_findings(findings: Iterable[Finding]) -> None:
    """Print findings on standard error: one line each, then the line of the file with a marker."""
    rows = list(findings)
    for row in rows:
        typer.echo(str(row), err=True)
        if row.excerpt:
            typer.echo(f"{row.line:6d} | {row.excerpt}", err=True)
            typer.echo(" " * (8 + max(row.column, 1)) + "^", err=True)
    errors = sum(r.severity is Severity.ERROR for r in rows)
    if errors:
        typer.echo(f"{errors} error{'s' if errors > 1 else ''}; nothing was computed or written", err=True)


def study(
    file: Path,
    out: Path | None,
    *,
    as_json: bool,
    write_files: bool,
    quiet: bool,
    solver_report: bool = False,
    suggest: bool = False,
    prices: Path | None = None,
) -> int:
    """Run a study; returns the exit code."""
    from evenground.project import load_project
    from evenground.study import with_site_tests

    if prices is not None and not suggest:
        raise InputError("--prices: is read for --suggest only; give both, or write a bill with drawings")
    price_list = _prices(prices)
    project = load_project(file)
    folder = out or file.with_name(f"{file.stem}-results")
    if write_files:
        refuse_foreign(folder)
    earlier = earlier_study(project) if write_files else None
    with _helper(write_files) as helper:
        begin = time.perf_counter()
        result = run_quietly(project, quiet)
        with _lines_of(project):
            result = with_site_tests(result)
        begun: list[Future[bytes | None]] = []
        if helper is not None:
            from evenground.deliver._second import begin as begin_drawing

            begun = begin_drawing(result, helper)
        if suggest:
            from evenground.mitigation import with_suggestions

            result = with_suggestions(result, prices=price_list)
        if project.identity.sensitivity:
            from evenground.study import with_sensitivity

            result = with_sensitivity(result)
        result = replace(result, findings=tuple(with_lines(result.findings, project)))
        seconds = time.perf_counter() - begin
        if solver_report:
            _print_solver_report(result, seconds)
        if write_files:
            from evenground.deliver.results import write_results

            today = datetime.date.today().isoformat()
            write_results(result, folder, made_on=today, helper=helper, earlier=earlier, begun=begun)
    if as_json:
        typer.echo(result.to_json())
    else:
        from evenground.deliver.terminal import print_summary

        console = wide_console()
        print_summary(result, console)
        if write_files:
            console.print(f"Results: {folder}", soft_wrap=True, highlight=False)
    return EXIT[result.verdict]


def _prices(file: Path | None) -> PriceList | None:
    """A price list, read before anything is computed."""
    if file is None:
        return None
    from evenground.schedules import read_prices

    return read_prices(file)


def earlier_study(project: Project) -> dict[str, Any] | None:
    """The earlier study that a project wants to be compared with, read before anything is computed."""
    name = project.identity.compared_with
    if not name:
        return None
    from evenground.deliver.compare import read_study

    try:
        return read_study(Path(project.file_name).parent / name)
    except InputError as error:
        path = ("project", "compared_with")
        rows = [replace(f, message=f"{name} {f.message}", file="", path=path) for f in error.findings]
        raise InputError(with_lines(rows, project)) from error


def _helper(wanted: bool) -> AbstractContextManager[Executor | None]:
    """A process that draws while this one computes; None when nothing is to be drawn."""
    if not wanted:
        return nullcontext()
    from evenground.deliver._second import second_process

    return second_process()


def _print_solver_report(result: Study, seconds: float) -> None:
    """How the field solution came about; on standard error, so that results stay clean."""
    field = result.field
    rows = (
        ("method", field.method),
        ("segments", f"{field.segments}, longest {field.longest_segment_m:.3g} m"),
        ("soil layers", str(field.layers)),
        ("kernel fit error", f"{field.kernel_error:.1e} relative, on fresh spectral samples"),
        ("residual", f"{field.residual:.1e} relative"),
        ("energy balance", f"{field.energy_balance:.1e} relative"),
        *(
            [("current lost at joints", f"{field.node_balance:.1e} relative")]
            if field.node_balance is not None
            else []
        ),
        ("iterations", str(field.iterations) if field.iterations else "0 (direct)"),
        ("discretisation error", f"about {field.resistance_error_ohm / field.resistance_ohm:.2%} of R"),
        ("memory", f"{field.memory_bytes / 1e6:.0f} MB estimated before the solve"),
        ("time of the study", f"{seconds:.2f} s, {len(result.soil_cases)} soil case(s)"),
        *(("note", note) for note in field.notes),
    )
    for name, text in rows:
        typer.echo(f"{name:22} {text}", err=True)


def drawings(file: Path, out: Path | None, prices: Path | None) -> int:
    """Write drawings, schedules and record forms of a project; returns the exit code."""
    from evenground.drawing import write_dxf, write_pdf
    from evenground.project import load_project
    from evenground.schedules import (
        build_schedules,
        design_of_study,
        plan_construction,
        write_inspection_pdf,
        write_schedules,
    )

    folder = out or file.with_name(f"{file.stem}-drawings")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder for the drawings")
    price_list = _prices(prices)
    result = run_quietly(load_project(file), quiet=False)
    design = design_of_study(result)
    folder.mkdir(parents=True, exist_ok=True)
    write_dxf(design, folder / "sheets.dxf")
    write_pdf(design, folder / "sheets.pdf")
    write_schedules(build_schedules(design, price_list), folder)
    write_inspection_pdf(plan_construction(design), folder / "record-forms.pdf")
    typer.echo(f"{folder}: drawings, schedules and record forms written (verdict: {result.verdict})")
    return EXIT[result.verdict]


def siteplan(file: Path, *, as_json: bool) -> int:
    """Print what a drawing holds, or what a project took from it; returns the exit code."""
    from evenground.model._serial import to_plain

    listing: object
    if file.suffix.lower() in (".yaml", ".yml"):
        from evenground.project import load_project

        drawing = load_project(file).site_drawing
        if drawing is None:
            raise InputError(f"{file}: names no drawing; add a section site_drawing")
        listing, text = drawing, drawing.summary()
    else:
        from evenground.siteplan import list_layers

        layers = list_layers(file)
        listing, text = layers, layers.text()
    typer.echo(json_module.dumps(to_plain(listing), indent=2, ensure_ascii=False) if as_json else text)
    return 0


PIPED_COLUMNS = 160


def wide_console() -> Console:
    """Standard output; wide, with sentences on one line, where it is no terminal and COLUMNS is not set."""
    from rich.console import Console

    piped = not sys.stdout.isatty() and "COLUMNS" not in os.environ
    return Console(width=PIPED_COLUMNS, soft_wrap=True) if piped else Console()


@contextmanager
def _lines_of(project: Project) -> Iterator[None]:
    """Errors that a stage raises inside get the lines of their fields."""
    try:
        yield
    except InputError as error:
        rows = _with_excerpts(error.findings, project)
        raise InputError(with_lines(rows, project)) from error


def _with_excerpts(findings: Iterable[Finding], project: Project) -> list[Finding]:
    """Findings of a stage with the line of the file they stand in, while the file is still there."""
    from evenground.project import placed

    try:
        return placed(findings, Path(project.file_name).read_text(encoding="utf-8"), project.file_name)
    except (OSError, UnicodeDecodeError):
        return list(findings)


def with_lines(findings: Iterable[Finding], project: Project) -> list[Finding]:
    """Findings of a later stage with the line of their field, from the register of inputs."""
    rows = []
    lines: dict[tuple[str | int, ...], int] = {}
    for row in project.register:
        for n in range(1, len(row.path) + 1):
            lines.setdefault(row.path[:n], row.line)
    for finding in findings:
        line = next(
            (lines[finding.path[:n]] for n in range(len(finding.path), 0, -1) if finding.path[:n] in lines), 0
        )
        rows.append(
            finding if finding.line or not line else replace(finding, file=project.file_name, line=line)
        )
    return rows


def refuse_foreign(folder: Path) -> None:
    """Refuse early to write where something other than an earlier result lies."""
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder for the results")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / "study.json").exists():
        raise InputError(f"{folder}: holds other files and no study.json; give an empty or new folder")


def run_quietly(project: Project, quiet: bool) -> Study:
    """Run a study with a bar of progress on standard error, unless ``quiet`` or nobody looks at it."""
    from evenground.study import run_study

    if quiet or not sys.stderr.isatty():
        with _lines_of(project):
            return run_study(project)
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with _lines_of(project), Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=1.0)

        def tell(text: str, done: float) -> None:
            bar.update(task, description=text, completed=done)

        return run_study(project, tell)


def soil(file: Path, *, as_json: bool, plot: Path | None) -> int:
    """Interpret the soil of a project; returns the exit code."""
    from evenground._study_parts import extent_m
    from evenground.project import load_project
    from evenground.soil import interpret_soil

    project = load_project(file)
    with _lines_of(project):
        result = interpret_soil(project.traverses, project.soil_choice, mat_extent_m=extent_m(project))
    if as_json:
        from evenground.model._serial import to_plain

        typer.echo(json_module.dumps(to_plain(result), indent=2, ensure_ascii=False))
    else:
        from evenground.deliver.terminal import print_soil

        print_soil(result, wide_console())
    if plot is not None:
        from evenground.deliver.plots import save_figure, sounding_figure

        save_figure(sounding_figure(result), plot)
    return 0


def open_page(file: Path, port: int, *, show: bool) -> int:
    """Serve the page of a project file until the user stops it."""
    from evenground.web import open_page as serve_page

    serve_page(file, port=port, show=show)
    return 0


def new(file: Path, kind: str) -> int:
    """Write a starter; never overwrites."""
    from evenground.project import starter_text

    if kind not in ("substation", "plant"):
        raise InputError(f"--kind {kind}: must be substation or plant")
    if file.exists():
        raise InputError(f"{file}: exists already and was left as it is; give another name")
    _write(file, starter_text(kind))
    typer.echo(f"{file}: written; edit it, then run: evenground study {file}")
    return 0


def schema(out: Path | None) -> int:
    """Print or write the JSON Schema."""
    from evenground.project import json_schema

    text = json_module.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    if out is None:
        typer.echo(text, nl=False)
    else:
        _write(out, text)
    return 0


def _write(file: Path, text: str) -> None:
    from evenground.deliver.files import write_text

    write_text(file, text)
