"""The summary on the terminal: readable at 80 columns and without colour."""

import dataclasses
import io

import pytest
from rich.console import Console

from evenground.deliver.terminal import print_soil, print_summary
from evenground.deliver.words import margin_text


def shown(study, width=80):
    stream = io.StringIO()
    print_summary(study, Console(file=stream, width=width, no_color=True, force_terminal=False))
    return stream.getvalue()


def test_it_fits_eighty_columns_and_needs_no_colour(study):
    text = shown(study)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text
    assert "! FAIL" in text
    assert "+ PASS" in text


def test_it_names_value_limit_margin_place_and_scenario(study):
    text = " ".join(shown(study, width=160).split())
    check = study.governing_check
    assert check.title in text
    assert f"{check.value:.4g} V" in text
    assert margin_text(check) in text
    assert f"x = {check.place.x_m:.2f} m, y = {check.place.y_m:.2f} m".replace("-", "−") in text
    assert check.scenario in text


def test_it_says_what_is_not_covered(study):
    text = " ".join(shown(study).split())
    assert f"Not checked: {len(study.not_checked)} subjects" in text
    assert "licensed engineer" in text


def test_findings_are_printed(study):
    text = " ".join(shown(study).split())
    assert study.findings
    for finding in study.findings:
        assert finding.message in text


def test_user_text_is_not_read_as_markup(study):
    identity = dataclasses.replace(study.project.identity, title="[bold]x[/] [red")
    text = shown(dataclasses.replace(study, project=dataclasses.replace(study.project, identity=identity)))
    assert "[bold]x[/] [red" in text


@pytest.mark.parametrize("width", [60, 80, 120])
def test_soil_summary(study, width):
    stream = io.StringIO()
    print_soil(study.soil, Console(file=stream, width=width, no_color=True))
    text = " ".join(stream.getvalue().split())
    assert "two layers" in text
    assert "Ω·m" in text
    assert max(len(line) for line in stream.getvalue().splitlines()) <= width


def test_a_broken_count_never_reads_as_kept():
    """A limit of 0 has no margin; the words go by the verdict."""
    from evenground.deliver.words import check_sentence
    from evenground.model.study import Check, Verdict

    broken = Check("c", "Connections, rules not kept", Verdict.FAIL, 5.0, 0.0, "")
    assert "exceeds its limit" in check_sentence(broken)
    kept = Check("c", "Connections, rules not kept", Verdict.PASS, 0.0, 0.0, "")
    assert "is within its limit" in check_sentence(kept)
