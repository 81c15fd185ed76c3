"""Quantities against counts by hand on a mat of 20 m by 10 m with 4 by 2 meshes."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenground.electrode import rectangular_mat
from evenground.model.electrode import Conductor, Electrode
from evenground.model.installation import EquipmentItem, Installation
from evenground.model.project import Identity
from evenground.model.site import SurfaceZone
from evenground.schedules import build_schedules, design_of_electrode, measure

ROUNDING = 1e-9
"""Only sums and products of a few numbers."""


def test_lengths_by_hand(small):
    """5 conductors of 10 m and 3 of 20 m; T1 lies 2.0 m from the line y = 5 (7.5, 5), twice
    (2.0 + 0.7 + 0.3); SA-1 lies on the line x = 5, once (0 + 0.7 + 1.0); the drawn riser is 0.7 m."""
    q = measure(small)
    lengths = {kind.key: length for kind, length in q.conductor_m}
    assert lengths["mat"] == pytest.approx(5 * 10 + 3 * 20, rel=ROUNDING)
    assert lengths["riser"] == pytest.approx(0.7 + 2 * 3.0 + 1.7, rel=ROUNDING)
    masses = {kind.key: kind.mass_kg_per_m for kind, _ in q.conductor_m}
    # copper has 8.9 kg/dm3 (common practice): 95 mm2 weigh 0.8455 kg/m
    assert masses["mat"] == pytest.approx(0.8455, rel=ROUNDING)


def test_trench_and_excavation_by_hand(small):
    trench, leads = measure(small).trenches
    assert (trench.length_m, trench.conductor_m) == pytest.approx((110, 110), rel=ROUNDING)
    assert trench.volume_m3 == pytest.approx(110 * 0.5 * 0.8, rel=ROUNDING)
    assert leads.length_m == pytest.approx(2.0, rel=ROUNDING)
    assert leads.volume_m3 == pytest.approx(2.0 * 0.5 * 0.8, rel=ROUNDING)


def test_conductors_in_one_line_share_a_trench(designs):
    mat = rectangular_mat(length_x_m=10, length_y_m=10, meshes_x=1, meshes_y=1, depth_m=0.6, radius_m=0.005)
    twin = Electrode([Conductor((0, 0, 0.6), (10, 0, 0.6), 0.005, kind="run")])
    (trench,) = measure(design_of_electrode(mat + twin, Identity("t"))).trenches
    assert trench.conductor_m == pytest.approx(50, rel=ROUNDING)
    assert trench.length_m == pytest.approx(40, rel=ROUNDING)


def test_covers_count_an_area_once_the_earlier_zone_first(small):
    """Yard 22 m by 12 m; of the road of 20 m by 30 m, 11 m by 20 m lie in the yard."""
    yard, road = measure(small).covers
    assert yard.volume_m3 == pytest.approx(22 * 12 * 0.1, rel=ROUNDING)
    assert road.area_m2 == pytest.approx(20 * 30 - 20 * 11, rel=ROUNDING)


def test_a_cover_without_outline_is_named_and_not_guessed(designs):
    zone = SurfaceZone("all", None, 3000, 0.1, "rock")
    q = measure(designs.small(surface=(zone,)))
    assert q.covers == ()
    assert "“all”" in " ".join(q.not_measured)


def test_rods_and_couplings(small):
    """3.2 m in sections of 1.5 m need three sections and two couplings each."""
    (rods,) = measure(small).rods
    assert (rods.count, rods.length_m, rods.couplings) == (2, 3.2, 4)


@given(st.integers(1, 12), st.floats(0.5, 3))
def test_a_rod_of_whole_sections_has_one_coupling_less_than_sections(sections, section):
    rod = Electrode([Conductor((0, 0, 0.5), (0, 0, 0.5 + sections * section), 0.007, kind="rod")])
    design = design_of_electrode(rod, Identity("t"), installation=Installation(rod_section_m=section))
    assert measure(design).rods[0].couplings == sections - 1


def test_joints_by_hand(small):
    """Corners 4, tees 2 x 3 + 2 x 1 = 8, crossings 3; two rods, one riser; three leads."""
    q = measure(small)
    found = {j.kind: (j.count, j.method) for j in q.joints}
    assert found == {
        "corner": (4, "exothermic"),
        "tee": (8, "exothermic"),
        "crossing": (3, "exothermic"),
        "rod": (2, "exothermic"),
        "riser": (1, "compression"),
        "lead to mat": (3, "exothermic"),
        "equipment terminal": (3, "compression"),
    }


def test_no_equipment_list_is_said_not_counted_as_none(designs):
    q = measure(designs.small(installation=Installation()))
    assert q.leads == ()
    assert "no equipment list" in " ".join(q.not_measured)
    table = build_schedules(designs.small(installation=Installation())).table("equipment")
    assert "nothing is stated" in " ".join(table.notes)


def test_a_lead_of_unknown_size_has_no_mass(designs):
    item = EquipmentItem("X", "frame", 1, 1, conductor="tape")
    q = measure(designs.small(installation=Installation(equipment=(item,))))
    tape = next(kind for kind, _ in q.conductor_m if kind.key == "tape")
    assert tape.mass_kg_per_m is None


def test_rods_that_meet_nothing_are_named(designs):
    rod = Conductor((50, 50, 0.5), (50, 50, 3), 0.007, kind="rod")
    design = designs.small()
    design = dataclasses.replace(
        design, electrode=design.electrode + Electrode([rod]), keys=(*design.keys, "rod")
    )
    assert "meet no conductor" in " ".join(measure(design).not_measured)
    assert build_schedules(design).table("rods").column("links")[-1] == "no conductor: draw the link"


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"trench_width_m": 0}, "above 0"),
        ({"imported_backfill_share": 1.2}, "between 0 and 1"),
        ({"pit_rods": (0,)}, "from 1"),
    ],
)
def test_wrong_installations_are_refused(values, message):
    with pytest.raises(ValueError, match=message):
        Installation(**values)


def test_a_pit_at_a_rod_that_does_not_exist_is_refused(designs):
    with pytest.raises(ValueError, match="rod 3, there are 2"):
        designs.small(installation=Installation(pit_rods=(3,)))


def test_rod_schedule(small):
    table = build_schedules(small).table("rods")
    assert table.column("pit") == ("yes", "no")
    assert table.column("measured") == (None, None)
    assert table.column("bottom") == pytest.approx((3.9, 3.9), rel=ROUNDING)
    # the first rod stands where conductors 1 (x = 0) and 6 (y = 0) meet
    assert table.column("links")[0] == "mat 1, mat 6"


def test_equipment_schedule(small):
    table = build_schedules(small).table("equipment")
    assert table.column("tag") == ("T1", "SA-1")
    assert table.column("length") == pytest.approx((6.0, 1.7), rel=ROUNDING)
    assert [table.column(k)[0] for k in ("tx", "ty", "tz")] == pytest.approx([7.5, 5, 0.7], rel=ROUNDING)


def test_test_points(small):
    """1 pit, 1 gate, 4 fence corners, 2 pieces of equipment; no study, so no design value."""
    table = build_schedules(small).table("test-points")
    assert len(table.rows) == 8
    assert set(table.column("measured")) == {None}
    assert "not calculated" in " ".join(table.notes)
