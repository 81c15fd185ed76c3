"""Drawings and schedules of a whole study of the demo site: they say what the study says."""

from dataclasses import replace
from pathlib import Path

import pytest

from evenground import load_project, run_study
from evenground.drawing import build_drawing, own_layers, read_dxf, write_dxf
from evenground.model.study import Verdict
from evenground.schedules import build_schedules, design_of_study

SITE = Path(__file__).resolve().parents[2] / "examples" / "harrow-lane" / "site-revised.yaml"


@pytest.fixture(scope="module")
def study():
    return run_study(load_project(SITE))


@pytest.fixture(scope="module")
def design(study):
    return design_of_study(study)


def test_the_sheet_counts_the_verdicts_and_never_calls_anything_safe(study, design):
    layout = build_drawing(design).paperspace("Plan")
    text = " ".join(e.plain_text() for e in layout.query("MTEXT")).replace("\n", " ")
    governing = [c for c in study.checks if c.governing]
    kept = sum(c.verdict is Verdict.PASS for c in governing)
    assert f"{kept} of {len(governing)} limits checked are kept" in text
    assert "what was not checked" in text
    assert "safe" not in text.lower()
    assert study.project.input_hash[:8] in text


def test_quantities_of_the_demo_by_hand(design):
    """Mat of 70 m by 50 m with 9 + 7 lines inside; ring of 72 m by 52 m; 4 diagonal ties of sqrt 2 and 4 of
    1 m. Joints on squared paper: 63 crossings inside and 4 where ties meet edges at a mesh line; 28 tees on
    the edges, 4 + 4 at the ends of diagonal ties, 4 where ties meet the ring."""
    tables = build_schedules(design)
    (mat,) = (length for kind, length in tables.quantities.conductor_m if kind.key == "mat")
    by_hand = 240 + 9 * 50 + 7 * 70 + 2 * (72 + 52) + 4 * 2**0.5 + 4
    assert mat == pytest.approx(by_hand, abs=1e-5)  # ends of mesh lines are rounded to 1e-7 m
    counts = {j.kind: j.count for j in tables.quantities.joints if j.kind in ("crossing", "tee", "rod")}
    assert counts == {"crossing": 67, "tee": 40, "rod": 18}


def test_test_points_hold_the_worst_places_of_the_study(study, design):
    table = build_schedules(design).table("test-points")
    values = [v for v in table.column("design") if not isinstance(v, str)]
    assert study.worst_touch.value_v in values
    assert study.worst_step.value_v in values
    assert study.worst_touch.limit_v in table.column("limit")


def test_the_drawing_gives_the_electrode_of_the_study_back(study, design, tmp_path):
    write_dxf(design, tmp_path / "x.dxf")
    back = read_dxf(tmp_path / "x.dxf", own_layers()).electrode()

    def rows(electrode):
        return sorted((c.start_m, c.end_m, c.radius_m, c.kind, c.tag) for c in electrode)

    assert rows(back) == rows(study.electrode)


@pytest.mark.parametrize(("bonding", "shown"), [("bonded", True), ("separate", False)])
def test_a_bonded_fence_is_detailed_only_where_one_is_built(design, bonding, shown):
    """A detail that ties the fence to the mat must not go to a site whose fence is earthed on its own."""
    built = design.installation
    fences = tuple(replace(fence, bonding=bonding) for fence in built.fences)
    assert fences
    drawing = build_drawing(replace(design, installation=replace(built, fences=fences)))
    text = " ".join(e.dxf.text for layout in drawing.layouts for e in layout.query("TEXT"))
    assert ("Fence, bonded" in text) is shown
    assert "Operator mat" in text
