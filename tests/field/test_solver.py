"""Cutting, messages, refusals and manners of the solver."""

import subprocess
import sys

import numpy as np
import pytest
from layouts import square_mat, wires

from evenground.errors import CancelledError, InputError, OutOfRangeError, TooLargeError
from evenground.field import solve, warm_up
from evenground.field._segments import cut_conductors
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

SOIL = LayeredSoil((100.0,))


def test_importing_the_room_does_not_import_the_compiler():
    code = "import sys, evenground.field; assert 'numba' not in sys.modules and 'shapely' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_conductors_are_cut_where_they_cross_or_touch():
    cross = wires(((-5, 0, 0.5), (5, 0, 0.5)), ((0, -5, 0.5), (0, 5, 0.5)))
    tee = wires(((-5, 0, 0.5), (5, 0, 0.5)), ((0, 0, 0.5), (0, 0, 4.0)))
    for electrode in (cross, tee):
        segments = cut_conductors(electrode.conductors, SOIL)
        ends = np.concatenate([segments.start, segments.end], axis=1)
        at_node = np.linalg.norm(ends - np.array([[0.0], [0.0], [0.5]]), axis=0) < 1e-9
        assert at_node.sum() == (4 if electrode is cross else 3)


def test_free_ends_get_shorter_segments_than_joined_ones():
    segments = cut_conductors(
        wires(((0, 0, 0.5), (10, 0, 0.5)), ((0, 0, 0.5), (0, 10, 0.5))).conductors, SOIL
    )
    first = segments.length_m[segments.conductor == 0]
    assert first[-1] < 0.2 * first[0]
    assert segments.length_m.sum() == pytest.approx(20.0)


def test_conductors_are_cut_at_interfaces_and_know_their_layer():
    soil = LayeredSoil((100, 50, 20), (2.0, 3.0))
    segments = cut_conductors(wires(((0, 0, 0.5), (0, 0, 9.0))).conductors, soil)
    for depth in (2.0, 5.0):
        assert np.min(abs(segments.end[2] - depth)) < 1e-9
    assert set(segments.layer) == {0, 1, 2}
    assert (np.diff(segments.layer) >= 0).all()


def test_no_segment_is_shorter_than_four_radii():
    rng = np.random.default_rng(5)
    parts = [Conductor(tuple(rng.uniform(0, 3, 3)), tuple(rng.uniform(0, 3, 3)), 0.03) for _ in range(60)]
    segments = cut_conductors(parts, LayeredSoil((100, 50), (1.5,)), 0.4)
    assert (segments.length_m >= 3.999 * segments.radius_m).all()


def test_duplicates_and_overlaps_count_once():
    line = ((0, 0, 0.5), (10, 0, 0.5))
    alone = solve(wires(line), SOIL)
    twice = solve(wires(line, line), SOIL)
    backwards = solve(wires(line, ((10, 0, 0.5), (0, 0, 0.5))), SOIL)
    assert twice.resistance_ohm == alone.resistance_ohm == backwards.resistance_ohm
    assert "10 m of conductor lie on top of others" in twice.report.notes[0]
    long = solve(wires(((0, 0, 0.5), (12, 0, 0.5))), SOIL, segment_m=0.5)
    lapped = solve(wires(line, ((6, 0, 0.5), (12, 0, 0.5))), SOIL, segment_m=0.5)
    assert lapped.segments.length_m.sum() == pytest.approx(12.0)
    assert lapped.resistance_ohm == pytest.approx(long.resistance_ohm, rel=1e-3)


def test_pieces_laid_end_to_end_are_one_wire():
    whole = solve(wires(((0, 0, 0.5), (12, 0, 0.5))), SOIL, segment_m=0.5)
    parts = [((k, 0, 0.5), (k + 3, 0, 0.5)) for k in (0, 3, 6, 9)]
    assert solve(wires(*parts), SOIL, segment_m=0.5).resistance_ohm == pytest.approx(
        whole.resistance_ohm, rel=1e-3
    )


def test_refusals():
    with pytest.raises(InputError, match="no conductors"):
        solve(Electrode(), SOIL)
    with pytest.raises(InputError, match="below 4 radii"):
        solve(wires(((0, 0, 0.5), (9, 0, 0.5))), SOIL, segment_m=0.01)
    found = solve(wires(((0, 0, 0.5), (9, 0, 0.5))), SOIL)
    with pytest.raises(OutOfRangeError, match="negative"):
        found.potential_v([[0, 0, -0.1]])
    with pytest.raises(OutOfRangeError, match="shape"):
        found.potential_v([[0, 0]])
    with pytest.raises(OutOfRangeError, match="finite"):
        found.potential_v([[0, np.nan, 0]])
    assert found.potential_v(np.zeros((0, 3))).shape == (0,)


def test_too_large_a_job_is_refused_with_a_number():
    with pytest.raises(TooLargeError, match=r"segments need .* GB"):
        solve(square_mat(), SOIL, memory_limit_bytes=1_000_000)


def test_stubs_are_named():
    stub = Electrode(
        [Conductor((0, 0, 0.5), (9, 0, 0.5), 0.005), Conductor((0, 5, 0.5), (0.25, 5, 0.5), 0.1)]
    )
    assert "1 conductors are shorter than four radii" in solve(stub, SOIL, segment_m=1.0).report.notes[0]


def test_progress_and_cancelling():
    seen = []
    solve(square_mat(20, 4), SOIL, progress=lambda text, fraction: seen.append((text, fraction)))
    fractions = [f for _, f in seen]
    assert fractions == sorted(fractions)
    assert fractions[-1] == 1.0
    with pytest.raises(CancelledError, match="stopped"):
        solve(square_mat(20, 4), SOIL, progress=lambda text, fraction: fraction < 0.1)

    def stop(text, fraction):
        raise CancelledError("enough")

    with pytest.raises(CancelledError, match="enough"):
        solve(square_mat(20, 4), SOIL, progress=stop)


def test_the_report_is_complete():
    found = solve(square_mat(20, 4), LayeredSoil((100, 300), (2.0,)))
    report = found.report
    assert report.segments == len(found.segments)
    assert report.layers == 2
    assert 0 < report.kernel_error <= 2e-5
    assert report.residual < 1e-9
    assert report.energy_balance < 1e-3
    assert report.longest_segment_m == found.segments.length_m.max()
    assert report.memory_bytes > 8 * report.segments**2
    assert 0 < found.resistance_error_ohm < 0.02 * found.resistance_ohm


def test_vertical_wire_through_many_thin_layers():
    """Eight thin layers of alternating resistivity behave like the anisotropic medium they add up to:
    the resistance lies between those of the parallel and the series mean."""
    soil = LayeredSoil((200, 50) * 4, (0.5,) * 7)
    found = solve(wires(((0, 0, 0.0), (0, 0, 3.4)), radius=0.008), soil)
    parallel, series = 2 / (1 / 200 + 1 / 50), (200 + 50) / 2
    low = solve(wires(((0, 0, 0.0), (0, 0, 3.4)), radius=0.008), LayeredSoil((50.0,))).resistance_ohm / 50
    assert parallel * 0.8 < found.resistance_ohm / low < series


def test_warm_up_loads_the_kernels():
    warm_up(large=True)
    from evenground.field import _kernels

    for kernel in (_kernels.assemble, _kernels.potential, _kernels.plane_map, _kernels.cross_approximate):
        assert len(kernel.signatures) == 1  # one compiled variant each


def test_a_wire_may_lie_on_an_interface():
    """The resistance passes through an interface without a jump beyond what the wire's thickness blurs."""
    soil = LayeredSoil((300, 60), (1.0,))
    lying = [wires(((0, 0, z), (20, 0, z)), radius=0.01) for z in (0.98, 0.999, 1.0, 1.001, 1.02)]
    values = [solve(wire, soil).resistance_ohm for wire in lying]
    assert values[0] > values[2] > values[4]
    assert values[1] == pytest.approx(values[3], rel=0.06)


def test_many_inclined_wires_need_no_tables():
    rng = np.random.default_rng(1)
    parts = []
    for _ in range(40):
        a = rng.uniform([0, 0, 0.3], [40, 40, 1.5])
        parts.append(Conductor(tuple(a), tuple(a + rng.uniform([-5, -5, 0.0], [5, 5, 2.5])), 0.006))
    soil = LayeredSoil((200, 60), (1.8,))
    dense = solve(Electrode(parts), soil, method="dense")
    packed = solve(Electrode(parts), soil, method="compressed")
    assert packed.resistance_ohm == pytest.approx(dense.resistance_ohm, rel=1e-5)
    assert dense.report.energy_balance < 1e-3
