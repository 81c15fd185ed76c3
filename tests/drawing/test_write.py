"""Our own drawings: audited, read back, rendered, looked into by other libraries."""

import dataclasses
import io
import math
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import ezdxf
import pypdf
import pytest
from ezdxf.lldxf.tagwriter import TagWriter
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.drawing import (
    DrawingOptions,
    build_drawing,
    dxf_bytes,
    own_layers,
    read_dxf,
    sheets_pdf,
    sheets_svg,
    write_dxf,
    write_svg,
)
from evenground.drawing._line import MarkedLine
from evenground.model.electrode import Conductor, Electrode
from evenground.model.project import Identity
from evenground.schedules import design_of_electrode


def rows(electrode):
    return sorted((c.start_m, c.end_m, c.radius_m, c.kind, c.group, c.tag) for c in electrode)


@pytest.fixture(scope="module")
def document(small):
    data = dxf_bytes(build_drawing(small), small)
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def test_the_audit_finds_nothing(document):
    auditor = document.audit()
    assert auditor.errors == []
    assert auditor.fixes == []
    assert document.dxfversion == "AC1032"
    assert document.units == 6


def test_reading_it_back_gives_the_same_electrode(small, tmp_path):
    write_dxf(small, tmp_path / "plan.dxf")
    contents = read_dxf(tmp_path / "plan.dxf", own_layers())
    assert rows(contents.electrode()) == rows(small.electrode)
    assert [(e.tag, e.kind, e.terminals) for e in contents.equipment] == [
        ("T1", "transformer", 2),
        ("SA-1", "surge arrester", 1),
    ]
    assert contents.fences[0].points_m == small.installation.fences[0].points_m
    assert (contents.gates[0].start_m, contents.gates[0].end_m) == ((8, 0), (12, 0))
    assert [z.points_m for z in contents.zones] == [z.outline_m for z in small.surface if z.outline_m]
    assert [r.number for r in contents.rods] == ["R1", "R2"]


coordinates = st.floats(-500, 500, allow_nan=False)
depths = st.floats(0.05, 30)
words = st.text(st.characters(codec="utf-8"), max_size=20)


@settings(max_examples=10, deadline=None)
@given(
    st.lists(
        st.tuples(
            coordinates, coordinates, depths, coordinates, coordinates, depths,
            st.sampled_from(["mat", "run", "rod", "riser", "fence"]), words, words,
        ),
        min_size=1, max_size=6,
    )
)  # fmt: skip
def test_any_electrode_comes_back_as_it_was(lines):
    """Sloping and vertical metal, every kind, names with any characters, full precision."""
    conductors = []
    for k, (ax, ay, az, bx, by, bz, kind, group, tag) in enumerate(lines):
        if math.dist((ax, ay, az), (bx, by, bz)) > 0.1:
            conductors.append(Conductor((ax, ay, az), (bx, by, bz), 0.004 + k / 1e4, kind, group, tag))
    base = Conductor((600, 600, 0.5), (700, 600, 0.5), 0.005)
    design = design_of_electrode(Electrode([base, *conductors]), Identity("any"))
    data = dxf_bytes(build_drawing(design, DrawingOptions(details=False)), design)
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "x.dxf"
        file.write_bytes(data)
        back = read_dxf(file, own_layers()).electrode()
    assert rows(back) == rows(design.electrode)


def test_layers_line_types_and_weights(document):
    names = {layer.dxf.name for layer in document.layers}
    assert {"EG-MAT-MAT", "EG-ROD", "EG-FENCE", "EG-ZONE", "EG-EQUIPMENT", "EG-RISER-RISER"} <= names
    assert document.layers.get("EG-MAT-MAT").dxf.lineweight == 50
    # colour is not the only difference between a mat and other buried conductors
    from evenground.drawing._style import LAYERS

    assert LAYERS["EG-MAT"].linetype != LAYERS["EG-RUN"].linetype
    assert document.layers.get("EG-VIEW").dxf.plot == 0


def test_rods_are_blocks_with_attributes(document):
    rods = [e for e in document.modelspace().query("INSERT") if e.dxf.name == "EG-ROD"]
    assert [{a.dxf.tag: a.dxf.text for a in r.attribs} for r in rods] == [
        {"NUMBER": "R1", "LENGTH": "3.2 m", "DIAMETER": "14.2", "TOP": "0.7"},
        {"NUMBER": "R2", "LENGTH": "3.2 m", "DIAMETER": "14.2", "TOP": "0.7"},
    ]
    pits = [e for e in document.modelspace().query("INSERT") if e.dxf.name == "EG-PIT"]
    assert [tuple(p.dxf.insert)[:2] for p in pits] == [(0, 0)]


def texts(layout):
    found = [e.dxf.text for e in layout.query("TEXT")]
    found += [e.plain_text().replace("\n", " ") for e in layout.query("MTEXT")]
    return " | ".join(found)


def test_the_title_block_says_what_where_and_from_what(document, designs):
    text = texts(document.paperspace("Plan"))
    for words_ in (
        designs.IDENTITY.title, "LP-EA-07", "Pell Water Board", "Rods added", "2026-03-01", "TQ", "HV",
        "abababab abababab", "licensed engineer", "1 of 2", "Paper A3", "has not been calculated",
        "Conductors are joined wherever they meet",
    ):  # fmt: skip
        assert words_ in text, words_


def test_conductor_sizes_and_dimensions_stand_on_the_plan(document):
    text = texts(document.modelspace())
    assert "copper strand 95 mm², 0.70 m deep" in text
    measured = sorted(round(d.get_measurement(), 6) for d in document.modelspace().query("DIMENSION"))
    # 4 meshes of 5 m and 20 m along x, 2 meshes of 5 m and 10 m along y
    assert measured == [5, 5, 5, 5, 5, 5, 10, 20]


def test_details_follow_the_sizes_of_the_design(designs):
    text = texts(build_drawing(designs.small()).paperspace("Details"))
    # trench 0.5 m wide, axis at 0.7 m, dug to 0.8 m, cover 0.1 m, rods of 3.2 m
    for words_ in (
        "0.50",
        "0.70",
        "0.80",
        "crushed rock, 0.1 m",
        "rod 3.2 m",
        "exothermic joint",
        "common practice",
    ):
        assert words_.lower() in text.lower(), words_


@pytest.mark.parametrize(("paper", "width", "height"), [("A3", 420, 297), ("A1", 841, 594)])
def test_the_view_keeps_the_scale_stated(small, paper, width, height):
    """Sheet sizes of ISO 216; a metre in the view is 1000/scale mm on paper."""
    made = build_drawing(small, DrawingOptions(paper=paper))
    layout = made.paperspace("Plan")
    assert (layout.dxf.paper_width, layout.dxf.paper_height) == (width, height)
    (view,) = (v for v in layout.viewports() if v.dxf.id != 1)
    stated = float(re.search(r"Scale 1:(\d+)", texts(layout)).group(1))
    assert view.dxf.height / view.dxf.view_height == pytest.approx(1000 / stated, rel=1e-9)
    assert view.dxf.view_height * view.dxf.width / view.dxf.height > 22


def test_a_scale_asked_for_is_used(small):
    layout = build_drawing(small, DrawingOptions(scale=250)).paperspace("Plan")
    assert "Scale 1:250" in texts(layout)


@pytest.mark.parametrize(("values", "message"), [({"paper": "B5"}, "not one of"), ({"scale": 0}, "above 0")])
def test_wrong_options(values, message):
    with pytest.raises(ValueError, match=message):
        DrawingOptions(**values)


def test_the_same_design_gives_the_same_bytes(designs):
    first, second = (dxf_bytes(build_drawing(d), d) for d in (designs.small(), designs.small()))
    assert first == second


SMALL_DRAWING = """
import hashlib
from evenground.drawing import build_drawing, dxf_bytes
from evenground.electrode import rectangular_mat
from evenground.model.project import Identity
from evenground.schedules import design_of_electrode
mat = rectangular_mat(length_x_m=10, length_y_m=10, meshes_x=1, meshes_y=1, depth_m=0.6, radius_m=0.006)
design = design_of_electrode(mat, Identity("bytes"))
print(hashlib.sha256(dxf_bytes(build_drawing(design), design)).hexdigest())
"""


def test_the_order_of_sets_does_not_show_in_the_file():
    hashes = {
        subprocess.run(
            [sys.executable, "-c", SMALL_DRAWING],
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(hashes) == 1


def test_a_marked_line_writes_what_the_library_writes(small):
    """The library's own line, with the same ends, layer and mark, gives the same bytes (ezdxf)."""
    document = build_drawing(small)
    lines = [e for e in document.modelspace() if isinstance(e, MarkedLine)]
    assert len(lines) > 5
    short, long = io.StringIO(), io.StringIO()
    for line in lines:
        line.export_dxf(TagWriter(short))
        super(MarkedLine, line).export_dxf(TagWriter(long))
    assert short.getvalue() == long.getvalue()


EVIL = "a\n0\nEOF\n{\\H9;b}\\P %%c %%%\x07 \x00 Ω ⌀ é"


def test_text_of_users_can_not_break_or_forge_the_drawing(designs, tmp_path):
    from evenground.model.installation import EquipmentItem, Installation

    design = designs.small(installation=Installation(equipment=(EquipmentItem(EVIL, EVIL, 3, 3),)))
    tagged = [dataclasses.replace(c, tag=EVIL, group=EVIL) for c in design.electrode]
    design = dataclasses.replace(
        design, identity=Identity(EVIL, EVIL, EVIL, EVIL), electrode=Electrode(tagged), assumptions=(EVIL,)
    )
    write_dxf(design, tmp_path / "x.dxf")
    auditor = ezdxf.readfile(tmp_path / "x.dxf").audit()
    assert auditor.errors == []
    contents = read_dxf(tmp_path / "x.dxf", own_layers())
    assert rows(contents.electrode()) == rows(design.electrode)
    assert "\n" not in contents.equipment[0].tag
    assert "Ω ⌀ é" in contents.equipment[0].tag
    title = texts(ezdxf.readfile(tmp_path / "x.dxf").paperspace("Plan"))
    assert "{\\H9;b}\\P" in title


def test_a_failed_write_leaves_the_earlier_file(small, tmp_path, monkeypatch):
    write_dxf(small, tmp_path / "x.dxf")
    before = (tmp_path / "x.dxf").read_bytes()
    monkeypatch.setattr(
        "evenground.schedules._files.os.fsync", lambda *a: (_ for _ in ()).throw(OSError("full"))
    )
    with pytest.raises(OSError, match="full"):
        write_dxf(small, tmp_path / "x.dxf")
    assert (tmp_path / "x.dxf").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["x.dxf"]


def test_nothing_to_draw_is_refused():
    with pytest.raises(ValueError, match="nothing to draw"):
        build_drawing(design_of_electrode(Electrode(), Identity("empty")))


# -- sheets ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def svgs(small):
    return sheets_svg(small)


def reach(svg):
    """Largest x and y that any path of the sheet reaches, in mm, and its size."""
    root = ET.fromstring(svg)
    width = float(root.get("width").removesuffix("mm"))
    height = float(root.get("height").removesuffix("mm"))
    units = float(root.get("viewBox").split()[2]) / width
    far_x = far_y = 0.0
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        x = y = 0.0
        for command, numbers in re.findall(r"([MLlmqcQC])([^MLlmqcQCZz]*)", path.get("d")):
            values = [float(v) for v in numbers.split()]
            for a, b in zip(values[-2::-2], values[-1::-2], strict=True):
                if command in "ML":
                    x, y = a, b
                else:
                    x, y = x + a, y + b
                break
            far_x, far_y = max(far_x, x), max(far_y, y)
    return far_x / units, far_y / units, width, height


def test_sheets_are_svg_at_their_size_and_nothing_leaves_the_paper(svgs):
    assert list(svgs) == ["Plan", "Details"]
    for svg in svgs.values():
        far_x, far_y, width, height = reach(svg)
        assert (width, height) == (420, 297)
        # the frame stands 10 mm from the edge; half a line width may go over
        assert far_x <= 410.5
        assert far_y <= 287.5


def test_sheets_hold_no_text_that_needs_a_font(svgs):
    assert all("<text" not in svg for svg in svgs.values())


def test_dashed_lines_end_where_they_should(small):
    """A dashed ring drawn dash by dash may not creep: its lower side from x = -1 to x = 21 must end at the
    right place on paper, at most one gap (1.5 mm) short."""
    box = ((-1.0, -1.0), (21.0, -1.0), (21.0, 30.0), (-1.0, 30.0))
    ring = Electrode(
        Conductor((*a, 0.7), (*b, 0.7), 0.005, "run") for a, b in zip(box, (*box[1:], box[0]), strict=True)
    )
    design = dataclasses.replace(small, electrode=small.electrode + ring, keys=(*small.keys, *["mat"] * 4))
    options = DrawingOptions(paper="A1", details=False)
    layout = build_drawing(design, options).paperspace("Plan")
    (view,) = (v for v in layout.viewports() if v.dxf.id != 1)
    per_metre = view.dxf.height / view.dxf.view_height
    left, right = (view.dxf.center.x + per_metre * (x - view.dxf.view_center_point.x) for x in (-1, 21))
    svg = sheets_svg(design, options)["Plan"]
    units = float(re.search(r'viewBox="0 0 (\d+)', svg).group(1)) / 841
    ends = []
    for path in re.findall(r'd="(M[^"]*)"', svg):
        steps = re.findall(r"([Mlm]) (-?\d+) (-?\d+)", path)
        flat = all(dy == "0" for _, _, dy in steps[1:]) and all(c in "lm" for c, *_ in steps[1:])
        if len(steps) > 8 and flat and "q" not in path and abs(float(steps[0][1]) / units - left) < 0.01:
            ends.append(sum(float(dx) for _, dx, _ in steps) / units)
    assert ends, "no dashed line that starts at the left edge"
    assert all(right - 1.6 < end < right + 0.05 for end in ends), (ends, right)


def test_the_pdf_has_a_page_for_each_sheet(small):
    reader = pypdf.PdfReader(io.BytesIO(sheets_pdf(small)))
    sizes = [(float(p.mediabox.width), float(p.mediabox.height)) for p in reader.pages]
    assert sizes == [pytest.approx((420 / 25.4 * 72, 297 / 25.4 * 72), abs=0.1)] * 2
    assert reader.metadata.title == small.identity.title


def test_svg_files_are_written(small, tmp_path):
    files = write_svg(small, tmp_path, DrawingOptions(details=False))
    assert [f.name for f in files] == ["plan.svg"]
    assert ET.parse(files[0]).getroot().tag.endswith("svg")
