"""The command ``asbuilt``: design and as-built state of a project, and what differs."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import typer

__all__ = ["as_built"]


def as_built(file: Path, out: Path | None) -> int:
    """Write the results of the as-built study with its differences; returns the exit code."""
    from evenground.as_built import as_built_project, with_as_built_delta
    from evenground.cli._compare import print_comparison
    from evenground.cli._run import EXIT, refuse_foreign, run_quietly, with_lines
    from evenground.deliver.compare import compare_studies, comparison_rows
    from evenground.deliver.files import write_text
    from evenground.deliver.results import write_results
    from evenground.deliver.tables import csv_text
    from evenground.model._serial import study_to_dict
    from evenground.project import load_project
    from evenground.study import with_site_tests

    project = load_project(file)
    built = as_built_project(project)
    folder = out or file.with_name(f"{file.stem}-as-built")
    refuse_foreign(folder)
    design = with_site_tests(run_quietly(project, False))
    study, delta = with_as_built_delta(with_site_tests(run_quietly(built, False)), design)
    study = replace(study, findings=tuple(with_lines(study.findings, project)))
    earlier = study_to_dict(design)
    write_results(study, folder, made_on=datetime.date.today().isoformat(), earlier=earlier)
    comparison = compare_studies(earlier, study_to_dict(study))
    columns = ["kind", "what", "before", "after", "change"]
    write_text(folder / "as-built-changes.csv", csv_text(columns, comparison_rows(comparison)))
    rows = [
        [c.kind, c.conductor, *c.start_m, *c.end_m, c.length_m, c.depth_difference_m] for c in delta.changes
    ]
    heads = ["kind", "conductor", "x1_m", "y1_m", "z1_m", "x2_m", "y2_m", "z2_m", "length_m", "deeper_m"]
    write_text(folder / "as-built-metal.csv", csv_text(heads, rows))
    print_comparison(comparison)
    typer.echo(
        f"{delta.missing_length_m:.1f} m missing, {delta.added_length_m:.1f} m added of "
        f"{delta.design_length_m:.1f} m designed; verdict as built: {study.verdict.value}"
    )
    typer.echo(f"Results: {folder}")
    return EXIT[study.verdict]
