"""docs/formulas.md is what its generator writes today."""

from __future__ import annotations

import importlib.util
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "docs" / "make_formulas.py"


def test_the_page_has_not_drifted() -> None:
    spec = importlib.util.spec_from_file_location("make_formulas", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    written = module.PAGE.read_text(encoding="utf-8")
    assert written == module.page(), "run: python docs/make_formulas.py"
    assert "IEEE Std 80-2013, Eq. (57)" in written
