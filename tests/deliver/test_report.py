"""The report, read back from the PDF by another library (pypdf)."""

import dataclasses
import io
import json
import re
from types import SimpleNamespace

import pytest
from pypdf import PdfReader

from evenground.deliver._report_results import _other_standards
from evenground.deliver._report_steps import grouped_steps
from evenground.deliver._typeset import compile_pdf
from evenground.deliver.format import format_quantity
from evenground.deliver.plots import figure_bytes, study_figures
from evenground.deliver.report import report_data, report_pdf
from evenground.model.project import Declaration
from evenground.model.study import StandardComparison, Verdict

MADE_ON = "2026-04-17"


def flat(text):
    """Text with every run of white space and line-end hyphenation taken out."""
    text = text.replace("\u00a0", " ").replace("\u200b", "")
    return re.sub(r"\s+", " ", re.sub(r"[\u00ad\u2010]\n|-\n", "", text))


@pytest.fixture(scope="module")
def plots(study):
    """The two light plots; the maps are read back in the tests of whole studies."""
    figures = study_figures(study)
    return {stem: figure_bytes(figures[stem](), "svg") for stem in ("plan", "sounding")}


@pytest.fixture(scope="module")
def pdf(study, plots):
    return report_pdf(study, plots, made_on=MADE_ON)


@pytest.fixture(scope="module")
def reader(pdf):
    return PdfReader(io.BytesIO(pdf))


@pytest.fixture(scope="module")
def pages(reader):
    return [flat(page.extract_text()) for page in reader.pages]


@pytest.fixture(scope="module")
def words(pages):
    return " ".join(pages)


def test_every_check_stands_in_the_report_with_value_and_limit(study, words):
    for check in study.checks:
        assert check.title in words
        if check.value is not None:
            assert format_quantity(check.value, check.unit) in words
            assert format_quantity(check.limit, check.unit) in words


def test_title_page_carries_number_revision_hash_version_and_caution(study, pages):
    first = pages[0]
    identity = study.project.identity
    for piece in (identity.document_number, identity.title, study.project.input_hash, study.version, MADE_ON):
        assert piece in first
    for person in (identity.revisions[0].prepared_by, identity.revisions[0].checked_by):
        assert person in first
    assert "licensed engineer" in first


def test_every_page_has_number_revision_hash_and_page_count(study, pages):
    total = len(pages)
    assert total > 15
    for number, text in enumerate(pages, start=1):
        assert f"page {number} / {total}" in text
        assert f"{study.project.identity.document_number}, revision A" in text
        assert study.project.input_hash[:12] in text


def test_chapters_are_bookmarks(reader):
    titles = [row.title for row in reader.outline if not isinstance(row, list)]
    joined = " ".join(titles)
    for name in ("Summary", "Register", "Soil", "Limits", "Results", "Calculation", "Not checked"):
        assert name in joined


def test_summary_fits_on_one_page_and_says_what_was_not_checked(study, pages):
    page = next(p for p in pages if "1 Summary" in p and "Contents" not in p)
    assert "FAIL" in page
    assert study.governing_check.title in page
    assert study.not_checked[0] in page
    assert study.not_checked[-1].split(":")[-1].strip() in page


def test_never_a_bare_safe(words):
    assert not re.search(r"\bsafe\b", words, re.IGNORECASE)


def test_every_equation_is_in_the_calculation_with_its_source(study, words):
    for rows in grouped_steps(study.steps):
        details = rows[0].info
        assert (details.name[:1].upper() + details.name[1:]) in words
        assert details.source in words


def test_soil_readings_and_left_out_one_are_listed(study, words):
    left = [r for r in study.soil.readings if not r.used]
    assert left
    assert left[0].flags[0] in words
    assert study.soil.reason in words


def test_register_names_documents(study, words):
    documents = {r.origin.document for r in study.project.register if r.origin and r.origin.document}
    assert documents
    assert all(document in words for document in documents)


def test_the_same_day_gives_the_same_bytes(study, plots, pdf):
    assert report_pdf(study, plots, made_on=MADE_ON) == pdf
    assert report_pdf(study, plots, made_on="2026-04-18") != pdf


def test_it_declares_itself_an_archive_file(reader):
    """PDF/A-2b identifies itself in its metadata (ISO 19005-2, 6.6.4)."""
    data = reader.trailer["/Root"]["/Metadata"].get_object().get_data()
    assert b"pdfaid:part" in data
    assert re.search(rb"pdfaid:part>2<|pdfaid:part=\"2\"", data)


def test_user_text_is_printed_and_never_run(study):
    nasty = '#panic("x") $ * _ [ ] \\ @a <b> // /* "'
    identity = dataclasses.replace(study.project.identity, title=nasty, document_number=nasty)
    project = dataclasses.replace(
        study.project,
        identity=identity,
        assumptions=(nasty,),
        declarations=(Declaration(nasty, "open", nasty, nasty),),
    )
    checks = tuple(dataclasses.replace(c, title=nasty, reason=nasty) for c in study.checks)
    hostile = dataclasses.replace(study, project=project, checks=checks, not_checked=(nasty,))
    data = report_data(hostile, made_on=MADE_ON, plots=set())
    made, warnings = compile_pdf(data, {})
    assert warnings == []
    text = flat("\n".join(p.extract_text() for p in PdfReader(io.BytesIO(made)).pages))
    assert '#panic("x") $ * _ [ ]' in text
    assert "<b>" in text


def test_a_study_that_passes_says_for_what(study):
    good = tuple(
        dataclasses.replace(
            c, verdict=Verdict.PASS, value=(0.5 if c.sense == "max" else 2.0) * (c.limit or 0.0)
        )
        for c in study.checks
        if c.governing
    )
    data = report_data(dataclasses.replace(study, checks=good), made_on=MADE_ON, plots=set())
    assert data["summary"]["verdict"] == "PASS"
    first = data["summary"]["sentences"][0]
    assert "that were checked" in first
    assert "not checked" in first


def test_the_smallest_margin_is_named_when_a_shock_governs(study):
    """A passing study names its tightest limit, also when that is no touch or step voltage."""
    touch = next(c for c in study.checks if c.identity.startswith("touch"))
    other = next(c for c in study.checks if c.governing and not c.identity.startswith(("touch", "step")))
    kept = [
        dataclasses.replace(touch, verdict=Verdict.PASS, value=50.0, limit=100.0),
        dataclasses.replace(other, verdict=Verdict.PASS, sense="min", value=51.0, limit=50.0),
    ]
    lines = {}
    for name, checks in (("both", kept), ("touch", kept[:1])):
        data = report_data(dataclasses.replace(study, checks=tuple(checks)), made_on=MADE_ON, plots=set())
        lines[name] = data["summary"]["sentences"]
    assert touch.title in lines["both"][1]
    assert lines["both"][2].startswith(f"Smallest margin: {other.title}: ")
    assert len(lines["touch"]) == 2


def test_a_comparison_is_marked_in_the_table_of_checks(study, words):
    """A broken comparison beside a kept verdict would else contradict it."""
    informing = [c for c in study.checks if not c.governing]
    assert informing
    assert all(f"{flat(c.title)} (comparison)" in words for c in informing)
    assert not any(f"{flat(c.title)} (comparison)" in words for c in study.checks if c.governing)


def test_remarks_on_other_standards_are_printed_once():
    row = StandardComparison("a", "One", "2000", "yard", "f", 10.0, 20.0, 100.0, None, remark="no step limit")
    rows = (row, dataclasses.replace(row, zone="road"), dataclasses.replace(row, remark="read off a curve"))
    text = json.dumps(_other_standards(SimpleNamespace(comparison=rows)), ensure_ascii=False)
    assert text.count("no step limit") == text.count("read off a curve") == 1


def test_a_check_without_a_number_is_named_not_decided(study):
    check = dataclasses.replace(
        study.checks[0], value=None, verdict=Verdict.NOT_DECIDED, reason="the solve did not converge"
    )
    data = report_data(dataclasses.replace(study, checks=(check,)), made_on=MADE_ON, plots=set())
    assert data["summary"]["verdict"] == "NOT DECIDED"
    assert "the solve did not converge" in " ".join(data["summary"]["sentences"])
    assert "not decided" in data["summary"]["checks"]["rows"][0]


def test_a_date_that_is_none_is_refused(study):
    with pytest.raises(ValueError, match="isoformat"):
        report_data(study, made_on="yesterday", plots=set())
