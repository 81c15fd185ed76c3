"""Commands of the searches; exit codes as in :mod:`evenground.cli._main`."""

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
    app.command()(confidence)
    app.command()(portfolio)
    app.command()(thrift)


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


def _range(text: str) -> str:
    return f"Range of the factor on {text}, LOW:HIGH or LOW:HIGH:SHAPE (log, normal, even)."


def confidence(
    file: ProjectFile,
    samples: Annotated[int, typer.Option("--samples", min=50, help="Number of samples.")] = 1000,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Equal seeds give equal answers.")] = 1,
    workers: Annotated[int, typer.Option("--workers", min=0, help="Processes; 0: one per core.")] = 0,
    wanted: Annotated[
        float, typer.Option("--wanted", min=0.0, max=1.0, help="Probability asked for.")
    ] = 0.95,
    fixed_soil: Annotated[
        bool, typer.Option("--fixed-soil", help="Take the soil model as certain instead of its spread.")
    ] = False,
    resistivity: Annotated[str, typer.Option("--resistivity", help=_range("all layers of the soil"))] = "",
    current: Annotated[str, typer.Option("--current", help=_range("the fault currents"))] = "",
    share: Annotated[str, typer.Option("--share", help=_range("the share of the mat (split)"))] = "",
    time: Annotated[str, typer.Option("--time", help=_range("the clearing times"))] = "",
    cover_resistivity: Annotated[
        str, typer.Option("--cover-resistivity", help=_range("the resistivity of the cover"))
    ] = "",
    cover_thickness: Annotated[
        str, typer.Option("--cover-thickness", help=_range("the thickness of the cover"))
    ] = "",
    depth: Annotated[
        str, typer.Option("--depth", help="Range of the change of burial depth in metres, LOW:HIGH (normal).")
    ] = "",
    broken: Annotated[
        float, typer.Option("--broken", min=0.0, max=1.0, help="Probability that one conductor is broken.")
    ] = 0.0,
    store: Annotated[
        Path | None,
        typer.Option(
            "--store", metavar="FILE", help="SQLite file (default: FILE's name + -confidence.sqlite)."
        ),
    ] = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Vary the uncertain inputs and tell with what probability touch and step limits are kept.

    A run that was stopped continues where it was. Exit code 0 when the probability is at least the one
    wanted, 1 when it is less, 3 when so many samples can not tell.
    """
    from evenground.cli import _search

    ranges = {
        "resistivity": resistivity,
        "current": current,
        "share": share,
        "time": time,
        "cover_resistivity": cover_resistivity,
        "cover_thickness": cover_thickness,
        "depth_m": depth,
    }
    raise typer.Exit(
        _search.confidence(
            file,
            {name: text for name, text in ranges.items() if text},
            samples=samples,
            seed=seed,
            workers=workers,
            wanted=wanted,
            fixed_soil=fixed_soil,
            broken=broken,
            store=store,
            as_json=json,
            quiet=quiet,
        )
    )


def portfolio(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Folder with project files, also below it.")
    ],
    current: Annotated[float, typer.Option("--current", help="Factor on all fault currents.")] = 1.0,
    time: Annotated[float, typer.Option("--time", help="Factor on all clearing times.")] = 1.0,
    standard: Annotated[str, typer.Option("--standard", help="Limits that govern from now on.")] = "",
    store: Annotated[
        Path | None,
        typer.Option("--store", metavar="FILE", help="SQLite file (default: FOLDER/portfolio.sqlite)."),
    ] = None,
    workers: Annotated[int, typer.Option("--workers", min=0, help="Processes; 0: one per core.")] = 0,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", metavar="FOLDER", help="Write map, table and a sheet of every site there."
        ),
    ] = None,
    csv: Csv = None,
    quiet: Quiet = False,
) -> None:
    """Assess every site in a folder again after a change, and rank them, the worst first.

    A run that was stopped continues where it was. Exit code 1 when a site fails after the change, else 2
    when the input of one is wrong, else 3 when one is not decided, else 0.
    """
    from evenground.cli import _search

    change = (current, time, standard)
    raise typer.Exit(_search.portfolio(folder, change, store, workers, csv, out=out, quiet=quiet))


def thrift(
    file: ProjectFile,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help="Result folder (default: FILE's name + -thrift)."),
    ] = None,
    prices: Annotated[
        Path | None,
        typer.Option("--prices", metavar="LIST", help="Price list (YAML); left out: placeholders."),
    ] = None,
    margin: Annotated[
        float, typer.Option("--margin", min=0.0, max=0.99, help="Least margin of every check in volts.")
    ] = 0.0,
    keep_margins: Annotated[
        bool, typer.Option("--keep-margins", help="No smaller margins of touch, step, ... than as drawn.")
    ] = False,
    population: Annotated[int, typer.Option("--population", min=4, help="Designs of a generation.")] = 24,
    generations: Annotated[int, typer.Option("--generations", min=1, help="Generations.")] = 12,
    studies: Annotated[int, typer.Option("--studies", min=1, help="Most full studies.")] = 8,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Equal seeds give equal answers.")] = 1,
    workers: Annotated[int, typer.Option("--workers", min=0, help="Processes; 0: one per core.")] = 0,
    store: Annotated[
        Path | None,
        typer.Option("--store", metavar="FILE", help="SQLite file (default: FILE's name + -thrift.sqlite)."),
    ] = None,
    json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Search the cheapest design within the rules of construction, and tell why each element is there.

    A run that was stopped continues where it was. Exit code 0 when a design was found that a full study
    accepts, 3 when none was.
    """
    from evenground.cli import _thrift

    asked = {"margin": margin, "keep_margins": keep_margins}
    effort = {"population": population, "generations": generations, "studies": studies, "seed": seed}
    raise typer.Exit(
        _thrift.thrift(file, out, prices, asked, effort, store, workers, as_json=json, quiet=quiet)
    )
