"""Panel “Result”: every check with value, limit, margin and place; why; the formulas behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.web._words import (
    STATE,
    check_rows,
    explain,
    figure_steps,
    key_figures,
    label_words,
    step_rows,
    steps_of,
)

if TYPE_CHECKING:
    from evenground.model.study import Check, Study
    from evenground.provenance import Step
    from evenground.web._page import Window

__all__ = ["build_formulas", "build_result", "empty", "show_number", "show_steps"]

MOST_STEPS = 40


def empty(window: Window, title: str, words: str) -> None:
    """An empty state that says what to do."""
    with ui.element("div").classes("eg-empty"):
        ui.label(title).classes("eg-empty-title")
        ui.label(words)


def build_result(window: Window) -> None:
    """Checks, key figures, findings, and what was not checked."""
    from evenground.web._panel_help import build_help  # that module builds on this one

    desk = window.studio.desk
    if desk.findings or desk.failure:
        _refusal(window)
    if desk.outcome is None:
        if not (desk.findings or desk.failure):
            empty(window, "The study is running.", "The first answer appears here in a few seconds.")
        return
    study = desk.outcome.study
    ui.label("Key figures").classes("eg-h")
    with ui.element("dl").classes("eg-figures"):
        for name, value in key_figures(study):
            with ui.element("div").classes("long" if len(value) > 60 else ""):
                _text("dt", name)
                with ui.element("dd"):
                    ui.label(value)
                    ui.button("Why", on_click=lambda n=name, v=value: _figure(window, study, n, v)).props(
                        f'flat dense no-caps aria-label="Why: {name}"'
                    )
    _soil_cases(study)
    ui.label("Limits checked").classes("eg-h")
    for row in check_rows(study):
        _check(window, study, row)
    build_help(window, study)
    warnings = study.findings
    if warnings:
        ui.label(f"Remarks of the study ({len(warnings)})").classes("eg-h")
        with ui.element("ul").classes("eg-list"):
            for finding in warnings:
                _text("li", f"{finding.message}{f' — {finding.advice}' if finding.advice else ''}")
    ui.label(f"Not checked ({len(study.not_checked)})").classes("eg-h")
    with ui.element("ul").classes("eg-list"):
        for words in study.not_checked:
            _text("li", words)


def _soil_cases(study: Study) -> None:
    """The soils that the study was carried through, and which one governs."""
    if len(study.soil_cases) < 2:
        return
    ui.label("Soil cases").classes("eg-h")
    with ui.element("table").classes("eg-table"):
        with ui.element("tr"):
            for head in ("Soil", "R, Ω", "Touch", "Step", "Outcome"):
                _text("th", head).props('scope="col"')
        for case in study.soil_cases:
            with ui.element("tr").classes("chosen" if case.governs else ""):
                outcome = STATE[case.verdict][2] + (", governs" if case.governs else "")
                row = (
                    case.name,
                    f"{case.resistance_ohm:.4g}",
                    f"{case.worst_touch:.0%}",
                    f"{case.worst_step:.0%}",
                )
                for cell in (*row, outcome):
                    _text("td", cell)


def _text(tag: str, words: str, classes: str = "") -> ui.element:
    element = ui.element(tag).classes(classes)
    with element:
        ui.label(words)
    return element


def _refusal(window: Window) -> None:
    """Why the layout as it stands could not be computed."""
    desk = window.studio.desk
    with ui.element("div").classes("eg-refusal").props('role="alert"'):
        ui.label("The study could not be run on the present input.").classes("eg-empty-title")
        if desk.failure:
            ui.label(desk.failure)
        for finding in desk.findings[:30]:
            place = f"line {finding.line}, " if finding.line else ""
            ui.label(f"{place}{finding.field}: {finding.message}")
            if finding.advice:
                ui.label(finding.advice).classes("eg-soft")


def _check(window: Window, study: Study, row: dict[str, Any]) -> None:
    check = next(c for c in study.checks if c.identity == row["identity"])
    with ui.element("article").classes(f"eg-check {row['class']}").props(f'id="check-{row["identity"]}"'):
        with ui.element("div").classes("eg-check-head"):
            ui.label(row["sign"]).classes("eg-sign").props('aria-hidden="true"')
            _text("h3", row["title"])
            ui.label(row["words"] if row["governing"] else f"{row['words']} (comparison only)").classes(
                "eg-state"
            )
        with ui.element("div").classes("eg-check-body"):
            ui.label(f"{row['value']} {row['relation']} {row['limit']}").classes("eg-value")
            ui.label(f"margin {row['margin']}").classes("eg-margin")
            if row["use"] is not None:
                width = min(row["use"], 1.25) / 1.25 * 100
                ui.html(
                    f'<span class="eg-use" aria-hidden="true"><i style="width:{width:.1f}%"></i><b></b>'
                    "</span>",
                    sanitize=False,
                )
        if row["reason"]:
            ui.label(row["reason"]).classes("eg-soft")
        where = " · ".join(p for p in (row["where"], row["scenario"]) if p)
        if where:
            ui.label(where).classes("eg-soft")
        with ui.element("div").classes("eg-acts"):
            ui.button("Why", on_click=lambda: show_steps(window, study, check)).props(
                f'flat dense no-caps aria-label="Why: {row["title"]}"'
            )
            if check.place is not None:
                ui.button("Show on plan", on_click=lambda: window.point_at(check)).props(
                    f'flat dense no-caps aria-label="Show on plan: {row["title"]}"'
                )


def show_steps(window: Window, study: Study, check: Check) -> None:
    """Dialog: the number in a sentence, the place explained, clause, and each formula with its inputs."""
    row = next(r for r in check_rows(study) if r["identity"] == check.identity)
    sentences = [row["sentence"], *explain(study, check)]
    note = f"Limit: {row['clause']}. Method: {row['method']}."
    show_number(window, row["title"], sentences, steps_of(study, check), note)


def _figure(window: Window, study: Study, name: str, value: str) -> None:
    sentences, steps = figure_steps(study, name)
    show_number(window, f"{name}: {value}", sentences, steps)


def show_number(window: Window, title: str, sentences: list[str], steps: list[Step], note: str = "") -> None:
    """Dialog: where a number comes from, with each formula, its inputs and its source."""
    with (
        window.dialogs,
        ui.dialog().props('aria-label="Where this number comes from"') as dialog,
        ui.card().classes("eg-dialog"),
    ):
        _text("h2", title)
        for words in sentences:
            ui.label(words)
        if note:
            ui.label(note).classes("eg-soft")
        if not window.studio.desk.current:
            ui.label("This belongs to the plan before the last edit.").classes("eg-stale-note")
        _steps(step_rows(steps[:MOST_STEPS]))
        if len(steps) > MOST_STEPS:
            ui.label(f"{len(steps) - MOST_STEPS} more are in the panel Formulas.").classes("eg-soft")
        ui.button("Close", on_click=dialog.close).props("flat no-caps autofocus")
    dialog.on("hide", dialog.delete)
    dialog.open()


def _steps(rows: list[dict[str, Any]]) -> None:
    for row in rows:
        with ui.element("section").classes("eg-step"):
            ui.label(f"{row['name']} — {row['label']}").classes("eg-soft")
            ui.label(f"{row['symbol']} = {row['value']}").classes("eg-value")
            if row["form"]:
                ui.label(row["form"]).classes("eg-form")
            ui.label("; ".join(f"{s} = {v} ({n})" for s, n, v in row["inputs"])).classes("eg-inputs")
            ui.label(row["source"]).classes("eg-soft")
            if row["outside"]:
                ui.label(f"Outside its range: {row['outside']}").classes("eg-stale-note")


def build_formulas(window: Window) -> None:
    """Panel “Formulas”: every formula that was evaluated, by what it was evaluated for."""
    outcome = window.studio.desk.outcome
    if outcome is None:
        empty(window, "No formula has been evaluated yet.", "They appear with the first result.")
        return
    groups: dict[str, list[Any]] = {}
    for step in outcome.study.steps:
        groups.setdefault(label_words(step.label), []).append(step)
    for label, steps in groups.items():
        with ui.expansion(f"{label} ({len(steps)})").classes("eg-expansion") as expansion:
            box = ui.element("div")

        def fill(box: Any = box, steps: Any = steps) -> None:
            if not box.default_slot.children:
                with box:
                    _steps(step_rows(steps[:200]))

        expansion.on_value_change(lambda e, fill=fill: fill() if e.value else None)
