"""The command asbuilt: two studies and what differs between them."""

import csv
import json

import pytest
from typer.testing import CliRunner

from evenground.cli._main import app
from evenground.errors import InputError
from evenground.project import starter_text

SECTION = """
as_built:
  date: 2027-04-20
  not_laid: [{from_m: [15, 0], to_m: [15, 20]}]
  mat_depths_m: {yard: 0.8}
"""


def test_as_built_results_say_what_differs(tmp_path):
    """Less metal has the higher resistance: monotony of the resistance, potential theory."""
    text = starter_text("substation").replace("\nconductors:", SECTION + "\nconductors:", 1)
    file = tmp_path / "site.yaml"
    shallow = text.replace("[[0, 0], [60, 0], [60, 40], [0, 40]]", "[[0, 0], [30, 0], [30, 20], [0, 20]]", 1)
    file.write_text(shallow.replace("  mat_depths_m: {yard: 0.8}\n", ""))
    done = CliRunner().invoke(app, ["asbuilt", str(file)])
    assert done.exit_code in (0, 1, 3), done.output
    assert "missing" in done.output
    folder = tmp_path / "site-as-built"
    data = json.loads((folder / "study.json").read_text(encoding="utf-8"))
    assert data["project"]["identity"]["revisions"][-1]["revision"] == "as built"
    assert any(c["identity"] == "as-built-length" and c["verdict"] == "fail" for c in data["checks"])
    assert any("missing" in f["message"] for f in data["findings"])
    rows = list(csv.DictReader((folder / "as-built-metal.csv").read_text(encoding="utf-8").splitlines()))
    assert {r["kind"] for r in rows} == {"missing"}
    changes = (folder / "as-built-changes.csv").read_text(encoding="utf-8")
    before, after = next(
        (float(r["before"]), float(r["after"]))
        for r in csv.DictReader(changes.splitlines())
        if r["what"].lower().startswith("resistance")
    )
    assert after > before
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF")


def test_without_the_section_nothing_is_written(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(starter_text("substation"))
    done = CliRunner().invoke(app, ["asbuilt", str(file)])
    assert isinstance(done.exception, InputError)
    assert not (tmp_path / "site-as-built").exists()
    with pytest.raises(InputError, match="no section as_built"):
        raise done.exception
