"""Files that are broken, huge or meant to harm: a clear error, no crash, no hang."""

import io
import time

import pytest
from ezdxf.filemanagement import new
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenground.drawing import LayerMap, LayerRule, ReadLimits, Role, read_dxf
from evenground.errors import InputError

GRID = LayerMap((LayerRule("*", Role.CONDUCTOR, "mat", depth_m=0.6),))
PATIENCE_S = 20
"""Far above what any of these takes, far below a hang."""


def drawing_bytes(version="R2000"):
    document = new(version, units=6)
    space = document.modelspace()
    block = document.blocks.new("B")
    block.add_line((0, 0), (1, 1))
    for i in range(5):
        space.add_line((i, 0), (i, 9), {"layer": "GRID"})
    space.add_lwpolyline([(0, 0, 1), (5, 5, 0)], format="xyb")
    space.add_blockref("B", (3, 3)).add_attrib("TAG", "T1")
    space.add_open_spline([(0, 0), (3, 9), (9, 0), (12, 3)])
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


GOOD = drawing_bytes()


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "is empty"),
        (b" \n\r\n ", "is empty"),
        (b"AC1032\0\0\0\0", "is a DWG file"),
        (b"%PDF-1.7 ...", "is a PDF file"),
        (b"PK\x03\x04....", "is a ZIP archive"),
        (b"\x89PNG\r\n", "is a picture"),
        (b"hello, world\n" * 50, "is not a DXF file"),
        (bytes(range(256)) * 20, "is not a DXF file"),
        (b"AutoCAD Binary DXF\r\n\x1a\0 SECTION ENTITIES \xff\xff EOF\0", "could not be read"),
        (b"0\nSECTION\n2\nENTITIES\n0\nEOF\n", "nothing was taken|could not be read|states no unit"),
        (GOOD[: len(GOOD) // 2], "ends early"),
        (GOOD[:-8], "ends early"),
        (b"0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nEOF\n", "without entities"),
    ],
)
def test_files_that_are_no_good_drawing(tmp_path, data, message):
    file = tmp_path / "x.dxf"
    file.write_bytes(data)
    with pytest.raises(InputError, match=message):
        read_dxf(file, GRID, units="m" if b"SECTION" in data else None)


def test_missing_files_and_folders(tmp_path):
    with pytest.raises(InputError, match="does not exist"):
        read_dxf(tmp_path / "none.dxf", GRID)
    with pytest.raises(InputError, match="is not a file"):
        read_dxf(tmp_path, GRID)
    with pytest.raises(InputError, match="does not exist"):
        read_dxf("a\0b.dxf", GRID)


def test_a_file_that_had_to_be_repaired_says_so(tmp_path):
    (tmp_path / "x.dxf").write_bytes(GOOD.replace(b"ENDSEC", b"ENDSEX"))
    contents = read_dxf(tmp_path / "x.dxf", GRID, units="m")
    assert "damaged" in contents.notes[0]
    assert "Check the preview" in contents.summary()


def test_nothing_on_the_named_layers_lists_those_that_are_there(tmp_path):
    (tmp_path / "x.dxf").write_bytes(GOOD)
    with pytest.raises(InputError, match=r"names MESH\*.*GRID \(5\)"):
        read_dxf(tmp_path / "x.dxf", LayerMap((LayerRule("MESH*", Role.CONDUCTOR, depth_m=1),)))


def test_too_large_a_file_is_refused_before_it_is_read(tmp_path):
    (tmp_path / "x.dxf").write_bytes(GOOD)
    with pytest.raises(InputError, match="more than the limit of 1000"):
        read_dxf(tmp_path / "x.dxf", GRID, limits=ReadLimits(file_bytes=1000))


def attempt(file, **more):
    """What was read and no words, or nothing and the words of the refusal; any other exception goes on."""
    try:
        return read_dxf(file, GRID, **more), ""
    except InputError as error:
        return None, str(error)


def quick(save, fill, match, **more):
    file = save(fill)
    begin = time.monotonic()
    if match is None:
        contents = read_dxf(file, GRID, **more)
    else:
        with pytest.raises(InputError, match=match):
            read_dxf(file, GRID, **more)
        contents = None
    assert time.monotonic() - begin < PATIENCE_S
    return contents


def test_a_block_that_holds_itself(save):
    def fill(d, m):
        block = d.blocks.new("A")
        block.add_line((0, 0), (1, 0))
        block.add_blockref("A", (1, 1))
        m.add_blockref("A", (0, 0))

    contents = quick(save, fill, None)
    assert any("nested deeper" in r.reason for r in contents.preview)


def test_blocks_that_multiply(save):
    def fill(d, m):
        inner = None
        for level in range(12):
            block = d.blocks.new(f"L{level}")
            if inner is None:
                block.add_line((0, 0), (1, 0))
            else:
                for k in range(10):
                    block.add_blockref(inner, (k, level))
            inner = f"L{level}"
        m.add_blockref(inner, (0, 0))

    quick(save, fill, "more than 20000 entities", limits=ReadLimits(entities=20_000))


def test_a_block_repeated_a_thousand_million_times(save):
    def fill(d, m):
        d.blocks.new("A").add_line((0, 0), (1, 0))
        m.add_blockref("A", (0, 0), {"row_count": 32767, "column_count": 32767})

    quick(save, fill, "more than 500000 entities")


@pytest.mark.parametrize(
    "add",
    [
        lambda m: m.add_circle((0, 0), 1e30),
        lambda m: m.add_circle((0, 0), 0),
        lambda m: m.add_arc((0, 0), 1e12, 0, 1),
        lambda m: m.add_ellipse((0, 0), (1e20, 0), 1e-6),
        lambda m: m.add_open_spline([(0, 0), (1e25, 1e25), (-1e25, 3), (9, 9)]),
        lambda m: m.add_lwpolyline([(0, 0, 1e-300), (1e200, 0, 1e300), (5, 5, 0)], format="xyb"),
        lambda m: m.add_line((float("nan"), 0), (1, 1)),
        lambda m: m.add_line((float("inf"), 0), (1, 1)),
        lambda m: m.add_rational_spline([(0, 0), (5, 5), (9, 0), (12, 1)], [1, -1, 1, -1]),
        lambda m: m.add_blockref("NOT THERE", (0, 0)),
        lambda m: m.add_lwpolyline([]),
        lambda m: m.add_polyline2d([]),
        lambda m: m.add_mesh(),
    ],
)
def test_impossible_geometry_is_left_or_refused(save, add):
    def fill(d, m):
        m.add_line((0, 0), (10, 0))
        add(m)

    file = save(fill)
    begin = time.monotonic()
    contents, words = attempt(file)
    if contents is None:
        assert "spans" in words
    else:
        # the library drops a few of these when it writes the file
        assert sum(r.taken + r.left for r in contents.preview) in {1, 2}
        assert contents.electrode({"mat": 0.005}).total_length_m >= 10
    assert time.monotonic() - begin < PATIENCE_S


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_damaged_bytes_never_crash_the_reader(tmp_path, data):
    """Bytes changed, cut out, doubled or swapped anywhere in a good file."""
    damaged = bytearray(GOOD)
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(damaged) - 1))
        how = data.draw(st.sampled_from(("change", "cut", "double", "text")))
        span = data.draw(st.integers(1, 60))
        if how == "change":
            damaged[place] = data.draw(st.integers(0, 255))
        elif how == "cut":
            del damaged[place : place + span]
        elif how == "double":
            damaged[place:place] = damaged[place : place + span]
        else:
            damaged[place : place + span] = data.draw(st.binary(max_size=40))
    file = tmp_path / "fuzz.dxf"
    file.write_bytes(bytes(damaged))
    begin = time.monotonic()
    contents, words = attempt(file, units="m")
    if contents is None:
        assert words
    else:
        assert contents.electrode({"mat": 0.001}).total_length_m > 0
        assert contents.summary()
    assert time.monotonic() - begin < PATIENCE_S


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(-5, 1100), st.text(max_size=12)), max_size=40))
def test_any_sequence_of_tags_never_crashes_the_reader(tmp_path, tags):
    body = "".join(f"{code}\n{text}\n" for code, text in tags)
    file = tmp_path / "tags.dxf"
    text = f"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\nGRID\n{body}0\nENDSEC\n0\nEOF\n"
    file.write_text(text, encoding="utf-8", errors="replace")
    contents, words = attempt(file, units="m")
    assert (contents is None) != (words == "")
