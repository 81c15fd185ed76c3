"""Plan geometry of fences and gates, by hand."""

from math import pi
from types import SimpleNamespace

import numpy as np
import pytest

from evenground.model.installation import Fence, Gate, Installation
from evenground.model.study import Verdict
from evenground.model.surroundings import FencePiece
from evenground.safety._fence_checks import _gate_cover
from evenground.safety._fence_rules import contour_limits, fence_rule, is_required, rule_number
from evenground.safety._fences import fence_spots, gate_piece, inside_of, swing_area, swing_spots

SQUARE = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
RING = Fence(SQUARE, "ring", closed=True)
MIDDLE = (10.0, 10.0)


def piece(fence):
    return FencePiece(fence.name, fence.name, fence.bonding, fence.points_m, fence.closed, 1.0)


@pytest.mark.parametrize(
    ("opens", "leaves", "area"),
    [
        # a quarter of a disc for each leaf and way; the closed leaf is a strip of 0.1 m, half of it outside
        ("inward", 1, pi * 4**2 / 4),
        ("outward", 1, pi * 4**2 / 4),
        ("both", 1, pi * 4**2 / 2),
        ("inward", 2, 2 * pi * 2**2 / 4),
    ],
)
def test_the_leaf_sweeps_a_quarter_of_a_disc(opens, leaves, area):
    swing = swing_area(Gate((8.0, 0.0), (12.0, 0.0), "g", opens=opens, leaves=leaves), RING, MIDDLE)
    # sixteen chords for the arc, and the strip of the closed leaf
    assert swing.area == pytest.approx(area, rel=0.04)


@pytest.mark.parametrize(("opens", "low", "high"), [("inward", -0.05, 4.0), ("outward", -4.0, 0.05)])
def test_the_leaf_moves_to_the_side_stated(opens, low, high):
    swing = swing_area(Gate((8.0, 0.0), (12.0, 0.0), "g", opens=opens), RING, MIDDLE)
    assert swing.bounds[1] == pytest.approx(low, abs=0.01)
    assert swing.bounds[3] == pytest.approx(high, abs=0.01)


def test_a_sliding_leaf_moves_behind_the_fence_by_its_own_width():
    swing = swing_area(Gate((8.0, 0.0), (12.0, 0.0), "g", opens="sliding"), RING, MIDDLE)
    assert (swing.bounds[0], swing.bounds[2]) == pytest.approx((4.0, 12.0), abs=0.06)


def test_feet_round_a_swing_reach_one_metre_beyond_it():
    spots = swing_spots(swing_area(Gate((8.0, 0.0), (12.0, 0.0), "g", opens="outward"), RING, MIDDLE), 1.0)
    assert spots[:, 1].min() == pytest.approx(-5.0, abs=0.02)


def test_feet_stand_within_reach_on_both_sides_and_round_corners():
    spots = fence_spots(piece(RING), RING, MIDDLE, 1.0)
    dx = np.maximum(np.maximum(-spots.x_m, spots.x_m - 20.0), 0.0)
    dy = np.maximum(np.maximum(-spots.y_m, spots.y_m - 20.0), 0.0)
    off = np.hypot(dx, dy)
    assert off.max() == pytest.approx(1.0, abs=1e-9)
    assert ((off > 0) == ~spots.inside).all()
    corner = (spots.x_m < 0) & (spots.y_m < 0)
    assert np.hypot(spots.x_m[corner], spots.y_m[corner]).max() == pytest.approx(1.0, abs=1e-9)


def test_the_side_of_an_open_fence_is_told_by_the_mat():
    line = Fence(((30.0, -10.0), (30.0, 30.0)), "line")
    near = inside_of(line, np.array([[29.0, 5.0], [31.0, 5.0]]), MIDDLE)
    assert near.tolist() == [True, False]


def test_a_gate_belongs_to_the_nearest_fence_or_the_one_it_names():
    other = Fence(((30.0, -10.0), (30.0, 30.0)), "other")
    pieces = [piece(RING), piece(other)]
    gate = Gate((8.0, 0.0), (12.0, 0.0), "g")
    assert gate_piece(gate, pieces).name == "ring"
    assert gate_piece(Gate((8.0, 0.0), (12.0, 0.0), "g", fence="other"), pieces).name == "other"
    assert gate_piece(gate, []) is None


@pytest.mark.parametrize(
    ("practice", "what", "number"),
    [
        # as in the table of country rules, with the sources there
        ("uk", "separate_distance", 2.0),
        ("india", "separate_distance", 1.8),
        ("usa", "separate_distance", 2.0),
        ("usa", "live_parts_distance", 5.0),
        ("usa", "bond_spacing", 15.0),
        ("canada", "bond_spacing", 12.0),
        ("china", "bond_spacing", 15.0),
        ("europe", "section_length", 3.0),
    ],
)
def test_rules_follow_the_practice_or_what_is_in_general_use(practice, what, number):
    assert rule_number(fence_rule(practice, what)) == number


@pytest.mark.parametrize(
    ("practice", "number", "required"),
    [
        # Canadian Electrical Code 36-312; forum quoting NESC and IEEE practice (ring 3 ft outside the fence);
        # EN 50522, recognised measures M (conductor 1 m outside), from memory
        ("canada", 1.0, True),
        ("usa", 0.9, False),
        ("europe", 1.0, False),
    ],
)
def test_how_far_a_fence_stands_inside_is_required_or_advised(practice, number, required):
    assert fence_rule("uk", "inside_electrode") is None
    assert rule_number(fence_rule(practice, "inside_electrode")) == number
    assert is_required(practice, "inside_electrode") is required
    assert is_required(practice, "gate_bond")


@pytest.mark.parametrize(
    ("practice", "opens", "beyond", "verdict"),
    [
        # NEC 250.194: the mat covers the swing; a leaf of 4 m hinged at the rim sweeps 4 m beyond it
        ("usa", "outward", 4.0, Verdict.FAIL),
        ("usa", "inward", 0.05, Verdict.PASS),
        ("uk", "outward", None, None),
    ],
)
def test_the_mat_covers_the_swing_where_a_practice_wants_it(practice, opens, beyond, verdict):
    gate = Gate((8.0, 0.0), (12.0, 0.0), "g", opens=opens, fence="ring")
    case = SimpleNamespace(
        installation=Installation(fences=(RING,), gates=(gate,), practice=practice),
        pieces=(piece(RING),),
        metal_m=[],
        outlines_m=[SQUARE],
    )
    check = _gate_cover(case, gate, swing_area(gate, RING, MIDDLE))
    if verdict is None:
        assert check is None
    else:
        assert check.value == pytest.approx(beyond, abs=0.02)
        assert check.verdict is verdict


def test_a_rule_without_a_number_has_none():
    with pytest.raises(ValueError, match="has no number"):
        rule_number(fence_rule("uk", "gate_bond"))


def test_contours_are_those_of_the_trade_with_their_sources():
    """300 V IEEE 367 and 487; 430 V and 650 V ITU-T; 1200 V EN 50522 Table 2 (values as in the table)."""
    assert [v.voltage_v for v in contour_limits()] == [300.0, 430.0, 650.0, 1200.0, 2000.0]
    assert all(v.source for v in contour_limits())
