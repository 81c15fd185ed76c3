"""The command existing: what tests alone say, and what is said of wrong files."""

import json

import pytest
from typer.testing import CliRunner

from evenground.cli._main import app
from evenground.errors import InputError

FILE = """evenground_existing: 1
title: Old Mill substation (invented)
date: 2031-09-02
resistance_ohm: {value: 0.8, origin: {note: injection of 2031}}
resistance_uncertainty: 0.1
paths_excluded: true
fault_current_ka: 0.4
fault_current_upper_ka: 0.5
soil: {resistivities_ohm_m: [200, 80], thicknesses_m: [2]}
radius_m: 40
depth_m: 3
touch_limit_v: 500
places:
  - {name: gate, voltage_v: 1.2, mat_current_a: 10}
places_random: true
risers_tested: 12
risers_connected: 12
"""


def run(tmp_path, text, *more):
    file = tmp_path / "old.yaml"
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(app, ["existing", str(file), *more])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_the_rise_lies_between_its_bounds(tmp_path):
    """Ohm's law: 0.8 ohm less 10 % times 400 A, and 0.8 ohm and 10 % more times 500 A."""
    result = run(tmp_path, FILE, "--json")
    data = json.loads(result.output)
    assert data["rise_low_v"] == pytest.approx(288.0, rel=1e-9)
    assert data["rise_high_v"] == pytest.approx(440.0, rel=1e-9)
    assert data["exceed_share_upper"] == pytest.approx(0.95, rel=1e-9)  # 1 - 0.05 for one place at random
    assert (result.exit_code, data["verdict"]) == (0, "pass")  # 440 V is below the limit everywhere


def test_without_excluded_paths_nothing_passes(tmp_path):
    result = run(tmp_path, FILE.replace("paths_excluded: true\n", ""))
    assert result.exit_code == 3
    assert "not noted" in result.output
    assert "licensed engineer" in result.output


def test_a_riser_that_is_not_joined_fails(tmp_path):
    assert run(tmp_path, FILE.replace("risers_connected: 12", "risers_connected: 11")).exit_code == 1


@pytest.mark.parametrize(
    ("old", "new", "words", "line"),
    [
        ("fault_current_upper_ka: 0.5", "fault_current_upper_ka: 0.3", "below the best value", 8),
        ("risers_connected: 12", "risers_connected: 13", "13 risers joined of 12 tested", 17),
        ("thicknesses_m: [2]", "thicknesses_m: []", "one thickness less", 9),
        ("resistance_uncertainty: 0.1", "resistance_uncertainty: 1.1", "resistance_uncertainty", 5),
        ("touch_limit_v: 500", "touch_limit_v: [500]", "touch_limit_v", 12),
        ("radius_m: 40", "radius: 40", "unknown key 'radius'", 10),
    ],
)
def test_wrong_fields_are_named_with_their_line(tmp_path, old, new, words, line):
    assert old in FILE
    with pytest.raises(InputError, match=words) as caught:
        run(tmp_path, FILE.replace(old, new, 1))
    assert [f.line for f in caught.value.findings] == [line]


def test_other_files_are_refused(tmp_path):
    with pytest.raises(InputError, match="mapping of fields"):
        run(tmp_path, "- 1\n")
    with pytest.raises(InputError, match="evenground_existing"):
        run(tmp_path, "title: x\n")
