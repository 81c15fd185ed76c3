"""Report, drawing and schedules of one project carry the same hash, which is that of the project file."""

import hashlib
import io
import json
import re
from pathlib import Path

import openpyxl
import pytest
from ezdxf.filemanagement import readfile
from pypdf import PdfReader

from evenground import load_project, run_study
from evenground.deliver.report import report_pdf
from evenground.drawing import write_dxf
from evenground.schedules import build_schedules, design_of_study, write_schedules

SITE = Path("examples/harrow-lane/site.yaml")


@pytest.fixture(scope="module")
def study():
    return run_study(load_project(SITE))


def test_report_drawing_schedules_and_study_json_carry_the_hash_of_the_file(study, tmp_path):
    digest = hashlib.sha256(SITE.read_bytes()).hexdigest()
    assert json.loads(study.to_json())["input"]["sha256"] == digest

    pages = PdfReader(io.BytesIO(report_pdf(study, {}, made_on="2026-04-17"))).pages
    assert digest in "".join(pages[0].extract_text().split())
    assert all(digest[:12] in page.extract_text() for page in pages)

    design = design_of_study(study)
    write_dxf(design, tmp_path / "sheets.dxf")
    document = readfile(tmp_path / "sheets.dxf")
    for name in (n for n in document.layout_names() if n != "Model"):
        words = "".join(e.plain_text() for e in document.paperspace(name).query("MTEXT TEXT"))
        assert digest in re.sub(r"\s", "", words)

    write_schedules(build_schedules(design), tmp_path)
    assert digest in (tmp_path / "about.csv").read_text(encoding="utf-8")
    book = openpyxl.load_workbook(tmp_path / "schedules.xlsx")
    assert any(digest == cell.value for sheet in book for row in sheet.iter_rows() for cell in row)


def test_the_numbers_of_the_report_are_those_of_study_json(study):
    """Every governing check: value and limit as printed, from the text of the PDF."""
    data = json.loads(study.to_json())
    text = " ".join(
        page.extract_text()
        for page in PdfReader(io.BytesIO(report_pdf(study, {}, made_on="2026-04-17"))).pages
    )
    text = re.sub(r"\s+", "", text)
    rows = [c for c in data["checks"] if c["unit"] == "V" and c["value"] is not None]
    assert len(rows) > 5
    for check in rows:
        for number in (check["value"], check["limit"]):
            digits = f"{number:.4g}" if number < 10_000 else f"{number / 1000:.4g}"
            assert digits in text, check["title"]
