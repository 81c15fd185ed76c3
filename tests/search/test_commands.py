"""The commands of the searches."""

import csv
import json

import pytest
from typer.testing import CliRunner

from evenground.cli._main import app


def test_losses_prints_ranks_and_writes(pad_file, tmp_path):
    table = tmp_path / "losses.csv"
    found = CliRunner().invoke(app, ["losses", str(pad_file), "--csv", str(table), "--json"])
    assert found.exit_code in (0, 1, 3), found.output
    data = json.loads(found.stdout)
    used = [row["touch_over_limit"] for row in data["losses"]]
    assert (found.exit_code == 1) == (max(used) > 1)
    assert len(used) == 12 + 4 + 9
    with table.open() as handle:
        rows = list(csv.DictReader(handle))
    assert len(rows) == 1 + len(used)
    assert float(rows[0]["touch_over_limit"]) == pytest.approx(data["as_drawn"]["touch_over_limit"])
    shown = CliRunner().invoke(app, ["losses", str(pad_file), "--top", "3"])
    assert "single losses" in shown.stdout
    assert "licensed engineer" in " ".join(shown.stdout.split())


def test_losses_of_a_file_that_is_missing(tmp_path):
    found = CliRunner().invoke(app, ["losses", str(tmp_path / "none.yaml")])
    assert found.exit_code != 0


def test_confidence_prints_and_its_exit_code_follows_the_probability(pad_file):
    options = ["confidence", str(pad_file), "--samples", "60", "--current", "0.9:1.1", "--workers", "1"]
    found = CliRunner().invoke(app, [*options, "--json"])
    data = json.loads(found.stdout)
    low, high = data["interval"]
    expected = 0 if low >= 0.95 else 1 if high < 0.95 else 3
    assert found.exit_code == expected
    assert low <= data["probability"] <= high
    shown = CliRunner().invoke(app, options)
    assert "95 %" in shown.stdout
