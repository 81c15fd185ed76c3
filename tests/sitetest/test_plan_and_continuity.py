"""The plan with its sheets, continuity of a net, joints."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from evenground.electrode import rectangular_mat
from evenground.errors import InputError
from evenground.model.electrode import Conductor, Electrode
from evenground.model.sitetest import (
    AuxiliaryPath,
    ContinuityReading,
    ExpectedPlace,
    MatUnderTest,
    PlanRequest,
    Riser,
)
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.sitetest import expected_continuity, judge_joint, pass_value, plan_test, read_continuity


def potential(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return 100.0 / (2 * math.pi * np.maximum(np.hypot(points[:, 0], points[:, 1]), 20.0))


MAT = MatUnderTest(100.0 / (2 * math.pi * 20.0), potential, LayeredSoil((100.0,)), (0.0, 0.0), 40.0)


def test_distance_is_the_first_that_is_far_enough() -> None:
    plan = plan_test(PlanRequest(MAT, band=0.1))
    # hemisphere of 20 m: 1 - 2a/D + a/(D sqrt 2) within 10 % needs D >= 258.6 m; multiples of 40 m
    assert plan.fall.current_distance_m == pytest.approx(260.0)
    short = plan_test(PlanRequest(MAT, longest_lead_m=130.0))
    assert short.fall.current_distance_m == pytest.approx(120.0)
    assert "plan-short-lead" in {f.code for f in short.findings}


def test_sheets_hold_what_is_to_be_read() -> None:
    request = PlanRequest(
        MAT,
        current_distance_m=200.0,
        test_current_a=10.0,
        fault_current_a=5000.0,
        paths=(AuxiliaryPath("line 1", 0.3 + 0.1j), AuxiliaryPath("cable", 0.1 - 0.1j)),
        places=(ExpectedPlace("gate", "touch", (20.0, 0.0), 0.08, 400.0),),
        joints=3,
        gravel_area_m2=3200.0,
        gravel_thickness_m=0.1,
        gravel_resistivity_ohm_m=3000.0,
    )
    plan = plan_test(request)
    titles = [s.title for s in plan.sheets]
    assert titles == [
        "Conditions",
        "Fall of potential",
        "Current injection",
        "Touch and step voltage",
        "Joints",
        "Gravel",
    ]
    for sheet in plan.sheets:
        for table in sheet.tables:
            assert all(len(row) == len(table.columns) for row in table.rows)
    currents = {row[0]: row[1] for row in plan.sheets[2].tables[0].rows}
    assert currents["mat, what is left"] == pytest.approx(6.0)  # 1 - 0.4 of 10 A
    gate = plan.sheets[3].tables[0].rows[0]
    assert gate[4] == pytest.approx(0.48)  # 0.08 V/A times 6 A
    assert gate[5] == pytest.approx(400.0 * 6.0 / 5000.0)
    assert len(plan.sheets[5].tables[0].rows) == 7  # one for each 500 m2
    assert plan.safety
    assert plan.weather
    assert all(v.source and v.evidence for v in plan.pass_values)


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="band: 0") as caught:
        plan_test(PlanRequest(MAT, band=0.0, test_current_a=-1.0))
    assert len(caught.value.findings) == 2
    broken = replace(MAT, potential_v_per_a=lambda points: np.full(len(points), np.nan))
    with pytest.raises(InputError, match="finite number per point"):
        plan_test(PlanRequest(broken))


COPPER = 1.78e-8


def test_continuity_of_a_line_and_of_a_loop() -> None:
    line = Electrode([Conductor((0, 0, 0.6), (30, 0, 0.6), 0.006)])
    risers = [Riser("A", (0, 0, 0.6), 1.0), Riser("B", (30, 0, 0.6), 2.0)]
    item = expected_continuity(
        line, risers, "A", metal_resistivity_ohm_m=COPPER, area_mm2={"mat": 95.0}, tail_area_mm2=50.0
    )[0]
    closed = 1e3 * COPPER * (30 / 95e-6 + 3 / 50e-6)
    assert item.expected_mohm == pytest.approx(closed, rel=1e-9)
    loop = rectangular_mat(length_x_m=10, length_y_m=10, meshes_x=1, meshes_y=1, depth_m=0.6, radius_m=0.006)
    corners = [Riser("A", (0, 0, 0.6)), Riser("B", (10, 10, 0.6)), Riser("C", (10, 0, 0.6))]
    across, side = expected_continuity(
        loop, corners, "A", metal_resistivity_ohm_m=COPPER, area_mm2={"mat": 100.0}, tail_area_mm2=50.0
    )
    edge = 1e3 * COPPER * 10 / 100e-6
    assert across.expected_mohm == pytest.approx(edge, rel=1e-9)  # two ways of two sides
    assert side.expected_mohm == pytest.approx(0.75 * edge, rel=1e-9)  # one side beside three


def test_continuity_of_an_infinite_square_net() -> None:
    """Neighbouring nodes of an infinite square net: half of one side (a classic); a large net comes near."""
    mat = rectangular_mat(
        length_x_m=300, length_y_m=300, meshes_x=30, meshes_y=30, depth_m=0.6, radius_m=0.006
    )
    pair = [Riser("A", (150, 150, 0.6)), Riser("B", (160, 150, 0.6))]
    item = expected_continuity(
        mat, pair, "A", metal_resistivity_ohm_m=COPPER, area_mm2={"mat": 95.0}, tail_area_mm2=50.0
    )[0]
    assert item.expected_mohm == pytest.approx(
        0.5 * 1e3 * COPPER * 10 / 95e-6, rel=2e-3
    )  # 30 meshes are finite


def test_readings_of_continuity() -> None:
    mat = rectangular_mat(length_x_m=40, length_y_m=40, meshes_x=4, meshes_y=4, depth_m=0.6, radius_m=0.006)
    island = Electrode([Conductor((100, 0, 0.6), (110, 0, 0.6), 0.006)])
    names = {
        "ref": (0, 0),
        "good": (40, 40),
        "bad": (40, 0),
        "open": (0, 40),
        "low": (20, 20),
        "fine": (10, 20),
    }
    risers = [Riser(n, (x, y, 0.6)) for n, (x, y) in names.items()]
    risers += [Riser("unread", (20, 0, 0.6)), Riser("apart", (100, 0, 0.6))]
    expected = expected_continuity(
        mat + island,
        risers,
        "ref",
        metal_resistivity_ohm_m=COPPER,
        area_mm2={"mat": 95.0},
        tail_area_mm2=50.0,
    )
    by_name = {e.riser: e.expected_mohm for e in expected}
    assert by_name["apart"] == math.inf
    readings = [
        ContinuityReading("good", 1.2 * by_name["good"], 100.0),
        ContinuityReading("bad", 40.0, 100.0),
        ContinuityReading("open", 5000.0, 1.0),
        ContinuityReading("low", 0.2 * by_name["low"], 100.0),
        ContinuityReading("fine", 0.0, 100.0),
        ContinuityReading("apart", 2.0, 100.0),
    ]
    checks, findings = read_continuity(expected, readings)
    verdicts = {c.identity.removeprefix("continuity-"): c.verdict for c in checks}
    assert verdicts == {
        "good": Verdict.PASS,
        "bad": Verdict.FAIL,
        "open": Verdict.FAIL,
        "low": Verdict.NOT_DECIDED,
        "fine": Verdict.NOT_DECIDED,
        "unread": Verdict.NOT_DECIDED,
        "apart": Verdict.NOT_DECIDED,
    }
    assert {f.code for f in findings} == {"continuity-low-current"}
    with pytest.raises(InputError, match="not in the plan: ghost"):
        read_continuity(expected, [ContinuityReading("ghost", 1.0)])


def test_continuity_refuses_what_it_can_not_place() -> None:
    line = Electrode([Conductor((0, 0, 0.6), (30, 0, 0.6), 0.006)])
    with pytest.raises(InputError, match="reference riser 'Z'") as caught:
        expected_continuity(
            line, [Riser("A", (0, 0, 0.6)), Riser("A", (1, 0, 0.6))], "Z",
            metal_resistivity_ohm_m=COPPER, area_mm2={}, tail_area_mm2=50.0,
        )  # fmt: skip
    assert len(caught.value.findings) == 3
    with pytest.raises(InputError, match="meet the metal: A is"):
        expected_continuity(
            line, [Riser("A", (10, 5, 0.6)), Riser("B", (0, 0, 0.6))], "B",
            metal_resistivity_ohm_m=COPPER, area_mm2={"mat": 95.0}, tail_area_mm2=50.0,
        )  # fmt: skip


def test_joints() -> None:
    assert judge_joint(0.05, 0.06).verdict is Verdict.PASS
    assert judge_joint(0.09, 0.06).verdict is Verdict.FAIL
    assert judge_joint(0.0002, 0.0002).verdict is Verdict.NOT_DECIDED
    assert judge_joint(-1.0, 0.06).reason == "impossible reading"
    with pytest.raises(KeyError, match="known: rise-change"):
        pass_value("nothing")
