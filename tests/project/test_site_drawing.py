"""A site drawing named by the project file: what is taken, what is left, and what is refused."""

from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from ezdxf.filemanagement import new
from typer.testing import CliRunner

from evenground.cli._main import app
from evenground.errors import InputError, Severity
from evenground.project import load_project, starter_text

LAYERS = [
    {"layer": "OLD*", "take_as": "ignore"},
    {"layer": "GRID", "take_as": "conductor", "depth_m": 0.7},
    {"layer": "RODS", "take_as": "rod", "depth_m": 0.7, "rod_length_m": 3, "rod_diameter_mm": 14.2},
    {"layer": "FENCE", "take_as": "fence", "bonding": "bonded", "name": "yard fence"},
    {"layer": "GATE", "take_as": "gate", "opens": "outward"},
    {"layer": "PLANT", "take_as": "equipment", "connections": 2},
    {"layer": "GRAVEL", "take_as": "zone", "resistivity_ohm_m": 3000, "thickness_m": 0.1, "name": "gravel"},
    {"layer": "YARD", "take_as": "outline", "spacing_m": 6, "depth_m": 0.8, "name": "second mat"},
]


def fill(document, space):
    """A plan in millimetres: a loop of 20 m by 10 m, two rods, a fence, a gate, a breaker, gravel, a mat."""
    space.add_lwpolyline(
        [(0, 0), (20_000, 0), (20_000, 10_000), (0, 10_000)], close=True, dxfattribs={"layer": "GRID"}
    )
    for x in (0, 20_000):
        space.add_circle((x, 0), 100, dxfattribs={"layer": "RODS"})
    space.add_lwpolyline(
        [(-2e3, -2e3), (22e3, -2e3), (22e3, 12e3), (-2e3, 12e3)], close=True, dxfattribs={"layer": "FENCE"}
    )
    space.add_line((8e3, -2e3), (12e3, -2e3), dxfattribs={"layer": "GATE"})
    block = document.blocks.new("CB145")
    block.add_circle((0, 0), 500)
    block.add_attdef("TAG", (0, 0))
    insert = space.add_blockref("CB145", (5e3, 5e3), dxfattribs={"layer": "PLANT"})
    insert.add_auto_attribs({"TAG": "Q0"})
    space.add_lwpolyline(
        [(-1e3, -1e3), (21e3, -1e3), (21e3, 11e3), (-1e3, 11e3)], close=True, dxfattribs={"layer": "GRAVEL"}
    )
    space.add_lwpolyline(
        [(40e3, 0), (52e3, 0), (52e3, 12e3), (40e3, 12e3)], close=True, dxfattribs={"layer": "YARD"}
    )
    space.add_text("GRID of 1998", dxfattribs={"layer": "GRID"})
    space.add_line((0, 0), (1e3, 1e3), dxfattribs={"layer": "OLD-1"})
    space.add_line((0, 0), (1e3, 1e3), dxfattribs={"layer": "ROADS"})


@pytest.fixture
def site(tmp_path):
    """Write a project without any drawn metal of its own beside the drawing; returns a maker."""

    def make(*, layers=LAYERS, fill=fill, units=4, data=None, **more):
        document = new("R2018", units=units)
        fill(document, document.modelspace())
        document.saveas(tmp_path / "plan.dxf")
        if data is not None:
            (tmp_path / "plan.dxf").write_bytes(data)
        project = yaml.safe_load(starter_text("substation"))
        for key in ("mats", "rods", "runs", "equipment", "fences", "gates", "surface"):
            project.pop(key, None)
        project["site_drawing"] = {
            "file": "plan.dxf",
            "kinds": {"cb145": "circuit_breaker"},
            "layers": layers,
        } | more
        file = tmp_path / "site.yaml"
        file.write_text(yaml.safe_dump(project, sort_keys=False), encoding="utf-8")
        return file

    return make


def test_everything_on_the_named_layers_is_in_the_project_in_metres(site):
    project = load_project(site())
    assert [(r.points_m, r.depth_m, r.conductor) for r in project.runs] == [
        (((0, 0), (20, 0)), 0.7, "mat"),
        (((20, 0), (20, 10)), 0.7, "mat"),
        (((20, 10), (0, 10)), 0.7, "mat"),
        (((0, 10), (0, 0)), 0.7, "mat"),
    ]
    (rods,) = project.rods
    assert (rods.at_m, rods.length_m, rods.top_depth_m) == (((0, 0), (20, 0)), 3, 0.7)
    (mat,) = project.mats
    assert (mat.name, mat.spacing_x_m, mat.depth_m) == ("second mat", 6, 0.8)
    (zone,) = project.surface
    assert (zone.name, zone.resistivity_ohm_m, zone.thickness_m) == ("gravel", 3000, 0.1)
    around = project.installation
    assert [(f.name, f.closed, f.bonding) for f in around.fences] == [("yard fence", True, "bonded")]
    assert [(g.start_m, g.end_m, g.opens) for g in around.gates] == [((8, -2), (12, -2), "outward")]
    (breaker,) = around.equipment
    assert (breaker.tag, breaker.kind, breaker.terminals) == ("Q0", "circuit breaker", 2)
    assert {"equipment", "fences", "gates"} <= set(around.stated)


def test_what_a_named_layer_holds_and_is_left_is_a_warning(site):
    project = load_project(site())
    left = [f.message for f in project.warnings if f.code == "drawing-left"]
    assert len(left) == 1
    assert "layer GRID: 1 TEXT left out" in left[0]
    reasons = {(r.layer, r.reason) for r in project.site_drawing.preview if r.left}
    assert ("ROADS", "no rule for this layer") in reasons
    assert ("OLD-1", "ignored by the layer table") in reasons


def test_unit_origin_and_hash_stand_in_the_register_and_in_the_input_hash(site):
    file = site()
    first = load_project(file)
    assert load_project(file).input_hash == first.input_hash
    row = next(r for r in first.register if r.path[0] == "site_drawing" and "unit mm" in r.value)
    assert "stated by the drawing" in row.value
    assert first.site_drawing.sha256[:12] in row.value
    moved = load_project(site(origin_m=[10.0, 5.0]))
    assert moved.runs[0].points_m == ((-10, -5), (10, -5))

    def other(document, space):
        fill(document, space)
        space.add_line((0, 5e3), (20e3, 5e3), dxfattribs={"layer": "GRID"})

    assert load_project(site(fill=other)).input_hash != first.input_hash


@pytest.mark.parametrize(
    ("change", "code", "text"),
    [
        ({"take_as": "fence"}, "layer-incomplete", "needs bonding"),
        ({"take_as": "gate"}, "layer-incomplete", "needs opens"),
        ({"take_as": "equipment"}, "layer-incomplete", "needs connections"),
        ({"take_as": "outline", "depth_m": 0.6}, "layer-incomplete", "needs spacing_m"),
        ({"take_as": "zone", "thickness_m": 0.1}, "layer-incomplete", "a cover needs"),
        ({"take_as": "conductor", "opens": "inward"}, "layer-field", "opens has no meaning"),
        ({"take_as": "conductor", "depth_m": 0}, "layer-depth", "at the surface"),
        ({"take_as": "conductor", "conductor": "tape"}, "conductor-unknown", "'tape'"),
        ({"take_as": "conductor"}, "drawing-empty", "states no depth"),
        ({"take_as": "rail"}, "", "take_as"),
    ],
)
def test_a_row_that_lacks_something_is_an_error_at_its_place(site, change, code, text):
    file = site(layers=[{"layer": "GRID"} | change])
    with pytest.raises(InputError, match=text) as caught:
        load_project(file)
    (finding,) = caught.value.findings
    assert code in ("", finding.code)
    assert finding.line > 0
    assert finding.file == str(file)


def test_unknown_blocks_sloping_lines_and_crossed_outlines_are_refused_all_at_once(site):
    def more(document, space):
        fill(document, space)
        space.add_line((0, 0, -500), (5e3, 0, -900), dxfattribs={"layer": "SLOPE"})
        space.add_lwpolyline(
            [(0, 0), (5e3, 5e3), (5e3, 0), (0, 5e3)], close=True, dxfattribs={"layer": "GRAVEL"}
        )

    layers = [*LAYERS, {"layer": "SLOPE", "take_as": "conductor"}]
    with pytest.raises(InputError, match="no kind of equipment") as caught:
        load_project(site(fill=more, layers=layers, kinds={}))
    assert {f.code for f in caught.value.findings} == {"drawing-kind", "drawing-slope", "drawing-outline"}
    assert all(f.severity is Severity.ERROR and f.line for f in caught.value.findings)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", "is empty"),
        (b"%PDF-1.7 nothing", "PDF"),
        (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\nGRID\n", "ends early"),
        (b"\x00\xff" * 500, "not a DXF"),
    ],
)
def test_hostile_files_give_exit_code_2_and_no_traceback(site, data, text):
    file = site(data=data)
    for words in (["siteplan", str(file)], ["siteplan", str(file.with_name("plan.dxf"))]):
        done = CliRunner().invoke(app, words)
        assert isinstance(done.exception, InputError)  # the entry point turns it into exit code 2
        assert text in str(done.exception)
    with pytest.raises(InputError, match=text):
        load_project(file)


def test_a_drawing_without_unit_asks_for_one(site):
    with pytest.raises(InputError, match="states no unit"):
        load_project(site(units=0))
    assert load_project(site(units=0, unit="mm")).runs[0].points_m[1] == (20, 0)


def test_siteplan_lists_layers_and_shows_the_preview(site, tmp_path):
    file = site()
    listed = CliRunner().invoke(app, ["siteplan", str(tmp_path / "plan.dxf")])
    assert listed.exit_code == 0
    assert "unit: mm" in listed.stdout
    assert "GRID | 1 LWPOLYLINE, 1 TEXT" in listed.stdout
    section = yaml.safe_load(listed.stdout[listed.stdout.index("site_drawing:") :])
    assert {row["layer"] for row in section["site_drawing"]["layers"]} >= {"GRID", "ROADS", "OLD-1"}
    shown = CliRunner().invoke(app, ["siteplan", str(file)])
    assert shown.exit_code == 0
    assert "taken: 4 pieces of conductor, 2 rods, 1 pieces of equipment, 1 fences" in shown.stdout
    assert "ROADS | LINE | 1 left: no rule for this layer" in shown.stdout


@pytest.mark.slow
def test_a_study_of_the_drawing_equals_the_study_of_the_same_metal_typed_in(site, tmp_path):
    from evenground.study import run_study

    drawn = load_project(site(layers=LAYERS[:3]))
    typed = replace(drawn, runs=(), rods=())
    typed = replace(
        typed,
        runs=(replace(drawn.runs[0], points_m=((0, 0), (20, 0), (20, 10), (0, 10), (0, 0))),),
        rods=drawn.rods,
    )
    a, b = run_study(drawn), run_study(typed)
    assert a.field.resistance_ohm == pytest.approx(b.field.resistance_ohm, rel=1e-9)
    assert Path(a.project.site_drawing.file_name).name == "plan.dxf"
