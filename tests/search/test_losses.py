"""Metal lost: the low-rank corrections against plain linear algebra and against solving again."""

from dataclasses import replace

import numpy as np
import pytest

from evenground.electrode import rectangular_mat
from evenground.errors import CancelledError, OutOfRangeError
from evenground.field import keep_solution, solve, solve_groups
from evenground.field._dense import assemble_matrix
from evenground.model.electrode import Conductor, Electrode
from evenground.model.site import EntryPoint
from evenground.model.soil import LayeredSoil
from evenground.search import rank_losses
from evenground.search._base import exact_rises, prepare, rise_curve
from evenground.search._pieces import pieces_of

SOIL = LayeredSoil((300.0, 100.0), (2.5,))
ROUNDING = 1e-9
DISCRETISATION = 0.01  # other cuts near the gap: measured 0.1 to 0.4 %


@pytest.fixture(scope="module")
def metal():
    mat = rectangular_mat(length_x_m=24, length_y_m=16, meshes_x=3, meshes_y=2, depth_m=0.5, radius_m=0.005)
    rod = Conductor((0.0, 0.0, 0.5), (0.0, 0.0, 4.0), 0.008, kind="rod")
    return Electrode([*mat, rod])


@pytest.fixture(scope="module")
def kept(metal):
    return keep_solution(metal, SOIL)


def test_intact_metal_is_the_ordinary_solution(metal, kept):
    ordinary = solve(metal, SOIL)
    assert kept.resistance_ohm == pytest.approx(ordinary.resistance_ohm, rel=ROUNDING)
    assert kept.current_a_per_v == pytest.approx(ordinary.current_a_per_v, rel=1e-7)
    points = np.array([[1.0, 2.0, 0.0], [12.3, 7.7, 0.0], [-3.0, 5.0, 0.0], [5.0, 5.0, 1.0]])
    by_segment = kept.influence(points) @ kept.current_a_per_v
    assert by_segment == pytest.approx(ordinary.potential_v(points), rel=1e-5)  # tables of the maps


def test_removed_segments_against_numpy_on_what_is_left(kept):
    # reference: numpy.linalg.solve with the rows and columns struck out
    matrix = assemble_matrix(kept.segments, kept.images)
    for gone in ([3], [0, 1, 2], list(range(30, 45))):
        left = np.setdiff1d(np.arange(len(kept.segments)), gone)
        reference = np.linalg.solve(matrix[np.ix_(left, left)], np.ones(len(left)))
        changed = kept.without(gone)
        assert changed.current_a_per_v[left] == pytest.approx(reference, rel=1e-7)
        assert np.all(changed.current_a_per_v[gone] == 0.0)
        assert changed.resistance_ohm == pytest.approx(1.0 / reference.sum(), rel=ROUNDING)


def test_floating_metal_against_numpy(kept):
    # reference: the bordered system with the unknown potential of the floating part, numpy.linalg.solve
    matrix = assemble_matrix(kept.segments, kept.images)
    n = len(kept.segments)
    rod = np.flatnonzero(kept.segments.conductor == 7)
    touch = np.isin(np.arange(n), rod).astype(float)
    bordered = np.block([[matrix, -touch[:, None]], [touch[None, :], np.zeros((1, 1))]])
    solved = np.linalg.solve(bordered, np.append(1.0 - touch, 0.0))
    changed = kept.without(floating=[rod])
    assert changed.current_a_per_v == pytest.approx(solved[:-1], rel=1e-6, abs=1e-9)
    assert changed.floating_v[0] == pytest.approx(solved[-1], rel=ROUNDING)
    assert changed.current_a_per_v[rod].sum() == pytest.approx(0.0, abs=1e-9)


def test_metal_that_floats_is_what_separate_groups_give():
    mat = rectangular_mat(length_x_m=20, length_y_m=20, meshes_x=2, meshes_y=2, depth_m=0.5, radius_m=0.005)
    rod = Conductor((23.0, 10.0, 0.5), (23.0, 10.0, 3.5), 0.008, kind="rod", group="apart")
    electrode = Electrode([*(replace(c, group="mat") for c in mat), rod])
    kept = keep_solution(electrode, SOIL)
    own = np.flatnonzero(kept.segments.conductor == len(mat))
    changed = kept.without(floating=[own])
    state = solve_groups(electrode, SOIL).energise(potential_v={"mat": 1.0})
    assert changed.floating_v[0] == pytest.approx(state.potential_v["apart"].real, rel=1e-6)
    assert 1.0 / changed.resistance_ohm == pytest.approx(state.current_a["mat"].real, rel=1e-6)


@pytest.mark.parametrize("which", [0, 2, 6, 7])
def test_a_whole_conductor_against_solving_again(metal, kept, which):
    own = np.flatnonzero(kept.segments.conductor == which)
    again = solve(Electrode(c for k, c in enumerate(metal) if k != which), SOIL)
    assert kept.without(own).resistance_ohm == pytest.approx(again.resistance_ohm, rel=DISCRETISATION)


def test_taking_metal_away_never_lowers_the_resistance(kept):
    # Rayleigh: less metal at one potential can not lower the resistance; a floating part lies between
    rod = np.flatnonzero(kept.segments.conductor == 7)
    assert kept.resistance_ohm < kept.without(floating=[rod]).resistance_ohm
    assert kept.without(floating=[rod]).resistance_ohm < kept.without(rod).resistance_ohm
    for k in range(0, len(kept.segments), 7):
        assert kept.without([k]).resistance_ohm >= kept.resistance_ohm


def test_what_makes_no_sense_is_refused(kept):
    with pytest.raises(OutOfRangeError, match="named twice"):
        kept.without([1], [[1, 2]])
    with pytest.raises(OutOfRangeError, match="no bonded metal"):
        kept.without(np.arange(len(kept.segments)))


def test_pieces_lie_between_joints(metal, kept):
    pieces = pieces_of(kept, metal)
    # 3 by 2 meshes: 3 * 3 + 4 * 2 = 17 sides, and the rod
    assert len(pieces.pieces) == 18
    assert len(pieces.joints) == 12
    assert sum(p.length_m for p in pieces.pieces) == pytest.approx(metal.total_length_m, rel=1e-6)
    at_rod = next(j for j in pieces.joints if len(j.conductors) == 3)
    loose = pieces.loose(opened=at_rod.node)
    assert [pieces.pieces[k].conductor for part in loose for k in part] == [7]
    inner = next(j for j in pieces.joints if j.at_m[:2] == pytest.approx((8.0, 8.0)))
    assert pieces.loose(opened=inner.node) == ()


def test_a_bridge_that_breaks_sets_the_smaller_side_afloat():
    bars = [
        Conductor((0.0, 0.0, 0.5), (20.0, 0.0, 0.5), 0.005),
        Conductor((20.0, 0.0, 0.5), (26.0, 0.0, 0.5), 0.005),
        Conductor((26.0, 0.0, 0.5), (36.0, 0.0, 0.5), 0.005),
    ]
    electrode = Electrode(bars)
    pieces = pieces_of(keep_solution(electrode, SOIL), electrode)
    middle = next(k for k, p in enumerate(pieces.pieces) if p.conductor == 1)
    (loose,) = pieces.loose(without=[middle])
    assert [pieces.pieces[k].conductor for k in loose] == [2]


def test_ranking_of_a_small_site(small_study):
    found = rank_losses(small_study)
    assert found.intact.resistance_ohm == pytest.approx(small_study.field.resistance_ohm, rel=1e-6)
    worst = small_study.worst_touch
    assert found.intact.touch_v == pytest.approx(worst.value_v, rel=0.01)  # a raster without refinement
    assert found.intact.touch_v <= worst.value_v * (1 + 1e-4)
    kinds = [r.kind for r in found.rows]
    assert (kinds.count("conductor"), kinds.count("rod"), kinds.count("joint")) == (12, 4, 9)
    used = [r.utilisation for r in found.rows]
    assert used == sorted(used, reverse=True)
    assert all(r.resistance_change >= -1e-9 for r in found.rows)
    corner = next(r for r in found.rows if r.kind == "joint" and r.start_m[:2] == pytest.approx((0, 0)))
    assert corner.cut_off_m == pytest.approx(3.0, rel=1e-6)
    assert corner.floating_share is not None
    assert 0.3 < corner.floating_share < 1.0
    assert any("float" in note for note in found.notes)


def test_the_worst_loss_against_a_study_of_the_metal_that_is_left(small_study):
    found = rank_losses(small_study)
    row = next(r for r in found.rows if r.kind == "conductor")
    pieces = []
    for c in small_study.electrode:
        pieces += _cut_out(c, row.start_m, row.end_m)
    again = solve(Electrode(pieces), small_study.soil_used)
    assert row.resistance_ohm == pytest.approx(again.resistance_ohm, rel=DISCRETISATION)
    unit = 1.0 - again.potential_v([[*row.at_m, 0.0]])[0]
    current = small_study.faults[0].grid_current_a
    assert row.touch_v == pytest.approx(current * again.resistance_ohm * unit, rel=DISCRETISATION)


def _cut_out(conductor, start, end):
    """The conductor without the stretch between two points on it."""
    a, b = np.array(conductor.start_m), np.array(conductor.end_m)
    unit = (b - a) / np.linalg.norm(b - a)
    s, t = (float(np.dot(np.array(p) - a, unit)) for p in (start, end))
    off = max(np.linalg.norm(np.array(p) - a - unit * d) for p, d in ((start, s), (end, t)))
    if off > 1e-6:
        return [conductor]
    ends = [(a, a + unit * s), (a + unit * t, b)]
    return [
        replace(conductor, start_m=tuple(p), end_m=tuple(q)) for p, q in ends if np.linalg.norm(q - p) > 0.1
    ]


def test_rises_between_the_places_where_the_network_was_solved(demo):
    base = prepare(demo)
    places = np.linspace(0.7, 0.9, 9)
    curve = rise_curve(base, base.soil.soil, places)
    for k in (0, 3, 8):
        exact = exact_rises(base, base.soil.soil, float(places[k]))[1]
        for name, values in curve.items():
            assert values[k] == pytest.approx(exact[name], rel=1e-4)


def test_a_ranking_can_be_stopped_and_refuses_metal_with_impedance(small, small_study):
    def stop(text, done):
        if done > 0.6:
            raise CancelledError("stopped")

    with pytest.raises(CancelledError, match="stopped"):
        rank_losses(small_study, stop)
    entry = replace(small.assessment, entry_points=(EntryPoint((0.0, 0.0), 1.0),))
    with pytest.raises(OutOfRangeError, match="entry points"):
        prepare(replace(small, assessment=entry))
