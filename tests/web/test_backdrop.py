"""A site drawing under the plan, and what is taken over from it."""

import ezdxf
import pytest

from evenground.errors import InputError
from evenground.project import load_project, parse_project, starter_text
from evenground.project._edit import Put, edit_text, read_values
from evenground.web._backdrop import (
    drawings_in,
    keep_drawing,
    read_backdrop,
    section_of,
    signature,
    take_over,
    taken_lines,
)


@pytest.fixture
def site(tmp_path):
    """A drawing in millimetres: two conductors, a rod, a fence ring, a cover, and lines of a building."""
    document = ezdxf.new("R2018")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_line((0, 0), (30000, 0), dxfattribs={"layer": "METAL"})
    space.add_line((0, 20000), (30000, 20000), dxfattribs={"layer": "METAL"})
    space.add_circle((5000, 5000), 100, dxfattribs={"layer": "RODS"})
    ring = [(-2000, -2000), (32000, -2000), (32000, 22000), (-2000, 22000)]
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "FENCE"})
    space.add_lwpolyline([(0, 0), (9000, 0), (9000, 9000)], close=True, dxfattribs={"layer": "ROCK"})
    space.add_line((3000, 3000), (9000, 3000), dxfattribs={"layer": "HOUSE"})
    document.saveas(tmp_path / "yard.dxf")
    file = tmp_path / "site.yaml"
    file.write_text(starter_text("plant"))
    return file


ROLES = {
    "METAL": {"take_as": "conductor", "depth_m": 0.7},
    "RODS": {"take_as": "rod", "depth_m": 0.7, "rod_length_m": 3, "rod_diameter_mm": 16},
    "FENCE": {"take_as": "fence", "bonding": "bonded"},
    "ROCK": {"take_as": "zone", "material": "crushed rock", "resistivity_ohm_m": 3000, "thickness_m": 0.1},
}


def with_section(site, roles):
    section = section_of(site.parent, "yard.dxf")
    section["layers"] = [r | roles.get(r["layer"], {}) for r in section["layers"]]
    return edit_text(site.read_text(), [Put(("site_drawing",), section)])


def test_a_new_drawing_is_a_background_and_changes_nothing_else(site):
    before = load_project(site)
    text = with_section(site, {})
    after = parse_project(text, "site.yaml", site.parent)
    assert after.runs == before.runs
    assert after.site_drawing is None
    data = read_values(text)
    shown = read_backdrop(data["site_drawing"], site.parent, "k")
    assert shown.failure == ""
    # millimetres become metres; the house is seen although nothing is taken from it
    assert "M3.000 3.000L9.000 3.000" in shown.shown["lines"]
    assert shown.shown["bounds"] == pytest.approx([-2, -2, 32, 22])


def test_what_layers_are_taken_for_can_be_made_part_of_the_layout(site):
    text = with_section(site, ROLES)
    drawn = parse_project(text, "site.yaml", site.parent)
    assert "M0.000 20.000L30.000 20.000" in taken_lines(drawn)["taken"]
    assert taken_lines(drawn)["rods"] == [[5, 5]]
    changes, counts = take_over(drawn, read_values(text))
    assert counts == {"runs": 2, "rods": 1, "surface": 1, "fences": 1}
    own = parse_project(edit_text(text, changes), "site.yaml", site.parent)
    # the same metal, now written in the file itself
    assert [(r.points_m, r.depth_m) for r in own.runs] == [(r.points_m, r.depth_m) for r in drawn.runs]
    assert [(r.at_m, r.length_m) for r in own.rods] == [(r.at_m, r.length_m) for r in drawn.rods]
    assert [z.outline_m for z in own.surface] == [z.outline_m for z in drawn.surface]
    assert own.installation.fences[-1].bonding == "bonded"
    assert taken_lines(own) == {"taken": "", "rods": []}
    with pytest.raises(InputError, match="nothing is taken"):
        take_over(own, read_values(edit_text(text, changes)))


@pytest.mark.parametrize("name", ["../../evil.dxf", "..\\..\\evil.dxf", "/etc/evil.dxf", "evil.dxf"])
def test_an_uploaded_drawing_stays_in_the_folder_of_the_project(tmp_path, name):
    assert keep_drawing(tmp_path, name, b"0\nEOF\n") == "evil.dxf"
    assert [p.name for p in tmp_path.rglob("*")] == ["evil.dxf"]


def test_an_uploaded_drawing_writes_over_nothing(tmp_path):
    (tmp_path / "plan.dxf").write_bytes(b"of somebody else")
    assert keep_drawing(tmp_path, "plan.dxf", b"new") == "plan-2.dxf"
    assert keep_drawing(tmp_path, "plan.dxf", b"new") == "plan-2.dxf"
    assert (tmp_path / "plan.dxf").read_bytes() == b"of somebody else"
    assert drawings_in(tmp_path) == ["plan-2.dxf", "plan.dxf"]
    assert keep_drawing(tmp_path, "...", b"x") == "drawing.dxf"


def test_a_file_that_is_no_drawing_is_said_in_words(site):
    (site.parent / "letter.dxf").write_text("Dear Sir")
    with pytest.raises(InputError, match=r"letter\.dxf"):
        section_of(site.parent, "letter.dxf")
    shown = read_backdrop({"file": "letter.dxf"}, site.parent, "k")
    assert "letter.dxf" in shown.failure


def test_the_drawing_is_read_again_when_it_or_its_section_changes(site):
    data = read_values(with_section(site, {}))
    key = signature(data, site.parent)
    assert signature(read_values(with_section(site, ROLES)), site.parent) == key
    (site.parent / "yard.dxf").write_bytes((site.parent / "yard.dxf").read_bytes() + b"\n")
    assert signature(data, site.parent) != key
    assert signature(read_values(site.read_text()), site.parent) == ""


def test_the_first_page_writes_a_starter_and_never_over_a_file(tmp_path):
    from evenground.web._first import write_starter

    write_starter(tmp_path / "new.yaml", "plant")
    assert (tmp_path / "new.yaml").read_text() == starter_text("plant")
    with pytest.raises(InputError, match=r"new\.yaml"):
        write_starter(tmp_path / "new.yaml", "substation")
    assert (tmp_path / "new.yaml").read_text() == starter_text("plant")
