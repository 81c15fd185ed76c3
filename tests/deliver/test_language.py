"""German reports: no term is missing, none is left over from typing errors, and the PDF speaks German."""

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenground import load_project, run_study
from evenground.deliver.report import report_data, report_pdf
from evenground.drawing import build_drawing
from evenground.errors import InputError
from evenground.language import LANGUAGES, language
from evenground.model._serial import study_to_dict
from evenground.project import parse_project, starter_text
from evenground.schedules import design_of_study
from evenground.study import with_sensitivity

SITES = ("examples/harrow-lane/site-revised.yaml", "examples/tolland-works/site.yaml")
GERMAN = language("de")


class EveryPlot(set):
    """Stands for a folder in which every plot is."""

    def __contains__(self, name):
        return True


@pytest.fixture(scope="module")
def studies():
    return [with_sensitivity(run_study(load_project(Path(name)))) for name in SITES]


@pytest.fixture(scope="module")
def earlier(studies):
    plain = json.loads(json.dumps(study_to_dict(studies[0])))
    plain["project"]["faults"][0]["shock_time_s"] = 9.0
    plain["checks"][0]["value"] = 1.0
    plain["quantities"]["rods"] = 1
    return plain


def labels(data):
    """Titles, headings, captions, columns and labels of pairs: what the program itself calls things."""
    yield data["kind"]
    yield from (row[0] for row in (*data["cover"], *data["trace"], *data["summary"]["pairs"]) if row[0])
    yield from data["revisions"]["columns"]
    yield from (v for k, v in data["words"].items() if k != "lang")
    for part in (*data["chapters"], *data["appendices"]):
        yield part["title"]
        for block in part["blocks"]:
            if block["kind"] == "heading":
                yield block["text"]
            elif block["kind"] == "pairs":
                yield from (row[0] for row in block["rows"])
            elif block["kind"] == "table":
                yield from (block["caption"], *(c for c in block["columns"] if isinstance(c, str)))
            elif block["kind"] == "figure":
                yield block["caption"]


def left_as_they_are(study):
    """Names of formulas, standards, and words of the designer."""
    names = {s.info.name for s in study.steps} | {s.info.symbol for s in study.steps}
    names |= {s.label for s in study.steps}
    names |= {f.scenario.name for f in study.faults} | set(study.project.conductors)
    names |= {z.name for z in study.project.surface}
    return {n.casefold() for n in names}


def test_no_label_of_the_demo_reports_is_missing_in_german(studies, earlier):
    missing = set()
    for study in studies:
        known = left_as_they_are(study)
        data = report_data(study, made_on="2026-04-17", plots=EveryPlot(), earlier=earlier)
        for label in (text.replace("\u00a0", " ") for text in labels(data)):
            if re.search("[A-Za-z]{3}", label) and label.casefold() not in known:
                missing |= {label} if GERMAN.find(label) is None else set()
    assert sorted(missing) == []


def test_placeholders_agree_and_every_language_has_every_key():
    for code in LANGUAGES[1:]:
        other = language(code)
        assert set(other.terms) == set(GERMAN.terms)
        assert set(other.cells) == set(GERMAN.cells)
        for english, words in (*other.terms.items(), *other.cells.items()):
            assert words.strip()
            assert english.count("{}") >= words.count("{}") > 0 or "{}" not in english


def test_a_pattern_fills_its_parts_and_leaves_other_text_alone():
    text = "Touch voltage, yard: 5 V exceeds its limit of 4 V (margin −25 %), at x = 1 m, y = 2 m, fault “F”."
    assert GERMAN.term(text) == (
        "Berührungsspannung, yard: 5 V überschreitet den Grenzwert von 4 V (Reserve −25 %), "
        "bei x = 1 m, y = 2 m, Fehler „F“."
    )
    assert GERMAN.term("A title of the designer") == "A title of the designer"
    assert language("en").term("Soil") == "Soil"


def test_the_pdf_speaks_german_and_its_numbers_are_those_of_the_english_one(studies):
    study = studies[0]
    identity = replace(study.project.identity, language="de")
    german = replace(study, project=replace(study.project, identity=identity))
    texts = []
    for row in (study, german):
        pages = PdfReader(io.BytesIO(report_pdf(row, {}, made_on="2026-04-17"))).pages
        texts.append(" ".join(" ".join(p.extract_text().split()) for p in pages))
    english, other = texts
    for word in (
        "Berechnungsbericht",
        "Inhalt",
        "Zusammenfassung",
        "Empfindlichkeit",
        "Nicht geprüft",
        "Seite",
    ):
        assert word in other
        assert word not in english
    for word in ("Contents", "Summary", "Register of inputs", "Worst touch voltage"):
        assert word in english
        assert word not in other
    value = f"{study.worst_touch.value_v:.1f}"
    assert value in english
    assert value in other


def test_the_title_block_of_the_drawing_follows_the_language(studies):
    study = studies[0]
    identity = replace(study.project.identity, language="de", north_deg=30.0)
    german = replace(study, project=replace(study.project, identity=identity))
    sheet = build_drawing(design_of_study(german)).paperspace("Plan")
    words = " ".join(e.plain_text() for e in sheet.query("MTEXT TEXT")).replace("\n", " ")
    for word in ("Auftraggeber", "Maßstab", "Zeichenerklärung", "Norden: 30°", "Lageplan"):
        assert word in words


def test_the_project_file_accepts_the_languages_there_are():
    text = starter_text("substation").replace("project:\n", "project:\n  language: CODE\n", 1)
    for code in LANGUAGES:
        assert parse_project(text.replace("CODE", code)).identity.language == code
    with pytest.raises(InputError, match="language"):
        parse_project(text.replace("CODE", "xx"))
    with pytest.raises(ValueError, match="language xx"):
        language("xx")
