"""One million segments in three layers: minutes and 8 GB, so it runs only when it is named."""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks._growth import Row, in_fresh_process

ON_REQUEST = True
MESHES = 707


def rows() -> Iterator[Row]:
    """Seconds against those that proportional growth from 20 200 segments would take."""
    small, large = in_fresh_process(100), in_fresh_process(MESHES)
    baseline = small["wall_s"] * large["segments"] / small["segments"]
    name = f"{large['segments']:.0f} segments, three layers"
    yield name, large["wall_s"], baseline, f"in proportion to 20 200; memory {large['bytes'] / 1e9:.1f} GB"
