"""A site drawing of the size that offices send: thousands of lines, hundreds of blocks, a rotated view, a far
origin in millimetres. Every expected number is counted by hand from how the drawing is made."""

import time

import pytest
import yaml
from ezdxf.filemanagement import new

from evenground.project import load_project, starter_text

NODES = 61
"""Mesh lines each way, every one drawn in pieces from node to node: 2 x 61 x 60 = 7 320 lines."""
STEP_MM = 4_000
EAST_MM, NORTH_MM = 412_000_000, 5_310_000_000
MOST_S = 20.0
"""Seconds of processor; it takes about a tenth, a reader that looks at pairs of lines takes minutes."""


def draw(document, space):
    """A mesh, breakers in nested and turned blocks, and much that no rule names."""
    document.ucs.new(
        "turned", dxfattribs={"origin": (EAST_MM, NORTH_MM, 0), "xaxis": (0, 1, 0), "yaxis": (-1, 0, 0)}
    )
    document.header["$UCSORG"] = (EAST_MM, NORTH_MM, 0)
    document.header["$UCSXDIR"], document.header["$UCSYDIR"] = (0, 1, 0), (-1, 0, 0)
    breaker = document.blocks.new("CB145")
    breaker.add_circle((0, 0), 500)
    breaker.add_attdef("TAG", (0, 0))
    side = STEP_MM * (NODES - 1)
    for i in range(NODES):
        for j in range(NODES - 1):
            x, y, y2 = EAST_MM + STEP_MM * i, NORTH_MM + STEP_MM * j, NORTH_MM + STEP_MM * (j + 1)
            space.add_line((x, y), (x, y2), dxfattribs={"layer": "GRID"})
            space.add_line(
                (EAST_MM + STEP_MM * j, NORTH_MM + STEP_MM * i),
                (EAST_MM + STEP_MM * (j + 1), NORTH_MM + STEP_MM * i),
                dxfattribs={"layer": "GRID"},
            )
    for k in range(300):
        place = (EAST_MM + 1000 + 7_000 * (k % 30), NORTH_MM + 1000 + 20_000 * (k // 30))
        insert = space.add_blockref("CB145", place, dxfattribs={"layer": "PLANT", "rotation": 15 * k})
        insert.add_auto_attribs({"TAG": f"Q{k}"})
    for k in range(2_000):
        space.add_line((EAST_MM + k, NORTH_MM), (EAST_MM + k, NORTH_MM + side), dxfattribs={"layer": "ROADS"})
        space.add_text(f"note {k}", dxfattribs={"layer": "NOTES", "insert": (EAST_MM + k, NORTH_MM)})


@pytest.mark.slow
def test_a_drawing_of_thousands_of_lines_is_read_whole_and_in_time(tmp_path):
    document = new("R2010", units=4)
    draw(document, document.modelspace())
    document.saveas(tmp_path / "plan.dxf")
    project = yaml.safe_load(starter_text("substation"))
    for key in ("mats", "rods", "runs", "equipment", "fences", "gates"):
        project.pop(key, None)
    project["site_drawing"] = {
        "file": "plan.dxf",
        "origin_m": [EAST_MM / 1000, NORTH_MM / 1000],
        "kinds": {"CB145": "circuit_breaker"},
        "layers": [
            {"layer": "GRID", "take_as": "conductor", "depth_m": 0.7},
            {"layer": "PLANT", "take_as": "equipment", "connections": 2},
        ],
    }
    file = tmp_path / "site.yaml"
    file.write_text(yaml.safe_dump(project, sort_keys=False), encoding="utf-8")
    begin = time.process_time()
    read = load_project(file)
    assert time.process_time() - begin < MOST_S
    lines = 2 * NODES * (NODES - 1)
    assert len(read.runs) == lines
    ends = [p for run in read.runs for p in run.points_m]
    side = STEP_MM / 1000 * (NODES - 1)
    assert (min(ends), max(ends)) == ((0.0, 0.0), (side, side))  # the view is turned, the ground is not
    total = sum(abs(x2 - x1) + abs(y2 - y1) for run in read.runs for (x1, y1), (x2, y2) in [run.points_m])
    assert total == pytest.approx(2 * NODES * side, rel=1e-9)  # sums of decimals of a drawing in mm
    tags = {item.tag: item for item in read.installation.equipment}
    assert len(tags) == 300
    assert (tags["Q31"].x_m, tags["Q31"].y_m) == pytest.approx((8.0, 21.0), abs=1e-6)  # 7.0 + 1, 20 + 1
    left = {row.layer: row.left for row in read.site_drawing.preview if row.left}
    assert left == {"ROADS": 2_000, "NOTES": 2_000}
