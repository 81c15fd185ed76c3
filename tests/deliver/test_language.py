"""German reports: no term is missing, none is left over from typing errors, and the PDF speaks German."""

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from pypdf import PdfReader

from evenground import load_project, run_study
from evenground.deliver._speak import figure_texts, sentences
from evenground.deliver.plots import study_figures
from evenground.deliver.report import report_data, report_pdf
from evenground.drawing import build_drawing
from evenground.errors import InputError
from evenground.language import LANGUAGES, Language, language, words_in
from evenground.model._serial import study_to_dict
from evenground.project import parse_project, starter_text
from evenground.schedules import (
    build_schedules,
    design_of_study,
    parse_prices,
    plan_construction,
    starter_prices_text,
    write_schedules,
)
from evenground.schedules._papers import form_data
from evenground.schedules._speak import spoken
from evenground.study import with_sensitivity, with_site_tests

SITES = ("examples/harrow-lane/site-revised.yaml", "examples/tolland-works/site.yaml")
GERMAN = language("de")


class EveryPlot(set):
    """Stands for a folder in which every plot is."""

    def __contains__(self, name):
        return True


@pytest.fixture(scope="module")
def studies():
    return [with_site_tests(with_sensitivity(run_study(load_project(Path(name))))) for name in SITES]


@pytest.fixture(scope="module")
def earlier(studies):
    plain = json.loads(json.dumps(study_to_dict(studies[0])))
    plain["project"]["faults"][0]["shock_time_s"] = 9.0
    plain["checks"][0]["value"] = 1.0
    plain["quantities"]["rods"] = 1
    return plain


TYPESET = {"math", "lines", "valid", "rules", "file", "path", "widths", "align", "kind", "name", "style"}
ADD = "write the German of each into src/evenground/language/de_*.toml, {} for a part that is filled in"


def texts(value):
    """Every text of the report; values of the project file as the designer wrote them are left out."""
    if isinstance(value, str):
        yield value.replace("\u00a0", " ")
    elif isinstance(value, list):
        for item in value:
            yield from texts(item)
    elif isinstance(value, dict):
        if str(value.get("caption", "")).startswith("Inputs and their origin"):
            value = value | {"rows": [[row[0], *row[2:]] for row in value["rows"]]}
        for key, item in value.items():
            if key not in TYPESET:
                yield from texts(item)


def german_of(study):
    return GERMAN.knowing(words_in(study.project))


def in_german(study):
    identity = replace(study.project.identity, language="de")
    return replace(study, project=replace(study.project, identity=identity))


def test_no_sentence_of_the_demo_reports_is_missing_in_german(studies, earlier):
    missing = {}
    for study, before in zip(studies, (earlier, None), strict=True):
        german = german_of(study)
        data = report_data(study, made_on="2026-04-17", plots=EveryPlot(), earlier=before)
        for text in texts(data):
            missing |= dict.fromkeys(german.missing(text), text)
    assert missing == {}, ADD


def test_no_word_of_the_demo_plots_is_missing_in_german(studies):
    missing = {}
    for study in studies:
        german = german_of(study)
        for name, draw in study_figures(study).items():
            for text in figure_texts(draw()):
                for sentence in sentences(text, german):
                    missing |= dict.fromkeys(german.missing(sentence), f"{name}: {sentence}")
    assert missing == {}, ADD


UNEVEN = (
    "Governing: Connections of equipment, rules not kept: 5 exceeds its limit of 0.",
    "Also broken: Fence “F1”, distance from metal of the mat: 0 m falls below the 2.000 m required "
    "(margin −100 %), at x = 43.00 m, y = 25.00 m.",
    "Also broken: Fence “F1”, way between its own rods: 164.0 m exceeds its limit of 50.00 m "
    "(margin −228 %).",
    "4 corners or ends without a rod within 3 m",
    "2 of 11 readings stand apart from the curve through the others: T1, a = 4 m (-9%); T2, a = 1 m (+12%). "
    "They are kept. A robust fit, which gives them less weight, finds 187.9 Ω·m to 3.06 m, 68.69 Ω·m below; "
    "check the field notes, repeat or leave out what is wrong",
    "stands apart from the robust curve by -9%",
    "Two layers do not describe this curve: they miss the readings by 5.3% rms against a noise of 2.7% (from "
    "5 spacings repeated on several traverses); more layers, a soil that changes sideways, or bad readings. "
    "Three layers would miss them by 3.3% (210.4 Ω·m to 1.18 m, 134.9 Ω·m to 4.61 m, 65.83 Ω·m below)",
    "the readings scatter about 2 layers by 6.2%, more than their noise of 2.7%; the spread is computed with "
    "the larger figure",
    "10 m of conductor lie on top of others and were counted once (1 conductors are covered completely)",
    "F1: computed share of the current from afar 0.267, by the table of IEEE Std 80, Annex C, 0.682: more "
    "than a factor of two from the table; the table knows no cables",
    "Q1 (circuit breaker): rule not kept: two separate and distinct connections of every frame to the mat; "
    "1 drawn (at least 2; IS 3043 abstract)",
)
"""What a study of a site with faults in its design says, and the demo sites do not."""


@pytest.mark.parametrize("sentence", UNEVEN)
def test_a_design_with_faults_speaks_german_too(sentence):
    assert GERMAN.knowing({"F1"}).missing(sentence) == (), ADD


def test_a_place_on_a_route_is_no_name_of_the_user():
    """The program names a tower after its line: only the line is the designer's word."""
    assert words_in(("north line", "north line, tower 2", "pond, tower 2")) == {"north line", "pond, tower 2"}
    assert GERMAN.knowing({"north line"}).term("north line, tower 2") == "north line, Mast 2"


class Listening(Language):
    """Notes every piece that has no German."""

    def term(self, text):
        self.heard.update(dict.fromkeys(self.missing(text), text))
        return super().term(text)


def listening(german):
    words = Listening(german.code, german.terms, german.cells, german.references, german.same, german.names)
    object.__setattr__(words, "heard", {})
    return words


@pytest.mark.parametrize("priced", [True, False])
def test_no_word_of_drawings_schedules_and_forms_is_missing_in_german(studies, priced):
    prices = parse_prices(starter_prices_text()) if priced else None
    for study in studies:
        design = design_of_study(in_german(study))
        words = listening(design.language.knowing(design.language.names | words_in(prices)))
        design.__dict__["language"] = words
        build_drawing(design)
        for table in build_schedules(design, prices).tables:
            spoken(table, words)
        form_data(replace(plan_construction(design), language=words))
        assert words.heard == {}, ADD


ENGLISH_WORDS = re.compile(
    r"\b([Tt]he|[Oo]f|and|[Ww]ith|without|is|are|[Nn]ot|[Ff]rom|[Ff]or|[Ee]ach|to|[Jj]oints?|[Rr]od|[Dd]epth)\b"
)
"""Words that no German text holds; "in", "an", "so", "also", "bar" and the like are words of both."""


PRICE_CODES = re.compile(r"\b(?:metal|joint|rod|trench|cover|pit|lay)\.[\w-]+(?: stated| steel)?")


def english_in(text, names):
    """English words in a German text, with what stands around them; a word that stands beside the same word
    in a name or remark of the designer is his."""
    text = re.sub(r"(\w)- (?=[a-z])", r"\1", " ".join(text.split()))  # words broken at the end of a line
    text = PRICE_CODES.sub(" ", text.replace("- ", "-"))
    theirs = " | ".join(" ".join(name.split()) for name in names)
    found = []
    for match in ENGLISH_WORDS.finditer(text):
        before, after = text[: match.start()].rsplit(None, 1)[-1:], text[match.end() :].split(None, 1)[:1]
        beside = [f"{word} {match.group()}" for word in before] + [
            f"{match.group()} {word}" for word in after
        ]
        if not any(pair.strip("„“.,;:()") in theirs for pair in beside):
            found.append(text[max(0, match.start() - 40) : match.end() + 40])
    return found


def test_sheets_workbook_and_forms_hold_no_english(studies, tmp_path):
    for study in studies:
        design = design_of_study(in_german(study))
        names = design.language.names
        document = build_drawing(design)
        for name in document.layout_names():
            for entity in document.layout(name).query("TEXT MTEXT"):
                assert english_in(entity.plain_text(), names) == []
        schedules = build_schedules(design, parse_prices(starter_prices_text()))
        write_schedules(schedules, tmp_path)
        for sheet in openpyxl.load_workbook(tmp_path / "schedules.xlsx", data_only=True):
            for row in sheet.iter_rows(values_only=True):
                for cell in row:
                    assert not isinstance(cell, str) or english_in(cell, schedules.language.names) == []


def test_the_german_report_holds_no_english(studies):
    """Read back from the PDF with pypdf; the register of inputs shows the project file as it was written."""
    for study in studies:
        german = in_german(study)
        names = german_of(study).names | {
            "Handbook of Electrical Engineering",
            "Inventory of Carbon and Energy",
        }
        pages = PdfReader(io.BytesIO(report_pdf(german, {}, made_on="2026-04-17"))).pages
        words = [" ".join(p.extract_text().split()) for p in pages]
        first = next(n for n, text in enumerate(words) if n > 2 and "Verzeichnis der Eingaben" in text)
        after = next(n for n, text in enumerate(words) if n > first and "4 Anlage, Maschennetze" in text)
        found = [row for text in (*words[:first], *words[after + 1 :]) for row in english_in(text, names)]
        assert found == []


@pytest.mark.parametrize(
    ("text", "pieces"),
    [
        ("The electrode is warm.", ("The electrode is warm.",)),
        ("no; the electrode is warm", ("no; the electrode is warm",)),
        ("Section of the warm electrode, mechanical minimum", ("the warm electrode",)),
        ("Section of my rod, mechanical minimum", ()),
        ("IEEE Std 80-2013, Eq. (27) and Table 4", ()),
        ("IEEE Std 80-2013, warm clause 4", ("IEEE Std 80-2013, warm clause 4",)),
        ("12.5 mm²; x = 3 m", ()),
    ],
)
def test_what_is_not_german_is_named(text, pieces):
    assert GERMAN.knowing({"my rod"}).missing(text) == pieces


def test_placeholders_agree_and_every_language_has_every_key():
    for code in LANGUAGES[1:]:
        other = language(code)
        assert set(other.terms) == set(GERMAN.terms)
        assert set(other.cells) == set(GERMAN.cells)
        for english, words in (*other.terms.items(), *other.cells.items()):
            assert words.strip()
            holes = re.findall(r"\{(\d*)\}", words)
            assert bool(holes) == ("{}" in english), english
            assert english.count("{}") >= max(len(holes), *(int(h) + 1 for h in holes if h), 0), english


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
    both = []
    for row in (study, german):
        pages = PdfReader(io.BytesIO(report_pdf(row, {}, made_on="2026-04-17"))).pages
        both.append(" ".join(" ".join(p.extract_text().split()) for p in pages))
    english, other = both
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
