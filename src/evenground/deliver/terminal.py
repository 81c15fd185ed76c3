"""The outcome of a study on the terminal: words and signs carry it, colour only helps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._report_help import (
    HELP_COLUMNS,
    cheapest_sentence,
    cost_sentence,
    help_rows,
    prospect_sentences,
)
from evenground.deliver._report_person import risk_sentences
from evenground.deliver._report_rules import rule_sentence
from evenground.deliver.format import (
    format_number,
    format_percent,
    format_place,
    format_quantity,
)
from evenground.deliver.words import (
    limit_text,
    margin_text,
    split_sentence,
    summary_sentences,
    verdict_word,
)
from evenground.errors import Severity
from evenground.model._serial import CAUTION
from evenground.model.study import Verdict

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from evenground.model.soil import SoilResult
    from evenground.model.study import Study

__all__ = ["print_soil", "print_summary"]

SIGNS = {Verdict.PASS: "+", Verdict.FAIL: "!", Verdict.NOT_DECIDED: "?"}
AT_THE_MAT = "at the mat and separate electrodes (fences, gates, services: see the table)"
STYLES = {Verdict.PASS: "green", Verdict.FAIL: "bold red", Verdict.NOT_DECIDED: "yellow"}


def print_summary(study: Study, console: Console) -> None:
    """Print verdict, checks, key figures, findings and what was not checked; fits 80 columns."""
    from rich.text import Text

    identity = study.project.identity
    console.print(Text(identity.title, style="bold"))
    head = Text(f"{SIGNS[study.verdict]} {verdict_word(study.verdict)}: ", style=STYLES[study.verdict])
    for number, sentence in enumerate(summary_sentences(study)):
        console.print(head + Text(sentence, style="default") if number == 0 else Text(sentence))
    console.print()
    console.print(_figures(study))
    console.print()
    console.print(_checks(study))
    _worst(study, console)
    for sentence in filter(None, (*risk_sentences(study), rule_sentence(study))):
        console.print(Text(sentence))
    _help(study, console)
    _findings(study, console)
    if not help_rows(study) and any(c.verdict is Verdict.FAIL and c.unit == "V" for c in study.checks):
        console.print(Text("With --suggest the study also computes what would help."))
    console.print(
        Text(f"Not checked: {len(study.not_checked)} subjects, listed in the report and study.json.")
    )
    console.print(Text(CAUTION, style="bold"))


def _figures(study: Study) -> Table:
    from rich.table import Table
    from rich.text import Text

    grid = Table.grid(padding=(0, 2))
    field = study.field
    for case in study.soil_cases:
        mark = "governs" if case.governs else verdict_word(case.verdict)
        if len(study.soil_cases) > 1:
            grid.add_row(Text("Soil case"), Text(f"{case.name}: {case.soil.describe()} ({mark})"))
    if len(study.soil_cases) < 2:
        grid.add_row(Text("Soil"), Text((study.soil_used or study.soil.soil).describe()))
    grid.add_row(
        Text("Resistance"),
        Text(
            f"{format_quantity(field.resistance_ohm, 'ohm')} ± "
            f"{format_quantity(field.resistance_error_ohm, 'ohm', 2)}, {field.segments} segments"
        ),
    )
    currents = {f.scenario.name: f.grid_current_a for f in study.faults}
    for name, rise in study.gpr_v.items():
        current = format_quantity(currents.get(name), "A")
        grid.add_row(
            Text("Potential rise"), Text(f"{format_quantity(rise, 'V')} from {current} into the mat: {name}")
        )
    for s in study.separate:
        state = "floating" if s.floating else f"linked, {format_percent(s.leaked_share)} of the current"
        own = format_quantity(s.resistance_ohm, "ohm")
        shown = f"{s.name}: {format_percent(s.share)} of the potential rise; {own}; {state}"
        grid.add_row(Text("Separate"), Text(shown))
    if study.metal_drop is not None:
        name, value = max(study.metal_drop.drop_v.items(), key=lambda item: item[1])
        shown = f"{format_quantity(value, 'V')} between an entry point and other metal: {name}"
        grid.add_row(Text("Along the metal"), Text(shown))
    for split in study.split:
        grid.add_row(Text("Current split"), Text(split_sentence(split)))
    return grid


def _checks(study: Study) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.ASCII_DOUBLE_HEAD, pad_edge=False, title=None)
    table.add_column("Check", ratio=1, overflow="fold")
    table.add_column("Verdict", no_wrap=True)
    for name in ("Value", "Limit", "Margin"):
        table.add_column(name, justify="right", no_wrap=True)
    for check in study.checks:
        title = Text(check.title)
        if not check.governing:
            title.append(" (comparison)")
        where = "; ".join(p for p in (format_place(check.place), check.scenario) if p)
        if where:
            title.append(f"\n  {where}", style="dim")
        table.add_row(
            title,
            Text(f"{SIGNS[check.verdict]} {verdict_word(check.verdict)}", style=STYLES[check.verdict]),
            Text("—" if check.value is None else format_quantity(check.value, check.unit)),
            Text(limit_text(check)),
            Text(margin_text(check)),
        )
    return table


def _worst(study: Study, console: Console) -> None:
    from rich.text import Text

    for quantity in ("touch", "step"):
        rows = [s for s in study.shocks if s.quantity == quantity]
        if not rows:
            continue
        worst = max(rows, key=lambda s: s.value_v / s.limit_v)
        at = f", at {worst.metal}" if worst.metal else ""
        turn = "" if worst.direction_deg is None else f", direction {worst.direction_deg:.0f}°"
        console.print(
            Text(
                f"Worst {quantity} {AT_THE_MAT}: {format_quantity(worst.value_v, 'V')} of "
                f"{format_quantity(worst.limit_v, 'V')} ({format_percent(worst.value_v / worst.limit_v)}) at "
                f"{format_place(worst.place)}{turn}; {worst.zone}{at}; {worst.scenario}"
            )
        )


def _help(study: Study, console: Console) -> None:
    """What would help, when it was computed."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    rows = help_rows(study)
    if not rows:
        return
    table = Table(box=box.ASCII_DOUBLE_HEAD, pad_edge=False)
    table.add_column("What would help (largest value over limit after it)", ratio=1, overflow="fold")
    shown = (1, 2, 3, 7)
    for k in shown:
        table.add_column(HELP_COLUMNS[k], justify="right", no_wrap=True)
    table.add_column("Rank", justify="right", no_wrap=True)
    for row in rows:
        table.add_row(row[0], *(row[k] for k in shown), row[8])
    console.print(table)
    for sentence in filter(
        None, (cost_sentence(study), cheapest_sentence(study), *prospect_sentences(study))
    ):
        console.print(Text(sentence))


def _findings(study: Study, console: Console) -> None:
    from rich.text import Text

    for finding in study.findings:
        style = "yellow" if finding.severity is not Severity.NOTE else ""
        where = f"line {finding.line}, {finding.field}: " if finding.line else ""
        line = Text(f"{finding.severity.value}: {where}", style=style)
        advice = f" ({finding.advice})" if finding.advice else ""
        console.print(line + Text(f"{finding.message}{advice}", style="default"))


def print_soil(soil: SoilResult, console: Console) -> None:
    """Print the soil model: candidates, choice, readings with residuals, warnings."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    console.print(Text(f"Soil model: {soil.soil.describe()} ({soil.chosen})", style="bold"))
    console.print(Text(soil.reason))
    if soil.candidates:
        table = Table(box=box.ASCII_DOUBLE_HEAD, pad_edge=False)
        for name, side in (("Candidate", "left"), ("Layers", "left"), ("rms", "right"), ("Worst", "right")):
            table.add_column(name, justify=side)  # type: ignore[arg-type]
        for row in soil.candidates:
            mark = " *" if row.name == soil.chosen else ""
            table.add_row(
                Text(row.name + mark),
                Text(row.soil.describe()),
                format_percent(row.rms),
                format_percent(row.worst),
            )
        console.print(table)
    if soil.readings:
        console.print(_readings(soil))
    for warning in soil.warnings:
        console.print(Text("warning: ", style="yellow") + Text(warning, style="default"))
    for words in soil.advice:
        console.print(Text("advice: ") + Text(words, style="default"))


def _readings(soil: SoilResult) -> Any:
    from math import exp, isfinite

    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.ASCII_DOUBLE_HEAD, pad_edge=False)
    table.add_column("Traverse", overflow="fold")
    for name in ("a or AB/2, m", "ρa, Ω·m", "Off model"):
        table.add_column(name, justify="right")
    table.add_column("Remarks", overflow="fold")
    for row in soil.readings:
        off = format_percent(exp(row.residual) - 1, sign=True) if isfinite(row.residual) else "—"
        remarks = "; ".join(([] if row.used else ["left out"]) + list(row.flags))
        table.add_row(
            Text(row.traverse),
            f"{row.position_m:g}",
            format_number(row.apparent_resistivity_ohm_m),
            off,
            Text(remarks),
        )
    return table
