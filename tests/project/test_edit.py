"""Changes cut into the text: the wanted values, and nothing else changed."""

import copy
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from evenground.errors import InputError
from evenground.project import parse_project, starter_text
from evenground.project._edit import Drop, Insert, Put, edit_text, read_values, unwrapped

ROOT = Path(__file__).resolve().parents[2]
SITE = (ROOT / "examples" / "harrow-lane" / "site-revised.yaml").read_text()
FILES = [
    SITE,
    (ROOT / "examples" / "tolland-works" / "site.yaml").read_text(),
    starter_text("substation"),
    starter_text("plant"),
]


def changed_lines(old, new):
    """Lines of either text that are not in the other."""
    a, b = old.splitlines(), new.splitlines()
    return [x for x in a if x not in b], [x for x in b if x not in a]


def test_a_number_is_replaced_and_its_comment_stays():
    new = edit_text(SITE, [Put(("mats", 0, "depth_m"), 0.8), Put(("frequency_hz",), 60)])
    assert changed_lines(SITE, new) == (
        ["frequency_hz: 50", "    depth_m: 0.6"],
        ["frequency_hz: 60", "    depth_m: 0.8"],
    )


def test_a_value_with_origin_keeps_the_origin():
    new = edit_text(SITE, [Put(("faults", 0, "current_ka"), 6.1)])
    _, lines = changed_lines(SITE, new)
    assert lines == [
        "    current_ka: {value: 6.1, origin: {document: NG-FS-204, revision: C, date: 2026-01-15, "
        "note: ultimate year 2040}}"
    ]


def test_a_run_is_appended_inserted_and_dropped():
    run = {"points_m": [[0, 0], [5, 5.25]], "depth_m": 0.6}
    count = len(read_values(SITE)["runs"])
    new = edit_text(SITE, [Put(("runs", count), run)])
    assert changed_lines(SITE, new) == ([], ["  - {points_m: [[0, 0], [5, 5.25]], depth_m: 0.6}"])
    assert edit_text(new, [Drop(("runs", count))]) == SITE
    front = edit_text(SITE, [Insert(("runs", 0), run)])
    assert read_values(front)["runs"][0] == run
    assert edit_text(front, [Drop(("runs", 0))]) == SITE


def test_a_missing_section_is_added_and_an_only_entry_leaves_an_empty_list():
    new = edit_text(SITE, [Put(("rods",), [{"at_m": [[1, 2]], "length_m": 3, "diameter_mm": 14.2}])])
    assert new.startswith(SITE)
    assert edit_text(new, [Drop(("rods",))]) == SITE
    emptied = edit_text(SITE, [Drop(("surface", 0))])
    assert read_values(emptied)["surface"] == []
    assert "# the first zone that holds a point counts" not in emptied or "surface:" in emptied


def test_a_text_with_comma_and_colon_is_quoted():
    new = edit_text(SITE, [Put(("project", "title"), "North: yard, phase #2")])
    folder = ROOT / "examples" / "harrow-lane"
    assert parse_project(new, folder=folder).identity.title == "North: yard, phase #2"


def test_a_date_and_a_number_like_text_come_back_as_text():
    for text in ("2026-03-02", "12", "true", "0x10", "1e3", "", " a", "a ", "a: b", "-", "~", "é, ü"):
        new = edit_text(SITE, [Put(("project", "note"), text)])
        assert read_values(new)["project"]["note"] == text


def test_a_path_that_leads_nowhere_is_refused():
    with pytest.raises(InputError, match="no such place"):
        edit_text(SITE, [Put(("mats", 7, "depth_m"), 1)])
    with pytest.raises(InputError, match="no such place"):
        edit_text(SITE, [Drop(("runs", 99))])


def test_a_value_behind_an_alias_changes_only_where_it_was_asked_or_is_refused():
    text = "a: &x {k: 1}\nb: *x\n"
    with pytest.raises(InputError, match="only be changed in the file itself"):
        edit_text(text, [Put(("b", "k"), 2)])


def test_an_empty_value_is_filled():
    assert edit_text("a:   # later\nb: 2\n", [Put(("a",), 1)]) == "a: 1   # later\nb: 2\n"


def test_the_first_key_behind_a_dash_is_dropped_by_the_round_trip():
    new = edit_text("list:\n  - a: 1  # one\n    b: 2\n", [Drop(("list", 0, "a"))])
    assert read_values(new) == {"list": [{"b": 2}]}


def places(value, path=()):
    """Paths of all entries."""
    if isinstance(value, dict):
        for key, entry in value.items():
            yield (*path, key)
            if key not in ("origin", "value"):
                yield from places(entry, (*path, key))
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield (*path, index)
            yield from places(entry, (*path, index))


SCALARS = st.one_of(
    st.integers(-(10**6), 10**6),
    st.floats(-1e6, 1e6).map(lambda x: float(f"{x:.9g}")),
    st.booleans(),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=20),
)


@settings(max_examples=60, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(data=st.data())
def test_any_change_gives_the_wanted_values_as_another_reader_sees_them(data):
    """Read again with ruamel.yaml, a library that does not take part in the cutting."""
    text = FILES[data.draw(st.integers(0, len(FILES) - 1))]
    plain = unwrapped(read_values(text))
    path = data.draw(st.sampled_from(sorted(places(plain), key=str)))
    holder = plain
    for part in path[:-1]:
        holder = holder[part]
    wanted = copy.deepcopy(plain)
    target = wanted
    for part in path[:-1]:
        target = target[part]
    value = data.draw(SCALARS)
    kind = data.draw(st.sampled_from(["put", "drop", "insert"]))
    if kind == "insert" and isinstance(holder, list):
        change = Insert(path, value)
        target.insert(path[-1], value)
    elif kind == "drop":
        change = Drop(path)
        del target[path[-1]]
    else:
        change = Put(path, value)
        target[path[-1]] = value
    new = edit_text(text, [change])
    reader = YAML(typ="safe", pure=True)
    reader.version = (1, 2)
    seen = unwrapped(_dates_as_text(reader.load(new)))
    assert seen == wanted
    kept = [line for line in text.splitlines() if line.startswith("#")]
    assert [line for line in new.splitlines() if line.startswith("#")] == kept


def _dates_as_text(value):
    if isinstance(value, dict):
        return {k: _dates_as_text(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_dates_as_text(v) for v in value]
    return value.isoformat() if hasattr(value, "isoformat") else value
