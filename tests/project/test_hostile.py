"""Mutated and random project files: the only exception that ever leaves the loader is InputError."""

import copy
import json

import pytest
import yaml
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from evenground.errors import InputError
from evenground.model.project import Project
from evenground.project import load_project, parse_project, starter_text

TEXTS = [starter_text("substation"), starter_text("plant")]
EXTRA = """
soil_extra: null
runs:
  - {points_m: [[0, 0], [5, 5], [9, 5]], depth_m: 0.6}
rods:
  - {at_m: [[1, 2], [3, 4]], length_m: 3, diameter_mm: 14.2}
"""
TREES = [yaml.safe_load(text) for text in TEXTS]
TREES.append(TREES[0] | yaml.safe_load(EXTRA))
TREES[2].pop("soil_extra")
TREES[2]["soil"]["traverses"].append(
    {
        "name": "S",
        "array": "schlumberger",
        "readings": [{"half_current_spacing_m": 9, "half_potential_spacing_m": 1, "resistance_ohm": 2}],
    }
)
TREES[2]["assessment"]["touch_area_m"] = [[0, 0], [9, 0], [9, 9]]

QUICK = settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def survives(text):
    """Loads or refuses; whatever else escapes fails the test."""
    found = ()
    try:
        project = parse_project(text, "hostile.yaml")
    except InputError as error:
        project, found = None, error.findings
    assert isinstance(project, Project) or found
    for finding in found:
        assert finding.message
        assert str(finding)
        assert finding.line >= 0
    return project


def places(tree, path=()):
    """Every path of a tree."""
    if path:
        yield path
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from places(value, (*path, key))
    elif isinstance(tree, list):
        for index, value in enumerate(tree):
            yield from places(value, (*path, index))


PLACES = [list(places(tree)) for tree in TREES]

scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(min_value=-3, max_value=5),
    st.sampled_from([10**30, -(10**400), 2**63, 10**18]),
    st.floats(),
    st.sampled_from([0.0, -0.0, 1e308, -1e308, 5e-324, 1e8, 1e7, 600, 0.014, float("nan"), float("inf")]),
    st.text(max_size=8),
    st.sampled_from(
        ["", "mat", "70", "wenner", "given", "auto", "strip", "value", "origin", "2026-13-45", "<<"]
    ),
)
keys = st.one_of(
    st.text(max_size=6),
    st.sampled_from(
        ["value", "origin", "depth_m", "outline_m", "rods", "given", "use", "sequence", "evenground"]
    ),
)
garbage = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(keys, inner, max_size=4)),
    max_leaves=10,
)


@st.composite
def mutated_trees(draw):
    which = draw(st.integers(0, len(TREES) - 1))
    tree = copy.deepcopy(TREES[which])
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(PLACES[which]))
        holder = tree
        try:
            for part in path[:-1]:
                holder = holder[part]
            value = holder[path[-1]]
        except (KeyError, IndexError, TypeError):
            continue  # an earlier mutation took this place away
        if isinstance(holder, str):
            continue
        action = draw(st.sampled_from(["replace", "delete", "copy", "wrap", "move", "scale"]))
        mutate(draw, tree, holder, path, value, action)
    return tree


def mutate(draw, tree, holder, path, value, action):
    last = path[-1]
    if action == "delete":
        del holder[last]
    elif action == "copy" and isinstance(holder, list):
        holder.insert(draw(st.integers(0, len(holder))), copy.deepcopy(value))
    elif action == "wrap":
        holder[last] = {"value": value, "origin": draw(garbage)}
    elif action == "move" and isinstance(holder, dict):
        holder[draw(keys)] = holder.pop(last)
    elif action == "scale" and isinstance(value, int | float):
        holder[last] = value * draw(st.sampled_from([0, -1, 1e-3, 1e3, 1e-300, 1e300]))
    else:
        holder[last] = draw(garbage)


@given(mutated_trees())
@QUICK
def test_mutated_values(tree):
    survives(yaml.safe_dump(tree, allow_unicode=True, sort_keys=False))


@given(mutated_trees())
@settings(QUICK, max_examples=60)
def test_mutated_values_written_as_json(tree):
    survives(json.dumps(tree))


@given(garbage)
@settings(QUICK, max_examples=100)
@example({"soil": []})
@example({"conductors": {"": {"": []}}})
@example([[[]]])
def test_garbage_as_a_whole(tree):
    survives(yaml.safe_dump(tree, allow_unicode=True))


pieces = st.one_of(
    st.text(max_size=5),
    st.sampled_from(
        ["\t", "\n", "  ", "- ", ": ", "{", "}", "[", "]", ",", "&a ", "*a", "!!x ", '"', "'", "|\n", "---\n"]
    ),
    st.sampled_from(
        ["? ", "#", "%", "@", "`", "\x00", "\ufeff", "\u2028", "\x85", "\r", "<<: ", "~", ".nan", "1e999"]
    ),
)


@given(st.sampled_from(TEXTS), st.data())
@QUICK
def test_mutated_text(text, data):
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 30)))
        action = data.draw(st.sampled_from(["insert", "delete", "double", "cut"]))
        if action == "insert":
            text = text[:start] + data.draw(pieces) + text[start:]
        elif action == "delete":
            text = text[:start] + text[end:]
        elif action == "double":
            text = text[:end] + text[start:end] + text[end:]
        else:
            text = text[:start]
    survives(text)


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    return tmp_path_factory.mktemp("hostile") / "site.yaml"


@given(data=st.data())
@settings(QUICK, max_examples=100)
def test_mutated_bytes(file, data):
    raw = bytearray(data.draw(st.sampled_from([t.encode() for t in TEXTS])))
    for _ in range(data.draw(st.integers(0, 5))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    file.write_bytes(bytes(raw))
    with_input_error_only(file)


@given(raw=st.binary(max_size=300))
@settings(QUICK, max_examples=100)
def test_random_bytes(file, raw):
    file.write_bytes(raw)
    with_input_error_only(file)


def with_input_error_only(file):
    try:
        load_project(file)
    except InputError as error:
        text = str(error)
    else:
        return
    assert str(file) in text


def test_the_mutations_do_reach_both_outcomes():
    """A guard on this test itself: small changes must load, broken ones must be refused."""
    assert survives(yaml.safe_dump(TREES[2])) is not None
    broken = copy.deepcopy(TREES[2])
    broken["mats"] = "none"
    assert survives(yaml.safe_dump(broken)) is None
