"""Commands ``testplan`` and ``testresult``: proof on site."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evenground.errors import InputError

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.model.site_test import SiteTest, SiteTestOutcome
    from evenground.model.study import Study

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


def judge_site_tests(
    file: Path, form: Path | None, out: Path | None, *, name: str | None, again: bool
) -> int:
    """Judge a filled form, or a dated test of the project file; returns the exit code."""
    from evenground._sitetest_verdict import judge_tests
    from evenground._study_sitetest import prepare_site_tests
    from evenground._study_tests import with_buried_metal
    from evenground.cli._run import run_quietly
    from evenground.deliver.files import write_bytes, write_text
    from evenground.deliver.sitetest_sheets import result_json, result_pdf
    from evenground.project import load_project

    project = load_project(file)
    test = _form_test(form, project) if form is not None else _dated_test(project, file, name)
    folder = out or (form or file).with_name(f"{(form or file).stem}-result")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; give a folder for the result")
    study = run_quietly(project, False)
    tests = prepare_site_tests(study, soil_of_the_day=test.soil, riser_reference=test.riser_reference)
    outcome = with_buried_metal(study, judge_tests(tests, test, study))
    pages = result_pdf(study, tests, outcome)
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / "result.json", result_json(study, tests, outcome))
    write_bytes(folder / "result.pdf", pages)
    typer.echo(f"outcome: {outcome.verdict}")
    for line in outcome.why:
        typer.echo(f"  {line}")
    fall = outcome.fall
    if fall is not None and fall.resistance_ohm is not None:
        typer.echo(
            f"resistance {fall.resistance_ohm:.4g} ohm measured, {fall.predicted_ohm:.4g} ohm predicted"
        )
    if again:
        _again(study, outcome, folder)
    elif outcome.verdict == "re-run with tested soil":
        typer.echo("With --again the study is run again with the soil that the test agrees with.")
    typer.echo(f"Result: {folder}")
    return EXIT[outcome.verdict]


def _form_test(form: Path, project: Project) -> SiteTest:
    from evenground.project import rows_of_form, site_test_of_rows

    tags = {e.tag for e in project.installation.equipment}
    stated = "equipment" in project.installation.stated
    rows = rows_of_form(form.read_bytes(), str(form))
    return site_test_of_rows(rows, name=form.stem, file=str(form), tags=tags if stated else None)


def _dated_test(project: Project, file: Path, name: str | None) -> SiteTest:
    """The test of this name, else the newest one of the project file."""
    if not project.tests:
        raise InputError(f"{file}: has no section tests; give the filled form, or add one")
    if name is None:
        return project.tests[-1]
    for test in project.tests:
        if test.name == name:
            return test
    known = ", ".join(t.name for t in project.tests)
    raise InputError(f"--test {name}: no test of this name in {file}; there are {known}")


def _again(study: Study, outcome: SiteTestOutcome, folder: Path) -> None:
    """The study with the soil that the test agrees with: its JSON, and how it differs."""
    from evenground._study_tests import with_tested_soil
    from evenground.cli._compare import print_comparison
    from evenground.cli._run import run_quietly
    from evenground.deliver.compare import compare_studies, comparison_rows
    from evenground.deliver.files import write_text
    from evenground.deliver.tables import csv_text
    from evenground.model._serial import study_to_dict

    tested = outcome.tested_soil
    if tested is None:
        raise InputError("--again: the test gives no resistance to correct the soil with")
    typer.echo(f"run again with {tested.soil.describe()}: {tested.reason}")
    anew = run_quietly(with_tested_soil(study.project, tested), False)
    comparison = compare_studies(study_to_dict(study), study_to_dict(anew))
    write_text(folder / "study-tested-soil.json", anew.to_json() + "\n")
    columns = ["kind", "what", "before", "after", "change"]
    write_text(folder / "tested-soil-changes.csv", csv_text(columns, comparison_rows(comparison)))
    print_comparison(comparison)
