"""The validation page: every row within its tolerance, and no row missing from the page."""

import importlib.util
from pathlib import Path

import pytest

DOCS = Path(__file__).resolve().parents[2] / "docs"
spec = importlib.util.spec_from_file_location("make_validation", DOCS / "make_validation.py")
assert spec is not None
assert spec.loader is not None
make_validation = importlib.util.module_from_spec(spec)
import sys  # noqa: E402

sys.modules["make_validation"] = make_validation
spec.loader.exec_module(make_validation)
ROWS = list(make_validation.rows())


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r.group[:24]}: {r.what}")
def test_row_is_within_its_tolerance(row):
    assert row.computed == pytest.approx(row.published, rel=row.tolerance)


def test_the_page_shows_every_row():
    text = (DOCS / "validation.md").read_text(encoding="utf-8")
    missing = [r.what for r in ROWS if f"| {r.what} | {r.published:.6g} |" not in text]
    assert missing == [], "run python docs/make_validation.py"
