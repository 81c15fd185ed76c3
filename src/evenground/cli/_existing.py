"""The command ``existing``: what tests alone say of a site without drawings."""

from __future__ import annotations

import json
from pathlib import Path

import typer

__all__ = ["existing"]


def existing(file: Path, *, as_json: bool) -> int:
    """Print every statement with what it rests on, and the checks; returns the exit code."""
    from evenground._caution import CAUTION
    from evenground.cli._run import EXIT
    from evenground.deliver.format import format_quantity
    from evenground.model._serial import to_plain
    from evenground.model.study import joint_verdict
    from evenground.project import load_existing
    from evenground.sitetest import existing_site_envelope

    site = load_existing(file)
    found = existing_site_envelope(site.known)
    verdict = joint_verdict(found.checks)
    if as_json:
        head = {
            "format": "evenground-existing/1",
            "caution": CAUTION,
            "input": {"file": file.name, "sha256": site.input_hash},
            "title": site.title,
            "date": site.date,
            "verdict": verdict.value,
        }
        typer.echo(json.dumps(head | to_plain(found), indent=2, ensure_ascii=False, allow_nan=False))
        return EXIT[verdict]
    typer.echo(f"{site.title}, from tests alone{f' of {site.date}' if site.date else ''}: {verdict.value}")
    for line in found.statements:
        typer.echo(f"- {line}")
    for check in found.checks:
        value = "no value" if check.value is None else format_quantity(check.value, check.unit, 4)
        limit = "" if check.limit is None else f", limit {format_quantity(check.limit, check.unit, 4)}"
        reason = f" ({check.reason})" if check.reason else ""
        typer.echo(f"{check.title}: {value}{limit}: {check.verdict.value}{reason}")
    typer.echo(CAUTION)
    return EXIT[verdict]
