"""Commands ``testplan`` and ``testresult``: proof on site."""

from __future__ import annotations

import csv
from pathlib import Path

import typer

from evenground.errors import InputError

__all__ = ["judge_site_tests", "plan_site_tests"]

EXIT = {"pass": 0, "mitigation": 1, "re-run with tested soil": 3, "not decided": 3}
FORM = "form.csv"


def plan_site_tests(
    file: Path,
    out: Path | None,
    *,
    current_bearing_deg: float,
    potential_bearing_deg: float | None,
    longest_lead_m: float | None,
    test_current_a: float,
) -> int:
    """Write sheets and form of the site tests of a project; returns the exit code."""
    from evenground._study_sitetest import prepare_site_tests
    from evenground.cli._run import run_quietly
    from evenground.deliver.files import write_bytes, write_text
    from evenground.deliver.sitetest_sheets import form_csv, form_xlsx, plan_pdf
    from evenground.project import load_project

    folder = out or file.with_name(f"{file.stem}-testplan")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder for the test plan")
    if (folder / FORM).exists():
        raise InputError(f"{folder / FORM}: exists and may hold readings; give another folder")
    study = run_quietly(load_project(file), False)
    tests = prepare_site_tests(
        study,
        current_bearing_deg=current_bearing_deg,
        potential_bearing_deg=potential_bearing_deg,
        longest_lead_m=longest_lead_m,
        test_current_a=test_current_a,
    )
    sheets = plan_pdf(study, tests)
    folder.mkdir(parents=True, exist_ok=True)
    write_bytes(folder / "sheets.pdf", sheets)
    write_bytes(folder / "form.xlsx", form_xlsx(tests))
    write_text(folder / FORM, form_csv(tests))
    fall = tests.plan.fall
    stand = "at no place of this line" if fall.stand_m is None else f"at {fall.stand_m:.1f} m"
    typer.echo(
        f"{folder}: sheets and form written; current probe at {fall.current_distance_m:.0f} m, the "
        f"potential probe reads the true resistance {stand}"
    )
    return 0


def judge_site_tests(file: Path, form: Path, out: Path | None) -> int:
    """Read a filled form and judge it; returns the exit code."""
    from evenground._sitetest_form import readings_of_rows
    from evenground._sitetest_verdict import judge_tests
    from evenground._study_sitetest import prepare_site_tests
    from evenground.cli._run import run_quietly
    from evenground.deliver.files import write_bytes, write_text
    from evenground.deliver.sitetest_sheets import result_json, result_pdf
    from evenground.project import load_project

    rows = _rows(form)
    study = run_quietly(load_project(file), False)
    tests = prepare_site_tests(study)
    outcome = judge_tests(tests, readings_of_rows(rows, tests))
    folder = out or form.with_name(f"{form.stem}-result")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder for the result")
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / "result.json", result_json(study, tests, outcome))
    write_bytes(folder / "result.pdf", result_pdf(study, tests, outcome))
    typer.echo(f"outcome: {outcome.verdict}")
    for line in outcome.why:
        typer.echo(f"  {line}")
    fall = outcome.fall
    if fall is not None and fall.resistance_ohm is not None:
        typer.echo(
            f"resistance {fall.resistance_ohm:.4g} ohm measured, {fall.predicted_ohm:.4g} ohm predicted"
        )
    typer.echo(f"Result: {folder}")
    return EXIT[outcome.verdict]


def _rows(form: Path) -> list[dict[str, str]]:
    """Rows of a filled form; lines are counted from 1 with the heading."""
    from evenground._sitetest_form import COLUMNS

    try:
        with form.open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream)
            missing = [c for c in COLUMNS[:6] if c not in (reader.fieldnames or ())]
            if missing:
                raise InputError(f"{form}: the columns {', '.join(missing)} are missing")
            return [{str(k): v or "" for k, v in row.items() if k is not None} for row in reader]
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{form}: is not a CSV file in UTF-8 ({error})") from error
