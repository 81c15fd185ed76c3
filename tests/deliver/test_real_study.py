"""Both demo sites through the whole study and out again."""

import io
import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenground import load_project, run_study
from evenground.deliver.format import format_quantity
from evenground.deliver.results import write_results

LIGHT_BYTES = 200_000
"""Pages with a map are much longer and hold no words of their own worth the time to read them."""
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["harrow-lane/site.yaml", "tolland-works/site.yaml"])
def test_a_demo_site_comes_out_complete(name, tmp_path):
    study = run_study(load_project(EXAMPLES / name))
    write_results(study, tmp_path / "out", made_on="2026-04-17")
    data = json.loads((tmp_path / "out" / "study.json").read_text())
    assert data["verdict"] == study.verdict.value
    reader = PdfReader(io.BytesIO((tmp_path / "out" / "report.pdf").read_bytes()))
    light = [p for p in reader.pages if len(p.get_contents().get_data()) < LIGHT_BYTES]
    assert 10 < len(light) < len(reader.pages)
    text = " ".join(" ".join(p.extract_text() for p in light).replace("\u00a0", " ").split())
    for check in study.checks:
        if check.value is not None:
            assert format_quantity(check.value, check.unit) in text
    assert format_quantity(study.field.resistance_ohm, "ohm") in text
