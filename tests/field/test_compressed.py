"""The compressed solution against the dense one, and its growth."""

import numpy as np
import pytest
from layouts import corner_rods, square_mat

from evenground.errors import CancelledError, TooLargeError
from evenground.field import solve
from evenground.field._clusters import partition
from evenground.field._compressed import compressed_bytes
from evenground.field._segments import cut_conductors
from evenground.model.soil import LayeredSoil

SOILS = [LayeredSoil((100,)), LayeredSoil((300, 60), (1.2,)), LayeredSoil((300, 60, 900), (1.2, 3.0))]


@pytest.mark.parametrize("soil", SOILS, ids=lambda s: f"{s.layers} layers")
def test_agrees_with_the_dense_solution(soil):
    electrode = square_mat(100, 14) + corner_rods(100, 16, length=5, radius=0.008, top=0.5)
    dense = solve(electrode, soil, method="dense")
    packed = solve(electrode, soil, method="compressed")
    # 1e-5: tolerance of the compression
    assert packed.resistance_ohm == pytest.approx(dense.resistance_ohm, rel=1e-5)
    leak = dense.leakage_a_per_m()
    assert packed.leakage_a_per_m() == pytest.approx(leak, abs=2e-4 * leak.max())
    assert packed.resistance_error_ohm == pytest.approx(dense.resistance_error_ohm, rel=0.01)
    assert packed.report.energy_balance < 1e-3
    assert packed.report.iterations > 3
    assert "compressed" in packed.report.method


def test_far_blocks_of_mats_with_many_rods_are_compressed_truly():
    """Large meshes with rods: a pivot row that happens to be small does not end a block's compression."""
    electrode = square_mat(1000, 20, depth=0.8) + corner_rods(1000, 80, length=5, radius=0.008, top=0.8)
    dense, packed = (solve(electrode, SOILS[2], segment_m=100.0, method=m) for m in ("dense", "compressed"))
    assert packed.resistance_ohm == pytest.approx(dense.resistance_ohm, rel=1e-5)
    assert packed.current_a_per_v == pytest.approx(
        dense.current_a_per_v, abs=2e-4 * dense.current_a_per_v.max()
    )


def test_every_pair_of_segments_lies_in_exactly_one_block():
    segments = cut_conductors(square_mat(100, 14).conductors, SOILS[0])
    parts = partition(segments)
    n = len(segments)
    seen = np.zeros((n, n), dtype=int)
    for blocks in (parts.near, parts.far):
        for r0, r1, c0, c1 in blocks.T:
            seen[r0:r1, c0:c1] += 1
            if r0 != c0:
                seen[c0:c1, r0:r1] += 1
    assert (seen == 1).all()
    assert sorted(parts.order.tolist()) == list(range(n))


def test_memory_grows_almost_linearly():
    needs = []
    sizes = []
    for meshes in (50, 200):
        segments = cut_conductors(square_mat(10.0 * meshes, meshes).conductors, SOILS[0], 10.0)
        sizes.append(len(segments))
        parts = partition(segments)
        m, n = parts.near[1] - parts.near[0], parts.near[3] - parts.near[2]
        p, q = parts.far[1] - parts.far[0], parts.far[3] - parts.far[2]
        needs.append(float(np.sum(m * n) + 14 * np.sum(p + q)))
        assert compressed_bytes(parts) > 4 * needs[-1]
    assert np.log(needs[1] / needs[0]) / np.log(sizes[1] / sizes[0]) < 1.25


def test_refused_and_cancelled():
    electrode = square_mat(200, 20)
    with pytest.raises(TooLargeError, match="GB are allowed"):
        solve(electrode, SOILS[0], method="compressed", memory_limit_bytes=10_000_000)
    with pytest.raises(CancelledError):
        solve(electrode, SOILS[0], method="compressed", progress=lambda text, fraction: fraction < 0.75)


@pytest.mark.slow
def test_twenty_thousand_segments_in_three_layers():
    found = solve(square_mat(1000, 100, depth=0.8, radius=0.006), SOILS[2], segment_m=17.0)
    assert found.report.segments == 20200
    assert found.report.memory_bytes < 1e9
    # a large mat nears the equal-area plate in the bottom layer's soil
    assert found.resistance_ohm < 900 / 4 * np.sqrt(np.pi / 1e6) * 1.05
    assert found.report.energy_balance < 1e-3
