"""How high masts must be: closed forms for one, two and four masts, and what a height can not do."""

import math
from dataclasses import replace

import pytest

from evenground.lightning import assess_shielding, level_rule, required_heights
from evenground.model.lightning import Mast, ProtectedObject, ShieldingRequest, Terminals

ROOM_M = 0.02  # clearance that the library adds, as it does not resolve less
TIGHT_M = 0.15  # the search stops within 0.03 m of clearance; flat slopes turn that into more height


def side_of(height, radius):
    """Distance of the sphere's centre from a mast, the sphere resting on mast and ground; geometry."""
    return math.sqrt(height * (2 * radius - height))


def test_one_mast():
    """Circle through the tip and on the ground: sqrt(h(2S - h)) = d + sqrt(z(2S - z)); common practice."""
    level, away, radius = 5.0, 9.0, 30.0
    request = ShieldingRequest(
        Terminals(masts=(Mast("A", (0.0, 0.0), 8.0),)),
        (ProtectedObject("p", ((away, 0.0, level),)),),
        level_rule("II"),
    )
    (row,) = required_heights(request)
    side = away + side_of(level, radius)
    closed = radius - math.sqrt(radius**2 - side**2)
    assert row.stated_m == 8.0
    assert closed <= row.required_m <= closed + TIGHT_M
    far = replace(request, objects=(ProtectedObject("p", ((20.0, 0.0, level),)),))
    assert required_heights(far)[0].required_m is None


def test_four_masts_of_one_height():
    """In the middle of a square the sphere rests on all four tips: h - S + sqrt(S^2 - a^2/2); geometry, for a
    square small enough that it can not come down to the ground between them."""
    a, level, radius = 20.0, 9.0, 45.0
    corners = ((0.0, 0.0), (a, 0.0), (a, a), (0.0, a))
    masts = tuple(Mast(f"M{i}", p, 12.0) for i, p in enumerate(corners))
    request = ShieldingRequest(
        Terminals(masts=masts),
        (ProtectedObject("p", ((a / 2, a / 2, level),)),),
        level_rule("III"),
    )
    row = required_heights(request, each=False)[0]
    closed = level + radius - math.sqrt(radius**2 - a**2 / 2)
    assert closed <= row.required_m <= closed + TIGHT_M


def test_the_height_found_keeps_every_object_and_a_little_less_does_not():
    masts = (Mast("A", (0.0, 0.0), 10.0), Mast("B", (25.0, 0.0), 10.0))
    things = (ProtectedObject("bus", ((2.0, 3.0, 6.0), (23.0, 3.0, 6.0))),)
    request = ShieldingRequest(Terminals(masts=masts), things, level_rule("II"))
    rows = required_heights(request)
    assert [r.masts for r in rows] == ["all masts, one height", "A", "B"]
    need = rows[0].required_m

    def kept(height):
        own = tuple(replace(m, height_m=height) for m in masts)
        trial = replace(request, terminals=Terminals(masts=own))
        return assess_shielding(trial).objects[0].clearance_m

    assert kept(need) >= ROOM_M
    assert kept(need - TIGHT_M) < ROOM_M
    assert all(r.required_m is None or r.required_m >= need - TIGHT_M for r in rows[1:])


def test_nothing_to_say_without_masts_or_objects():
    rule = level_rule("II")
    assert required_heights(ShieldingRequest(Terminals(), (), rule)) == ()
    one = Terminals(masts=(Mast("A", (0.0, 0.0), 8.0),))
    assert required_heights(ShieldingRequest(one, (), rule)) == ()
    with pytest.raises(ValueError, match="height"):
        Mast("A", (0.0, 0.0), -1.0)
