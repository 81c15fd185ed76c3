"""Fences cut at insulated sections, posts and rods, by hand."""

from itertools import pairwise

import pytest

from evenground.electrode import boundary_metal, fence_pieces
from evenground.errors import InputError
from evenground.model.installation import Fence, Installation, Posts
from evenground.model.services import Service

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


def length(points, closed):
    ring = [*points, points[0]] if closed else list(points)
    return sum(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pairwise(ring))


def test_a_whole_fence_is_one_piece():
    (piece,) = fence_pieces([Fence(SQUARE, "f", closed=True)])
    assert (piece.points_m, piece.closed, piece.potential) == (SQUARE, True, 1.0)


@pytest.mark.parametrize(
    ("breaks", "lengths"),
    [
        (((5.0, 0.0),), [38.0]),  # a ring with one gap stays one piece
        (((5.0, 0.0), (5.0, 10.0)), [18.0, 18.0]),
        (((5.0, 0.0), (10.0, 5.0), (0.0, 5.0)), [8.0, 18.0, 8.0]),
    ],
)
def test_a_ring_is_cut_at_its_insulated_sections(breaks, lengths):
    fence = Fence(SQUARE, "f", closed=True, bonding="separate", breaks_m=breaks, break_length_m=2.0)
    pieces = fence_pieces([fence])
    assert [length(p.points_m, p.closed) for p in pieces] == pytest.approx(lengths)
    assert not any(p.closed for p in pieces)


def test_an_open_fence_is_cut_into_one_piece_more_than_it_has_sections():
    fence = Fence(((0.0, 0.0), (30.0, 0.0)), "f", breaks_m=((10.0, 0.0), (20.0, 0.0)), break_length_m=4.0)
    assert [p.points_m for p in fence_pieces([fence])] == [
        ((0.0, 0.0), (8.0, 0.0)),
        ((12.0, 0.0), (18.0, 0.0)),
        ((22.0, 0.0), (30.0, 0.0)),
    ]


def test_posts_stand_at_equal_distances_and_rods_below_them():
    fence = Fence(
        SQUARE, "f", closed=True, bonding="separate", posts=Posts(2.5, 0.5, 0.05), rods_m=((0.0, 0.0),)
    )
    metal = boundary_metal(Installation(fences=(fence,)), fence_pieces([fence])).electrode
    assert len(metal.of_kind("fence")) == 16  # 40 m by 2.5 m, the ring closes on its first post
    assert {round(c.length_m, 9) for c in metal.of_kind("fence")} == {0.5}
    (rod,) = metal.of_kind("rod")
    assert (rod.start_m, rod.end_m, rod.group) == ((0.0, 0.0, 0.5), (0.0, 0.0, 3.5), "f")


def test_bonded_and_insulating_fences_have_no_electrodes_of_their_own():
    fences = (Fence(SQUARE, "a", closed=True), Fence(SQUARE, "b", closed=True, bonding="insulating"))
    pieces = fence_pieces(fences)
    assert [p.name for p in pieces] == ["a"]
    assert len(boundary_metal(Installation(fences=fences), pieces).electrode) == 0


def test_services_are_held_linked_or_floating():
    route = ((20.0, 0.0), (30.0, 0.0))
    services = (
        Service("tied", "pipe", "bonded", route_m=route),
        Service("far", "lv supply", "bonded", remote_rods_m=((50.0, 0.0),), impedance_ohm=1 + 0j),
        Service("loose", "pipe", "isolated", route_m=((20.0, 5.0), (30.0, 5.0))),
        Service("none", "pipe", "no metal"),
    )
    metal = boundary_metal(Installation(services=services), ())
    assert metal.electrode.groups == ("tied", "far", "loose")
    assert metal.held == ("tied",)
    assert metal.links == (("far", 1 + 0j),)


def test_a_fence_with_too_many_posts_is_refused():
    fence = Fence(((0.0, 0.0), (9000.0, 0.0)), "f", bonding="separate", path=("fences", 0))
    with pytest.raises(InputError, match="3600 posts"):
        boundary_metal(Installation(fences=(fence,)), fence_pieces([fence]))
