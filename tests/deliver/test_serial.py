"""The study as JSON: complete, deterministic, without NaN."""

import dataclasses
import json

import numpy as np
import pytest

from evenground.errors import Severity
from evenground.model._serial import CAUTION, study_to_dict, study_to_json, to_plain


def test_the_text_reads_back_as_the_same_data(study):
    text = study_to_json(study)
    assert json.loads(text) == study_to_dict(study)
    assert "NaN" not in text
    assert "Infinity" not in text


def test_two_runs_give_the_same_text(study):
    assert study_to_json(study) == study_to_json(study)
    assert json.loads(study_to_json(study, indent=None)) == json.loads(study_to_json(study))


def test_head_says_what_a_reader_needs_first(study):
    data = study_to_dict(study)
    assert list(data)[:6] == ["format", "version", "input", "caution", "verdict", "governing_check"]
    assert data["caution"] == CAUTION
    assert data["input"] == {"file": "site.yaml", "sha256": study.project.input_hash}
    assert data["verdict"] == study.verdict.value
    assert data["governing_check"] == study.governing_check.identity


def test_no_folder_of_the_machine_gets_out(study):
    assert study.project.file_name not in study_to_json(study)


def test_every_field_of_the_study_is_there(study):
    names = {f.name for f in dataclasses.fields(study)}
    assert names <= set(study_to_dict(study))


def test_every_step_has_formula_inputs_value_and_source(study):
    steps = study_to_dict(study)["steps"]
    assert len(steps) == len(study.steps) > 0
    for row, step in zip(steps, study.steps, strict=True):
        assert row["form"] or row["text"]
        assert row["source"]
        assert set(row["inputs"]) == set(step.info.symbols)
        assert row["value"] == to_plain(step.value)


def test_maps_and_profiles_are_summarised(study):
    data = study_to_dict(study)
    assert data["map"]["columns"] == len(study.map.x_m)
    assert data["map"]["touch_utilisation"]["max"] == np.nanmax(study.map.touch_utilisation)
    assert len(data["profiles"]) == len(study.profiles)


@pytest.mark.parametrize(
    ("value", "plain"),
    [
        (float("nan"), None),
        (float("inf"), "inf"),
        (1 + 2j, [1.0, 2.0]),
        (Severity.NOTE, "note"),
        (np.float64(2.5), 2.5),
        (np.int64(3), 3),
        (np.bool_(True), True),
        (np.array([1.0, float("nan")]), [1.0, None]),
        ({"b": 1, "a": (1, 2)}, {"b": 1, "a": [1, 2]}),
        (frozenset({"b", "a"}), ["a", "b"]),
    ],
)
def test_kinds_of_values(value, plain):
    assert to_plain(value) == plain


def test_an_unknown_kind_is_refused():
    with pytest.raises(TypeError, match="no place in a study"):
        to_plain(object())
