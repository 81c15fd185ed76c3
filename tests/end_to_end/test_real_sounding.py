"""A whole study on a real published sounding, through the command line, and what must hold of it."""

import json
import math

import pytest

from evenground.cli._main import app

# Wenner resistances of two crossing traverses, ohm, at a = 1 ... 13.5 m.
# Source: TNB Substation Design Manual, table B-3 (public page fliphtml5.com/knayh/omdt, page 419).
SPACINGS = (1, 1.5, 2, 3, 4.5, 6, 9, 13.5)
FIRST = (21.1, 14.43, 10.96, 6.52, 4.55, 3.370, 2.480, 1.609)
SECOND = (20, 13.96, 10.07, 7.27, 4.59, 3.4, 2.3, 1.593)

PROJECT = """
evenground: 1
project: {{title: Mat on a published sounding}}
frequency_hz: 50
soil:
  model: {{select: auto}}
  traverses:
    - name: first
      array: wenner
      readings:
{first}
    - name: second
      array: wenner
      readings:
{second}
faults:
  - name: bus
    voltage_kv: 132
    current_ka: 4.0
    x_over_r: 10
    shock_time_s: 0.5
    thermal_time_s: 1.0
    split_factor: 0.5
conductors:
  mat: {{material: copper_hard_drawn, joint: exothermic, shape: round, diameter_mm: 10}}
mats:
  - name: yard
    rectangle: {{corner_m: [0, 0], length_x_m: 40, length_y_m: 30}}
    spacing_m: 5
    depth_m: 0.5
    conductor: mat
surface:
  - name: yard
    outline_m: [[-1, -1], [41, -1], [41, 31], [-1, 31]]
    resistivity_ohm_m: 3000
    thickness_m: 0.1
assessment: {{body_mass_kg: 50}}
"""


def rows(values):
    return "\n".join(
        f"        - {{spacing_m: {a}, resistance_ohm: {r}}}" for a, r in zip(SPACINGS, values, strict=True)
    )


@pytest.fixture(scope="module")
def outcome(tmp_path_factory):
    from typer.testing import CliRunner

    folder = tmp_path_factory.mktemp("real")
    file = folder / "site.yaml"
    file.write_text(PROJECT.format(first=rows(FIRST), second=rows(SECOND)))
    result = CliRunner().invoke(app, ["study", str(file), "--out", str(folder / "out")])
    data = json.loads((folder / "out" / "study.json").read_text())
    return result, data, folder / "out"


def test_the_soil_is_uniform_at_131_ohm_m(outcome):
    """Both traverses scatter about 131.5 ohm m (mean of the published readings, 3.7 % rms)."""
    soil = outcome[1]["soil"]["soil"]
    assert len(soil["resistivities_ohm_m"]) == 1
    mean = math.exp(
        sum(
            math.log(2 * math.pi * a * r)
            for values in (FIRST, SECOND)
            for a, r in zip(SPACINGS, values, strict=True)
        )
        / 16
    )
    assert soil["resistivities_ohm_m"][0] == pytest.approx(mean, rel=1e-3)
    assert mean == pytest.approx(131.53, rel=1e-3)


def test_resistance_lies_with_the_hand_formulas(outcome):
    """Sverak's formula (IEEE Std 80) describes uniform leakage; free leakage can only lower the resistance
    (Thomson's theorem), for the examples of IEEE Std 80-2000 Annex B by 4 to 15 % (from memory)."""
    data = outcome[1]
    rho, area, length, depth = data["soil"]["soil"]["resistivities_ohm_m"][0], 1200.0, 9 * 30 + 7 * 40, 0.5
    root = math.sqrt(20 / area)
    sverak = rho * (1 / length + 1 / math.sqrt(20 * area) * (1 + 1 / (1 + depth * root)))
    assert 0.85 * sverak < data["field"]["resistance_ohm"] < sverak


def test_current_and_rise_follow_from_the_inputs(outcome):
    """IEEE Std 80, Eq. (64), (79): IG = Df Sf If, Ta = X/R/(2 pi f)."""
    data = outcome[1]
    ta = 10 / (2 * math.pi * 50)
    decrement = math.sqrt(1 + ta / 0.5 * (1 - math.exp(-2 * 0.5 / ta)))
    grid_current = decrement * 0.5 * 4000
    assert data["faults"][0]["grid_current_a"] == pytest.approx(grid_current, rel=1e-9)
    assert data["gpr_v"]["bus"] == pytest.approx(grid_current * data["field"]["resistance_ohm"], rel=1e-9)


def test_exit_code_and_verdict_agree(outcome):
    result, data, _ = outcome
    codes = {"pass": 0, "fail": 1, "not decided": 3}
    assert result.exit_code == codes[data["verdict"]]


def test_everything_a_reviewer_needs_is_there(outcome):
    folder = outcome[2]
    names = {p.name for p in folder.rglob("*") if p.is_file()}
    assert {"study.json", "report.pdf", "checks.csv"} <= names
    assert any(n.endswith(".svg") for n in names)
    assert (folder / "report.pdf").read_bytes()[:5] == b"%PDF-"


def test_the_caution_is_printed(outcome):
    assert "licensed engineer" in " ".join(outcome[0].output.split())
