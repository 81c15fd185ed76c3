"""Commands ``study``, ``drawings``, ``compare``, ``siteplan``, ``soil``, ``open``, ``new``, ``schema``.

Exit codes: 0 every governing check passed, 1 a governing check failed, 2 the input is wrong,
3 not decided. Results go to standard output, progress and errors to standard error.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from evenground._caution import CAUTION
from evenground._version import __version__
from evenground.cli._search_commands import add_commands

__all__ = ["app", "main"]

app = typer.Typer(
    name="evenground",
    help=f"Design of earthing systems for AC substations, plants and industrial sites.\n\n{CAUTION}",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)

ProjectFile = Annotated[Path, typer.Argument(metavar="FILE", help="Project file (YAML).")]


def _version(show: bool) -> None:
    if show:
        typer.echo(f"evenground {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Options that every command shares."""


@app.command()
def study(
    file: ProjectFile,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", metavar="FOLDER", help="Result folder (default: FILE's name + -results)."
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print study.json instead of the summary.")] = False,
    no_files: Annotated[bool, typer.Option("--no-files", help="Only print; write no result folder.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No progress on standard error.")] = False,
    solver_report: Annotated[
        bool,
        typer.Option("--solver-report", help="Print how the field solution came about, on standard error."),
    ] = False,
    suggest: Annotated[
        bool,
        typer.Option("--suggest", help="When touch, step or a fence fails: compute what would help, ranked."),
    ] = False,
    prices: Annotated[
        Path | None,
        typer.Option(
            "--prices", metavar="FILE", help="Price list (YAML) for --suggest; left out: placeholder prices."
        ),
    ] = None,
) -> None:
    """Run the whole study of a project file and write report, plots, tables and study.json."""
    from evenground.cli import _run

    raise typer.Exit(
        _run.study(
            file,
            out,
            as_json=json,
            write_files=not no_files,
            quiet=quiet,
            solver_report=solver_report,
            suggest=suggest,
            prices=prices,
        )
    )


@app.command()
def drawings(
    file: ProjectFile,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help="Folder (default: FILE's name + -drawings)."),
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Price list (YAML); left out: no cost.")
    ] = None,
) -> None:
    """Write layout and detail sheets (DXF, PDF), schedules and quantities (XLSX, CSV), record forms (PDF)."""
    from evenground.cli import _run

    raise typer.Exit(_run.drawings(file, out, prices))


@app.command()
def compare(
    a: Annotated[Path, typer.Argument(metavar="A", help="Earlier study.")],
    b: Annotated[Path, typer.Argument(metavar="B", help="Later study.")],
    json: Annotated[bool, typer.Option("--json", help="Print the difference as JSON.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the difference as a table.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No progress on standard error.")] = False,
) -> None:
    """Show how two studies differ: inputs, results, margins, quantities.

    A and B are result folders, study.json files or project files (which are then computed).
    """
    from evenground.cli import _compare

    raise typer.Exit(_compare.compare(a, b, as_json=json, csv=csv, quiet=quiet))


@app.command()
def siteplan(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="Drawing (DXF), or project file that names one.")
    ],
    json: Annotated[bool, typer.Option("--json", help="Print what was taken and left as JSON.")] = False,
) -> None:
    """Show the layers of a site drawing, or what a project takes from its drawing and what is left."""
    from evenground.cli import _run

    raise typer.Exit(_run.siteplan(file, as_json=json))


@app.command("testplan")
def plan_site_tests(
    file: ProjectFile,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help="Folder (default: FILE's name + -testplan)."),
    ] = None,
    current_bearing: Annotated[
        float, typer.Option("--current-bearing", help="Current lead from the x axis. [deg]")
    ] = 0.0,
    potential_bearing: Annotated[
        float | None,
        typer.Option("--potential-bearing", help="Potential lead; left out: that of the current lead. [deg]"),
    ] = None,
    longest_lead: Annotated[
        float | None, typer.Option("--longest-lead", min=1, help="Longest lead at hand. [m]")
    ] = None,
    current: Annotated[float, typer.Option("--current", min=0.001, help="Test current. [A]")] = 10.0,
) -> None:
    """Write the plan of the site tests: sheets (PDF), form to fill in (CSV, XLSX)."""
    from evenground.cli import _sitetest

    raise typer.Exit(
        _sitetest.plan_site_tests(
            file,
            out,
            current_bearing_deg=current_bearing,
            potential_bearing_deg=potential_bearing,
            longest_lead_m=longest_lead,
            test_current_a=current,
        )
    )


@app.command("testresult")
def judge_site_tests(
    file: ProjectFile,
    form: Annotated[
        Path | None,
        typer.Argument(
            metavar="[FORM]", help="Filled form of testplan (CSV); left out: a test of the project file."
        ),
    ] = None,
    test: Annotated[
        str | None,
        typer.Option("--test", metavar="NAME", help="Which test of the project file (default: the newest)."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Run the study again with the soil that the test agrees with.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help="Folder (default: FORM's name + -result)."),
    ] = None,
) -> None:
    """Judge the readings of a site test: measured against predicted (PDF, JSON)."""
    from evenground.cli import _sitetest

    raise typer.Exit(_sitetest.judge_site_tests(file, form, out, name=test, again=again))


@app.command("asbuilt")
def as_built(
    file: ProjectFile,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help="Folder (default: FILE's name + -as-built)."),
    ] = None,
) -> None:
    """Run the study of what was built: report, results, and how it differs from the design."""
    from evenground.cli import _as_built

    raise typer.Exit(_as_built.as_built(file, out))


@app.command()
def existing(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What was measured (YAML), see the docs.")],
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Say what tests alone allow to say of an existing site without drawings."""
    from evenground.cli import _existing

    raise typer.Exit(_existing.existing(file, as_json=json))


@app.command()
def soil(
    file: ProjectFile,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", metavar="PICTURE", help="Write the sounding curve (.svg or .png)."),
    ] = None,
) -> None:
    """Interpret the soil readings of a project file: models, residuals, warnings."""
    from evenground.cli import _run

    raise typer.Exit(_run.soil(file, as_json=json, plot=plot))


@app.command("open")
def open_page(
    file: Annotated[
        Path, typer.Argument(metavar="[FILE]", help="Project file (YAML); one that is not there is started.")
    ] = Path("site.yaml"),
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port; 0 takes a free one.")] = 0,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the address; open no browser.")
    ] = False,
) -> None:
    """Open a project file in the browser: plan, panels and live results, on this machine only."""
    from evenground.cli import _run

    raise typer.Exit(_run.open_page(file, port, show=not no_browser))


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="File to write; must not exist yet.")],
    kind: Annotated[str, typer.Option("--kind", help="substation or plant.")] = "substation",
) -> None:
    """Write a commented starter project file."""
    from evenground.cli import _run

    raise typer.Exit(_run.new(file, kind))


@app.command()
def schema(
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write to a file instead of printing.")
    ] = None,
) -> None:
    """Print the JSON Schema of the project file, for completion in an editor."""
    from evenground.cli import _run

    raise typer.Exit(_run.schema(out))


add_commands(app)


def main() -> NoReturn:
    """Entry point of the ``evenground`` command."""
    from evenground.errors import CancelledError, EvengroundError, InputError

    try:
        app()
    except InputError as error:
        from evenground.cli import _run

        _run.show_findings(error.findings)
        sys.exit(2)
    except (KeyboardInterrupt, CancelledError):
        typer.echo("stopped; no result was written", err=True)
        sys.exit(130)
    except EvengroundError as error:
        typer.echo(f"not decided: {error}", err=True)
        sys.exit(3)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        typer.echo(f"{where}{error.strerror or error}", err=True)
        sys.exit(2)
    raise AssertionError("unreachable: the command line always exits")
