"""YAML as text: values of the core schema, places, and everything that is not a project file."""

import math
import os

import pytest

from evenground.errors import InputError
from evenground.project import load_project, parse_project, starter_text
from evenground.project._nodes import MapNode, read_tree
from evenground.project._source import MAX_BYTES, Source


def tree(text):
    root, findings = read_tree(Source(text, "t.yaml"))
    return root, findings


def plain(node):
    if isinstance(node, MapNode):
        return {name: plain(child) for name, (_, child) in node.entries.items()}
    return [plain(n) for n in node.items] if hasattr(node, "items") else node.value


def refused(text, code, **place):
    with pytest.raises(InputError) as caught:
        parse_project(text, "t.yaml")
    finding = next(f for f in caught.value.findings if f.code == code)
    for name, value in place.items():
        assert getattr(finding, name) == value
    return finding


def test_core_schema_of_yaml_1_2():
    """Source: YAML 1.2.2, Example 10.9 (core tag resolution)."""
    root, _ = tree(
        "A null: null\n"
        "Booleans: [ true, True, false, FALSE ]\n"
        "Integers: [ 0, 0o7, 0x3A, -19 ]\n"
        "Floats: [ 0., -0.0, .5, +12e03, -2E+05 ]\n"
        "Also floats: [ .inf, -.Inf, +.INF, .NAN ]\n"
    )
    value = plain(root)
    assert value["A null"] is None
    assert value["Booleans"] == [True, True, False, False]
    assert value["Integers"] == [0, 7, 0x3A, -19]
    assert value["Floats"] == [0.0, -0.0, 0.5, 12e3, -2e5]
    assert value["Also floats"][:3] == [math.inf, -math.inf, math.inf]
    assert math.isnan(value["Also floats"][3])


@pytest.mark.parametrize("text", ["no", "yes", "on", "12:30", "1_000", "2026-02-11", "<<", "5,2"])
def test_words_that_only_older_yaml_converts_stay_text(text):
    """YAML 1.1 reads these as truth values, base-60 or dates; the core schema of 1.2 has none of that."""
    assert plain(tree(f"k: {text}\n")[0]) == {"k": text}


def test_leading_zero_is_decimal():
    """YAML 1.2.2, 10.3.2: integers in base 10 match [-+]?[0-9]+, so 0123 is 123."""
    assert plain(tree("k: 0123\n")[0])["k"] == 123


def test_quoted_numbers_are_text():
    assert plain(tree("k: \"70\"\nl: '70'\n")[0]) == {"k": "70", "l": "70"}


def test_every_value_knows_line_and_column():
    root, _ = tree("a: 1\nb:\n  - {c: 2.5, d: x}\n")
    key, node = root.entries["b"][1].items[0].entries["d"]
    assert (key.line, key.column) == (3, 14)
    assert (node.line, node.column) == (3, 17)


def test_columns_count_characters_not_bytes():
    root, _ = tree("{ä: Ω, b: 2}\n")
    assert root.entries["b"][0].column == 8


def test_duplicate_key_names_both_lines_and_the_other_errors_still_show():
    text = starter_text().replace("frequency_hz: 50", "frequency_hz: 50\nfrequency_hz: sixty")
    text = text.replace("body_mass_kg: 50", "body_mass_kg: 60")
    with pytest.raises(InputError) as caught:
        parse_project(text, "t.yaml")
    twice = next(f for f in caught.value.findings if f.code == "key-twice")
    first = next(i for i, row in enumerate(text.splitlines(), 1) if row.startswith("frequency_hz"))
    assert f"first in line {first}" in twice.message
    assert text.splitlines()[twice.line - 1].startswith("frequency_hz: sixty")
    assert any(f.path == ("assessment", "body_mass_kg") for f in caught.value.findings)


@pytest.mark.parametrize(
    ("text", "code", "line", "column", "advice"),
    [
        ("a: [1, 2\nb: 3\n", "yaml-syntax", 2, 2, ""),
        ("a:\n\tb: 1\n", "yaml-syntax", 2, 1, "not with tabs"),
        ("a: b: c\n", "yaml-syntax", 1, 5, "quotes"),
        ('a: "open\n', "yaml-syntax", 2, 1, "closing quote"),
        ("a: 1\n---\nb: 2\n", "yaml-documents", 2, 1, "one project"),
        ("a: !!python/object:os.system x\n", "yaml-tag", 1, 4, ""),
        ("a: !own x\n", "yaml-tag", 1, 4, ""),
        ("? [a, b]\n: 1\n", "yaml-key", 1, 3, ""),
        ("a: *nowhere\n", "yaml-alias", 1, 4, "define"),
        ("a: &x [1, *x]\n", "yaml-alias", 1, 11, ""),
        ("a: 1\x00\n", "yaml-character", 1, 5, "damaged"),
        ("a: 1\nb: \x07\n", "yaml-character", 2, 4, "damaged"),
        ("a: \ud800\n", "yaml-character", 1, 4, "damaged"),
        ("- 1\n- 2\n", "file-not-project", 1, 1, "starter"),
        ("just words\n", "file-not-project", 1, 1, "starter"),
        ("value: 3\n", "file-not-project", 1, 1, "starter"),
    ],
)
def test_text_that_is_no_project_is_refused_at_its_place(text, code, line, column, advice):
    finding = refused(text, code, line=line, column=column, file="t.yaml")
    assert advice in finding.advice


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n", "---\n", "null\n", "\ufeff"])
def test_empty_file(text):
    refused(text, "file-empty")


def test_alias_gives_the_same_values():
    text = starter_text().replace("outline_m: [[-1, -1]", "outline_m: &yard [[-1, -1]")
    text = text.replace("raster_m: 0.5", "raster_m: 0.5\n  touch_area_m: *yard")
    project = parse_project(text)
    assert project.assessment.touch_area_m == project.surface[0].outline_m


def test_alias_bomb_is_refused_quickly():
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
    bomb += "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]\n" for i in range(1, 12))
    refused(bomb, "yaml-alias")


@pytest.mark.parametrize("opening", ["[", "{a: ", "- "])
def test_deep_nesting_is_refused(opening):
    refused(opening * 100_000, "yaml-depth")


def test_depth_through_aliases_is_refused():
    text = "a0: &a0 [x]\n"
    for i in range(1, 60):
        text += f"a{i}: &a{i} {'[' * 30}*a{i - 1}{']' * 30}\n"
    refused(text, "yaml-depth")


def test_very_long_integer_is_an_error_not_a_crash():
    text = starter_text().replace("depth_m: 0.6", "depth_m: " + "9" * 5000)
    finding = refused(text, "value-finite")
    assert len(finding.message) < 200
    assert finding.path == ("mats", 0, "depth_m")


def test_missing_file(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        load_project(tmp_path / "none.yaml")


def test_folder_instead_of_file(tmp_path):
    with pytest.raises(InputError, match="is a folder"):
        load_project(tmp_path)


def test_pipe_instead_of_file(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="not a regular file"):
        load_project(tmp_path / "pipe")


@pytest.mark.parametrize("name", ["a\x00b", "x" * 5000])
def test_impossible_file_name(name):
    with pytest.raises(InputError, match="could not be read"):
        load_project(name)


def test_file_too_large(tmp_path):
    file = tmp_path / "large.yaml"
    with file.open("wb") as stream:
        stream.truncate(MAX_BYTES + 1)
    with pytest.raises(InputError, match="larger than 20 MB"):
        load_project(file)


def test_not_utf_8_names_the_byte(tmp_path):
    file = tmp_path / "latin.yaml"
    file.write_bytes("a: 1\nsite: Größe\n".encode("latin-1"))
    with pytest.raises(InputError, match="0xf6 is not UTF-8") as caught:
        load_project(file)
    assert (caught.value.findings[0].line, caught.value.findings[0].column) == (2, 9)


def test_utf_16_is_named(tmp_path):
    file = tmp_path / "wide.yaml"
    file.write_bytes(starter_text().encode("utf-16"))
    with pytest.raises(InputError, match="UTF-16"):
        load_project(file)


def test_byte_order_mark_and_windows_line_ends_change_nothing(tmp_path):
    file = tmp_path / "bom.yaml"
    file.write_bytes(starter_text().replace("\n", "\r\n").encode("utf-8-sig"))
    project, expected = load_project(file), parse_project(starter_text())
    assert project.mats == expected.mats
    assert [r.line for r in project.register] == [r.line for r in expected.register]


def test_the_hash_is_that_of_the_bytes(tmp_path):
    """SHA-256 of the file as ``sha256sum`` prints it; the constant is that of an empty input (FIPS 180-4)."""
    import hashlib

    file = tmp_path / "site.yaml"
    file.write_bytes(starter_text().encode())
    assert hashlib.sha256(b"").hexdigest().startswith("e3b0c44298fc1c14")
    assert load_project(file).input_hash == hashlib.sha256(file.read_bytes()).hexdigest()
    assert load_project(file).file_name == str(file)


def test_two_thousand_runs_load_well_within_a_second():
    import time

    rows = "".join(
        f"  - {{points_m: [[{i / 50}, 0], [{i / 50}, 40]], depth_m: 0.6, conductor: mat}}\n"
        for i in range(2000)
    )
    text = starter_text() + "\nruns:\n" + rows
    best = math.inf
    for _ in range(3):
        start = time.process_time()
        project = parse_project(text)
        best = min(best, time.process_time() - start)
    assert len(project.runs) == 2000
    assert best < 1.0  # about 0.35 s of processor time on two slow shared cores
