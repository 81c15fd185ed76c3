"""Reading DXF: lengths and places against elementary geometry, on drawings made with the DXF library."""

import math

import numpy as np
import pytest
from ezdxf.math import OCS, Vec3
from hypothesis import given, settings
from hypothesis import strategies as st

from evenground.drawing import LayerMap, LayerRule, Role, layer_map, read_dxf
from evenground.errors import InputError
from evenground.siteplan._chords import chord_count

ROUNDING = 1e-9
WRITTEN = 1e-9
"""The library writes coordinates with full precision."""

GRID = LayerMap((LayerRule("GRID*", Role.CONDUCTOR, "mat", depth_m=0.6),))


def length(contents):
    return sum(math.dist(d.start_m, d.end_m) for d in contents.lines)


# -- units and origin --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "metres"),
    [
        (1, 0.0254),
        (2, 0.3048),
        (4, 0.001),
        (5, 0.01),
        (6, 1.0),
        (7, 1000.0),
        (10, 0.9144),
        (14, 0.1),
        (21, 1200 / 3937),
    ],
)
def test_units_of_the_drawing(save, code, metres):
    """Lengths of units: international yard and pound agreement 1959; US survey foot 1200/3937 m; codes of
    $INSUNITS from the DXF reference."""
    file = save(lambda d, m: m.add_line((0, 0), (50, 0), {"layer": "GRID"}), units=code)
    contents = read_dxf(file, GRID)
    assert length(contents) == pytest.approx(50 * metres, rel=ROUNDING)
    assert contents.unit_from == "drawing"
    assert contents.lines[0].start_m[2] == 0.6


def test_a_drawing_without_unit_asks_for_one(save):
    file = save(lambda d, m: m.add_line((0, 0), (5000, 0), {"layer": "GRID"}), units=0)
    with pytest.raises(InputError, match=r"states no unit of length.*measure a known distance"):
        read_dxf(file, GRID)
    contents = read_dxf(file, GRID, units="mm")
    assert (contents.unit, contents.unit_from) == ("mm", "user")


def test_an_r12_drawing_states_no_unit_even_when_the_library_presumes_one(tmp_path):
    from ezdxf.addons import r12writer

    with r12writer(tmp_path / "r12.dxf") as writer:
        writer.add_line((0, 0), (10, 0), layer="GRID")
    with pytest.raises(InputError, match="states no unit"):
        read_dxf(tmp_path / "r12.dxf", GRID)
    assert length(read_dxf(tmp_path / "r12.dxf", GRID, units="m")) == pytest.approx(10, rel=ROUNDING)


def test_a_unit_given_overrules_the_drawing_and_is_noted(save):
    file = save(lambda d, m: m.add_line((0, 0), (10, 0), {"layer": "GRID"}), units=4)
    contents = read_dxf(file, GRID, units="m")
    assert length(contents) == pytest.approx(10, rel=ROUNDING)
    assert "The drawing says mm" in contents.notes[0]


def test_units_that_no_site_plan_has(save):
    file = save(lambda d, m: m.add_line((0, 0), (10, 0), {"layer": "GRID"}), units=19)
    with pytest.raises(InputError, match="INSUNITS = 19"):
        read_dxf(file, GRID)
    with pytest.raises(InputError, match="not a drawing unit"):
        read_dxf(file, GRID, units="furlong")


def test_a_far_origin_is_taken_off_and_stated(save):
    def fill(d, m):
        m.add_line((512_345, 6_123_456), (512_355, 6_123_456), {"layer": "GRID"})

    contents = read_dxf(save(fill), GRID)
    assert contents.origin_m == (512_300, 6_123_400)
    assert contents.lines[0].start_m == pytest.approx((45, 56, 0.6), abs=1e-6)
    assert "(512300, 6123400) m was taken off" in contents.notes[0]
    assert "origin: (512300, 6123400) m" in contents.summary()
    moved = read_dxf(save(fill), GRID, origin_m=(512_345, 6_123_456))
    assert moved.lines[0].start_m == pytest.approx((0, 0, 0.6), abs=1e-6)


def test_a_near_origin_is_kept(save):
    file = save(lambda d, m: m.add_line((5, 7), (10, 7), {"layer": "GRID"}))
    assert read_dxf(file, GRID).origin_m == (0, 0)


def test_a_stray_thing_far_away_is_an_error_with_advice(save):
    def fill(d, m):
        m.add_line((0, 0), (10, 0), {"layer": "GRID"})
        m.add_line((512_345, 6_123_456), (512_355, 6_123_456), {"layer": "GRID"})

    with pytest.raises(InputError, match=r"spans 6123 km in m.*check the unit"):
        read_dxf(save(fill), GRID)


# -- entities ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_every_version_gives_the_same(save, version):
    def fill(d, m):
        m.add_line((0, 0), (3, 4), {"layer": "grid-1"})
        m.add_polyline2d([(0, 0), (10, 0), (10, 10)], dxfattribs={"layer": "GRID-2"})
        m.add_circle((5, 5), 2, {"layer": "GRID-3"})

    contents = read_dxf(save(fill, version=version), GRID, units="m", sagitta_m=0.001)
    assert contents.version == version
    assert length(contents) == pytest.approx(5 + 20 + 4 * math.pi, rel=1e-3)  # chords 1 mm within the arc


def test_a_binary_drawing_is_read(save):
    file = save(lambda d, m: m.add_line((0, 0), (3, 4), {"layer": "GRID"}), fmt="bin")
    assert length(read_dxf(file, GRID)) == pytest.approx(5, rel=WRITTEN)


@settings(max_examples=60)
@given(st.floats(0.1, 500), st.floats(0.05, 6.28), st.floats(0.001, 0.1))
def test_chords_keep_within_the_sagitta(radius, span, sagitta):
    """Distance between arc and chord: r (1 - cos(a/2)), from the right triangle."""
    n = chord_count(radius, span, sagitta, 100_000)
    assert radius * (1 - math.cos(span / n / 2)) <= sagitta * (1 + 1e-9)
    if n > math.ceil(span / (math.pi / 2)):
        assert radius * (1 - math.cos(span / (n - 1) / 2)) > sagitta * (1 - 1e-6)


def distance_to_chords(points, contents):
    """Largest distance of points from the pieces found."""
    a = np.array([d.start_m[:2] for d in contents.lines])
    b = np.array([d.end_m[:2] for d in contents.lines])
    worst = 0.0
    for p in points:
        t = np.clip(((p - a) * (b - a)).sum(axis=1) / ((b - a) ** 2).sum(axis=1), 0, 1)
        foot = a + t[:, None] * (b - a)
        worst = max(worst, float(np.hypot(*(p - foot).T).min()))
    return worst


def test_arcs_follow_the_circle(save):
    file = save(lambda d, m: m.add_arc((10, 20), 8, 350, 100, dxfattribs={"layer": "GRID"}))
    contents = read_dxf(file, GRID, sagitta_m=0.01)
    angles = np.radians(np.linspace(-10, 100, 500))
    points = np.stack([10 + 8 * np.cos(angles), 20 + 8 * np.sin(angles)], axis=1)
    assert distance_to_chords(points, contents) <= 0.01
    assert length(contents) == pytest.approx(8 * math.radians(110), rel=1e-3)


def test_an_ellipse_in_part_and_whole(save):
    def fill(d, m):
        m.add_ellipse((0, 0), (10, 0), 0.4, 0, math.pi / 2, {"layer": "GRID"})

    contents = read_dxf(save(fill), GRID, sagitta_m=0.005)
    t = np.linspace(0, math.pi / 2, 400)
    points = np.stack([10 * np.cos(t), 4 * np.sin(t)], axis=1)
    assert distance_to_chords(points, contents) <= 0.005
    whole = read_dxf(
        save(lambda d, m: m.add_ellipse((0, 0), (10, 0), 0.4, dxfattribs={"layer": "GRID"})), GRID
    )
    # Ramanujan's second approximation of the circumference (1914)
    h = ((10 - 4) / (10 + 4)) ** 2
    around = math.pi * 14 * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert length(whole) == pytest.approx(around, rel=2e-3)


def test_a_spline_that_is_a_parabola(save):
    """A quadratic with control points (0,0), (5,10), (10,0) is y = 2x - x^2/5 (Bernstein form)."""

    def fill(d, m):
        m.add_open_spline([(0, 0), (5, 10), (10, 0)], degree=2, dxfattribs={"layer": "GRID"})

    contents = read_dxf(save(fill), GRID, sagitta_m=0.01)
    x = np.linspace(0, 10, 300)
    assert distance_to_chords(np.stack([x, 2 * x - x**2 / 5], axis=1), contents) <= 0.01


@pytest.mark.parametrize("old", [False, True])
@pytest.mark.parametrize("sign", [1, -1])
def test_bulges_are_half_circles(save, old, sign):
    """A bulge of 1 is a half circle (DXF reference): to the right of the way for +1 seen from above."""

    def fill(d, m):
        points = [(0, 0, sign), (10, 0, 0), (10, 5, 0)]
        look = {"layer": "GRID"}
        if old:
            m.add_polyline2d(points, format="xyb", dxfattribs=look)
        else:
            m.add_lwpolyline(points, format="xyb", dxfattribs=look)

    contents = read_dxf(save(fill), GRID, sagitta_m=0.001)
    assert length(contents) == pytest.approx(5 * math.pi + 5, rel=1e-3)
    middle = min(contents.lines, key=lambda d: abs(d.start_m[0] - 5) + 100 * (d.start_m[0] > 9.9))
    assert middle.start_m[1] == pytest.approx(-5 * sign, abs=0.02)
    ends = [contents.lines[0].start_m[:2], contents.lines[-1].end_m[:2]]
    assert ends == [(0, 0), pytest.approx((10, 5))]


def test_a_closed_polyline_comes_back_to_its_start(save):
    def fill(d, m):
        m.add_lwpolyline([(0, 0), (10, 0), (10, 10), (0, 10)], close=True, dxfattribs={"layer": "GRID"})

    assert length(read_dxf(save(fill), GRID)) == pytest.approx(40, rel=WRITTEN)


def test_an_extrusion_turns_the_plane(save):
    """With extrusion (0, 0, -1) the x axis of the object runs the other way (arbitrary axis rule of the DXF
    reference)."""

    def fill(d, m):
        look = {"layer": "GRID", "extrusion": (0, 0, -1)}
        m.add_lwpolyline([(1, 2), (11, 2)], dxfattribs=look)
        m.add_circle((20, 0), 1, look)

    contents = read_dxf(save(fill), GRID)
    assert {contents.lines[0].start_m[:2], contents.lines[0].end_m[:2]} == {(-1, 2), (-11, 2)}
    assert min(d.start_m[0] for d in contents.lines) == pytest.approx(-21, abs=1e-6)


def test_any_extrusion_agrees_with_the_librarys_transformation(save):
    axis = Vec3(1, 1, 1)
    file = save(lambda d, m: m.add_lwpolyline([(0, 0), (9, 0)], dxfattribs={"layer": "G", "extrusion": axis}))
    contents = read_dxf(file, LayerMap((LayerRule("G", Role.CONDUCTOR, depth_m=0.5),)))
    expected = OCS(axis).to_wcs(Vec3(9, 0, 0))
    assert contents.lines[0].end_m[:2] == pytest.approx((expected.x, expected.y), abs=1e-9)


def test_depth_from_z(save):
    rules = LayerMap((LayerRule("GRID", Role.CONDUCTOR),))

    def fill(d, m):
        m.add_line((0, 0, -0.6), (10, 0, -0.8), {"layer": "GRID"})
        m.add_line((0, 5, 0), (10, 5, 0), {"layer": "GRID"})
        m.add_line((0, 6, 0.2), (10, 6, 0.2), {"layer": "GRID"})
        m.add_polyline3d([(0, 7, -1), (5, 7, -1), (5, 7, -3)], dxfattribs={"layer": "GRID"})

    contents = read_dxf(save(fill), rules)
    assert [(d.start_m[2], d.end_m[2]) for d in contents.lines] == [(0.6, 0.8), (1, 1), (1, 3)]
    reasons = {row.reason: row.left for row in contents.preview if row.left}
    assert reasons == {
        "it lies at z = 0 and the rule states no depth": 1,
        "it lies above z = 0 and the rule states no depth": 1,
    }
    with pytest.raises(InputError, match="slopes"):
        contents.runs()


def test_lines_drawn_twice_count_once(save):
    def fill(d, m):
        m.add_line((0, 0), (10, 0), {"layer": "GRID"})
        m.add_line((10, 0), (0, 0), {"layer": "GRID"})

    contents = read_dxf(save(fill), GRID)
    assert len(contents.lines) == 1
    assert [r.reason for r in contents.preview if r.left] == ["drawn twice"]


# -- blocks ------------------------------------------------------------------------------------------

SITE = LayerMap(
    (
        LayerRule("E-EQ*", Role.EQUIPMENT),
        LayerRule("E-ROD", Role.ROD, depth_m=0.6, rod_length_m=3.0, rod_diameter_mm=16),
        LayerRule("E-GRID", Role.CONDUCTOR, depth_m=0.6),
        LayerRule("E-FENCE", Role.FENCE),
        LayerRule("E-GATE", Role.GATE),
        LayerRule("E-ZONE", Role.ZONE),
        LayerRule("E-SITE", Role.OUTLINE),
        LayerRule("E-OLD*", Role.IGNORE),
    )
)


def test_blocks_with_attributes_are_equipment(save):
    def fill(d, m):
        block = d.blocks.new("TR-31")
        block.add_lwpolyline([(0, 0), (1, 0), (1, 1)])
        first = m.add_blockref("TR-31", (10, 20), {"layer": "E-EQUIP"})
        first.add_attrib("TAG", "T1")
        first.add_attrib("KIND", "transformer")
        first.add_attrib("TERMINALS", "4")
        m.add_blockref("TR-31", (30, 20), {"layer": "e-equip"})

    one, two = read_dxf(save(fill), SITE).equipment
    assert (one.tag, one.kind, one.x_m, one.y_m, one.terminals) == ("T1", "transformer", 10, 20, 4)
    assert (two.tag, two.kind, two.terminals) == ("", "TR-31", 2)


def test_rods_from_blocks_points_circles_and_lines(save):
    def fill(d, m):
        d.blocks.new("ROD").add_circle((0, 0), 0.1)
        block = m.add_blockref("ROD", (0, 0), {"layer": "E-ROD"})
        for name, value in (("LENGTH", "6,5 m"), ("DIAMETER", "14.2"), ("TOP", "0.8"), ("NUMBER", "R7")):
            block.add_attrib(name, value)
        m.add_point((5, 0), {"layer": "E-ROD"})
        m.add_circle((10, 0), 0.2, {"layer": "E-ROD"})
        m.add_line((15, 0, -0.5), (15, 0, -4.5), {"layer": "E-ROD"})
        m.add_line((20, 0), (21, 0), {"layer": "E-ROD"})

    contents = read_dxf(save(fill), SITE)
    rows = [(r.place_m[0], r.top_depth_m, r.length_m, r.diameter_mm, r.number) for r in contents.rods]
    assert rows == [
        (0, 0.8, 6.5, 14.2, "R7"),
        (5, 0.6, 3.0, 16, ""),
        (10, 0.6, 3.0, 16, ""),
        (15, 0.5, 4.0, 16, ""),
    ]
    assert "no rod" in next(r.reason for r in contents.preview if r.left)
    assert [(len(x.at_m), x.length_m) for x in contents.rod_lists()] == [(1, 6.5), (2, 3.0), (1, 4.0)]


def test_nested_turned_scaled_blocks(save):
    """A line of 1 m in a block, scaled by 2 and turned by 90 degrees, in a block scaled by 3 at (100, 0):
    from (100, 0) + 3 (5, 0) upward by 6 m. Layer 0 takes the layer of the block reference."""

    def fill(d, m):
        inner, outer = d.blocks.new("INNER"), d.blocks.new("OUTER")
        inner.add_line((0, 0), (1, 0), {"layer": "0"})
        outer.add_blockref("INNER", (5, 0), {"layer": "0", "xscale": 2, "yscale": 2, "rotation": 90})
        m.add_blockref("OUTER", (100, 0), {"layer": "E-GRID", "xscale": 3, "yscale": 3})

    (line,) = read_dxf(save(fill), SITE).lines
    assert line.start_m == pytest.approx((115, 0, 0.6), abs=1e-9)
    assert line.end_m == pytest.approx((115, 6, 0.6), abs=1e-9)
    assert line.layer == "E-GRID"


def test_a_circle_in_an_unevenly_scaled_block_is_an_ellipse(save):
    def fill(d, m):
        d.blocks.new("C").add_circle((0, 0), 1, {"layer": "E-GRID"})
        m.add_blockref("C", (0, 0), {"xscale": 10, "yscale": 4})

    contents = read_dxf(save(fill), SITE)
    assert max(d.start_m[0] for d in contents.lines) == pytest.approx(10, abs=0.05)
    assert max(d.start_m[1] for d in contents.lines) == pytest.approx(4, abs=0.05)


def test_a_repeated_block_gives_every_copy(save):
    def fill(d, m):
        d.blocks.new("L").add_line((0, 0), (0, 1), {"layer": "E-GRID"})
        look = {"row_count": 2, "column_count": 3, "row_spacing": 10, "column_spacing": 5}
        m.add_blockref("L", (0, 0), look)

    starts = {d.start_m[:2] for d in read_dxf(save(fill), SITE).lines}
    assert starts == {(x, y) for x in (0, 5, 10) for y in (0, 10)}


def test_fences_gates_zones_and_outlines(save):
    def fill(d, m):
        square = [(0, 0), (20, 0), (20, 10), (0, 10)]
        m.add_lwpolyline(square, close=True, dxfattribs={"layer": "E-FENCE"})
        m.add_lwpolyline([(30, 0), (40, 0), (40, 5)], dxfattribs={"layer": "E-FENCE"})
        m.add_line((8, 0), (12, 0), {"layer": "E-GATE"})
        m.add_arc((8, 0), 4, 0, 90, dxfattribs={"layer": "E-GATE"})
        m.add_lwpolyline([*square, square[0]], dxfattribs={"layer": "E-ZONE"})
        m.add_circle((50, 50), 5, {"layer": "E-SITE"})
        m.add_lwpolyline(square, dxfattribs={"layer": "E-ZONE"})

    contents = read_dxf(save(fill), SITE)
    assert [(len(f.points_m), f.closed) for f in contents.fences] == [(4, True), (3, False)]
    assert (contents.gates[0].start_m, contents.gates[0].end_m) == ((8, 0), (12, 0))
    assert contents.zones[0].points_m == ((0, 0), (20, 0), (20, 10), (0, 10))
    assert len(contents.outlines) == 1
    left = {(r.layer, r.reason) for r in contents.preview if r.left}
    assert left == {
        ("E-GATE", "only lines from post to post are taken as gates"),
        ("E-ZONE", "a line that is not closed"),
    }
    assert contents.installation().fences == contents.fences


def test_the_preview_accounts_for_every_entity(save):
    def fill(d, m):
        d.layers.add("E-GRID")
        d.layers.add("E-FENCE").off()
        d.layers.add("E-EQ").freeze()
        m.add_line((0, 0), (10, 0), {"layer": "E-GRID"})
        m.add_line((0, 1), (10, 1), {"layer": "E-GRID", "invisible": 1})
        m.add_line((0, 2), (10, 2), {"layer": "E-FENCE"})
        m.add_line((0, 3), (10, 3), {"layer": "E-OLD-1"})
        m.add_line((0, 4), (10, 4), {"layer": "SURVEY"})
        m.add_text("hello", dxfattribs={"layer": "E-GRID"})
        m.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs={"layer": "E-GRID"})
        m.add_line((0, 5), (0.001, 5), {"layer": "E-GRID"})

    contents = read_dxf(save(fill), SITE)
    assert sum(r.taken + r.left for r in contents.preview) == 8
    reasons = {r.reason for r in contents.preview if r.left}
    assert reasons == {
        "it is invisible",
        "its layer is switched off or frozen",
        "ignored by the layer table",
        "no rule for this layer",
        "a type that is not used for lines",
        "shorter than 20 mm",
    }
    shown = read_dxf(save(fill), SITE, hidden_layers=True)
    assert len(shown.fences) == 1
    assert "SURVEY | LINE | 1 left: no rule for this layer" in contents.summary()


def test_the_electrode_needs_the_radius_of_each_key(save):
    contents = read_dxf(save(lambda d, m: m.add_line((0, 0), (9, 0), {"layer": "GRID"})), GRID)
    with pytest.raises(InputError, match="no radius is given for conductor mat"):
        contents.electrode()
    (conductor,) = contents.electrode({"mat": 0.006})
    assert conductor.length_m == pytest.approx(9, rel=WRITTEN)
    assert contents.runs()[0].depth_m == 0.6


# -- the layer table ---------------------------------------------------------------------------------


def test_the_first_fitting_rule_counts():
    table = layer_map(
        [
            {"pattern": "e-grid-old", "role": "ignore"},
            {"pattern": "E-GRID*", "role": "conductor", "conductor": "ring", "depth_m": "0.8"},
        ]
    )
    assert table.rule_for("E-Grid-Old").role is Role.IGNORE
    assert table.rule_for("e-grid-3").depth_m == 0.8
    assert table.rule_for("other") is None


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ([], "layer table is empty"),
        ([{"pattern": "a", "role": "wire"}], "roles: conductor, rod"),
        ([{"pattern": "a", "role": "rod", "lenght": 3}], "unknown lenght"),
        ([{"role": "rod"}], "pattern"),
        ([{"pattern": "a", "role": "rod", "depth_m": -1}], "must be 0 or more"),
        ([{"pattern": "a", "role": "rod", "depth_m": "deep"}], "could not convert"),
        ([{"pattern": "a", "role": "rod", "rod_length_m": 0}], "must be above 0"),
    ],
)
def test_slips_in_the_layer_table(rows, message):
    with pytest.raises(InputError, match=message):
        layer_map(rows)
