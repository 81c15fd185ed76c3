"""The workbook recomputed by LibreOffice without a screen; skipped, and counted as skipped, where it is not
installed."""

import shutil
import subprocess

import openpyxl
import pytest

from evenground.schedules import build_schedules, parse_prices, starter_prices_text, write_xlsx

OFFICE = shutil.which("soffice")


@pytest.mark.slow
@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_libreoffice_computes_every_cell_as_it_was_stored(small, tmp_path):
    schedules = build_schedules(small, parse_prices(starter_prices_text()))
    file = tmp_path / "a.xlsx"
    write_xlsx(schedules.tables, file, title=schedules.title)
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    words = [OFFICE, profile, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML"]
    subprocess.run([*words, "--outdir", tmp_path / "out", file], check=True, capture_output=True, timeout=120)
    formulas = openpyxl.load_workbook(file)
    stored = openpyxl.load_workbook(file, data_only=True)
    computed = openpyxl.load_workbook(tmp_path / "out" / "a.xlsx", data_only=True)
    count = 0
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if not (isinstance(cell.value, str) and cell.value.startswith("=")):
                    continue
                count += 1
                ours, theirs = (book[sheet.title][cell.coordinate].value for book in (stored, computed))
                if isinstance(ours, int | float):
                    # the same operations in double precision, in an order that is not ours
                    assert theirs == pytest.approx(ours, rel=1e-9, abs=1e-9), cell.coordinate
                else:
                    assert (theirs or "") == (ours or ""), cell.coordinate
    assert count > 40
