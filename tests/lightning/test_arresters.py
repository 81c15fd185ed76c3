"""Arresters, masts on the mat, and the whole chapter."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenground.electrode import rectangular_mat
from evenground.errors import InputError, OutOfRangeError
from evenground.lightning import assess_lightning, check_arresters, check_masts, level_rule
from evenground.model.electrode import Conductor, Electrode
from evenground.model.lightning import (
    ArresterPlace,
    LightningRequest,
    Mast,
    MastConnection,
    ProtectedObject,
    ShieldingRequest,
    Terminals,
    TransformerPlace,
)
from evenground.model.metalwork import Metalwork
from evenground.model.study import Verdict
from evenground.standards.impulse import arrester_lead_voltage, arrester_protective_distance

PLACE = ArresterPlace("A1", "T1", 360.0, 650.0, 10.0, 1.5, 2.0, 1000.0, own_rods=1, tied_to_mat=True)
MAT = rectangular_mat(length_x_m=60, length_y_m=40, meshes_x=6, meshes_y=4, depth_m=0.6, radius_m=0.006)


def test_formulas() -> None:
    # 1 uH/m and 10 kA/us give 10 kV for each metre (common practice)
    assert arrester_lead_voltage(3.0, 10.0) == pytest.approx(30.0, rel=1e-12)
    # travelling wave: margin over twice the steepness, times the speed of light
    assert arrester_protective_distance(650, 1.0, 350, 1000) == pytest.approx(45.0, rel=1e-12)
    with pytest.raises(OutOfRangeError, match="no margin"):
        arrester_protective_distance(300, 1.15, 350, 1000)


def test_good_arrester() -> None:
    checks, findings = check_arresters([PLACE])
    assert [c.verdict for c in checks] == [Verdict.PASS, Verdict.PASS]
    assert checks[0].value == pytest.approx(13.5)
    assert checks[0].limit == pytest.approx((650 / 1.15 - 360) * 300 / 2000)
    assert not findings


def test_bad_arresters() -> None:
    far = replace(PLACE, name="A2", distance_m=40.0)
    weak = replace(PLACE, name="A3", protective_level_kv=600.0)
    loose = replace(PLACE, name="A4", own_rods=0, tied_to_mat=None, earth_lead_m=12.0)
    cut = replace(PLACE, name="A5", tied_to_mat=False)
    checks, findings = check_arresters([far, weak, loose, cut])
    by_name = {c.identity: c for c in checks}
    assert by_name["arrester-distance-A2"].verdict is Verdict.FAIL
    assert by_name["arrester-distance-A3"].verdict is Verdict.FAIL
    assert by_name["arrester-distance-A3"].limit is None
    assert by_name["arrester-leads-A3"].verdict is Verdict.FAIL
    assert {f.code for f in findings} == {
        "arrester-no-rod",
        "arrester-tie-unknown",
        "arrester-long-earth-lead",
        "arrester-not-tied",
    }


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="line_lead_m -1"):
        replace(PLACE, line_lead_m=-1.0)
    with pytest.raises(ValueError, match="steepness_kv_per_us: 0"):
        replace(PLACE, steepness_kv_per_us=0.0)


def test_way_along_the_mat() -> None:
    masts = [MastConnection("M1", (0.0, 0.0, 0.6), 2), MastConnection("M2", (30.0, 20.0, 0.6), 2)]
    checks, findings = check_masts(MAT, masts, [TransformerPlace("T1", (40.0, 20.0, 0.6))])
    # along the meshes of 10 m the way is that of a taxi
    assert checks[0].value == pytest.approx(60.0, rel=1e-9)
    assert checks[0].verdict is Verdict.PASS
    assert checks[1].value == pytest.approx(10.0, rel=1e-9)
    assert checks[1].verdict is Verdict.FAIL
    assert {f.code for f in findings} == {"mast-no-rod"}


def test_a_mast_with_a_rod_by_the_list_is_not_said_to_have_none() -> None:
    """Common practice: the list and the drawing are compared elsewhere, once for all items."""
    mast = MastConnection("M1", (0.0, 0.0, 0.6), 2)
    assert [f.code for f in check_masts(MAT, [mast], [])[1]] == ["mast-no-rod"]
    assert check_masts(MAT, [replace(mast, listed_rods=1)], [])[1] == ()


def test_way_not_decided() -> None:
    island = MAT + Electrode([Conductor((100, 0, 0.6), (110, 0, 0.6), 0.006)])
    checks, _ = check_masts(
        island,
        [MastConnection("M1", (0, 0, 0.6)), MastConnection("M2", (5, 5, 0.6))],
        [TransformerPlace("T1", (110, 0, 0.6))],
    )
    assert [c.verdict for c in checks] == [Verdict.NOT_DECIDED] * 2
    assert checks[0].value is None


def test_electrode_at_the_foot() -> None:
    rod = Electrode([Conductor((0, 0, 0.6), (0, 0, 3.6), 0.008, kind="rod")])
    mast = MastConnection("M1", (0, 0, 0.6), 2, level=1)
    checks, findings = check_masts(MAT + rod, [mast], [], resistivity_ohm_m=100.0)
    # class I below 500 ohm m: 5 m. Within 5 m of the corner: 5 m along each of two sides, 3 m of rod twice
    assert checks[0].limit == pytest.approx(10.0)
    assert checks[0].value == pytest.approx(16.0, abs=1e-6)
    assert checks[0].verdict is Verdict.PASS
    assert not findings
    lone = Electrode([Conductor((0, 0, 0.6), (4, 0, 0.6), 0.006)])
    assert check_masts(lone, [mast], [], resistivity_ohm_m=100.0)[0][0].verdict is Verdict.FAIL
    low = check_masts(lone, [mast], [], resistivity_ohm_m=100.0, mat_resistance_ohm=8.0)[0][0]
    assert low.verdict is Verdict.PASS
    assert "10 ohm" in low.reason
    assert check_masts(lone, [mast], [])[0][0].verdict is Verdict.NOT_DECIDED


def test_metal_is_cut_where_it_meets() -> None:
    net = Metalwork.from_conductors(MAT.conductors)
    assert len(net.nodes_m) == 7 * 5
    assert len(net.start) == 6 * 5 + 7 * 4
    assert net.length_m.sum() == pytest.approx(MAT.total_length_m, rel=1e-12)
    tee = Metalwork.from_conductors(
        [Conductor((0, 0, 1), (10, 0, 1), 0.01), Conductor((4, 0, 1), (4, 5, 1), 0.01)]
    )
    assert len(tee.start) == 3
    over = Metalwork.from_conductors(
        [Conductor((0, 0, 1), (10, 0, 1), 0.01), Conductor((4, -5, 1.5), (4, 5, 1.5), 0.01)]
    )
    assert over.pieces_of_bonded_net().max() == 1
    with pytest.raises(ValueError, match="at least one"):
        Metalwork.from_conductors([])


def test_the_whole_chapter() -> None:
    shielding = ShieldingRequest(
        Terminals(masts=(Mast("M1", (0, 0), 20.0),)),
        (ProtectedObject("bus", ((4.0, 0.0, 6.0),)),),
        level_rule("II"),
    )
    request = LightningRequest(
        shielding=shielding,
        arresters=(PLACE,),
        masts=(MastConnection("M1", (0, 0, 0.6)),),
        transformers=(TransformerPlace("T1", (40.0, 20.0, 0.6)),),
        electrode=MAT,
    )
    result = assess_lightning(request)
    assert result.verdict is Verdict.PASS
    assert {c.identity for c in result.checks} == {
        "shielding-bus",
        "arrester-distance-A1",
        "arrester-leads-A1",
        "mast-way-M1-T1",
    }
    assert assess_lightning(LightningRequest()).verdict is Verdict.NOT_DECIDED
    with pytest.raises(InputError, match="electrode that they feed"):
        assess_lightning(replace(request, electrode=None))
