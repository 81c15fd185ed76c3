"""The result folder: complete, or as it was before."""

import csv
import hashlib
import io
import json
import os

import numpy as np
import pytest

from evenground.deliver import files as files_module
from evenground.deliver import results as results_module
from evenground.deliver.results import write_results
from evenground.deliver.tables import csv_text, study_tables
from evenground.errors import InputError

MADE_ON = "2026-04-17"
LIGHT = ("json", "csv")


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


def snapshot(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_whole_result_is_written(study, tmp_path):
    folder = tmp_path / "out"
    written = write_results(study, folder, made_on=MADE_ON)
    names = {p.relative_to(folder).as_posix() for p in written}
    assert {
        "study.json",
        "checks.csv",
        "soil-readings.csv",
        "limits.csv",
        "conductors.csv",
        "surface-map.csv",
        "profile-1.csv",
        "inputs.csv",
        "report.pdf",
        "contents.csv",
        "plots/map-touch.svg",
        "plots/map-touch.png",
        "plots/sounding.svg",
        "plots/plan.png",
    } <= names
    assert set(snapshot(folder)) == names
    assert json.loads((folder / "study.json").read_text())["verdict"] == study.verdict.value
    assert os.listdir(tmp_path) == ["out"]
    for row in rows((folder / "contents.csv").read_text()):
        data = (folder / row["file"]).read_bytes()
        assert (len(data), hashlib.sha256(data).hexdigest()) == (int(row["bytes"]), row["sha256"])


@pytest.mark.parametrize("moment", ["make", "write", "exchange"])
def test_a_failure_leaves_the_earlier_result_as_it_was(study, tmp_path, monkeypatch, moment):
    folder = tmp_path / "out"
    write_results(study, folder, formats=LIGHT, made_on="2026-01-01")
    before = snapshot(folder)

    def broken(*args, **kwargs):
        raise OSError(28, "No space left on device")

    if moment == "make":
        monkeypatch.setattr(results_module, "study_tables", broken)
    elif moment == "write":
        monkeypatch.setattr(results_module, "_keep_foreign", broken)
    else:
        real = files_module.Path.rename

        def rename(self, target):
            if ".part-" in self.name:
                broken()
            return real(self, target)

        monkeypatch.setattr(files_module.Path, "rename", rename)
    with pytest.raises(OSError, match="No space left"):
        write_results(study, folder, formats=LIGHT, made_on=MADE_ON)
    assert snapshot(folder) == before
    assert os.listdir(tmp_path) == ["out"]


def test_a_result_lost_between_the_two_renames_comes_back(study, tmp_path):
    folder = tmp_path / "out"
    write_results(study, folder, formats=LIGHT, made_on=MADE_ON)
    before = snapshot(folder)
    folder.rename(tmp_path / ".out.previous")  # what a kill at the worst moment leaves
    with pytest.raises(ZeroDivisionError), files_module.replaced_folder(folder):
        raise ZeroDivisionError
    assert snapshot(folder) == before


def test_a_second_result_replaces_the_first_and_keeps_what_the_user_added(study, tmp_path):
    folder = tmp_path / "out"
    write_results(study, folder, formats=("json", "svg"), made_on=MADE_ON)
    (folder / "remarks.txt").write_text("mine")
    write_results(study, folder, formats=LIGHT, made_on=MADE_ON)
    assert (folder / "remarks.txt").read_text() == "mine"
    assert not (folder / "plots" / "plan.svg").exists()


def test_other_people_s_folders_are_refused(study, tmp_path):
    (tmp_path / "letter.txt").write_text("keep me")
    with pytest.raises(InputError, match="other files"):
        write_results(study, tmp_path, formats=LIGHT, made_on=MADE_ON)
    assert snapshot(tmp_path) == {"letter.txt": b"keep me"}


def test_an_unknown_format_is_refused(study, tmp_path):
    with pytest.raises(ValueError, match="docx"):
        write_results(study, tmp_path / "out", formats=("docx",), made_on=MADE_ON)
    assert not (tmp_path / "out").exists()


def test_checks_table_holds_every_check(study):
    table = rows(study_tables(study)["checks.csv"])
    assert [r["identity"] for r in table] == [c.identity for c in study.checks]
    for row, check in zip(table, study.checks, strict=True):
        assert row["verdict"] == check.verdict.value
        assert (row["value"] == "") == (check.value is None)
        if check.value is not None:
            assert float(row["value"]) == check.value
            assert float(row["limit"]) == check.limit


def test_conductors_table_adds_up_to_the_electrode(study):
    table = rows(study_tables(study)["conductors.csv"])
    total = sum(float(r["length_m"]) for r in table)
    assert total == pytest.approx(study.electrode.total_length_m, rel=1e-12)


def test_map_table_holds_the_raster(study):
    table = rows(study_tables(study)["surface-map.csv"])
    assert len(table) == study.map.potential.size
    touch = np.array([float(r["touch_utilisation"] or "nan") for r in table])
    expected = study.map.touch_utilisation.ravel()
    assert np.array_equal(np.isnan(touch), np.isnan(expected))
    np.testing.assert_allclose(touch, expected, rtol=1e-5)  # six digits are written


def test_register_table_names_the_documents(study):
    table = rows(study_tables(study)["inputs.csv"])
    assert len(table) == len(study.project.register)
    assert {r["document"] for r in table} >= {
        r.origin.document for r in study.project.register if r.origin is not None
    }


def test_a_spreadsheet_runs_nothing_from_a_table():
    text = csv_text(["a", "b"], [["=1+1", "-3.5"], ["@SUM(A1)", '+cmd|" /C calc"!A0'], ['x,"y"\n', None]])
    table = list(csv.reader(io.StringIO(text)))
    assert table[1] == ["'=1+1", "-3.5"]
    assert table[2] == ["'@SUM(A1)", '\'+cmd|" /C calc"!A0']
    assert table[3] == ['x,"y"\n', ""]
